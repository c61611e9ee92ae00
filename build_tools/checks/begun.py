"""What is begun is ended, and nothing is ended that was not begun.

On every path the known load is off again, and the occupiers were told that their heaters may go on again,
before an outcome is reached; before one that closes the job nothing at all is left as the work had it
(`calc.work.ACTIONS`). And a step that ends something comes after one that begins it.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence

from build_tools.checks.paths import told_way, way_to
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, shown
from build_tools.guide.trees import Exit, Guide, Tree
from calc.work import ACTIONS

__all__ = ["check"]

NEVER_LEFT = ("known-load-on", "home-quiet")
"""Conditions that a test makes for itself, and that leaving them as they are protects nobody."""

State = tuple[str, frozenset[str]]


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every tree: the shortest way to each outcome that leaves something, and idle ends."""
    for tree in trees:
        came = _states(tree)
        yield from _left(tree, came)
        yield from _not_begun(tree, came)


def _states(tree: Tree) -> dict[State, tuple[State, Exit] | None]:
    """Every node with what may be begun there, nearest first, and where each came from."""
    start: State = (tree.start, frozenset())
    came: dict[State, tuple[State, Exit] | None] = {start: None}
    queue = deque([start])
    while queue:
        state = queue.popleft()
        node, begun = tree.nodes[state[0]], state[1]
        for action in getattr(node.spec, "does", ()):
            if action in ACTIONS:
                condition, begins = ACTIONS[action]
                begun = begun | {condition} if begins else begun - {condition}
        for exit_ in node.exits:
            if (exit_.go, begun) not in came:
                came[exit_.go, begun] = (state, exit_)
                queue.append((exit_.go, begun))
    return came


LEFT_BEGUN = Demand(
    "left-begun",
    "everything as it was found when the crew leaves",
    "end it by a step on this way, with the action that ends it in `does`",
)


def _left(tree: Tree, came: dict[State, tuple[State, Exit] | None]) -> Iterator[Finding]:
    told: set[tuple[str, str]] = set()
    for state in came:
        node, begun = tree.nodes[state[0]], state[1]
        if not isinstance(node.spec, models.Outcome):
            continue
        for condition in sorted(begun):
            if (condition in NEVER_LEFT or node.spec.closes) and (node.id, condition) not in told:
                told.add((node.id, condition))
                begins, ends = _actions(condition)
                yield LEFT_BEGUN.found(
                    node.place,
                    f"{shown(node.name)} is reached with {begins} begun and not ended",
                    ("nodes", node.name),
                    mend=f"put a step with `does: [{ends}]` on this way",
                    hops=told_way(tree, way_to(came, state)),
                )


ENDED_UNBEGUN = Demand(
    "ended-unbegun",
    "a step that begins it, on a way that leads here",
    "put that step in, or take this action away",
)


def _not_begun(tree: Tree, came: dict[State, tuple[State, Exit] | None]) -> Iterator[Finding]:
    may_be: dict[str, set[str]] = {}
    for id_, begun in came:
        may_be.setdefault(id_, set()).update(begun)
    for id_, possible in may_be.items():
        node = tree.nodes[id_]
        for i, action in enumerate(getattr(node.spec, "does", ())):
            condition, begins = ACTIONS.get(action, ("", True))
            if not begins and condition not in possible:
                yield ENDED_UNBEGUN.found(
                    node.place,
                    f"{shown(action)} is done here, and nothing before it begins that",
                    ("nodes", node.name, "does", str(i + 1)),
                    f"a step with {_actions(condition)[0]} on a way that leads here",
                )


def _actions(condition: str) -> tuple[str, str]:
    """The action that begins a condition, and the one that ends it."""
    begins, ends = (
        next(action for action, done in ACTIONS.items() if done == (condition, way)) for way in (True, False)
    )
    return begins, ends
