"""A figure is held against one that was read: `change_from` names a reading of the same tree file with the
same instrument, places and unit, that is judged by itself, and every path takes it first, at the same home.

Whoever could not take the first one cannot judge the second: a path that leaves it without a figure in a
range does not come here.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence

from build_tools.checks.path_facts import taken
from build_tools.checks.paths import told_way, way_to
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, nearest, shown
from build_tools.guide.trees import Exit, Guide, Node, Tree, TreeFile
from build_tools.guide.validation import told
from build_tools.walks.asked_exits import earlier
from calc.instruments import LIGHTS_FROM

__all__ = ["check"]

_ELSEWHERE = {"go-next-door", "come-back"}

State = tuple[str, bool]
"""A node, and whether the first figure was read on the way to it."""


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every `change_from`: what it names, in every file; and the ways to it, in every tree."""
    refused = set()
    for file in guide.tree_files.values():
        for finding in _as_written(file):
            refused.add(file.id)
            yield finding
    for tree in trees:
        if not refused:
            for node in tree.nodes.values():
                if since := earlier(node):
                    yield from _unread(tree, node, since)


CHANGE_OF_ANOTHER = Demand(
    "change-of-another",
    "a reading of this file with the same instrument, `on` and unit, read anew and judged by itself",
    "name the node where the figure was first read",
)


def _as_written(file: TreeFile) -> Iterator[Finding]:
    readings = {name: node for name, node in file.spec.nodes.items() if isinstance(node, models.Reading)}
    for name, here in readings.items():
        since = here.change_from
        if since is None:
            continue
        there = readings.get(since)
        if there is None:
            what = f"no reading of this tree is called {shown(since)}{nearest(since, readings)}"
        elif there.change_from or there.same_as or here.same_as:
            what = f"{shown(name)} and {shown(since)} are not both read anew, one judged by the other"
        elif taken(here) != taken(there):
            what = f"{shown(since)} is another reading than {shown(name)}"
        elif here.instrument in LIGHTS_FROM:
            what = f"the {here.instrument} shows no figure that could change"
        else:
            continue
        path = ("nodes", name, "change_from")
        yield CHANGE_OF_ANOTHER.found(file.place(*path), what, told(path))


CHANGE_FROM_NOTHING = Demand(
    "change-from-nothing",
    "the first figure read on every way to here, at the same home, and in a range",
    "put the first reading on this way, or lead past this one where it could not be taken",
)


def _unread(tree: Tree, node: Node, since: str) -> Iterator[Finding]:
    """The shortest way to a reading on which the figure that it is judged by was not read, if any."""
    start: State = (tree.start, False)
    came: dict[State, tuple[State, Exit] | None] = {start: None}
    waiting = deque([start])
    while waiting:
        state = waiting.popleft()
        if state == (node.id, False):
            yield CHANGE_FROM_NOTHING.found(
                node.place,
                f"{shown(node.name)} is judged by its change from {shown(since)}, which was not read here",
                ("nodes", node.name, "change_from"),
                hops=told_way(tree, way_to(came, state)),
            )
            return
        here = tree.nodes[state[0]]
        gone = not _ELSEWHERE.isdisjoint(getattr(here.spec, "does", ()))
        for exit_ in here.exits:
            read = exit_.kind == "range" if here.id == since else state[1] and not gone
            if (exit_.go, read) not in came:
                came[exit_.go, read] = (state, exit_)
                waiting.append((exit_.go, read))
