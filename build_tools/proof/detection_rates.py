"""What each test can and cannot see: over drawn streets, how often it shows each kind of fault.

A test shows a fault where, with what it reads, no site tree of the guide lets the job be closed. The
instruments err and loads change as everywhere in the proof. Counts of parts add up.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Mapping
from typing import Protocol

import numpy as np

from build_tools.guide.trees import Guide
from build_tools.proof.detection_table import CURVED, THRESHOLDS, WHERE, Seen, Sight
from build_tools.proof.procedures import HomeKind, Procedure, procedures
from build_tools.proof.street_batch import Many, Mask, StreetBatch, batches, with_kinds
from calc.drawn_streets import may_be_visited
from calc.faults import KINDS, Fault
from calc.work import Condition

__all__ = ["Tally", "display", "places", "see_batch", "sight"]


def sight(guide: Guide, numbers: Iterable[int], kinds: Iterable[str] = tuple(KINDS)) -> Sight:
    """The counts over the drawn streets of these numbers. The guide must have a sampling."""
    assert guide.sampling is not None
    tests = procedures(guide)
    counts: Sight = Counter()
    for batch in with_kinds(batches(guide.sampling, numbers), tuple(kinds)):
        see_batch(tests, batch, counts)
    return counts


class Tally(Protocol):
    """Whoever takes each cell of a batch: the streets asked, and those where the test shows the fault."""

    def add(self, key: Seen, asked: Mask, happened: Mask) -> None: ...


def see_batch(
    tests: Mapping[str, Procedure], batch: StreetBatch, counts: Sight, also: Tally | None = None
) -> None:
    """Add the counts over one batch; each cell is handed on too, to be weighed or parted."""
    at = places(batch)
    kinds = {kind: batch.of_kind(kind) for kind in batch.kinds}
    made, shows = (
        {(test, where): np.zeros(batch.size, bool) for test in tests for where in at} for _ in range(2)
    )
    for number, home in enumerate(batch.street.premises):
        here = {where: homes == number for where, homes in at.items()}
        tested: Mask = np.logical_or.reduce(list(here.values()))
        if not tested.any():
            continue
        part, kind = batch.only(tested), HomeKind.of(batch.street.premises[home])
        for test in (each for each in tests.values() if kind in each.limits):
            steps, alarm = np.zeros(batch.size, int), np.zeros(batch.size, bool)
            shown, alarm[tested] = display(test, part, home)
            steps[tested] = np.searchsorted(THRESHOLDS, shown, side="right")
            for where, asked in here.items():
                made[test.id, where] |= asked
                shows[test.id, where] |= alarm & asked
                for fault, of_it in kinds.items() if test.how.instrument == "clamp" else ():
                    for step, low in enumerate(THRESHOLDS, 1) if fault in CURVED else ():
                        cell, so = Seen(test.id, fault, where), (steps == step) & asked & of_it
                        counts[cell, f"from {low:g}"] += int(so.sum())
    for (test_id, where), there in shows.items():
        for fault, of_it in kinds.items():
            cell, asked = Seen(test_id, fault, where), made[test_id, where] & of_it
            counts[cell, "asked"] += int(asked.sum())
            counts[cell, "shows"] += int((there & of_it).sum())
            if also:
                also.add(cell, asked, there)


def display(test: Procedure, batch: StreetBatch, home: str) -> tuple[Many, Mask]:
    """What the test shows at a home in each street, and where that keeps the job from being closed."""
    conditions = frozenset(Condition(name, home) for name in test.how.conditions)
    limits = test.limits[HomeKind.of(batch.street.premises[home])]
    if test.fact:
        words = batch.words(test.fact, home, conditions)
        return np.zeros(batch.size), ~np.isin(words, sorted(limits.words))
    shown = batch.readings(home, conditions, test.how.instrument, test.how.on)
    usual = np.zeros(batch.size, bool)
    for low, high in limits.usual:
        usual |= (shown >= low) & (shown < high)
    return shown, ~usual


def places(batch: StreetBatch) -> dict[str, Many]:
    """For each of WHERE, the index of the home where the test is made in each street; -1 for none. Of a long
    street only some homes are tested, as only some are visited."""
    homes = list(batch.street.premises)
    tested = frozenset(may_be_visited(homes))
    all_affected = [_affected(batch, fault) for fault in batch.faults]
    affected = [[home for home in in_it if home in tested] for in_it in all_affected]
    at = {where: np.full(batch.size, -1) for where in WHERE}
    for number, (place, sharing, drawn) in enumerate(
        zip(batch.place, batch.sharing, batch.drawn, strict=True)
    ):
        if not affected[place]:
            continue
        chosen = drawn.shares[0] * len(affected[place])
        home = affected[place][int(chosen)]
        at["sharing" if sharing[home] else "alone"][number] = homes.index(home)
        doors = [door for door in sharing[home] if door in tested and door not in all_affected[place]]
        if doors:
            at["next-door"][number] = homes.index(doors[int(chosen % 1 * len(doors))])
    return at


def _affected(batch: StreetBatch, fault: Fault) -> tuple[str, ...]:
    """The homes that a fault is in."""
    return fault.homes(batch.street) if fault.at else tuple(batch.street.premises)
