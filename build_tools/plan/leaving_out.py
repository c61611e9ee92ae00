"""A tree with some of its nodes left out: whoever comes to one of them goes on by its usual way.

The usual way is the exit from which the tree can still come to a closing end. Where several can, it is one
that neither leaves for another home nor comes back to the node; and of those the one that most healthy homes
take.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import PurePath
from typing import NamedTuple, TypeAlias

import networkx as nx

from build_tools.guide.models import Outcome, Question
from build_tools.guide.trees import Guide, Node, Tree

__all__ = ["ClosingWay", "Taken", "Written", "closing_ends", "left_out"]

Taken: TypeAlias = Mapping[str, Mapping[int, int]]
"""By node and the place of an exit in it: how many streets leave by it."""


class Written(NamedTuple):
    """A node as its author wrote it, once, however often its tree is called: the tree's id and its name."""

    tree: str
    node: str

    @classmethod
    def of(cls, node: Node) -> Written:
        """Where a node of a tree that was written out comes from."""
        return cls(PurePath(node.place.file).stem, node.name)


def closing_ends(guide: Guide, tree: Tree) -> frozenset[str]:
    """The outcomes that close the job. Of a tree that has none: those that come back to a tree which calls
    it, where that can still come to a closing end."""
    outcomes = {id_: node.spec for id_, node in tree.nodes.items() if isinstance(node.spec, Outcome)}
    if closing := frozenset(id_ for id_, spec in outcomes.items() if spec.closes):
        return closing
    led_on = set(_led_on(guide, tree))
    return frozenset(id_ for id_, spec in outcomes.items() if spec.returns in led_on)


def _led_on(guide: Guide, tree: Tree) -> Iterator[str]:
    """What an outcome of a called tree returns where its caller can then come to a closing end."""
    for caller in guide.trees.values():
        calls = [(name, call) for name, call in caller.file.calls if call.call == tree.id]
        on = _leading_to(caller, closing_ends(guide, caller)) if calls else frozenset()
        for _, call in calls:
            for returned, go in call.back.items():
                if go in on or any(id_.startswith(f"{go}.") for id_ in on):
                    yield returned


def _leading_to(tree: Tree, ends: frozenset[str]) -> frozenset[str]:
    graph = tree.graph
    return ends.union(*(nx.ancestors(graph, end) for end in ends))


@dataclass(frozen=True)
class ClosingWay:
    """A tree and the `ends` that count as closing. `taken`: how many healthy streets leave each node by each
    of its exits; where nothing is told of a node, its first exit that leads on is usual."""

    tree: Tree
    ends: frozenset[str]
    taken: Taken

    @cached_property
    def nodes(self) -> frozenset[str]:
        """The nodes from which a closing end can be reached, those ends too."""
        return _leading_to(self.tree, self.ends)

    @cached_property
    def written(self) -> dict[Written, tuple[str, ...]]:
        """Each node on the closing way that is no end, and everywhere that it is written out."""
        places: dict[Written, tuple[str, ...]] = {}
        for id_, node in self.tree.nodes.items():
            if id_ in self.nodes - self.ends:
                places[Written.of(node)] = (*places.get(Written.of(node), ()), id_)
        return places

    @cached_property
    def usual(self) -> dict[str, str]:
        """Where each node of the closing way usually leads."""
        return {id_: self._usual(self.tree.nodes[id_]) for id_ in sorted(self.nodes - self.ends)}

    def _usual(self, node: Node) -> str:
        taken = self.taken.get(node.id, {})
        leading = {number: exit_.go for number, exit_ in enumerate(node.exits) if exit_.go in self.nodes}
        away = nx.ancestors(self._graph, node.id) | {node.id} | self._leaving
        best = max(leading, key=lambda one: (leading[one] not in away, taken.get(one, 0), -one))
        return leading[best]

    @cached_property
    def _leaving(self) -> frozenset[str]:
        """The steps that leave the home for another."""
        return frozenset(id_ for id_, node in self.tree.nodes.items() if "go-next-door" in node.does)

    @cached_property
    def _graph(self) -> nx.MultiDiGraph:
        return self.tree.graph

    def tests(self, written: Written) -> bool:
        """Whether what is found there can end the closing way: a reading, or a question with a fact."""
        node = self.tree.nodes[self.written[written][0]]
        is_told = isinstance(node.spec, Question) and node.spec.fact is None
        return node.kind in ("reading", "question") and not is_told and bool(self._off(node))

    def parts(self, written: Written) -> bool:
        """Whether ways part there that all lead on, as by how a home is earthed."""
        return any(
            len({exit_.go for exit_ in self.tree.nodes[id_].exits} & self.nodes) > 1
            for id_ in self.written[written]
        )

    def _off(self, node: Node) -> list[str]:
        return [exit_.go for exit_ in node.exits if exit_.go not in self.nodes]

    def without(self, *written: Written) -> Tree:
        """The tree with these nodes left out wherever they are written out."""
        return left_out(self.tree, {id_ for one in written for id_ in self.written[one]}, self.usual)


def left_out(tree: Tree, nodes: Collection[str], usual: Mapping[str, str]) -> Tree:
    """The tree in which nothing leads to these nodes any more: what led there leads to where they usually
    lead. They stay in it, for whatever names them. A ring of nothing but such nodes leads back into it."""

    def onward(go: str) -> str:
        passed = set[str]()
        while go in nodes and go not in passed:
            passed.add(go)
            go = usual[go]
        return go

    kept = {
        id_: replace(node, exits=tuple(replace(exit_, go=onward(exit_.go)) for exit_ in node.exits))
        for id_, node in tree.nodes.items()
    }
    return replace(tree, start=onward(tree.start), nodes=kept)
