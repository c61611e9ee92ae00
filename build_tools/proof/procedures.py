"""The tests of the guide as its site trees use them, and which displays keep a job from being closed.

Only ways that the drawn homes can take count: one line, earthed from the supply's PEN.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass, field

import networkx as nx

from build_tools.guide import Exit, Guide, Node, Tree
from build_tools.shapes import Outcome, Question, Reading, Step
from calc.readings import TESTS
from calc.work import ACTIONS

__all__ = ["LOOKED_AT", "OTHER_LIMITS", "How", "Procedure", "conditions_at", "procedures"]

PREPARED = frozenset({"home-quiet", "main-switch-open"})
"""What is done to make ready; a test of calc.readings is the same test with it and without."""

DRAWN_HOMES = {"earthing": "tn-c-s", "phases": "1"}
"""Facts that are the same at every drawn home."""

LOOKED_AT = {
    "contact-indicator-lights": ("contact", ("earth",)),
    "non-contact-indicator-lights": ("non-contact", ("earth",)),
    "main-earth-looks-whole": ("eyes", ("main_earth",)),
}
"""Facts that a person finds out at the home: with what, and where."""

Usual = tuple[tuple[float, float], ...]
"""Ranges of the display, the lower end counted and the upper not."""

ANYTHING: Usual = ((0.0, math.inf),)
ONE_LAMP: Usual = ((0.85 * 230, 0.85 * 400),)
NO_LAMP: Usual = ((0.0, 0.85 * 12),)

OTHER_LIMITS: dict[str, Usual] = {
    "clamp-neutral-and-earth": ANYTHING,
    "clamp-both-tails": ANYTHING,
    "two-pole-line-neutral": ONE_LAMP,
    "two-pole-line-earth": ONE_LAMP,
    "two-pole-neutral-earth": NO_LAMP,
    "non-contact-metalwork": ((0.0, 1.0),),
    "lifted-line-to-loose-earth": ((0.0, 0.85 * 400),),
}
"""Tests that no tree of the guide relies on, and what people take as usual: the 230 V lamp and no other, no
lamp, no light; with the earth lifted, no 400 V lamp. Common practice, no source."""


@dataclass(frozen=True, slots=True, order=True)
class How:
    """One way to test: the instrument, where it is held, and the conditions of calc.work at that home."""

    instrument: str
    on: tuple[str, ...]
    conditions: tuple[str, ...] = ()

    @property
    def id(self) -> str:
        """The way as one word, for evidence and for links."""
        parts = (self.instrument, *self.on, *(("with", *self.conditions) if self.conditions else ()))
        return "-".join(parts).replace("_", "-")


@dataclass(frozen=True, slots=True)
class Procedure:
    """A test and its `usual` displays (words of `fact`, where people look): with any other, or without a
    figure, no site tree lets the job be closed. `nodes`: where trees ask for it, as (tree, node); none for
    a test that no tree relies on."""

    how: How
    usual: Usual = ()
    fact: str | None = None
    words: frozenset[str] = frozenset()
    nodes: tuple[tuple[str, str], ...] = field(default=())

    @property
    def id(self) -> str:
        """The id of how it is done."""
        return self.how.id


def procedures(guide: Guide) -> dict[str, Procedure]:
    """Every test by id: those of the site trees in the order of their walks, then the other ones."""
    found: dict[str, Procedure] = {}
    for tree in guide.trees.values():
        if tree.audience == "site" and _closing(tree):
            for how, node, alarms in _asked(tree):
                found[how.id] = _joined(found.get(how.id), how, tree, node, alarms)
    used = {
        (one.how.instrument, one.how.on, frozenset(one.how.conditions) - PREPARED) for one in found.values()
    }
    for test in TESTS:
        done = tuple(sorted(ACTIONS[action][0] for action in test.after))
        if (test.instrument, test.on, frozenset(done)) not in used:
            how = How(test.instrument, test.on, done)
            found[how.id] = Procedure(how, OTHER_LIMITS[test.id])
    return found


def _joined(known: Procedure | None, how: How, tree: Tree, node: Node, alarms: frozenset[Exit]) -> Procedure:
    """The procedure with one more node that asks for it: usual is what no node takes as an alarm."""
    nodes = (*(known.nodes if known else ()), (tree.id, node.id))
    usual_exits = [exit_ for exit_ in node.exits if exit_ not in alarms]
    if isinstance(node.spec, Question):
        words = frozenset(exit_.is_ for exit_ in usual_exits if exit_.is_)
        return Procedure(how, (), node.spec.fact, words & known.words if known else words, nodes)
    usual = _merged([(exit_.low, exit_.high) for exit_ in usual_exits if exit_.kind == "range"])
    if known:
        both = [(max(a, c), min(b, d)) for a, b in usual for c, d in known.usual]
        usual = _merged([(low, high) for low, high in both if low < high])
    return Procedure(how, usual, nodes=nodes)


def _merged(ranges: list[tuple[float, float]]) -> Usual:
    """The same ranges, those that touch made one."""
    merged: list[tuple[float, float]] = []
    for low, high in sorted(ranges):
        if merged and merged[-1][1] == low:
            low = merged.pop()[0]
        merged.append((low, high))
    return tuple(merged)


def _closing(tree: Tree) -> frozenset[str]:
    """The nodes from which an outcome that closes the job can be reached."""
    graph = tree.graph
    ends = [id_ for id_, node in tree.nodes.items() if isinstance(node.spec, Outcome) and node.spec.closes]
    return frozenset(ends).union(*(nx.ancestors(graph, end) for end in ends))


def _asked(tree: Tree) -> Iterator[tuple[How, Node, frozenset[Exit]]]:
    """Every test that a walk of a drawn home comes to, and the exits after which no job is closed."""
    closing = _closing(tree)
    for node_id, conditions in conditions_at(tree):
        node = tree.nodes[node_id]
        alarms = frozenset(exit_ for exit_ in node.exits if exit_.go not in closing)
        if node_id not in closing:  # something else was found before
            continue
        match node.spec:
            case Reading(instrument=instrument, on=on):
                yield How(instrument, tuple(on), tuple(sorted(conditions))), node, alarms
            case Question(fact=str(fact)) if fact in LOOKED_AT:
                yield How(*LOOKED_AT[fact], tuple(sorted(conditions))), node, alarms


def conditions_at(tree: Tree) -> Iterator[tuple[str, frozenset[str]]]:
    """Each node with the conditions at the home where it is reached, in the order of the walk."""
    first = (tree.start, frozenset[str]())
    seen, waiting = {first}, deque([first])
    while waiting:
        id_, conditions = waiting.popleft()
        yield id_, conditions
        node = tree.nodes[id_]
        for action in node.spec.does if isinstance(node.spec, Step) else ():
            if action not in ACTIONS:
                conditions = frozenset()  # another home, where nothing was done
            else:
                name, begins = ACTIONS[action]
                conditions = conditions | {name} if begins else conditions - {name}
        fact = node.spec.fact if isinstance(node.spec, Question) else None
        for exit_ in node.exits:
            after = (exit_.go, conditions)
            if DRAWN_HOMES.get(fact or "", exit_.is_) == exit_.is_ and after not in seen:
                seen.add(after)
                waiting.append(after)
