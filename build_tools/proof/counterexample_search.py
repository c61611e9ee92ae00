"""The worst street for a promise that is not kept: found among the drawn ones, cut down, kept and told of."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import numpy as np

from build_tools.guide import source
from build_tools.guide.findings import Hop, Place
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof.cases import ANY
from build_tools.proof.counterexample import Counterexample, failing, fails, link, write
from build_tools.proof.shrinking import shrunk
from build_tools.proof.street_batch import StreetBatch, batches
from build_tools.setup.environment import COMMAND
from calc.faults import KINDS

__all__ = ["attach", "find"]

_AT_ONCE = 200
"""Drawn streets that are searched together."""


def find(guide: Guide, promise: Promise, tree: str, kind: str) -> Counterexample | None:
    """The first drawn street by number on which a promise fails with this kind of fault (any kind, for
    proof.cases.ANY); None where it fails on none."""
    assert guide.sampling is not None
    for first in range(0, guide.sampling.streets, _AT_ONCE):
        numbers = range(first, min(first + _AT_ONCE, guide.sampling.streets))
        found = [
            worst
            for whole in batches(guide.sampling, numbers)
            for each in (KINDS if kind == ANY else [kind])
            for batch in whole.with_fault(each)
            for worst in _broken_by(guide, promise, tree, batch)
        ]
        if found:
            return min(found, key=lambda worst: worst.number)
    return None


def _broken_by(guide: Guide, promise: Promise, tree: str, batch: StreetBatch) -> Iterator[Counterexample]:
    """The first street of the batch on which the promise fails, if any."""
    assert guide.sampling is not None
    for index in np.flatnonzero(failing(guide, promise.id, tree, batch))[:1]:
        drawn = batch.drawn[index]
        yield Counterexample(
            promise.id,
            tree,
            str(batch.fault(index)),
            drawn.visited,
            guide.sampling.seed,
            drawn.number,
            drawn.meters,
            drawn.caller if promise.audience == "call" else {},
            drawn.known_load_kw,
            drawn.later_kw,
            replace(drawn.street, title=f"Cut down from drawn street {drawn.number}"),
        )


def attach(guide: Guide, folder: Path, promise: Promise, tree: str, kind: str) -> tuple[Hop, ...]:
    """For a finding that a promise is not kept: the file of the worst street, how to have it told, and the
    link that opens it. Nothing where no single street breaks the promise, and too few were drawn."""
    worst = find(guide, promise, tree, kind)
    if worst is None:
        return ()
    worst = shrunk(worst, lambda each: fails(guide, each))
    path = write(worst, promise, folder)
    place = Place(source.as_given(path), 1, 1)
    return (
        Hop(place, f"the smallest street that shows it, from drawn street {worst.number}"),
        Hop(place, f"told: {COMMAND} walk {tree} --street {place.file}"),
        Hop(place, f"drawn: {link(worst)}"),
    )
