"""The tests of the guide as its site trees use them, and which displays keep a job from being closed.

What is usual depends on the kind of home: its earthing, and how many lines it has.
"""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from itertools import product
from typing import NamedTuple

import networkx as nx

from build_tools.guide.models import Outcome, Question, Reading
from build_tools.guide.trees import Exit, Guide, Node, Tree
from calc.limits import LIMITS
from calc.readings import TESTS
from calc.street import Premises
from calc.work import ACTIONS, Condition, done

__all__ = [
    "HOME_KINDS",
    "LOOKED_AT",
    "OTHER_LIMITS",
    "HomeKind",
    "How",
    "Limits",
    "Procedure",
    "conditions_at",
    "procedures",
]

PREPARED = frozenset({"home-quiet", "main-switch-open"})
"""What is done to make ready; a test of calc.readings is the same test with it and without."""

_HERE = "here"
"""The home where the walk is, whichever that is."""


class HomeKind(NamedTuple):
    """A kind of home, as the facts of calc.symptoms name it."""

    earthing: str
    phases: str

    @classmethod
    def of(cls, premises: Premises) -> HomeKind:
        """The kind of a home."""
        return cls(premises.earthing, str(len(premises.phases)))


PLAIN = HomeKind("tn-c-s", "1")
HOME_KINDS = tuple(HomeKind(*each) for each in product(("tn-c-s", "tn-s", "tt"), "123"))
"""Every kind of home, the most usual first."""

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
DECLARED: Usual = ((LIMITS["volts-low"].value, LIMITS["volts-high"].value),)

OTHER_LIMITS: dict[str, Usual] = {
    "clamp-neutral-and-earth": ANYTHING,
    "clamp-both-tails": ANYTHING,
    "known-load-neutral-tail": ANYTHING,
    "volts-line-earth": DECLARED,
    "two-pole-line-neutral": ONE_LAMP,
    "two-pole-line-earth": ONE_LAMP,
    "two-pole-neutral-earth": NO_LAMP,
    "non-contact-metalwork": ((0.0, 1.0),),
    "lifted-line-to-loose-earth": ((0.0, 0.85 * 400),),
}
"""Tests that the trees of a guide may do without, and what people take as usual: the band of the declared
volts; the 230 V lamp and no other, no lamp, no light; with the earth lifted, no 400 V lamp. But for the volts
common practice, no source. The neutral tail under the known load is judged by its change, if at all."""


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
class Limits:
    """The `usual` displays of a test at one kind of home (`words` of a fact, where people look): with any
    other, or without a figure, no site tree lets the job be closed there."""

    usual: Usual = ()
    words: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class Procedure:
    """A test and its limits at each kind of home where it is made. `nodes`: where trees ask for it, as (tree,
    node); none for a test that no tree relies on."""

    how: How
    limits: Mapping[HomeKind, Limits]
    fact: str | None = None
    nodes: tuple[tuple[str, str], ...] = field(default=())

    @property
    def id(self) -> str:
        """The id of how it is done."""
        return self.how.id

    @property
    def usual(self) -> Usual:
        """The usual displays at the most usual kind of home."""
        return next(iter(self.limits.values())).usual

    @property
    def words(self) -> frozenset[str]:
        """The usual words at the most usual kind of home."""
        return next(iter(self.limits.values())).words


def procedures(guide: Guide) -> dict[str, Procedure]:
    """Every test by id: those of the site trees in the order of their walks, then the other ones. A reading
    that is judged by its change from an earlier one is left out, since it has no usual displays; and one that
    is held against what was said of other homes, since it tells what the record is worth."""
    found: dict[str, Procedure] = {}
    for tree in guide.trees.values():
        if tree.audience == "site" and _closing(tree):
            for kind in HOME_KINDS:
                for how, node, alarms in _asked(tree, kind):
                    found[how.id] = _joined(found.get(how.id), how, kind, tree, node, alarms)
    used = {
        (one.how.instrument, one.how.on, frozenset(one.how.conditions) - PREPARED) for one in found.values()
    }
    for test in TESTS:
        begun = tuple(sorted(ACTIONS[action][0] for action in test.after))
        if (test.instrument, test.on, frozenset(begun)) not in used:
            how = How(test.instrument, test.on, begun)
            found[how.id] = Procedure(how, dict.fromkeys(HOME_KINDS, Limits(OTHER_LIMITS[test.id])))
    return found


