"""One street with each of many faults, walked at once: a fault is a bit of the numbers of `walk`."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from functools import reduce
from operator import or_
from typing import Any

from build_tools.guide.trees import Tree
from build_tools.walks.asked_exits import Asks, judged, leads_to
from build_tools.walks.oracle import Conditions, Oracle
from build_tools.walks.walk import Walk
from calc.danger import HARMS, METALWORK_LIVE

__all__ = ["ManyFaults"]


class ManyFaults:
    """Answers what walks ask (`walk.Streets`) by one oracle for each fault, each asked once."""

    def __init__(self, oracles: Sequence[Oracle]) -> None:
        self.oracles = oracles
        self.street = oracles[0].street
        self._all = (1 << len(oracles)) - 1
        self._answers: dict[Any, tuple[int, dict[Any, int]]] = {}

    def walk(self, tree: Tree, home: str, willing: bool) -> Walk:
        """The tree walked from a home with every fault."""
        walk = Walk(tree, self, willing)
        walk.from_home(home, self._all)
        return walk

    def troubled(self, tree: Tree, home: str) -> list[Oracle]:
        """Those whose walks of the tree from this home meet something wrong."""
        found = reduce(or_, self.walk(tree, home, willing=False).wrong.values(), 0)
        return [oracle for bit, oracle in enumerate(self.oracles) if found >> bit & 1]

    def leaving(self, asks: Asks, home: str, conditions: Conditions, here: int) -> list[int]:
        """For each exit of what is asked, the faults that leave by it."""

        def places(oracle: Oracle) -> Iterable[int]:
            found: str | float
            if asks.fact:
                found = oracle.fact(asks.fact, home, conditions)
            else:
                found = judged(
                    asks, lambda when: oracle.reading(home, when, asks.instrument, asks.on), conditions
                )
            return [place for place, exit_ in enumerate(asks.exits) if leads_to(found, exit_)]

        chosen = self._known((asks, home, conditions), here, places)
        return [chosen.get(place, 0) for place in range(len(asks.exits))]

    def doors(self, started_at: str, gone_to: frozenset[str]) -> tuple[tuple[str, int], ...]:
        """The next home that shares metalwork on record and was not gone to, if there is one: whatever the
        fault."""
        sharing = self.street.sharing_metalwork(started_at, recorded=True)
        return tuple((home, self._all) for home in sharing if home not in gone_to)[:1]

    def live(self, home: str, conditions: Conditions, here: int) -> int:
        """The faults with which a home's metalwork is above the touch limit."""
        return self._with(
            ("live", home, conditions),
            here,
            lambda each: HARMS[METALWORK_LIVE](each.metalwork_volts(home, conditions)),
        )

    def endangered(self, home: str, here: int) -> int:
        """The faults that endanger a home."""
        return self._with(("endangered", home), here, lambda each: home in each.endangered)

    def raised(self, before: Conditions, after: Conditions, here: int) -> Iterator[tuple[str, str, int]]:
        """Home, harm and faults of each harm that stands after something was done and did not before."""
        harms = self._known(
            ("raised", before, after),
            here,
            lambda each: [(harm.home, harm.what) for harm in each.harms_of(before, after)],
        )
        yield from ((*harm, faults) for harm, faults in harms.items())

    def _with(self, key: Any, here: int, is_so: Callable[[Oracle], bool]) -> int:
        """The faults with which something is so."""
        return self._known(key, here, lambda each: [is_so(each)]).get(True, 0)

    def _known(self, key: Any, here: int, answers: Callable[[Oracle], Iterable[Any]]) -> dict[Any, int]:
        """For each answer, the faults whose oracle gives it: of those here, and of those asked before."""
        asked, known = self._answers.get(key, (0, {}))
        if fresh := here & ~asked:
            for bit, oracle in enumerate(self.oracles):
                if fresh >> bit & 1:
                    for answer in answers(oracle):
                        known[answer] = known.get(answer, 0) | 1 << bit
            self._answers[key] = (asked | fresh, known)
        return known
