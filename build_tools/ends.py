"""Where every walk of a tree ends on a street, with every fault from every home, and what is wrong on the
way.

Kept between runs by what a tree *does*: a tree whose words alone changed is not walked again.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from itertools import product
from typing import Any, TypeAlias

from build_tools.checks.ranges import can_be_walked
from build_tools.guide import Node, Tree
from build_tools.kept import keep, key_of, recall, source_key
from build_tools.shapes import Outcome, Question, Reading, Step
from build_tools.walk import endings, troubles
from build_tools.witness import Witness, kept_witnesses
from calc.faults import catalogue
from calc.street import Street

__all__ = ["Case", "Ends", "acts", "ends_on"]

Case: TypeAlias = tuple[str, str]
"""A fault as it is written, and the home that is visited."""


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
        walked: dict[str, dict[Case, Ends]] = {tree.id: {} for tree in anew}
        with kept_witnesses(street, catalogue(street)) as witnesses:
            for witness, tree, home in product(witnesses, anew, street.premises):
                walked[tree.id][str(witness.fault), home] = _ends(tree, witness, home)
        for id_, found in walked.items():
            keep(keys[id_], found)
        known |= walked
    return known


def _ends(tree: Tree, witness: Witness, home: str) -> Ends:
    reached = list(endings(tree, witness, home))
    return Ends(
        frozenset(ending.node for ending in reached if ending.willing),
        frozenset(ending.node for ending in reached if not ending.willing),
        frozenset((trouble.kind, trouble.node, trouble.what) for trouble in troubles(tree, witness, home)),
    )


def _acts(node: Node) -> Any:
    match node.spec:
        case Question() as spec:
            does: Any = spec.fact
        case Reading() as spec:
            does = (spec.instrument, spec.on)
        case Step() as spec:
            does = (spec.does, spec.hazards)
        case Outcome() as spec:
            does = spec.closes
    return node.id, node.kind, does, tuple((e.kind, e.go, e.low, e.high, e.is_) for e in node.exits)