def _joined(
    known: Procedure | None, how: How, kind: HomeKind, tree: Tree, node: Node, alarms: frozenset[Exit]
) -> Procedure:
    """The procedure with one more node that asks for it at a kind of home: usual is what no node takes as an
    alarm there."""
    limits, nodes = (known.limits, known.nodes) if known else ({}, ())
    now, before = _limits(node, alarms), limits.get(kind)
    if before:
        both = [(max(a, c), min(b, d)) for a, b in now.usual for c, d in before.usual]
        now = Limits(_merged([(low, high) for low, high in both if low < high]), now.words & before.words)
    fact = node.spec.fact if isinstance(node.spec, Question) else None
    place = (tree.id, node.id)
    return Procedure(how, {**limits, kind: now}, fact, nodes if place in nodes else (*nodes, place))


def _limits(node: Node, alarms: frozenset[Exit]) -> Limits:
    usual_exits = [exit_ for exit_ in node.exits if exit_ not in alarms]
    if isinstance(node.spec, Question):
        return Limits(words=frozenset(exit_.is_ for exit_ in usual_exits if exit_.is_))
    return Limits(_merged([(exit_.low, exit_.high) for exit_ in usual_exits if exit_.kind == "range"]))


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


def _asked(tree: Tree, kind: HomeKind) -> Iterator[tuple[How, Node, frozenset[Exit]]]:
    """Every test that a walk of a home of this kind comes to, and the exits after which no job is closed."""
    closing = _closing(tree)
    for node_id, conditions in conditions_at(tree, kind):
        node = tree.nodes[node_id]
        alarms = frozenset(exit_ for exit_ in node.exits if exit_.go not in closing)
        if node_id not in closing:  # something else was found before
            continue
        if _holds_a_record(tree, node_id):
            continue
        match node.spec:
            case Reading(instrument=instrument, on=on, change_from=None):
                yield How(instrument, tuple(on), tuple(sorted(conditions))), node, alarms
            case Question(fact=str(fact)) if fact in LOOKED_AT:
                yield How(*LOOKED_AT[fact], tuple(sorted(conditions))), node, alarms


def _holds_a_record(tree: Tree, node_id: str) -> bool:
    """Whether nothing leads to a node but the answer that no other home is to be tested."""
    before = [tree.nodes[id_].spec for id_ in tree.graph.predecessors(node_id)]
    asked = [spec for spec in before if isinstance(spec, Question) and spec.fact == "another-home-to-test"]
    return bool(before) and len(asked) == len(before)


def conditions_at(tree: Tree, kind: HomeKind = PLAIN) -> Iterator[tuple[str, frozenset[str]]]:
    """Each node with the conditions at the home where it is reached, as a home of this kind is walked."""
    of_home = kind._asdict()
    first = (tree.start, frozenset[Condition]())
    seen, waiting = {first}, deque([first])
    while waiting:
        id_, conditions = waiting.popleft()
        yield id_, frozenset(condition.name for condition in conditions)
        node = tree.nodes[id_]
        for action in node.does:
            # elsewhere it is another home, where nothing was done
            conditions = done(conditions, action, _HERE) if action in ACTIONS else frozenset()
        fact = node.spec.fact if isinstance(node.spec, Question) else None
        for exit_ in node.exits:
            after = (exit_.go, conditions)
            if of_home.get(fact or "", exit_.is_) == exit_.is_ and after not in seen:
                seen.add(after)
                waiting.append(after)
