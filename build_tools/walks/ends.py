"""Where every walk of a tree ends on a street, with every fault from every home, and what is wrong on the
way.

Kept between runs by what a tree *does*: a tree whose words alone changed is not walked again.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias, TypeVar

from build_tools.guide.models import Outcome, Question, Reading, Step
from build_tools.guide.trees import Node, Tree
from build_tools.setup.result_cache import keep, key_of, recall, source_key
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import kept_oracles
from build_tools.walks.walkable import can_be_walked
from calc.faults import catalogue
from calc.street import Street

__all__ = ["Case", "Ends", "acts", "ends_on"]

Case: TypeAlias = tuple[str, str]
"""A fault as it is written, and the home that is visited."""
_What = TypeVar("_What")


@dataclass(frozen=True, slots=True)
class Ends:
    """The outcomes of one case: `found` where what is found leads, `besides` those reached only where
    something was not taken or not known. `wrong`: kind, node and words of what is wrong on any walk."""

    found: frozenset[str]
    besides: frozenset[str]
    wrong: frozenset[tuple[str, str, str]]


def acts(tree: Tree) -> Any:
    """What decides the walks of a tree: its nodes without their words. Compared, and used for a key."""
    return tree.start, tuple(_acts(node) for node in tree.nodes.values())


def ends_on(street: Street, trees: Iterable[Tree]) -> dict[str, dict[Case, Ends]]:
    """For each site tree that can be walked, by id: where each case of the street ends."""
    code = source_key("calc", "build_tools")
    site = [tree for tree in trees if tree.audience == "site" and can_be_walked(tree)]
    keys = {tree.id: key_of("ends", code, acts(tree), street) for tree in site}
    known = {id_: recall(key) for id_, key in keys.items()}
    anew = [tree for tree in site if known[tree.id] is None]
    if anew:
        with kept_oracles(street, catalogue(street)) as oracles:
            faults = ManyFaults(oracles)
            for tree in anew:
                known[tree.id] = _ends(tree, faults)
                keep(keys[tree.id], known[tree.id])
    return known


def _ends(tree: Tree, faults: ManyFaults) -> dict[Case, Ends]:
    at_homes = {home: _ends_from(tree, faults, home) for home in faults.street.premises}
    return {
        (str(oracle.fault), home): ends[bit]
        for bit, oracle in enumerate(faults.oracles)
        for home, ends in at_homes.items()
    }


def _ends_from(tree: Tree, faults: ManyFaults, home: str) -> list[Ends]:
    """The ends of the walks from a home with each fault."""
    willing, every = (faults.walk(tree, home, willing) for willing in (True, False))
    ends = []
    for bit in range(len(faults.oracles)):
        found = frozenset(_with(bit, willing.ends))
        besides = frozenset(_with(bit, every.ends)) - found
        wrong = frozenset((kind, node, what) for node, kind, what in _with(bit, every.wrong))
        ends.append(Ends(found, besides, wrong))
    return ends


def _with(bit: int, reached: Mapping[_What, int]) -> Iterator[_What]:
    """What is reached with one of the faults."""
    return (what for what, faults in reached.items() if faults >> bit & 1)


def _acts(node: Node) -> Any:
    match node.spec:
        case Question() as spec:
            does: Any = spec.fact
        case Reading() as spec:
            does = (spec.instrument, spec.on, spec.change_from)
        case Step() as spec:
            does = (spec.does, spec.hazards)
        case Outcome() as spec:
            does = (spec.closes, spec.hand_over is None)
    return node.id, node.kind, does, tuple((e.kind, e.go, e.low, e.high, e.is_) for e in node.exits)
