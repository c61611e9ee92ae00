"""The order in which the tests of a tree find dangers soonest, found greedily.

The next test is always the one that finds most of the dangers not yet found, for each minute that it takes.
What has to be done before it (a probe put in soil, the known load switched on) is paid for once, by the first
test that wants it. A test is taken to find what it finds by itself, with every other test left out.

What greedy promises: where each test takes its own minutes alone, the mean time until a danger is found is at
most four times that of the best order (Feige, Lovasz and Tetali 2004, for tests of equal length; Munagala and
others 2005 for others; both from memory). What it does not: that no other order is better; anything at all
where tests share what is done before them; that the order keeps the rules, or is safe to work in. A warning
comes before a test whatever it finds.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

__all__ = ["Timed", "Turn", "greedy", "mean_minutes", "spare", "turns"]


@dataclass(frozen=True, slots=True)
class Timed:
    """A test as an order sees it: the dangers that it finds (bits), its own minutes, and what has to be done
    before, by name."""

    name: str
    found: int
    minutes: float
    wants: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Turn:
    """A test in its turn: the minutes that it takes there, and how many dangers it finds that no earlier one
    has."""

    test: Timed
    minutes: float
    new: int


def greedy(tests: Sequence[Timed], before: Mapping[str, float]) -> list[Turn]:
    """The tests that find something new in their turn. `before`: minutes of what tests want done; above 0 in
    all with the test's own."""
    left, order = list(tests), list[Timed]()
    while left:
        best = max(left, key=lambda test: _rate(turns([*order, test], before)[-1]))
        if not turns([*order, best], before)[-1].new:
            break
        order.append(best)
        left.remove(best)
    return turns(order, before)


def _rate(turn: Turn) -> tuple[float, float]:
    return turn.new / turn.minutes, -turn.minutes


def turns(tests: Sequence[Timed], before: Mapping[str, float]) -> list[Turn]:
    """The tests in this order."""
    known, done, taken = 0, frozenset[str](), []
    for test in tests:
        minutes = test.minutes + sum(before[name] for name in sorted(test.wants - done))
        taken.append(Turn(test, minutes, (test.found & ~known).bit_count()))
        known, done = known | test.found, done | test.wants
    return taken


def mean_minutes(order: Sequence[Turn]) -> float:
    """The mean minutes until a danger is found, of those that are found; 0 where none is."""
    clock = spent = 0.0
    for turn in order:
        clock += turn.minutes
        spent += clock * turn.new
    return spent / max(1, sum(turn.new for turn in order))


def spare(tests: Sequence[Timed]) -> list[Timed]:
    """Tests that can all be left out together while the others find every danger: those that find least are
    tried first, and of equals those that take longest. Not the most that could be."""
    kept, dropped = list(tests), []
    for test in sorted(tests, key=lambda test: (test.found.bit_count(), -test.minutes)):
        others = 0
        for other in kept:
            others |= other.found if other is not test else 0
        if not test.found & ~others:
            kept.remove(test)
            dropped.append(test)
    return dropped
