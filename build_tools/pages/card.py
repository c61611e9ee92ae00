"""A tree as a card of two sides, for paper: its steps and where each answer leads; its ends and its limits.

The card has the tree's own nodes only: where it goes through another tree, it names that one's card.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TypeAlias

from build_tools.guide import models, wording
from build_tools.guide.prose import Prose
from build_tools.guide.trees import Exit, Guide, Tree
from calc.instruments import LIGHTS_FROM

__all__ = ["Card", "card_of"]

SIZES = tuple(range(13, 35))
"""Sizes of type that card.css has, in half points. The smallest is for trees of more than fifty nodes."""
_DENSE = 16  # below this size answers follow one another in a line
_SIDE_PT, _COLUMN_PT = 775.0, 262.0  # A4 within its margins; one of two columns
_LETTER, _LINE, _GAP = 0.57, 1.22, 0.38  # of the size: a letter of a wide face, a line, between two entries

_Block: TypeAlias = list[int]  # letters in each paragraph of what stays together
_Asked: TypeAlias = models.Question | models.Reading | models.Step


@dataclass(frozen=True, slots=True)
class CardWay:
    """An answer, or nothing where there is only one way on, and the number on the card that it leads to."""

    words: str
    number: int


@dataclass(frozen=True, slots=True)
class CardEntry:
    """One question, reading, step, or way through another tree, whose title is `through`."""

    number: int
    words: str
    through: str
    hazards: tuple[str, ...]
    done: str
    ways: tuple[CardWay, ...]


@dataclass(frozen=True, slots=True)
class End:
    """One outcome."""

    number: int
    spec: models.Outcome


@dataclass(frozen=True, slots=True)
class Card:
    """Both sides, and the size of the type on each, in half points. `is_dense`: answers share a line."""

    entries: tuple[CardEntry, ...]
    ends: tuple[End, ...]
    front: int
    back: int
    is_dense: bool


def card_of(guide: Guide, tree: Tree, limits: Sequence[str]) -> Card:
    """The card of `tree`, its first node first, in type as large as its sides allow.

    `limits`: the cautions and sources that stand on the back, below the outcomes.
    """
    spec = tree.spec
    order = [spec.start, *(name for name in spec.nodes if name != spec.start)]
    order.sort(key=lambda name: isinstance(spec.nodes[name], models.Outcome))
    numbers = {name: place for place, name in enumerate(order, 1)}
    entries, ends = [], []
    for name in order:
        node = spec.nodes[name]
        if isinstance(node, models.Outcome):
            ends.append(End(numbers[name], node))
        elif isinstance(node, models.Call):
            called = guide.trees[node.call]
            back = tuple(CardWay(end, numbers[go]) for end, go in _ways_back(called, node))
            entries.append(CardEntry(numbers[name], "", called.title, (), "", back))
        else:
            ways = tuple(_ways(node, tree.nodes[name].exits, numbers))
            hazards = tuple(map(wording.hazard, node.hazards)) if isinstance(node, models.Step) else ()
            done = (node.proved_by or "") if isinstance(node, models.Step) else ""
            entries.append(CardEntry(numbers[name], tree.nodes[name].words, "", hazards, done, ways))
    head = [2 * len(tree.title), 2 * (len(tree.about) + 150)]  # over both columns
    front = [head, *map(_letters_of_entry, entries)]
    is_dense = _largest(front) < _DENSE
    return Card(
        tuple(entries),
        tuple(ends),
        front=_largest([head, *([sum(block)] for block in front[1:])] if is_dense else front),
        back=_largest([*map(_letters_of_end, ends), *([len(one) + 8] for one in limits), [240, 120]]),
        is_dense=is_dense,
    )


def _own(name: str) -> str:
    """The tree's own node for one of the expanded tree: what goes into a called tree goes to the call."""
    return name.partition(".")[0]


def _ways(node: _Asked, exits: Iterable[Exit], numbers: Mapping[str, int]) -> Iterator[CardWay]:
    """The answers; those without a figure that lead to one place stand in one line."""

    def leads(out: Exit) -> tuple[int, bool]:
        return numbers[_own(out.go)], out.kind not in ("answer", "range", "go")

    for (number, is_aside), some in groupby(exits, leads):
        said = [_said(node, out) for out in some]
        yield from (CardWay(one, number) for one in ([", ".join(said)] if is_aside else said))


def _said(node: _Asked, out: Exit) -> str:
    """An answer in words: `0.5 A or more: current is flowing`."""
    if out.kind == "go":
        return ""
    label = Prose.plain(out.label)
    if isinstance(node, models.Reading) and out.kind == "range" and node.instrument not in LIGHTS_FROM:
        change = node.change_from is not None
        return f"{wording.range_words(out.low, out.high, node.unit, change)}: {label}"
    return label


def _ways_back(called: Tree, call: models.Call) -> Iterator[tuple[str, str]]:
    """What the called tree ends in, in the words of its outcomes, and where that leads."""
    for node in called.spec.nodes.values():
        if isinstance(node, models.Outcome) and node.returns in call.back:
            yield Prose.plain(node.outcome), call.back[node.returns]


def _largest(blocks: list[_Block]) -> int:
    """The largest size in which these stand on one side, or the smallest there is."""
    return next((half for half in reversed(SIZES) if _height(blocks, half / 2) < 2 * _SIDE_PT), SIZES[0])


def _height(blocks: list[_Block], points: float) -> float:
    """How high one column of these would be."""
    letters = (_COLUMN_PT - 2 * points) / (_LETTER * points)  # in a line
    lines = sum(math.ceil(paragraph / letters) for block in blocks for paragraph in block)
    return (lines * _LINE + len(blocks) * _GAP) * points


def _letters_of_entry(entry: CardEntry) -> _Block:
    told = (entry.words, entry.through, *entry.hazards, entry.done)
    return [sum(map(len, told)) + 20, *(len(way.words) + 4 for way in entry.ways if way.words)]


def _letters_of_end(end: End) -> _Block:
    spec = end.spec
    told = (
        spec.outcome,
        *spec.say,
        *spec.advice,
        spec.next or "",
        spec.hand_over or "",
        spec.not_proven or "",
    )
    return [60 + sum(map(len, told))]
