"""What each test can and cannot see: over drawn streets, how often it shows each kind of fault.

A test shows a fault where, with what it reads, no site tree of the guide lets the job be closed. The
instruments err and loads change as everywhere in the proof. Counts of parts add up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping

import numpy as np

from build_tools.guide import Guide
from build_tools.proof.flock import Flock, Many, Mask, faulty_flocks, taken
from build_tools.proof.procedures import Procedure, procedures
from build_tools.proof.seen import CURVED, THRESHOLDS, WHERE, Seen, Sight
from calc.faults import KINDS, Fault
from calc.work import Condition

__all__ = ["display", "places", "see_flock", "sight"]


def sight(guide: Guide, numbers: Iterable[int], kinds: Iterable[str] = tuple(KINDS)) -> Sight:
    """The counts over the drawn streets of these numbers. The guide must have a sampling."""
    assert guide.sampling is not None
    tests = procedures(guide)
    counts: Sight = Counter()
    for flock in faulty_flocks(guide.sampling, numbers, kinds):
        see_flock(tests, flock, counts)
    return counts


def see_flock(tests: Mapping[str, Procedure], whole: Flock, counts: Sight) -> None:
    """Add the counts over one flock."""
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
        words = flock.words(test.fact, home, conditions)
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
