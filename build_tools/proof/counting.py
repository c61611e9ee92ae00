"""How often each promise was kept and broken, counted over drawn streets.

Counts of parts add up, so the work can be split in any way and gives the same evidence.
"""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import reduce
from operator import or_
from typing import NamedTuple

import numpy as np

from build_tools.guide.models import PRIORITIES, Outcome, Promise
from build_tools.guide.trees import Guide, Tree
from build_tools.proof.caller_model import Caller, mistakes, outcomes
from build_tools.proof.cases import ANY, Case, Counts
from build_tools.proof.doubts import put
from build_tools.proof.street_batch import Mask, StreetBatch, batches, bits_of, mask_of, with_kinds
from build_tools.proof.weighing import Weighing
from build_tools.proof.wrong_answers import harmful_mistakes
from build_tools.walks.walk import HURTS, LOST, Walk
from calc.faults import HEALTHY, KINDS

__all__ = [
    "cases",
    "count",
    "count_batch",
    "endangered_streets",
    "is_about",
    "of_visits",
    "only",
    "visited_streets",
]


def count(guide: Guide, numbers: Iterable[int], kinds: Iterable[str] = tuple(KINDS)) -> Counts:
    """The counts over the drawn streets of these numbers, for these kinds of fault.

    The guide must have a sampling.
    """
    assert guide.sampling is not None
    counts: Counts = Counter()
    healthy = batches(guide.sampling, numbers)
    for batch in of_visits(healthy, kinds):
        count_batch(only(guide, "site"), batch, counts)
    for batch in with_kinds(healthy, tuple(kinds)):
        count_batch(only(guide, "call"), batch, counts)
    return counts


def of_visits(healthy: Iterable[StreetBatch], kinds: Iterable[str]) -> Iterator[StreetBatch]:
    """The streets parted by the home that is visited, all kinds of fault that endanger put together: what is
    walked is then wanted in all of a batch."""
    by_home = [part for whole in healthy for part in whole.by_visited()]
    endanger = [kind for kind in kinds if KINDS[kind].endangers]
    for some in (endanger, [kind for kind in kinds if kind == HEALTHY.kind]):
        yield from with_kinds(by_home, some)


def only(guide: Guide, audience: str) -> Guide:
    """The guide with only the promises of visits (`site`), or of calls (`call`)."""
    return replace(guide, promises=tuple(each for each in guide.promises if each.audience == audience))


def count_batch(guide: Guide, batch: StreetBatch, counts: Counts, weighing: Weighing | None = None) -> None:
    """Add the counts over one batch; what is judged by its share is left to be weighed too."""
    calls = tuple(promise for promise in guide.promises if promise.audience == "call")
    caller = Caller(batch, visited_streets(batch)) if calls else None
    for case, asked, happened in cases(guide, batch, caller):
        counts[case, "asked"] += int(asked.sum())
        counts[case, "happened"] += int((asked & happened).sum())
        if weighing and not case.detail:
            weighing.add(case, asked, happened)
    for end in weighing.ends if weighing else ():
        if end.is_walked_anew:
            assert guide.sampling is not None and weighing
            otherwise = replace(guide, promises=calls, sampling=put(guide.sampling, [end]))
            for case, asked, happened in cases(otherwise, batch, caller):
                weighing.anew(case, end, asked, happened)


def cases(
    guide: Guide, batch: StreetBatch, caller: Caller | None = None
) -> Iterable[tuple[Case, Mask, Mask]]:
    """Each promise about a fault of the batch, tree by tree and kind by kind: the streets asked, and where it
    happens.

    Whoever asks more than once gives the `caller`, who is the same each time.
    """
    about = [each for each in guide.promises if any(is_about(each, kind) for kind in batch.kinds)]
    of_site, of_calls = ([each for each in about if each.audience == one] for one in ("site", "call"))
    found: list[Iterator[_Found]] = []
    if of_site:
        found.append(_of_visits(guide, batch, of_site))
    if of_calls:
        found.append(_of_calls(guide, caller or Caller(batch, visited_streets(batch)), of_calls))
    for promise, tree, asked, happened, detail in itertools.chain.from_iterable(found):
        kinds = {kind: batch.of_kind(kind) for kind in batch.kinds if is_about(promise, kind)}
        for kind, here in kinds.items():
            if not detail or (asked & here).any():
                yield Case(promise.id, tree, kind, detail), asked & here, happened
        if promise.audience == "call":
            yield Case(promise.id, tree, ANY), asked & _in_any(kinds.values(), batch), happened


class _Found(NamedTuple):
    """What a promise comes to in a batch: the streets asked, and where it happens."""

    promise: Promise
    tree: str
    asked: Mask
    happened: Mask
    detail: str = ""


