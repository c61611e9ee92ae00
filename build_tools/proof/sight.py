"""What each test can and cannot see: over drawn streets, how often it shows each kind of fault.

A test shows a fault where, with what it reads, no site tree of the guide lets the job be closed. The
instruments err and loads change as everywhere in the proof. Counts of parts add up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np

from build_tools.guide import Guide
from build_tools.proof.flock import Flock, Many, Mask, flocks, taken
from build_tools.proof.procedures import Procedure, procedures
from build_tools.proof.walks import fact_words
from build_tools.walk import Visit
from calc.faults import KINDS, Fault
from calc.work import Condition

__all__ = ["CURVED", "THRESHOLDS", "WHERE", "Seen", "SeenRow", "rows", "sight"]

WHERE = {
    "alone": "at the home, no metalwork shared",
    "sharing": "at the home, metalwork shared",
    "next-door": "next door, on the same metalwork",
}
"""Where the test is made: at the home with the fault (for one in the main, at a home beyond it; on a healthy
street, at any), or at one that shares metalwork with it and that the fault is not in."""

THRESHOLDS = (0, 0.1, 0.2, 0.5, 1, 2, 3, 5, 7.5, 10, 15, 20)
"""Amperes at which the readings of a clamp are parted, for a curve."""

CURVED = ("healthy", "service-pen-open", "mains-pen-open")
"""Kinds of fault for which a curve is kept."""


@dataclass(frozen=True, slots=True, order=True)
class Seen:
    """One cell of the table: a test (id of its procedure), a kind of fault, and where the test is made."""

    test: str
    fault: str
    where: str


Sight = Counter[tuple[Seen, str]]
"""For each cell how many streets were `asked`, on how many it `shows`, and for a clamp on how many it reads
from each of THRESHOLDS (`from 0.5`) to the next."""


@dataclass(frozen=True, slots=True)
class SeenRow:
    """One cell measured: streets, on how many the test shows the fault, the exact two-sided 95 % bounds of
    that share, and for a clamp how many read from each of THRESHOLDS to the next."""

    test: str
    fault: str
    where: str
    asked: int
    shows: int
    low: float
    high: float
    by_amperes: tuple[int, ...] = ()

    @property
    def share(self) -> float:
        """The share of streets on which the test shows the fault."""
        return self.shows / self.asked

    @property
    def above(self) -> tuple[float, ...]:
        """The share of streets that read at least each of THRESHOLDS."""
        return tuple(sum(self.by_amperes[place:]) / self.asked for place in range(len(self.by_amperes)))


def sight(guide: Guide, numbers: Iterable[int], kinds: Iterable[str] = tuple(KINDS)) -> Sight:
    """The counts over the drawn streets of these numbers. The guide must have a sampling."""
    assert guide.sampling is not None
    tests = procedures(guide)
    counts: Sight = Counter()
    healthy = flocks(guide.sampling, numbers)
    for kind in kinds:
        for whole in healthy:
            for flock in whole.with_fault(kind):
                _count(counts, tests, flock)
    return counts


def _count(counts: Sight, tests: Mapping[str, Procedure], whole: Flock) -> None:
    at = places(whole)
    for number, home in enumerate(whole.street.premises):
        visited = np.logical_or.reduce([homes == number for homes in at.values()])
        if not visited.any():
            continue
        flock = _only(whole, visited)
        here = {where: (homes == number)[visited] for where, homes in at.items()}
        for test in tests.values():
            shown, alarm = display(test, flock, home)
            steps = np.searchsorted(THRESHOLDS, shown, side="right")
            for where, asked in here.items():
                cell = Seen(test.id, flock.kind, where)
                counts[cell, "asked"] += int(asked.sum())
                counts[cell, "shows"] += int((alarm & asked).sum())
                if test.how.instrument == "clamp" and flock.kind in CURVED:
                    for step, low in enumerate(THRESHOLDS, 1):
                        counts[cell, f"from {low:g}"] += int(((steps == step) & asked).sum())


def _only(flock: Flock, mask: Mask) -> Flock:
    """The flock of only the streets in the mask."""
    drawn = tuple(each for each, there in zip(flock.drawn, mask, strict=True) if there)
    return Flock(drawn, taken(flock.base, mask), flock.kind)


def display(test: Procedure, flock: Flock, home: str) -> tuple[Many, Mask]:
    """What the test shows at a home in each street, and where that keeps the job from being closed."""
    conditions = frozenset(Condition(name, home) for name in test.how.conditions)
    if test.fact:
        words = fact_words(flock, test.fact, Visit("", home, conditions=conditions))
        return np.zeros(flock.size), ~np.isin(words, sorted(test.words))
    shown = flock.readings(home, conditions, test.how.instrument, test.how.on)
    usual = np.zeros(flock.size, bool)
    for low, high in test.usual:
        usual |= (shown >= low) & (shown < high)
    return shown, ~usual


def places(flock: Flock) -> dict[str, Many]:
    """For each of WHERE, the index of the home where the test is made in each street; -1 for none."""
    homes = list(flock.street.premises)
    affected = [_affected(flock, place) for place in flock.places]
    at = {where: np.full(flock.size, -1) for where in WHERE}
    for number, (place, sharing, drawn) in enumerate(
        zip(flock.place, flock.sharing, flock.drawn, strict=True)
    ):
        if not affected[place]:
            continue
        chosen = drawn.shares[0] * len(affected[place])
        home = affected[place][int(chosen)]
        at["sharing" if sharing[home] else "alone"][number] = homes.index(home)
        doors = [door for door in sharing[home] if door not in affected[place]]
        if doors:
            at["next-door"][number] = homes.index(doors[int(chosen % 1 * len(doors))])
    return at


def _affected(flock: Flock, place: str) -> tuple[str, ...]:
    """The homes that a fault at this place is in; for a line of the main, those on that line."""
    if not place:
        return tuple(flock.street.premises)
    _, _, phase = place.partition(".")
    homes = Fault(flock.kind, place).homes(flock.street)
    if not flock.kind.startswith("mains-line"):
        return homes
    return tuple(home for home in homes if phase in flock.street.premises[home].phases)


def rows(counts: Sight) -> tuple[SeenRow, ...]:
    """The cells in order, each with its bounds."""
    return tuple(
        _row(counts, cell) for cell, what in sorted(counts) if what == "asked" and counts[cell, what]
    )


def _row(counts: Sight, cell: Seen) -> SeenRow:
    asked, shows = counts[cell, "asked"], counts[cell, "shows"]
    curved = any((cell, f"from {low:g}") in counts for low in THRESHOLDS)
    by_amperes = tuple(counts[cell, f"from {low:g}"] for low in THRESHOLDS) if curved else ()
    return SeenRow(cell.test, cell.fault, cell.where, asked, shows, *_bounds(asked, shows), by_amperes)


def _bounds(asked: int, shows: int) -> tuple[float, float]:
    """Clopper and Pearson's two-sided 95 % bounds."""
    from scipy.stats import beta

    low = 0.0 if shows == 0 else float(beta.ppf(0.025, shows, asked - shows + 1))
    high = 1.0 if shows == asked else float(beta.ppf(0.975, shows + 1, asked - shows))
    return low, high
