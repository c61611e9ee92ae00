"""Measuring every promise: the streets drawn, walked and counted, by processes side by side."""

from __future__ import annotations

import multiprocessing
from collections import Counter
from collections.abc import Callable
from concurrent.futures import FIRST_EXCEPTION, Executor, wait
from dataclasses import replace
from functools import partial, reduce
from operator import add
from typing import Any, TypeVar, cast

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.proof.cases import Counts
from build_tools.proof.corners import Corners, count_corners, streets_of, worst_corners
from build_tools.proof.counting import count_batch, of_visits, only
from build_tools.proof.detection_rates import see_batch
from build_tools.proof.detection_table import AtCorners, Sight
from build_tools.proof.evidence import (
    Counted,
    Evidence,
    Part,
    of_counts,
    with_corners,
    with_pairs,
    with_visits,
)
from build_tools.proof.fault_pairs import pairs_on
from build_tools.proof.pairs_row import PairsRow
from build_tools.proof.procedures import procedures
from build_tools.proof.street_batch import StreetBatch, batches, numbers_of, with_kinds
from build_tools.proof.visit_table import VisitCounts
from build_tools.proof.visits import count_visits
from build_tools.proof.weighing import Weighing
from build_tools.setup import progress
from build_tools.setup.stopping import workers
from calc.faults import HEALTHY, KINDS

__all__ = ["count_part", "evidence_of", "prove"]

_PARTS = 2

VISITED_STREETS = 400
"""Streets in which a home is visited in time, for each kind of fault."""

COME_AND_GO = ("service-pen-open", "service-pen-high", "mains-pen-open", "mains-pen-high")
"""Faults that are visited as passing ones too: joints of a PEN."""


def prove(guide: Guide, executor: Executor | None = None) -> Evidence:
    """Measure every promise over the guide's sampling; the same result whatever the executor.

    Any executor of concurrent.futures will do (one for a cluster, such as Dask's `Client.get_executor()`,
    as well), when its workers see the guide's folder. Two processes when none is given.
    """
    assert guide.sampling is not None
    streets = guide.sampling.streets * len(KINDS)
    counted = _by_parts(partial(_count_part, str(guide.folder)), "walking the trees", streets, executor)
    return evidence_of(guide, reduce(add, counted), executor)


def evidence_of(guide: Guide, whole: Counted, executor: Executor | None = None) -> Evidence:
    """The evidence that the counts of all parts make, with every promise tried at its worst corner."""
    measured = of_counts(guide, whole)
    corners = worst_corners(guide, measured)
    streets = 2 * streets_of(guide) * len(KINDS) * len(set(corners.values()))  # walked, and called
    count = partial(_count_corners, str(guide.folder), corners)
    counted: list[AtCorners] = []
    if corners:
        counted = _by_parts(count, "trying the worst corners", streets, executor)
    cornered = with_corners(measured, corners, sum(counted, cast(AtCorners, Counter())))
    return with_pairs(_with_visits(guide, cornered, executor), _pairs(guide, executor))


def _with_visits(guide: Guide, measured: Evidence, executor: Executor | None) -> Evidence:
    """The evidence with the visits in time, where the guide says how long things take."""
    if guide.minutes is None:
        return measured
    count = partial(_count_visits, str(guide.folder))
    counted = _by_parts(count, "visiting homes in time", 0, executor)
    return with_visits(measured, sum(counted, cast(VisitCounts, Counter())))


def _count_visits(folder: str, part: Part) -> VisitCounts:
    guide = load(folder)
    assert guide.sampling is not None and guide.minutes is not None
    streets = min(VISITED_STREETS, guide.sampling.streets)
    numbers = numbers_of(replace(guide.sampling, streets=streets), part.number, part.of)
    first = next(id_ for promise in guide.promises if promise.audience == "site" for id_ in promise.trees)
    passing = [law for law in guide.minutes.laws if guide.minutes.laws[law].when != "always"]
    lasting = [law for law in guide.minutes.laws if law not in passing]
    kinds = [kind for kind in KINDS if kind == HEALTHY.kind or KINDS[kind].keeps_open]
    return count_visits(guide, numbers, kinds, lasting, trees=[first]) + count_visits(
        guide, numbers, COME_AND_GO, passing, ["perfect"], [first]
    )


def _pairs(guide: Guide, executor: Executor | None) -> list[PairsRow]:
    """Every two faults at once on each street of the guide, the street with most homes first."""
    names = sorted(guide.streets, key=lambda name: -len(guide.streets[name].premises))
    walked = partial(_pairs_on, str(guide.folder))
    if executor is not None:
        rows = list(executor.map(walked, names))
    else:
        with (
            progress.work("walking with every two faults at once", len(names)),
            workers(_PARTS) as own,
        ):
            rows = list(progress.counted(own.map(walked, names)))
    return [row for _, of_street in sorted(zip(names, rows, strict=True)) for row in of_street]


def _pairs_on(folder: str, name: str) -> tuple[PairsRow, ...]:
    guide = load(folder)
    return pairs_on(name, guide.streets[name], guide.trees.values())


_Counts = TypeVar("_Counts")


def _by_parts(
    count: Callable[[Part], _Counts], words: str, streets: int, executor: Executor | None
) -> list[_Counts]:
    """Every part counted, by two processes unless an executor is given; each says how many streets it has
    walked."""
    if executor is not None:
        return list(executor.map(count, Part.all(_PARTS)))
    walked = multiprocessing.Value("q", 0)
    with progress.work(words, streets) as doing, workers(_PARTS, _count_in, (walked,)) as own:
        asked = [own.submit(count, part) for part in Part.all(_PARTS)]
        while wait(asked, timeout=0.5, return_when=FIRST_EXCEPTION).not_done:
            if failed := next((one for one in asked if one.done() and one.exception()), None):
                failed.result()
            doing.reach(walked.value)
        return [one.result() for one in asked]


_walked: list[Any] = []
"""In a process of its own: what counts the streets that all of them have walked."""


def _count_in(walked: Any) -> None:
    _walked.append(walked)


def _walked_over(batch: StreetBatch) -> None:
    for walked in _walked:
        with walked.get_lock():
            walked.value += batch.size


def _count_part(folder: str, part: Part) -> Counted:
    return count_part(load(folder), part)


def count_part(guide: Guide, part: Part) -> Counted:
    """What is counted over one part of the drawn streets; the counts of all parts add up to the whole."""
    assert guide.sampling is not None
    numbers = numbers_of(guide.sampling, part.number, part.of)
    tests, counts, seen = procedures(guide), cast(Counts, Counter()), cast(Sight, Counter())
    weighing = Weighing(guide.sampling)
    healthy = batches(guide.sampling, numbers)
    for batch in of_visits(healthy, KINDS):
        count_batch(only(guide, "site"), batch, counts, weighing)
        weighing.count(batch)
        _walked_over(batch)
    for batch in with_kinds(healthy, tuple(KINDS)):
        count_batch(only(guide, "call"), batch, counts, weighing)
        see_batch(tests, batch, seen, weighing)
        weighing.count(batch)
    sums = {key: rows.tolist() for key, rows in weighing.sums.items()}
    return Counted(cast(Any, counts) + cast(Any, seen), sums)


def _count_corners(folder: str, corners: Corners, part: Part) -> AtCorners:
    counts: AtCorners = Counter()
    for batch, more in count_corners(load(folder), corners, part):
        counts.update(more)
        _walked_over(batch)
    return counts
