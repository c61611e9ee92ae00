"""Every called tree written out where it is called: each tree one flat graph, with no call left in it."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import replace
from typing import Any

import networkx as nx

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, Hop, few
from build_tools.guide.trees import Exit, ExitKind, Node, Tree, TreeFile
from build_tools.guide.unknown_names import unknown_names

__all__ = ["MOST_NODES", "written_out"]

MOST_NODES = 5_000


def written_out(
    files: Mapping[str, TreeFile], refused: Collection[str]
) -> tuple[dict[str, Tree], list[Finding]]:
    """Every whole tree with its calls written out, the called before the calling. What calls one of the
    `refused` waits for it."""
    findings: list[Finding] = []
    for file in files.values():
        findings += few(unknown_names(file, files, refused), file.place())
    calls = nx.DiGraph()
    calls.add_nodes_from(files)
    for file in files.values():
        calls.add_edges_from((file.id, call.call) for _, call in file.calls if call.call in files)
    for ring in nx.strongly_connected_components(calls):
        if len(ring) > 1 or calls.has_edge(*(list(ring) * 2)):
            findings.append(_call_ring(files, nx.find_cycle(calls.subgraph(ring))))
            calls.remove_edges_from(list(calls.subgraph(ring).edges))
    broken = {finding.place.file for finding in findings}
    trees: dict[str, Tree] = {}
    for id_ in reversed(list(nx.topological_sort(calls))):
        file = files[id_]
        if file.source.file in broken or any(call.call not in trees for _, call in file.calls):
            continue
        size = len(file.spec.nodes) + sum(len(trees[call.call].nodes) for _, call in file.calls)
        if size > MOST_NODES:
            findings.append(_too_many(file, size))
        else:
            trees[id_] = _expand(file, trees)
    return {id_: trees[id_] for id_ in files if id_ in trees}, findings


CALL_RING = Demand(
    "call-ring",
    "calls that come back",
    "end one of the trees with an outcome that `returns`, and loop in the calling tree",
)


def _call_ring(files: Mapping[str, TreeFile], ring: list[tuple[str, str]]) -> Finding:
    hops = []
    for caller, called in ring:
        name = next(name for name, call in files[caller].calls if call.call == called)
        place = files[caller].place("nodes", name, "call")
        hops.append(Hop(place, f"{caller} calls {called} in its node {name}"))
    at = hops[0]
    return CALL_RING.found(
        at.place,
        "these trees call each other in a ring" if len(hops) > 1 else "this tree calls itself",
        ("nodes",),
        hops=tuple(hops),
    )


TOO_MANY_NODES = Demand(
    "too-many-nodes",
    f"at most {MOST_NODES:,} nodes in a tree with its calls written out",
    "call fewer trees, or call them from fewer nodes",
)


def _too_many(file: TreeFile, size: int) -> Finding:
    return TOO_MANY_NODES.found(
        file.place("nodes", key=True),
        f"with its calls written out this tree has {size:,} nodes",
        ("nodes",),
        f"at most {MOST_NODES:,}",
    )


def _expand(file: TreeFile, trees: Mapping[str, Tree]) -> Tree:
    """One flat tree: each call gives way to the called tree's nodes, and its returns to what comes next."""
    spec = file.spec
    calls = dict(file.calls)
    moved = {name: _entry(file, name, trees) for name in spec.nodes}
    nodes: dict[str, Node] = {}
    loops = {moved[loop.through]: loop.at_most for loop in spec.loops}
    for name, node in spec.nodes.items():
        if not isinstance(node, models.Call):
            nodes[name] = _node(file, name, node, moved)
            continue
        called = trees[calls[name].call]
        instead = {
            id_: moved[node.back[inner.spec.returns]]
            for id_, inner in called.nodes.items()
            if isinstance(inner.spec, models.Outcome)
            and inner.name == id_
            and inner.spec.returns in node.back
        }
        nodes.update(_inlined(name, called, instead))
        loops.update({f"{name}.{through}": at_most for through, at_most in called.loops.items()})
    return Tree(
        file.id,
        spec.title,
        spec.audience,
        spec.about,
        spec.review_by,
        moved[spec.start],
        nodes,
        loops,
        file,
    )


def _entry(file: TreeFile, name: str, trees: Mapping[str, Tree]) -> str:
    """The node of the expanded tree that a name in the file leads to."""
    node = file.spec.nodes[name]
    return f"{name}.{trees[node.call].start}" if isinstance(node, models.Call) else name


def _inlined(prefix: str, called: Tree, instead: Mapping[str, str]) -> dict[str, Node]:
    """The called tree's nodes under the calling node's name; outcomes that return are led back."""
    return {
        f"{prefix}.{id_}": replace(
            node,
            id=f"{prefix}.{id_}",
            exits=tuple(replace(e, go=instead.get(e.go, f"{prefix}.{e.go}")) for e in node.exits),
        )
        for id_, node in called.nodes.items()
        if id_ not in instead
    }


def _node(
    file: TreeFile,
    name: str,
    spec: models.Question | models.Reading | models.Step | models.Outcome,
    moved: Mapping[str, str],
) -> Node:
    kind: Any = type(spec).__name__.lower()
    exits = tuple(replace(e, go=moved[e.go]) for e in _exits(file, name, spec))
    return Node(name, kind, file.place("nodes", name, key=True), exits, spec)


_NO_FIGURE: dict[ExitKind, str] = {
    "not_taken": "could not take it",
    "over_range": "over range",
    "not_steady": "the display is not steady",
}


def _exits(file: TreeFile, name: str, spec: models.Node) -> Iterator[Exit]:
    if isinstance(spec, models.Question):
        for i, answer in enumerate(spec.answers):
            place = file.place("nodes", name, "answers", i)
            yield Exit(answer.answer, answer.go, "answer", place, is_=answer.is_)
    elif isinstance(spec, models.Reading):
        for i, r in enumerate(spec.ranges):
            place = file.place("nodes", name, "ranges", i)
            yield Exit(r.label, r.go, "range", place, r.low, math.inf if r.high is None else r.high)
        for kind, words in _NO_FIGURE.items():
            if way := getattr(spec, kind):
                yield Exit(way.label or words, way.go, kind, file.place("nodes", name, kind, key=True))
    elif isinstance(spec, models.Step):
        yield Exit("done", spec.go, "go", file.place("nodes", name, "go"))
