"""Which rules want a node: those that some path breaks once it is left out, in any site tree that has it.

A guide whose trees break a rule as they are is to be mended first: that rule is named beside every node."""

from __future__ import annotations

from collections.abc import Mapping

from build_tools.checks import rules
from build_tools.guide.trees import Guide, Tree
from build_tools.plan.leaving_out import ClosingWay, Written, closing_ends

__all__ = ["demanding", "ways_of"]

_PREFIX = "rule-"


def ways_of(guide: Guide, way: ClosingWay) -> list[ClosingWay]:
    """The closing ways of all site trees. Where they have a node of this one's, its usual way is the same."""
    taken: dict[Written, Mapping[int, int]] = {}
    for id_, counted in way.taken.items():
        taken.setdefault(Written.of(way.tree.nodes[id_]), counted)
    return [
        ClosingWay(
            tree,
            closing_ends(guide, tree),
            {id_: taken.get(Written.of(node), {}) for id_, node in tree.nodes.items()},
        )
        for tree in guide.trees.values()
        if tree.audience == "site"
    ]


def demanding(guide: Guide, ways: list[ClosingWay], written: Written) -> tuple[str, ...]:
    """The ids of the rules that want this node, in the order of rules.yaml."""
    wanted = set[str]()
    for way in ways:
        if written in way.written:
            wanted |= _broken(guide, way.without(written))
    return tuple(rule.id for rule in guide.rules if rule.id in wanted)


def _broken(guide: Guide, tree: Tree) -> frozenset[str]:
    found = (finding.check for finding in rules.check(guide, [tree]))
    return frozenset(rule.removeprefix(_PREFIX) for rule in found if rule.startswith(_PREFIX))
