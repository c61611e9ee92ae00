"""Where nothing is wrong, no test raises an alarm, and a job that can be closed gets there.

Each tree of the `site` audience is walked on every street of the guide without a fault, from every home. No
figure that is shown and no fact that is seen may lead only to emergencies. And every outcome that closes the
job is reached from some home by what is found: a guide that always says stop is safe, and useless.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import ExitStack
from dataclasses import replace
from typing import TypeAlias

import networkx as nx

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, shown
from build_tools.guide.trees import Guide, Node, Tree
from build_tools.setup.result_cache import keep, key_of, recall, source_key
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Oracle, kept_oracles
from build_tools.walks.walkable import can_be_walked
from build_tools.walks.ways import Ending, Ways
from calc.faults import HEALTHY

__all__ = ["check"]

_ALARM = "!"
"""What the alarm of a node is called: the node's id with this behind it, which no author can write."""

_Alarm: TypeAlias = tuple[str, Ending]
"""Where the walk was, and how it came to an alarm."""


def check(guide: Guide, trees: Iterable[Tree]) -> Iterator[Finding]:
    """Findings of the walks of every site tree on every healthy street."""
    streets = sorted(guide.streets.items())
    grounds = key_of(source_key("calc", "build_tools"), streets)
    with ExitStack() as stack:
        healthy = {
            name: ManyFaults(stack.enter_context(kept_oracles(street, (HEALTHY,))))
            for name, street in streets
        }
        for tree in trees if streets else ():
            ends = any(node.kind == "outcome" for node in tree.nodes.values())
            if tree.audience == "site" and can_be_walked(tree) and ends:
                whole = guide.written("streets") == guide.streets.keys()  # another may lead there
                yield from _of_tree(tree, *_found(_alarmed(tree), healthy, grounds), all_streets=whole)


def _found(tree: Tree, healthy: dict[str, ManyFaults], grounds: str) -> tuple[set[str], list[_Alarm]]:
    """The outcomes that what is found leads to, and the shortest way to each alarm, from what was kept where
    nothing changed."""
    key = key_of("healthy", grounds, tree)
    kept: tuple[set[str], list[_Alarm]] | None = recall(key)
    if kept is None:
        reached: set[str] = set()
        alarms: list[_Alarm] = []
        for name, street in healthy.items():
            for home in street.street.premises:
                ends = set(street.walk(tree, home, willing=True).ends)
                if any(end.endswith(_ALARM) for end in ends - reached):
                    alarms += _raised(tree, street.oracles[0], home, name, reached)
                reached |= ends
        kept = reached, alarms
        keep(key, kept)
    return kept


def _raised(tree: Tree, oracle: Oracle, home: str, name: str, known: set[str]) -> Iterator[_Alarm]:
    for ending in Ways(tree, oracle, home).endings():
        if ending.willing and ending.node.endswith(_ALARM) and ending.node not in known:
            yield f"{home} on {name}", ending


NEVER_CLOSES = Demand(
    "never-closes",
    "a job that can be closed where nothing is wrong: otherwise nobody will follow this tree",
    "look where the walk of a healthy home leaves the way to it",
)


def _of_tree(tree: Tree, reached: set[str], alarms: list[_Alarm], *, all_streets: bool) -> Iterator[Finding]:
    for where, ending in alarms:
        yield _cries_wolf(tree, ending, where)
    for node in tree.nodes.values() if all_streets else ():
        if isinstance(node.spec, models.Outcome) and node.spec.closes and node.id not in reached:
            yield NEVER_CLOSES.found(
                node.place, f"no healthy home of any street comes to {shown(node.name)}", ("nodes", node.name)
            )


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
        if isinstance(node.spec, models.Outcome):
            leading[node.spec.priority == "emergency"] |= {id_, *nx.descendants(backward, id_)}
    return leading[True] - leading[False]


CRIES_WOLF = Demand(
    "cries-wolf",
    "an alarm only where something is wrong",
    "look whether two answers or ranges are swapped, and at the edges",
)


def _cries_wolf(tree: Tree, ending: Ending, where: str) -> Finding:
    node = tree.nodes[ending.node.removesuffix(_ALARM)]
    last = ending.way[-1]
    return CRIES_WOLF.found(
        node.place,
        f"with nothing wrong, visiting {where}: {last.shown}, and that leads only to emergencies",
        ("nodes", node.name),
        hops=ending.hops,
    )
