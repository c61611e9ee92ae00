"""One street with one fault, asked again and again what a test there would show.

A witness remembers its answers, so that the next walk, or the next run of the check, does not solve
the same circuit twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from build_tools.kept import keep, key_of, recall, source_key
from calc.danger import Harm, Measured, endangered_homes, measured, new_harms, touch_volts
from calc.faults import Fault
from calc.instruments import Display, read
from calc.street import Network, Street, network
from calc.symptoms import fact
from calc.work import Condition, as_worked

__all__ = ["Conditions", "Witness", "kept_witnesses"]

Conditions = frozenset[Condition]
_Answer = TypeVar("_Answer")


@dataclass
class Witness:
    """Answers for `street` with `fault`. `memory` holds what was answered before, and may be kept."""

    street: Street
    fault: Fault
    memory: dict[Any, Any] = field(default_factory=dict)
    solved: dict[Conditions, Network] = field(default_factory=dict, repr=False)
    measured: dict[Conditions, Measured] = field(default_factory=dict, repr=False)
    asked_anew: int = 0

    def reading(self, home: str, conditions: Conditions, instrument: str, on: tuple[str, ...]) -> Display:
        """What an instrument shows at a home. Raises KeyError for a point that the home does not have."""
        key = ("reading", home, conditions, instrument, on)
        return self._kept(key, lambda: read(self._worked(conditions), home, instrument, on))

    def fact(self, name: str, home: str, conditions: Conditions) -> str:
        """The word for a fact of calc.symptoms at a home."""
        return self._kept(
            ("fact", name, home, conditions), lambda: fact(name, self._worked(conditions), home)
        )

    def touch_volts(self, home: str, conditions: Conditions) -> float:
        """Volts from a home's earthed metalwork to true earth."""
        return self._kept(("touch", home, conditions), lambda: touch_volts(self._worked(conditions), home))

    def harms_of(self, before: Conditions, after: Conditions) -> tuple[Harm, ...]:
        """Harms that stand after something was done and did not stand before it."""
        return self._kept(
            ("harms", before, after), lambda: new_harms(self._measured(before), self._measured(after))
        )

    @cached_property
    def endangered(self) -> frozenset[str]:
        """Homes that the fault endangers: those whose conductors it is in, and all that share metalwork."""
        if not self.fault.endangers:
            return frozenset()
        return endangered_homes(self.street, self.fault.homes(self.street))

    def _worked(self, conditions: Conditions) -> Network:
        if conditions not in self.solved:
            self.solved[conditions] = as_worked(self._faulty, conditions)
        return self.solved[conditions]

    def _measured(self, conditions: Conditions) -> Measured:
        if conditions not in self.measured:
            self.measured[conditions] = measured(self._worked(conditions))
        return self.measured[conditions]

    @cached_property
    def _faulty(self) -> Network:
        return self.fault.applied_to(network(self.street))

    def _kept(self, key: Any, ask: Callable[[], _Answer]) -> _Answer:
        if key not in self.memory:
            self.asked_anew += 1
            self.memory[key] = ask()
        answer: _Answer = self.memory[key]
        return answer


@contextmanager
def kept_witnesses(street: Street, faults: Iterable[Fault]) -> Iterator[list[Witness]]:
    """A witness for each fault, with what was answered for this street in earlier runs; what they answer
    anew is kept in the end."""
    key = key_of("witness", source_key("calc"), street)
    memories = recall(key) or {}
    witnesses = [Witness(street, fault, memories.setdefault(str(fault), {})) for fault in faults]
    yield witnesses
    if any(witness.asked_anew for witness in witnesses):
        keep(key, memories)
