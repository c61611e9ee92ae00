"""The worst corner of each promise: the few spreads that move it most, each at its worse end, all at once."""

from __future__ import annotations

import itertools
from collections import Counter, defaultdict
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof.caller_model import Caller
from build_tools.proof.cases import ANY, Case
from build_tools.proof.counting import cases, is_about, of_visits, only, visited_streets
from build_tools.proof.detection_rates import see_batch
from build_tools.proof.detection_table import AtCorners, Seen, SeenAt
from build_tools.proof.doubts import CORNER_STREETS, End, put
from build_tools.proof.evidence import Evidence, Part
from build_tools.proof.procedures import Procedure, procedures
from build_tools.proof.street_batch import Mask, StreetBatch, batched, of_part, with_kinds
from calc.drawn_streets import Drawn, draw, layout_of
from calc.faults import KINDS

__all__ = ["Corners", "count_corners", "streets_of", "worst_corners"]

_SPREADS = 3
"""Spreads that a corner puts at their worse ends, at most."""

Corners = Mapping[str, tuple[End, ...]]
"""The ends at the worst corner, by promise."""


def worst_corners(guide: Guide, evidence: Evidence) -> Corners:
    """The corner of each promise: of each spread the end that makes some row worst, the worst spreads first.

    A promise that nothing is seen to move is tried where the one that moves most of the same trees' is worst.
    No corner where nothing moves any of these.
    """
    harms = {promise.id: _harms(promise, evidence) for promise in guide.promises}
    worst: dict[str, tuple[End, ...]] = {}
    for promise in guide.promises:
        alike = [other.id for other in guide.promises if other.audience == promise.audience]
        moved = (
            promise.id
            if harms[promise.id]
            else max(alike, key=lambda id_: max(harms[id_].values(), default=0))
        )
        by_spread: dict[str, End] = {}
        for end in sorted(harms[moved], key=lambda end: (-harms[moved][end], end)):
            by_spread.setdefault(end.spread, end)
        if by_spread:
            worst[promise.id] = tuple(by_spread.values())[:_SPREADS]
    return worst


def _harms(promise: Promise, evidence: Evidence) -> dict[End, float]:
    """How much worse each end makes the row that it makes worst; those that make none worse are left out."""
    harms: dict[End, float] = {}
    for row in evidence.rows:
        if row.promise == promise.id and (promise.audience == "site" or row.fault == ANY):
            for place, share in row.moved.ends:
                worse = share - row.share if promise.is_upper else row.share - share
                if worse > 0:
                    end = evidence.ends[place]
                    harms[end] = max(worse, harms.get(end, 0.0))
    return harms


def streets_of(guide: Guide) -> int:
    """How many streets are drawn at a corner: no more than in the proof itself."""
    assert guide.sampling is not None
    return min(CORNER_STREETS, guide.sampling.streets)


def count_corners(guide: Guide, corners: Corners, part: Part) -> Iterator[tuple[StreetBatch, AtCorners]]:
    """Each batch of one part of the streets at the corners, walked or called, with its counts; those of all
    parts add up.

    A batch costs little more for more streets: those of all the corners are taken together, and of a street
    only the kinds of fault count that something is promised of at its corner.
    """
    tests = procedures(guide)
    ends = list(dict.fromkeys(corners.values()))
    held = [_held_at(guide, corners, each) for each in ends]
    streets = _drawn(guide, held, part)
    corner = {id(drawn): place for place, some in streets.items() for drawn in some}
    about = [{kind for kind in KINDS if any(is_about(each, kind) for each in at.promises)} for at in held]

    def here(batch: StreetBatch) -> _Held:
        at = np.array([corner[id(drawn)] for drawn in batch.drawn])
        of_kinds = {kind: batch.of_kind(kind) for kind in batch.kinds}
        found = {}
        for place in np.unique(at).tolist():
            concerned = [here for kind, here in of_kinds.items() if kind in about[place]]
            if concerned:
                found[ends[place]] = (held[place], (at == place) & np.logical_or.reduce(concerned))
        return found

    healthy = batched(itertools.chain.from_iterable(streets.values()))
    for batch in of_visits(healthy, KINDS):
        yield batch, _visited(guide, batch, here(batch))
    for batch in with_kinds(healthy, tuple(KINDS)):
        yield batch, _called(batch, here(batch)) + _seen(tests, batch, here(batch))


def _held_at(guide: Guide, corners: Corners, ends: tuple[End, ...]) -> Guide:
    """The guide with the spreads at these ends, and the promises whose corner that is."""
    assert guide.sampling is not None
    promises = tuple(promise for promise in guide.promises if corners.get(promise.id) == ends)
    return replace(guide, promises=promises, sampling=put(guide.sampling, ends))


def _drawn(guide: Guide, held: Sequence[Guide], part: Part) -> dict[int, list[Drawn]]:
    """The streets of this part at each corner, by its place."""
    some = [at.sampling for at in held if at.sampling is not None]
    streets = (
        (layout_of(sampling, number), (place, number))
        for place, sampling in enumerate(some)
        for number in range(streets_of(guide))
    )
    drawn: dict[int, list[Drawn]] = defaultdict(list)
    for place, number in of_part(streets, part.number, part.of):
        drawn[place].append(draw(some[place], number))
    return drawn


@dataclass
class _AtEachCorner:
    """Takes the cells of a batch, each counted apart for the streets at each corner."""

    held: Mapping[tuple[End, ...], Mask]
    counts: AtCorners

    def add(self, key: Seen, asked: Mask, happened: Mask) -> None:
        for ends, here in self.held.items():
            _add(self.counts, SeenAt(key, ends), asked & here, happened)


_Held = Mapping[tuple[End, ...], tuple[Guide, Mask]]
"""At each corner the guide there, and the streets of a batch that were drawn there."""


def _visited(guide: Guide, batch: StreetBatch, held: _Held) -> AtCorners:
    """The counts of the promises of visits, each in the streets at its corner."""
    counts: AtCorners = Counter()
    where = {promise.id: here for at, here in held.values() for promise in only(at, "site").promises}
    visits = replace(guide, promises=tuple(each for each in guide.promises if each.id in where))
    for case, asked, happened in cases(visits, batch):
        _add(counts, case, asked & where[case.promise], happened)
    return counts


def _called(batch: StreetBatch, held: _Held) -> AtCorners:
    """The counts of the promises of calls: each corner has its own chance that an answer is wrong."""
    counts: AtCorners = Counter()
    caller = Caller(batch, visited_streets(batch))
    for at, here in held.values():
        for case, asked, happened in cases(only(at, "call"), batch, caller):
            _add(counts, case, asked & here, happened)
    return counts


def _seen(tests: Mapping[str, Procedure], batch: StreetBatch, held: _Held) -> AtCorners:
    """The counts of what each test shows at every corner."""
    counts: AtCorners = Counter()
    parted = _AtEachCorner({ends: here for ends, (_, here) in held.items()}, counts)
    see_batch(tests, batch, Counter(), parted)
    return counts


def _add(counts: AtCorners, key: Case | SeenAt, asked: Mask, happened: Mask) -> None:
    counts[key, "asked"] += int(asked.sum())
    counts[key, "happened"] += int((asked & happened).sum())
