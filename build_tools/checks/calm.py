"""No figure is no good news, and a worse figure is no better news.

Where one range of a reading leads only to outcomes of priority emergency or urgent, and another can still
reach a calmer one, the ways without a figure (not taken, over range, not steady) are of the first kind. Over
range never leads to a calmer one: no sound home shows so much. Of two ranges of a loop, or of volts between
points that should stand alike (neutral, earths, pipe), the higher never ends calmer than the lower. Where
an answer about a fact leads only to pressing ends, not being able to tell presses no more than that. And no
call closes a job: nobody on the telephone has tested anything.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise

import networkx as nx

from build_tools.checks.paths import told_way
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, shown
from build_tools.guide.trees import Guide, Node, Tree

__all__ = ["check"]

_PRESSING = ("emergency", "urgent")


CLOSED_BY_TELEPHONE = Demand(
    "closed-by-telephone", "jobs that somebody closes who has tested", "take `closes` away"
)


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every reading of every tree, and of every outcome of a call."""
    for tree in trees:
        graph = tree.graph
        calm = _calm(tree, graph)
        for node in tree.nodes.values():
            if node.kind == "reading" and node.id == node.name:
                yield from _leads_on(tree, node, calm)
                yield from _better_when_worse(tree, graph, node)
            elif node.kind == "question" and node.id == node.name:
                yield from _worst_unknown(tree, graph, node, calm)
            elif isinstance(node.spec, models.Outcome) and node.spec.closes and tree.audience == "call":
                yield CLOSED_BY_TELEPHONE.found(
                    node.place, f"{shown(node.name)} closes the job", ("nodes", node.name, "closes")
                )


def _calm(tree: Tree, graph: nx.MultiDiGraph) -> set[str]:
    """Nodes from which an outcome can be reached that presses nobody."""
    backward = graph.reverse(copy=False)
    ends = {id_ for id_, node in tree.nodes.items() if _is_calm(node)}
    return ends.union(*(nx.descendants(backward, end) for end in ends))


def _is_calm(node: Node) -> bool:
    return isinstance(node.spec, models.Outcome) and node.spec.priority not in _PRESSING


NO_FIGURE_LEADS_ON = Demand(
    "no-figure-leads-on",
    "a figure, and one in range, before anything ends well: readings are there to find danger",
    "lead to an outcome, or to the way of the worst figure",
)


def _leads_on(tree: Tree, node: Node, calm: set[str]) -> Iterator[Finding]:
    ranges = [exit_ for exit_ in node.exits if exit_.kind == "range"]
    decides = any(exit_.go not in calm for exit_ in ranges)
    for exit_ in node.exits:
        pressing = exit_.kind == "over_range" or (decides and exit_.kind != "range")
        if pressing and exit_.go in calm:
            yield NO_FIGURE_LEADS_ON.found(
                exit_.place,
                f"{shown(exit_.label)} goes to {shown(exit_.go)}, and can still end well",
                ("nodes", node.name, exit_.kind),
                hops=told_way(tree, [(node.id, exit_)]),
            )


_ALIKE = {"neutral", "earth", "supply_earth", "independent_earth", "pipe"}
"""Points that stand at the same volts where nothing is wrong."""


WORSE_ENDS_BETTER = Demand(
    "worse-ends-better",
    "the higher figure to press at least as much: here more is worse",
    "look whether the two ranges lead where the other should",
)


def _better_when_worse(tree: Tree, graph: nx.MultiDiGraph, node: Node) -> Iterator[Finding]:
    spec = node.spec
    assert isinstance(spec, models.Reading)
    if spec.instrument != "loop" and not (spec.instrument == "voltmeter" and set(spec.on) <= _ALIKE):
        return
    ranges = sorted((exit_ for exit_ in node.exits if exit_.kind == "range"), key=lambda exit_: exit_.low)
    for lower, higher in pairwise(ranges):
        if _calmest(tree, graph, higher.go) > _calmest(tree, graph, lower.go):
            yield WORSE_ENDS_BETTER.found(
                higher.place,
                f"{shown(higher.label)} can end calmer than {shown(lower.label)}, which is a lower figure",
                ("nodes", node.name, "ranges"),
                hops=told_way(tree, [(node.id, higher)]),
            )


def _calmest(tree: Tree, graph: nx.MultiDiGraph, id_: str) -> int:
    """The place in `shapes.PRIORITIES` of the calmest outcome that can be reached; 0 where there is none."""
    specs = (tree.nodes[one].spec for one in (id_, *nx.descendants(graph, id_)))
    places = (models.PRIORITIES.index(spec.priority) for spec in specs if isinstance(spec, models.Outcome))
    return max(places, default=0)


UNKNOWN_IS_WORST = Demand(
    "unknown-is-worst",
    "who cannot tell to be pressed no more than by the answer that raises the alarm",
    "look whether two answers lead where the other should",
)


def _worst_unknown(tree: Tree, graph: nx.MultiDiGraph, node: Node, calm: set[str]) -> Iterator[Finding]:
    spec = node.spec
    assert isinstance(spec, models.Question)
    alarms = [_calmest(tree, graph, exit_.go) for exit_ in node.exits if exit_.is_ and exit_.go not in calm]
    for exit_ in node.exits if spec.fact and alarms else ():
        if not exit_.is_ and _calmest(tree, graph, exit_.go) < min(alarms):
            yield UNKNOWN_IS_WORST.found(
                exit_.place,
                f"{shown(exit_.label)} presses more than the worst that it could be",
                ("nodes", node.name, "answers"),
                "no more than the answer that raises the alarm",
                hops=told_way(tree, [(node.id, exit_)]),
            )
