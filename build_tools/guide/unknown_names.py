"""Names in a tree that lead nowhere: of nodes, of called trees and of the ways back from them."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping
from typing import Literal

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, nearest, nearest_names, shown
from build_tools.guide.trees import TreeFile, ways
from build_tools.guide.validation import told

__all__ = ["UNKNOWN_NODE", "UNKNOWN_TREE", "unknown_names"]


def unknown_names(
    file: TreeFile, files: Mapping[str, TreeFile], refused: Collection[str]
) -> Iterator[Finding]:
    """What is named in a tree and is not there. Trees that were `refused` may be called."""
    nodes = file.spec.nodes
    if file.spec.start not in nodes:
        yield _unknown(file, ("start",), "node", file.spec.start, nodes)
    elif isinstance(nodes[file.spec.start], models.Outcome):
        yield _starts_with_its_end(file)
    for i, loop in enumerate(file.spec.loops):
        if loop.through not in nodes:
            yield _unknown(file, ("loops", i, "through"), "node", loop.through, nodes)
    for name, node in nodes.items():
        for path, go in ways(node):
            if go not in nodes:
                yield _unknown(file, ("nodes", name, *path), "node", go, nodes)
    for name, call in file.calls:
        alike = [id_ for id_, other in files.items() if other.spec.audience == file.spec.audience]
        if call.call in refused:
            continue
        if call.call not in alike:
            yield _unknown(file, ("nodes", name, "call"), "tree", call.call, alike)
        else:
            returned = _returned(files[call.call])
            yield from (
                _unknown_return(file, name, back, returned) for back in call.back if back not in returned
            )


def _returned(file: TreeFile) -> list[str]:
    outcomes = (node for node in file.spec.nodes.values() if isinstance(node, models.Outcome))
    return sorted({outcome.returns for outcome in outcomes if outcome.returns})


UNKNOWN_NODE = Demand("unknown-node", "the name of a node", "correct the name, or add the node")
UNKNOWN_TREE = Demand(
    "unknown-tree", "the name of another tree for the same audience", "correct the name, or add the tree"
)


def _unknown(
    file: TreeFile,
    path: tuple[str | int, ...],
    what: Literal["node", "tree"],
    name: str,
    known: Iterable[str],
) -> Finding:
    near = nearest_names(name, known := sorted(known))
    return (UNKNOWN_NODE if what == "node" else UNKNOWN_TREE).found(
        file.place(*path),
        f"no {what} is called {shown(name)}{nearest(name, known)}",
        told(path),
        mend=f"write `{near[0]}`, or add the {what}" if near else f"add the {what}, or write {_some(known)}",
    )


UNKNOWN_RETURN = Demand(
    "unknown-return",
    "a name that an outcome of the called tree `returns`",
    "correct the name, or write it as `returns` in an outcome of the called tree",
)


def _unknown_return(file: TreeFile, node: str, back: str, returned: list[str]) -> Finding:
    path = ("nodes", node, "back", back)
    return UNKNOWN_RETURN.found(
        file.place(*path, key=True),
        f"the called tree never returns {shown(back)}{nearest(back, returned)}",
        path,
        f"a name that one of its outcomes `returns`: {_some(returned)}",
        f"correct the name, or write `returns: {back}` in an outcome of the called tree",
    )


START = Demand(
    "start",
    "a question, reading or step: an outcome follows from something",
    "start with what must be asked or done first",
)


def _starts_with_its_end(file: TreeFile) -> Finding:
    return START.found(
        file.place("start"),
        f"the tree starts with its end: {shown(file.spec.start)} is an outcome",
        ("start",),
    )


def _some(names: list[str]) -> str:
    few = ", ".join(names[:8])
    return f"{few}, ..." if len(names) > 8 else few or "none yet"
