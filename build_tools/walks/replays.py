"""One walk of each tree for each kind of fault on a street, hop by hop, for pages that replay it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from build_tools.guide.trees import Tree
from build_tools.setup.result_cache import keep, key_of, recall, source_key
from build_tools.walks.ends import Ends, acts, ends_on
from build_tools.walks.oracle import Oracle, kept_oracles
from build_tools.walks.ways import Ending, Ways
from calc.faults import HEALTHY, KINDS, Fault, catalogue
from calc.street import Street

__all__ = ["Replay", "ReplayHop", "replays_on"]


@dataclass(frozen=True, slots=True)
class ReplayHop:
    """One node passed: at which home, which of the node's exits was taken (from 0), what a display showed."""

    node: str
    home: str
    exit: int
    display: str


@dataclass(frozen=True, slots=True)
class Replay:
    """A walk that what is found leads along, and the outcome that it comes to."""

    fault: Fault
    home: str
    hops: tuple[ReplayHop, ...]
    outcome: str


def replays_on(street: Street, trees: Iterable[Tree]) -> dict[str, tuple[Replay, ...]]:
    """For each site tree that can be walked, by id: the healthy street and each kind of fault beside which
    no job may be closed, where it first can be, visited at a home that it is in. Of the outcomes reached, the
    nearest that names the fault, or else that hangs on what is found."""
    trees = list(trees)
    ends = ends_on(street, trees)
    walked = [tree for tree in trees if tree.id in ends]
    key = key_of("replays", source_key("calc", "build_tools"), [acts(tree) for tree in walked], street)
    kept: dict[str, tuple[Replay, ...]] | None = recall(key)
    if kept is None:
        kept = {}
        faults = _one_of_each_kind(street)
        with kept_oracles(street, faults) as oracles:
            for tree in walked:
                kept[tree.id] = tuple(
                    _replay(tree, fault, oracle, ends[tree.id].values())
                    for fault, oracle in zip(faults, oracles, strict=True)
                )
        keep(key, kept)
    return kept


def _one_of_each_kind(street: Street) -> list[Fault]:
    first: dict[str, Fault] = {}
    for fault in catalogue(street):
        if KINDS[fault.kind].keeps_open or fault == HEALTHY:
            first.setdefault(fault.kind, fault)
    return list(first.values())


def _replay(tree: Tree, fault: Fault, oracle: Oracle, ends: Iterable[Ends]) -> Replay:
    always = frozenset.intersection(*(one.found for one in ends))
    home = next(name for name in (*fault.homes(oracle.street), *oracle.street.premises))

    def far(ending: Ending) -> tuple[bool, bool, bool]:
        holds = getattr(tree.nodes[ending.node].spec, "holds", ())
        return not ending.willing, fault.kind not in holds, ending.node in always

    reached = min(Ways(tree, oracle, home).endings(), key=far)
    hops = tuple(
        ReplayHop(
            passage.visit.node,
            passage.visit.home,
            tree.nodes[passage.visit.node].exits.index(passage.exit),
            passage.display,
        )
        for passage in reached.way
    )
    return Replay(fault, home, hops, reached.node)
