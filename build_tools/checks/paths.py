"""A way through a tree, told hop by hop."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, TypeVar

from build_tools.guide.findings import Hop, shown
from build_tools.guide.trees import Exit, Node, Tree

__all__ = ["Way", "told_way", "way_to"]

Way = tuple[tuple[str, Exit | None], ...]
"""Nodes passed and the exit that each was left by; None for the last, where the way stops."""


_State = TypeVar("_State", bound=tuple[Any, ...])


def way_to(came: Mapping[_State, tuple[_State, Exit] | None], state: _State) -> Way:
    """The way that a search came by: `came` holds the state before each, and the exit there; a state begins
    with its node."""
    way: list[tuple[str, Exit | None]] = [(state[0], None)]
    while step := came[state]:
        state, exit_ = step
        way.append((state[0], exit_))
    return tuple(reversed(way))


def told_way(tree: Tree, way: Iterable[tuple[str, Exit | None]]) -> tuple[Hop, ...]:
    """One hop for each node of the way, placed at the answer taken."""
    return tuple(_hop(tree.nodes[id_], exit_) for id_, exit_ in way)


def _hop(node: Node, exit_: Exit | None) -> Hop:
    if exit_ is None:
        return Hop(node.place, f"{node.kind} {shown(node.name)}: here")
    left_by = "done" if exit_.kind == "go" else f'"{exit_.label}"'
    return Hop(exit_.place, f"{node.kind} {shown(node.name)}: {left_by}")
