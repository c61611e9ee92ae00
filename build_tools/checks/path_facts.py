"""A figure that is asked for again is one that was read: `same_as` names a reading of the same tree file,
with the same instrument, places and unit, that is itself read anew.

With that, what a path already knows can be carried along: it leaves such a reading only by a range that
overlaps the figure that was read, and a question about a fact of the records only by the word that was given
at this home before. Anything done forgets figures; going to another home forgets facts. A reading that is
taken anew may differ from the one before, since loads change and meters err, so nothing is known of it.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace

import networkx as nx

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, nearest, shown
from build_tools.guide.trees import Exit, Guide, Node, Tree, TreeFile
from build_tools.guide.validation import told

__all__ = ["NOTHING", "RECORDED", "Known", "Memory", "check", "taken"]

RECORDED = ("earthing", "phases", "shares-metalwork", "pipe-passes-a-mains-joint")
"""Facts of the records: nothing that is done in a visit changes them at one home."""

Figure = tuple[float, float]
Known = frozenset[tuple[str, Figure | str]]
"""What a path knows: a reading (by its id) with the bounds of its figure, a fact with its word."""

NOTHING: Known = frozenset()
_OVER_RANGE: Figure = (math.inf, math.inf)
_ELSEWHERE = {"go-next-door", "come-back"}


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every `same_as` in every tree file."""
    for file in guide.tree_files.values():
        readings = {name: node for name, node in file.spec.nodes.items() if isinstance(node, models.Reading)}
        for name, reading in readings.items():
            if reading.same_as is not None:
                yield from _not_the_same(file, name, reading.same_as, readings)


SAME_FIGURE = Demand(
    "same-figure",
    "a reading of this file with the same instrument, `on` and unit, that has no `same_as`",
    "name the node where the figure was read, or take `same_as` away and have it read anew",
)


def _not_the_same(
    file: TreeFile, name: str, same_as: str, readings: Mapping[str, models.Reading]
) -> Iterator[Finding]:
    here, there = readings[name], readings.get(same_as)
    if there is None:
        what = f"no reading of this tree is called {shown(same_as)}{nearest(same_as, readings)}"
    elif there.same_as is not None:
        what = f"{shown(same_as)} is not read anew: it is itself the figure of {shown(there.same_as)}"
    elif taken(here) != taken(there):
        what = f"{shown(same_as)} is another reading than {shown(name)}"
    else:
        return
    path = ("nodes", name, "same_as")
    expected = "a reading of this file with the same instrument, `on` and unit, that has no `same_as`"
    mend = "name the node where the figure was read, or take `same_as` away and have it read anew"
    yield SAME_FIGURE.found(file.place(*path), what, told(path), expected, mend)


def taken(reading: models.Reading) -> tuple[str, frozenset[str], str]:
    """How a reading is taken: the instrument, what it is held to, the unit."""
    return reading.instrument, frozenset(reading.on), reading.unit


class Memory:
    """What paths through one tree can know, as far as it decides how they go on."""

    def __init__(self, tree: Tree) -> None:
        again = {id_: key for id_, node in tree.nodes.items() if (key := _asked_again(node))}
        self._keys = again | {key: key for key in again.values() if key in tree.nodes}
        graph = tree.graph if again else nx.MultiDiGraph()
        self._before: dict[str, set[str]] = {id_: set() for id_ in tree.nodes}
        for id_, node in tree.nodes.items():
            for exit_ in node.exits:
                self._before[exit_.go].add(id_)
        self._kept: dict[tuple[str, Known], tuple[tuple[Exit, Known], ...]] = {}
        self._asked_from: dict[str, set[str]] = {}
        for id_, key in again.items():
            self._asked_from.setdefault(key, set()).update({id_}, nx.ancestors(graph, id_))

    def leading_to(self, nodes: set[str]) -> set[str]:
        """These nodes, and all from which one of them can be reached."""
        leading, waiting = set(nodes), list(nodes)
        while waiting:
            more = self._before[waiting.pop()] - leading
            leading |= more
            waiting += more
        return leading

    def onward(self, node: Node, known: Known) -> tuple[tuple[Exit, Known], ...]:
        """Each exit that a path which knows this can leave by, its range narrowed to what is known, and what
        the path knows from there on. Where nothing fits, a mistake was made, and every exit is open."""
        onward = self._kept.get((node.id, known))
        if onward is None:
            onward = self._kept[node.id, known] = tuple(self._onward(node, known))
        return onward

    def _onward(self, node: Node, known: Known) -> Iterator[tuple[Exit, Known]]:
        if not known and node.id not in self._keys:
            yield from ((exit_, NOTHING) for exit_ in node.exits)
            return
        kept = {key: value for key, value in known if _lasts(key, value, node)}
        key = self._keys.get(node.id, "")
        if not any(_fits(exit_, kept.get(key)) for exit_ in node.exits):
            kept.pop(key, None)
        for exit_ in node.exits:
            if _fits(exit_, kept.get(key)):
                left_by, learned = _learned(exit_, kept.get(key))
                after = kept if learned is None or not key else {**kept, key: learned}
                yield left_by, frozenset(one for one in after.items() if exit_.go in self._asked_from[one[0]])


def _asked_again(node: Node) -> str:
    """The name of what this node asks for and a path may know already; empty when it asks for nothing."""
    spec = node.spec
    if isinstance(spec, models.Reading) and spec.same_as is not None:
        return node.id.removesuffix(node.name) + spec.same_as
    if isinstance(spec, models.Question) and spec.fact in RECORDED:
        return f"the fact {spec.fact}"
    return ""


def _lasts(key: str, value: Figure | str, node: Node) -> bool:
    """Whether something known is still so once the node is done: a figure until anything is done or it is
    read anew, a fact until another home is gone to."""
    done = vars(node.spec).get("does", ())  # a shape looks long for a field that it does not have
    return _ELSEWHERE.isdisjoint(done) if isinstance(value, str) else not done and key != node.id


def _fits(exit_: Exit, known: Figure | str | None) -> bool:
    """Whether an exit can be taken. One without a figure, and an answer without a word, always."""
    if known is None or exit_.kind not in ("answer", "range", "over_range"):
        return True
    if isinstance(known, str):
        return exit_.is_ in (None, known)
    if exit_.kind == "over_range":
        return known == _OVER_RANGE
    return exit_.low < known[1] and known[0] < exit_.high


def _learned(exit_: Exit, known: Figure | str | None) -> tuple[Exit, Figure | str | None]:
    """The exit with its range narrowed to what is known, and what is known now."""
    if exit_.kind == "answer":
        return exit_, exit_.is_ or known
    if exit_.kind == "over_range":
        return exit_, _OVER_RANGE
    if exit_.kind != "range":
        return exit_, known
    low, high = known if isinstance(known, tuple) else (0.0, math.inf)
    narrowed = max(exit_.low, low), min(exit_.high, high)
    return replace(exit_, low=narrowed[0], high=narrowed[1]), narrowed
