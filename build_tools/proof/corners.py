"""The worst corner of each promise: the few spreads that move it most, each at its worse end, all at once."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import replace

from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof.cases import ANY, Counts
from build_tools.proof.counting import count_batch, is_about
from build_tools.proof.doubts import CORNER_STREETS, End, put
from build_tools.proof.evidence import Evidence, Part
from build_tools.proof.street_batch import StreetBatch, faulty_batches, numbers_of
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


def count_corners(guide: Guide, corners: Corners, part: Part) -> Iterator[tuple[StreetBatch, Counts]]:
    """Each batch of one part of the streets at the corners, with its counts; those of all parts add up."""
    assert guide.sampling is not None
    for ends in dict.fromkeys(corners.values()):
        promises = tuple(promise for promise in guide.promises if corners.get(promise.id) == ends)
        there = replace(guide, promises=promises, sampling=put(guide.sampling, ends))
        assert there.sampling is not None
        numbers = numbers_of(replace(there.sampling, streets=streets_of(guide)), part.number, part.of)
        kinds = [kind for kind in KINDS if any(is_about(promise, kind) for promise in promises)]
        for batch in faulty_batches(there.sampling, numbers, kinds):
            counts: Counts = Counter()
            count_batch(there, batch, counts)
            yield batch, counts
