"""Every part of a tree is reached, every path ends, and nobody is led round for ever.

That every answer names a node that is there is seen when the tree is read (`guide.load`). Here: nothing
stands where no path comes by; from everywhere a path leads to an outcome; a loop passes through a node
that `loops` states, with a bound; and no two answers of one node read alike.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import pairwise

import networkx as nx

from build_tools.checks.paths import Way, told_way
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few, shown
from build_tools.guide.trees import Guide, Tree, TreeFile
from build_tools.guide.validation import told

__all__ = ["check"]


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every tree's shape as a graph."""
    for file in guide.tree_files.values():
        yield from few(_same_answers(file), file.place())
    for tree in trees:
        graph = tree.graph
        reached = {tree.start} | nx.descendants(graph, tree.start)
        yield from _unreachable(tree, reached)
        yield from _unbounded_loops(tree, graph)
        yield from _idle_loops(tree, graph)
        yield from _endless(tree, graph, reached)


SAME_ANSWER = Demand(
    "same-answer",
    "answers that differ: nobody could tell which of the two to take",
    "reword one of them, or delete it",
)


def _same_answers(file: TreeFile) -> Iterator[Finding]:
    for name, node in file.spec.nodes.items():
        if isinstance(node, models.Question):
            keys, labels = ("answers", "answer"), [answer.answer for answer in node.answers]
        elif isinstance(node, models.Reading):
            keys, labels = ("ranges", "label"), [range_.label for range_ in node.ranges]
        else:
            continue
        for i in _repeated(label.casefold() for label in labels):
            path = ("nodes", name, keys[0], i, keys[1])
            yield SAME_ANSWER.found(file.place(*path), f"{shown(labels[i])} stands here twice", told(path))


def _repeated(words: Iterable[str]) -> Iterator[int]:
    """Positions of words that came before."""
    seen: set[str] = set()
    for i, word in enumerate(words):
        if word in seen:
            yield i
        seen.add(word)


UNREACHABLE = Demand(
    "unreachable", "a path from the start to every node", "let an answer `go` there, or delete the node"
)


def _unreachable(tree: Tree, reached: set[str]) -> Iterator[Finding]:
    """Nodes of this file (a called tree speaks for its own) that no path comes by."""
    passed = {id_.partition(".")[0] for id_ in reached}
    for name in tree.spec.nodes:
        if name not in passed:
            yield UNREACHABLE.found(
                tree.file.place("nodes", name, key=True),
                f"nothing leads to {shown(name)}",
                ("nodes", name),
                f"a path from the start, {shown(tree.spec.start)}",
            )


LOOP = Demand(
    "loop",
    "a way on: someone could be led round for ever",
    "let an answer `go` elsewhere, or state the loop under `loops` with a bound",
)


def _unbounded_loops(tree: Tree, graph: nx.MultiDiGraph) -> Iterator[Finding]:
    """One finding for each knot of loops that no stated loop cuts: the shortest ring from its first node."""
    free = graph.subgraph(graph.nodes - tree.loops.keys())
    for knot in nx.strongly_connected_components(free):
        start = next(id_ for id_ in tree.nodes if id_ in knot)
        if ring := _ring(free.subgraph(knot), start):
            first = tree.nodes[start]
            yield LOOP.found(
                first.place,
                f"the way from {shown(first.name)} leads back to it, and nothing says how often",
                ("nodes", first.name),
                mend="let an answer `go` elsewhere, or state "
                f"`loops: [{{through: {first.name}, at_most: 3}}]`",
                hops=told_way(tree, ring),
            )


def _ring(graph: nx.MultiDiGraph, start: str) -> Way:
    """The shortest way from a node back to itself, with the answers taken; empty where there is none."""
    to_start = nx.shortest_path(graph, target=start)
    followers = [node for node in graph.successors(start) if node in to_start]
    if not followers:
        return ()
    back = min((to_start[node] for node in followers), key=len)
    return _left_by(graph, [start, *back])


def _left_by(graph: nx.MultiDiGraph, nodes: list[str]) -> Way:
    """Each node but the last, with the exit that leads to the next."""
    return tuple((here, graph[here][there][0]["exit"]) for here, there in pairwise(nodes))


IDLE_LOOP = Demand("idle-loop", "only loops that are there, and one bound for each", "delete this entry")


def _idle_loops(tree: Tree, graph: nx.MultiDiGraph) -> Iterator[Finding]:
    knots = [knot for knot in nx.strongly_connected_components(graph) if len(knot) > 1]
    looping = set[str]().union(*knots) | set(nx.nodes_with_selfloops(graph))
    passed = {id_.partition(".")[0] for id_ in looping}
    repeated = set(_repeated(loop.through for loop in tree.spec.loops))
    for i, loop in enumerate(tree.spec.loops):
        path = ("loops", i, "through")
        if loop.through not in passed:
            what, expected = f"no loop passes through {shown(loop.through)}", "only loops that are there"
        elif i in repeated:
            what, expected = f"{shown(loop.through)} is stated twice", "one bound for each loop"
        else:
            continue
        yield IDLE_LOOP.found(tree.file.place(*path), what, told(path), expected)


ENDLESS = Demand(
    "endless",
    "an end: whoever comes here must be told what follows",
    "let one of the answers lead to an outcome",
)


def _endless(tree: Tree, graph: nx.MultiDiGraph, reached: set[str]) -> Iterator[Finding]:
    """The first node on the way from the start from which no outcome can be reached."""
    ending = {id_ for id_, node in tree.nodes.items() if node.kind == "outcome"}
    backward = graph.reverse(copy=False)
    for id_ in list(ending):
        ending |= nx.descendants(backward, id_)
    stuck = reached - ending
    if stuck:
        ways = nx.single_source_shortest_path(graph, tree.start)
        nearest = min(stuck, key=lambda id_: (len(ways[id_]), id_))
        way = _left_by(graph, ways[nearest])
        node = tree.nodes[nearest]
        yield ENDLESS.found(
            node.place,
            f"no path from {shown(node.name)} reaches an outcome",
            ("nodes", node.name),
            hops=told_way(tree, [*way, (nearest, None)]),
        )
