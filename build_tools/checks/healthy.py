"""Where nothing is wrong, no test raises an alarm, and a job that can be closed gets there.

Each tree of the `site` audience is walked on every street of the guide without a fault, from every home. No
figure that is shown and no fact that is seen may lead only to emergencies. And every outcome that closes the
job is reached from some home by what is found: a guide that always says stop is safe, and useless.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

import networkx as nx

from build_tools import shapes
from build_tools.checks.ranges import can_be_walked
from build_tools.findings import Finding, shown
from build_tools.guide import Guide, Node, Tree
from build_tools.kept import keep, key_of, recall, source_key
from build_tools.walk import Ending, endings
from build_tools.witness import kept_witnesses
from calc.faults import HEALTHY
from calc.street import Street

__all__ = ["check"]

_ALARM = "!"
"""What the alarm of a node is called: the node's id with this behind it, which no author can write."""


def check(guide: Guide, trees: Iterable[Tree]) -> Iterator[Finding]:
    """Findings of the walks of every site tree on every healthy street."""
    for tree in trees:
        ends = any(node.kind == "outcome" for node in tree.nodes.values())
        if tree.audience == "site" and can_be_walked(tree) and ends and guide.streets:
            yield from _of_tree(tree, guide.streets)


def _of_tree(tree: Tree, streets: dict[str, Street]) -> Iterator[Finding]:
    alarmed = _alarmed(tree)
    reached: set[str] = set()
    for name, street in sorted(streets.items()):
        for home, ending in _found(alarmed, street):
            if ending.node.endswith(_ALARM) and ending.node not in reached:
                yield _cries_wolf(tree, ending, f"{home} on {name}")
            reached.add(ending.node)
    for node in tree.nodes.values():
        if isinstance(node.spec, shapes.Outcome) and node.spec.closes and node.id not in reached:
            yield Finding(
                "never-closes",
                node.place,
                f"no healthy home of any street comes to {shown(node.name)}",
                ("nodes", node.name),
                "a job that can be closed where nothing is wrong: otherwise nobody will follow this tree",
                "look where the walk of a healthy home leaves the way to it",
            )


def _found(tree: Tree, street: Street) -> list[tuple[str, Ending]]:
    """Each end that what is found leads to, with the home where the walk began, from what was kept where
    nothing changed."""
    key = key_of("healthy", source_key("calc", "build_tools"), tree, street)
    kept: list[tuple[str, Ending]] | None = recall(key)
    if kept is None:
        with kept_witnesses(street, (HEALTHY,)) as (witness,):
            walks = ((home, ending) for home in street.premises for ending in endings(tree, witness, home))
            kept = [(home, ending) for home, ending in walks if ending.willing]
        keep(key, kept)
    return kept


def _alarmed(tree: Tree) -> Tree:
    """The tree with an outcome of its own for each reading or fact that leads only to emergencies. A called
    tree is walked by itself."""
    nodes: dict[str, Node] = {}
    alarms = _alarms(tree)
    for id_, node in tree.nodes.items():
        decides = id_ == node.name and (node.kind == "reading" or getattr(node.spec, "fact", None))
        exits = tuple(
            replace(exit_, go=id_ + _ALARM) if decides and exit_.go in alarms else exit_
            for exit_ in node.exits
        )
        if exits != node.exits:
            alarm = next(one for one in tree.nodes.values() if one.kind == "outcome")
            nodes[id_ + _ALARM] = replace(alarm, id=id_ + _ALARM)
        nodes[id_] = replace(node, exits=exits)
    return replace(tree, nodes=nodes)


def _alarms(tree: Tree) -> set[str]:
    """Nodes from which nothing but emergencies can be reached."""
    backward = tree.graph.reverse(copy=False)
    leading: dict[bool, set[str]] = {True: set(), False: set()}
    for id_, node in tree.nodes.items():
        if isinstance(node.spec, shapes.Outcome):
            leading[node.spec.priority == "emergency"] |= {id_, *nx.descendants(backward, id_)}
    return leading[True] - leading[False]


def _cries_wolf(tree: Tree, ending: Ending, where: str) -> Finding:
    node = tree.nodes[ending.node.removesuffix(_ALARM)]
    last = ending.way[-1]
    return Finding(
        "cries-wolf",
        node.place,
        f"with nothing wrong, visiting {where}: {last.shown}, and that leads only to emergencies",
        ("nodes", node.name),
        "an alarm only where something is wrong",
        "look whether two answers or ranges are swapped, and at the edges",
        ending.hops,
    )