def _of_visits(guide: Guide, batch: StreetBatch, promises: list[Promise]) -> Iterator[_Found]:
    start = visited_streets(batch)
    endangered = endangered_streets(batch)
    all_streets = np.ones(batch.size, bool)
    walked: dict[tuple[str, bool], Walked] = {}

    def walk(tree: Tree, willing: bool) -> Walked:
        if (tree.id, willing) not in walked:
            walked[tree.id, willing] = walk_batch(tree, batch, start, willing)
        return walked[tree.id, willing]

    for promise in promises:
        for tree in (guide.trees[id_] for id_ in promise.trees):
            if promise.kind == "robust":
                mistakes = harmful_mistakes(tree, batch, start)
                yield _Found(promise, tree.id, all_streets, _in_any(mistakes.values(), batch))
                for mistake, by_it in mistakes.items():
                    yield _Found(promise, tree.id, by_it, by_it, f"{mistake.node}: {mistake.answer}")
                continue
            walked_so = walk(tree, promise.kind not in ("no-harm", "closed-beside"))
            closed = _closed(tree, walked_so, batch)
            match promise.kind:
                case "no-harm":
                    yield _Found(promise, tree.id, all_streets, walked_so.hurt)
                case "closed-beside":
                    yield _Found(promise, tree.id, endangered, walked_so.closed_beside)
                case "found" | "elsewhere":
                    asked = endangered if promise.kind == "found" else ~endangered
                    yield _Found(promise, tree.id, asked, ~closed & ~walked_so.lost)
                case "useful":
                    yield _Found(promise, tree.id, all_streets, closed)
                    for node, mask in walked_so.ends.items():
                        yield _Found(promise, tree.id, mask & ~closed, mask, node)


def _of_calls(guide: Guide, caller: Caller, promises: list[Promise]) -> Iterator[_Found]:
    assert guide.sampling is not None
    batch, err = caller.batch, mistakes(guide.sampling)
    ends: dict[str, dict[str, Mask]] = {}
    for promise in promises:
        if promise.kind == "calm":
            asked = ~caller.in_danger() & (caller.words("danger") == "no")
        else:
            asked = caller.noticed(promise.noticed or "")
        for tree in (guide.trees[id_] for id_ in promise.trees):
            if tree.id not in ends:
                ends[tree.id] = outcomes(tree, caller, guide.sampling.seed, err)
            given = np.zeros(batch.size, bool)
            for node, mask in ends[tree.id].items():
                spec = tree.nodes[node].spec
                if isinstance(spec, Outcome) and PRIORITIES.index(spec.priority) <= PRIORITIES.index(
                    promise.priority
                ):
                    given |= mask
            yield _Found(promise, tree.id, asked, given)


def is_about(promise: Promise, kind: str) -> bool:
    """Whether a promise speaks of a kind of fault."""
    if promise.faults and kind not in promise.faults:
        return False
    match promise.kind:
        case "useful":
            return kind == HEALTHY.kind
        case "calm":
            return not KINDS[kind].endangers
    return KINDS[kind].endangers


def _in_any(masks: Iterable[Mask], batch: StreetBatch) -> Mask:
    """The streets of any of the masks."""
    found = np.zeros(batch.size, bool)
    for mask in masks:
        found |= mask
    return found


@dataclass(frozen=True)
class Walked:
    """Which streets of a batch come to what: `ends` by outcome, `hurt` where a step can hurt somebody,
    `closed_beside` where the job is closed beside a danger, `lost` where no answer leads on."""

    ends: dict[str, Mask]
    hurt: Mask
    closed_beside: Mask
    lost: Mask


def walk_batch(tree: Tree, batch: StreetBatch, start: dict[str, Mask], willing: bool) -> Walked:
    """The tree walked from each home in `start` by the streets of its mask.

    `willing`: every test can be made and every record is there, so that only what is found decides.
    Otherwise every answer that a person could give is followed too (could not take it, not steady,
    cannot find out).
    """
    walk = Walk(tree, batch, willing)
    for home, mask in start.items():
        walk.from_home(home, bits_of(mask))
    return Walked(
        {node: mask_of(streets, batch.size) for node, streets in walk.ends.items()},
        mask_of(_of_kinds(walk, frozenset({"harm"})), batch.size),
        mask_of(_of_kinds(walk, HURTS - {"harm"}), batch.size),
        mask_of(_of_kinds(walk, LOST), batch.size),
    )


def _of_kinds(walk: Walk, kinds: frozenset[str]) -> int:
    """The streets in which something of these kinds is wrong."""
    return reduce(or_, (streets for (_, kind, _), streets in walk.wrong.items() if kind in kinds), 0)


def _closed(tree: Tree, walked: Walked, batch: StreetBatch) -> Mask:
    """The streets in which some walk ends with the job closed."""
    closed = np.zeros(batch.size, bool)
    for node, mask in walked.ends.items():
        match tree.nodes[node].spec:
            case Outcome(closes=True):
                closed |= mask
    return closed


def visited_streets(batch: StreetBatch) -> dict[str, Mask]:
    """Which home is visited in which streets."""
    homes = list(batch.street.premises)
    visited = np.array([each.visited for each in batch.drawn])
    return {home: here for home in homes if (here := visited == home).any()}


def endangered_streets(batch: StreetBatch) -> Mask:
    """The streets in which the fault endangers the visited home."""
    visited = visited_streets(batch).items()
    return mask_of(
        reduce(or_, (bits_of(mask) & batch.endangered(home) for home, mask in visited)), batch.size
    )
