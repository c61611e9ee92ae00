"""Trees with something else in them, for tests that say what a difference does."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from build_tools.guide.trees import Node, Tree

__all__ = ["asking", "with_last_exit", "with_node", "with_spec", "without_exit"]


def with_node(tree: Tree, node: Node) -> Tree:
    """The tree with this node, in the place of the one of its name if there is one."""
    return replace(tree, nodes={**tree.nodes, node.id: node})


def with_spec(tree: Tree, name: str, **changes: object) -> Tree:
    """The tree with something else in one of its nodes."""
    node = tree.nodes[name]
    return with_node(tree, replace(node, spec=node.spec.model_copy(update=changes)))


def with_last_exit(tree: Tree, name: str, **changes: Any) -> Tree:
    """The tree with something else in the last exit of one of its nodes."""
    node = tree.nodes[name]
    return with_node(tree, replace(node, exits=(*node.exits[:-1], replace(node.exits[-1], **changes))))


def without_exit(tree: Tree, name: str, label: str) -> Tree:
    """The tree with one exit fewer."""
    node = tree.nodes[name]
    exits = tuple(exit_ for exit_ in node.exits if exit_.label != label)
    assert len(exits) == len(node.exits) - 1
    return with_node(tree, replace(node, exits=exits))


def asking(tree: Tree, name: str, first: str, then: str) -> Tree:
    """The tree with a question before all else whose answer no circuit knows: to `first`, or on to `then`."""
    pattern = tree.nodes["look"]
    exits = tuple(
        replace(exit_, go=go, is_=None) for exit_, go in zip(pattern.exits, (first, then), strict=True)
    )
    spec = pattern.spec.model_copy(update={"fact": None})
    return replace(with_node(tree, replace(pattern, id=name, exits=exits, spec=spec)), start=name)
