"""No figure is no good news: a reading that decides leads on to calm only by a figure.

Where one range of a reading leads only to outcomes of priority emergency or urgent, and another can still
reach a calmer one, the ways without a figure (not taken, over range, not steady) are of the first kind. And
no call closes a job: nobody on the telephone has tested anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import networkx as nx

from build_tools import shapes
from build_tools.checks.paths import told_way
from build_tools.findings import Finding, shown
from build_tools.guide import Guide, Node, Tree

__all__ = ["check"]

_PRESSING = ("emergency", "urgent")


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every reading of every tree, and of every outcome of a call."""
    for tree in trees:
        calm = _calm(tree)
        for node in tree.nodes.values():
            if node.kind == "reading" and node.id == node.name:
                yield from _leads_on(tree, node, calm)
            elif isinstance(node.spec, shapes.Outcome) and node.spec.closes and tree.audience == "call":
                yield Finding(
                    "closed-by-telephone",
                    node.place,
                    f"{shown(node.name)} closes the job",
                    ("nodes", node.name, "closes"),
                    "jobs that somebody closes who has tested",
                    "take `closes` away",
                )


def _calm(tree: Tree) -> set[str]:
    """Nodes from which an outcome can be reached that presses nobody."""
    graph = tree.graph.reverse(copy=False)
    ends = {id_ for id_, node in tree.nodes.items() if _is_calm(node)}
    return ends.union(*(nx.descendants(graph, end) for end in ends))


def _is_calm(node: Node) -> bool:
    return isinstance(node.spec, shapes.Outcome) and node.spec.priority not in _PRESSING


def _leads_on(tree: Tree, node: Node, calm: set[str]) -> Iterator[Finding]:
    ranges = [exit_ for exit_ in node.exits if exit_.kind == "range"]
    if all(exit_.go in calm for exit_ in ranges):
        return
    for exit_ in node.exits:
        if exit_.kind != "range" and exit_.go in calm:
            yield Finding(
                "no-figure-leads-on",
                exit_.place,
                f"{shown(exit_.label)} goes to {shown(exit_.go)}, and can still end well",
                ("nodes", node.name, exit_.kind),
                "a figure before anything ends well: this reading is there to find a danger",
                "lead to an outcome, or to the way of the worst figure",
                told_way(tree, [(node.id, exit_)]),
            )
