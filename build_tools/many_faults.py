"""One street with each of many faults, walked at once: a fault is a bit of the numbers of `proof.walks`.

That tells which faults meet trouble on a tree, and so which few are worth a walk of their own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from typing import Any

from build_tools.guide import Tree
from build_tools.proof.asks import Asks
from build_tools.proof.walks import Walk
from build_tools.shapes import Outcome
from build_tools.walk import leads_to
from build_tools.witness import Conditions, Witness
from calc.instruments import LINES
from calc.limits import LIMITS

__all__ = ["ManyFaults"]


class ManyFaults:
    """Answers what walks ask (`proof.walks.Streets`) by one witness for each fault, each asked once."""

    def __init__(self, witnesses: Sequence[Witness]) -> None:
        self.witnesses = witnesses
        self.street = witnesses[0].street
        self._all = (1 << len(witnesses)) - 1
        self._answers: dict[Any, tuple[int, dict[Any, int]]] = {}

    def troubled(self, tree: Tree, home: str) -> list[Witness]:
        """Those whose walks of the tree from this home meet the troubles of `walk.troubles`."""
        walk = Walk(tree, self, willing=False)
        walk.from_home(home, self._all)
        found = 0
        for faults in (*walk.hurt.values(), *walk.lost.values()):
            found |= faults
        for id_, faults in walk.ends.items():
            spec = tree.nodes[id_].spec
            if isinstance(spec, Outcome) and spec.closes:
                found |= faults & self._known(
                    ("endangered", home), faults, lambda each: [home] if home in each.endangered else []
                ).get(home, 0)
        return [witness for bit, witness in enumerate(self.witnesses) if found >> bit & 1]

    def ends(self, tree: Tree, home: str) -> set[str]:
        """The outcomes that what is found leads to from this home, with some of the faults."""
        walk = Walk(tree, self, willing=True)
        walk.from_home(home, self._all)
        return set(walk.ends)

    def leaving(self, asks: Asks, home: str, conditions: Conditions, here: int) -> list[int]:
        """For each exit of what is asked, the faults that leave by it. Nobody leaves a reading on a line that
        the home does not have."""

        def places(witness: Witness) -> Iterable[int]:
            if asks.fact:
                word = witness.fact(asks.fact, home, conditions)
                return [place for place, (_, _, _, is_) in enumerate(asks.exits) if is_ == word]
            if any(line in asks.on for line in LINES[len(self.street.premises[home].phases) :]):
                return []
            display = witness.reading(home, conditions, asks.instrument, asks.on)
            return [place for place, exit_ in enumerate(asks.exits) if leads_to(display, *exit_[:3])]

        chosen = self._known((asks, home, conditions), here, places)
        return [chosen.get(place, 0) for place in range(len(asks.exits))]

    def doors(self, started_at: str, gone_to: frozenset[str]) -> tuple[tuple[str, int], ...]:
        """The next home that shares metalwork and was not gone to, if there is one: whatever the fault."""
        sharing = self.street.sharing_metalwork(started_at)
        return tuple((home, self._all) for home in sharing if home not in gone_to)[:1]

    def live(self, home: str, conditions: Conditions, here: int) -> int:
        """The faults with which a home's metalwork is above the touch limit."""
        limit = LIMITS["touch-volts"].value
        answers = self._known(
            ("live", home, conditions), here, lambda each: [each.touch_volts(home, conditions) > limit]
        )
        return answers.get(True, 0)

    def raised(self, before: Conditions, after: Conditions, here: int) -> Iterator[tuple[str, str, int]]:
        """Home, harm and faults of each harm that stands after something was done and did not before."""
        harms = self._known(
            ("raised", before, after),
            here,
            lambda each: [(harm.home, harm.what) for harm in each.harms_of(before, after)],
        )
        yield from ((*harm, faults) for harm, faults in harms.items())

    def _known(self, key: Any, here: int, answers: Callable[[Witness], Iterable[Any]]) -> dict[Any, int]:
        """For each answer, the faults whose witness gives it: of those here, and of those asked before."""
        asked, known = self._answers.get(key, (0, {}))
        if fresh := here & ~asked:
            for bit, witness in enumerate(self.witnesses):
                if fresh >> bit & 1:
                    for answer in answers(witness):
                        known[answer] = known.get(answer, 0) | 1 << bit
            self._answers[key] = (asked | fresh, known)
        return known
