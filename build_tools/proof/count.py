"""How often each promise was kept and broken, counted over drawn streets.

Counts of parts add up, so the work can be split in any way and gives the same evidence.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass, field, replace

import numpy as np

from build_tools.guide import Guide, Tree
from build_tools.proof.callers import Caller, outcomes
from build_tools.proof.cases import ANY, Case, Counts
from build_tools.proof.flock import Flock, Mask, bits_of, faulty_flocks, mask_of
from build_tools.proof.mistakes import harmful_mistakes
from build_tools.proof.walks import Walk
from build_tools.shapes import PRIORITIES, Outcome, Promise
from calc.faults import HEALTHY, KINDS, Fault

__all__ = ["cases", "count", "count_flock", "endangered_streets", "visited_streets"]


def count(guide: Guide, numbers: Iterable[int], kinds: Iterable[str] = tuple(KINDS)) -> Counts:
    """The counts over the drawn streets of these numbers, for these kinds of fault.

    The guide must have a sampling.
    """
    assert guide.sampling is not None
    counts: Counts = Counter()
    for flock in faulty_flocks(guide.sampling, numbers, kinds):
        count_flock(guide, flock, counts)
    return counts


def count_flock(guide: Guide, flock: Flock, counts: Counts) -> None:
    """Add the counts over one flock."""
    for case, asked, happened in cases(guide, flock):
        counts[case, "asked"] += int(asked.sum())
        counts[case, "happened"] += int((asked & happened).sum())


def cases(guide: Guide, flock: Flock) -> Iterable[tuple[Case, Mask, Mask]]:
    """Each promise about the flock's fault, tree by tree: the streets asked, and where it happens."""
    promises = [promise for promise in guide.promises if _is_about(promise, flock.kind)]
    measured = {"site": _site_cases, "call": _call_cases}
    for audience, cases in measured.items():
        some = [promise for promise in promises if promise.audience == audience]
        if some:
            yield from cases(guide, flock, some)


def _site_cases(guide: Guide, flock: Flock, promises: list[Promise]) -> Iterable[tuple[Case, Mask, Mask]]:
    start = visited_streets(flock)
    endangered = endangered_streets(flock)
    all_streets = np.ones(flock.size, bool)
    walked: dict[tuple[str, bool], Walked] = {}

    def walk(tree: Tree, willing: bool) -> Walked:
        if (tree.id, willing) not in walked:
            walked[tree.id, willing] = walk_flock(tree, flock, start, willing)
        return walked[tree.id, willing]

    for promise in promises:
        for tree in (guide.trees[id_] for id_ in promise.trees):
            case = Case(promise.id, tree.id, flock.kind)
            if promise.kind == "robust":
                mistakes = harmful_mistakes(tree, flock, start, endangered)
                yield case, all_streets, _in_any(mistakes.values(), flock)
                for mistake, by_it in mistakes.items():
                    yield replace(case, detail=f"{mistake.node}: {mistake.answer}"), by_it, by_it
                continue
            closed = _closed(tree, walk(tree, promise.kind != "no-harm"), flock)
            match promise.kind:
                case "no-harm":
                    hurt = walk(tree, False).hurt.values()
                    yield case, all_streets, _in_any([*hurt, closed & endangered], flock)
                case "found" | "elsewhere":
                    asked = endangered if promise.kind == "found" else ~endangered
                    yield case, asked, ~closed & ~_in_any(walk(tree, True).lost.values(), flock)
                case "useful":
                    yield case, all_streets, closed
                    for node, mask in walk(tree, True).ends.items():
                        yield replace(case, detail=node), mask & ~closed, mask


def _call_cases(guide: Guide, flock: Flock, promises: list[Promise]) -> Iterable[tuple[Case, Mask, Mask]]:
    assert guide.sampling is not None
    caller = Caller(flock, visited_streets(flock))
    errs = guide.sampling.spreads["caller-errs"].chance or 0.0
    ends: dict[str, dict[str, Mask]] = {}
    for promise in promises:
        if promise.kind == "calm":
            asked = ~caller.in_danger() & (caller.words("danger") == "no")
        else:
            asked = caller.noticed(promise.noticed or "")
        for tree in (guide.trees[id_] for id_ in promise.trees):
            if tree.id not in ends:
                ends[tree.id] = outcomes(tree, caller, guide.sampling.seed, errs)
            given = np.zeros(flock.size, bool)
            for node, mask in ends[tree.id].items():
                spec = tree.nodes[node].spec
                if isinstance(spec, Outcome) and PRIORITIES.index(spec.priority) <= PRIORITIES.index(
                    promise.priority
                ):
                    given |= mask
            yield Case(promise.id, tree.id, flock.kind), asked, given
            yield Case(promise.id, tree.id, ANY), asked, given


def _is_about(promise: Promise, kind: str) -> bool:
    match promise.kind:
        case "useful":
            return kind == HEALTHY.kind
        case "calm":
            return not KINDS[kind].endangers
    return KINDS[kind].endangers


def _in_any(masks: Iterable[Mask], flock: Flock) -> Mask:
    """The streets of any of the masks."""
    found = np.zeros(flock.size, bool)
    for mask in masks:
        found |= mask
    return found


@dataclass
class Walked:
    """Which streets of a flock reach what. `ends` by outcome, `hurt` by step and harm, `lost` where no
    answer fits what is found."""

    ends: dict[str, Mask]
    hurt: dict[tuple[str, str], Mask] = field(default_factory=dict)
    lost: dict[str, Mask] = field(default_factory=dict)


def walk_flock(tree: Tree, flock: Flock, start: dict[str, Mask], willing: bool) -> Walked:
    """The tree walked from each home in `start` by the streets of its mask.

    `willing`: every test can be made and every record is there, so that only what is found decides.
    Otherwise every answer that a person could give is followed too (could not take it, not steady,
    cannot find out).
    """
    walk = Walk(tree, flock, willing)
    for home, mask in start.items():
        walk.from_home(home, bits_of(mask))
    return Walked(
        {node: mask_of(streets, flock.size) for node, streets in walk.ends.items()},
        {harm: mask_of(streets, flock.size) for harm, streets in walk.hurt.items()},
        {node: mask_of(streets, flock.size) for node, streets in walk.lost.items()},
    )


def _closed(tree: Tree, walked: Walked, flock: Flock) -> Mask:
    """The streets in which some walk ends with the job closed."""
    closed = np.zeros(flock.size, bool)
    for node, mask in walked.ends.items():
        match tree.nodes[node].spec:
            case Outcome(closes=True):
                closed |= mask
    return closed


def visited_streets(flock: Flock) -> dict[str, Mask]:
    """Which home is visited in which streets."""
    homes = list(flock.street.premises)
    places = np.array([int(each.shares[0] * len(homes)) for each in flock.drawn])
    return {home: places == place for place, home in enumerate(homes)}


def endangered_streets(flock: Flock) -> Mask:
    """The streets in which the fault endangers the visited home."""
    if not KINDS[flock.kind].endangers:
        return np.zeros(flock.size, bool)
    homes = list(flock.street.premises)
    faulty = [frozenset(Fault(flock.kind, place).homes(flock.street)) for place in flock.places]
    return np.array(
        [
            not faulty[place].isdisjoint((home, *sharing[home]))
            for place, sharing, home in zip(
                flock.place,
                flock.sharing,
                (homes[int(each.shares[0] * len(homes))] for each in flock.drawn),
                strict=True,
            )
        ]
    )
