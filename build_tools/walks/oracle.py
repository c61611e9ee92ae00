"""One street with one fault, asked again and again what a test there would show.

An oracle remembers its answers, so that the next walk, or the next run of the check, does not solve
the same circuit twice.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, TypeVar

from build_tools.setup.result_cache import keep, key_of, recall, source_key
from calc.danger import Harm, Measured, endangered_homes, measured, metalwork_volts, new_harms
from calc.faults import Fault, Faults
from calc.instruments import reading
from calc.street import Network, Street, network
from calc.symptoms import fact
from calc.work import Condition, as_worked

__all__ = ["Conditions", "Oracle", "kept_oracles"]

Conditions = frozenset[Condition]
_Answer = TypeVar("_Answer")


@dataclass
class Oracle:
    """Answers for `street` with `fault`, one or several. `memory` holds what was answered before, and may be
    kept."""

    street: Street
    fault: Fault | Faults
    memory: dict[Any, Any] = field(default_factory=dict)
    solved: dict[Conditions, Network] = field(default_factory=dict, repr=False)
    measured: dict[Conditions, Measured] = field(default_factory=dict, repr=False)
    asked_anew: int = 0

    def reading(self, home: str, conditions: Conditions, instrument: str, on: tuple[str, ...]) -> float:
        """What an instrument shows at a home, as a figure of calc.instruments.reading. Raises KeyError for
        a point that the home does not have."""
        key = ("reading", home, conditions, instrument, on)
        figure: float = self._kept(key, lambda: reading(self._worked(conditions), home, instrument, on))
        return figure

    def fact(self, name: str, home: str, conditions: Conditions) -> str:
        """The word for a fact of calc.symptoms at a home."""
        word: str = self._kept(
            ("fact", name, home, conditions), lambda: fact(name, self._worked(conditions), home)
        )
        return word

    def metalwork_volts(self, home: str, conditions: Conditions) -> float:
        """Volts from a home's earthed metalwork to true earth, as calc.danger.metalwork_volts."""
        volts: float = self._kept(
            ("touch", home, conditions), lambda: metalwork_volts(self._worked(conditions), home)
        )
        return volts

    def harms_of(self, before: Conditions, after: Conditions) -> tuple[Harm, ...]:
        """Harms that stand after something was done and did not stand before it."""
        return self._kept(
            ("harms", before, after), lambda: new_harms(self._measured(before), self._measured(after))
        )

    @cached_property
    def endangered(self) -> frozenset[str]:
        """Homes where no job may be closed beside the fault: those whose conductors it is in, and all that
        share metalwork."""
        return endangered_homes(self.street, self.fault.not_to_close(self.street))

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
def kept_oracles(street: Street, faults: Iterable[Fault | Faults]) -> Iterator[list[Oracle]]:
    """An oracle for each fault, with what was answered for this street in earlier runs; what they answer
    anew is kept in the end."""
    key = key_of("oracle", source_key("calc"), street)
    memories = recall(key) or {}
    oracles = [Oracle(street, fault, memories.setdefault(str(fault), {})) for fault in faults]
    yield oracles
    if any(oracle.asked_anew for oracle in oracles):
        keep(key, memories)
