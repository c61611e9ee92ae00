"""The page of one tree: every node in reading order, each answer a link to the node it leads to."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import chain, count
from typing import Any

from build_tools.checks.callers import words_said
from build_tools.guide import models, wording
from build_tools.guide.findings import Place
from build_tools.guide.prose import Prose
from build_tools.guide.reading_ease import flesch, reading_age
from build_tools.guide.trees import Exit, Node, Tree
from build_tools.pages import calculator_links
from build_tools.pages.card import card_of
from build_tools.pages.desk import street_calls
from build_tools.pages.fault_endings import address_of, is_walked, replays_of
from build_tools.pages.page import Book, Page, relative
from build_tools.pages.tests_table import what_it_sees
from build_tools.proof.procedures import conditions_at
from build_tools.walks.asked_exits import earlier
from calc.instruments import INSTRUMENTS, LIGHTS_FROM

__all__ = ["tree_page"]


@dataclass(frozen=True, slots=True)
class AnswerLink:
    """A way out of a node as the page shows it. `number` is the node it leads to, for paper."""

    exit: Exit
    number: int
    key: str
    label: str
    range: str  # in words, or nothing

    @property
    def words(self) -> str:
        """The whole answer as plain text: `0.5 A or more: current is flowing`."""
        label = Prose.plain(self.label)
        return f"{self.range}: {label}" if self.range else label

    @property
    def to(self) -> str:
        """The upper end of a range, or nothing when it has none."""
        return "" if math.isinf(self.exit.high) else wording.figure(self.exit.high)


@dataclass(frozen=True, slots=True)
class ShownNode:
    """A node as the page shows it."""

    node: Node
    number: int
    answers: tuple[AnswerLink, ...]
    aside: tuple[AnswerLink, ...]  # ways on when there is no figure
    sees: str  # where the site tells what this test can see, or nothing
    asked_in: tuple[calculator_links.CalculatorLink, ...]  # calculators that this figure can be carried into

    @property
    def spec(self) -> Any:
        """What the author wrote; templates ask it for the keys that its kind may lack."""
        return self.node.spec

    @property
    def is_typed(self) -> bool:
        """Whether the instrument shows a figure that can be typed."""
        return isinstance(self.node.spec, models.Reading) and self.node.spec.instrument not in LIGHTS_FROM

    @property
    def earlier(self) -> str:
        """The node of the figure that this one is judged by its change from, or nothing."""
        return earlier(self.node)

    @property
    def decides(self) -> bool:
        """Whether the figure itself decides where to go: then ranges explain, and a figure is typed."""
        return self.is_typed and len({answer.exit.go for answer in self.answers}) > 1

    @property
    def method(self) -> tuple[str, str] | None:
        """The instrument and where it goes."""
        spec = self.node.spec
        if not isinstance(spec, models.Reading):
            return None
        return INSTRUMENTS[spec.instrument].title, wording.conductors(spec.instrument, spec.on)

    @property
    def most(self) -> float | None:
        """The most that the instrument can show, in the node's unit."""
        spec = self.node.spec
        if not isinstance(spec, models.Reading) or spec.unit != INSTRUMENTS[spec.instrument].unit:
            return None
        return INSTRUMENTS[spec.instrument].high


def tree_page(book: Book, tree: Tree) -> Page:
    """The page of `tree`; its nodes bear the ids of the expanded tree."""
    address = book.tree_address(tree)
    sees = what_it_sees(book.guide)
    cautions = (*tree.spec.cautions, *book.settings.cautions, book.operator.local_rules)
    sources = {id_: book.guide.sources[id_] for id_ in tree.spec.sources}
    return book.page(
        "tree.html",
        address,
        tree.title,
        about=tree.about,
        tree=tree,
        nodes=tuple(_nodes(tree, sees, address if book.guide.streets else "")),
        cautions=cautions,
        sources=sources,
        replays=replays_of(tree) if is_walked(book, tree) else "",
        ends=address_of(tree),
        site_trees={relative(book.tree_address(t), address): t for t in _site_trees(book, tree)},
        ease=_ease(tree),
        danger_now=book.settings.danger_now.get(tree.audience) or book.settings.cautions,
        review_by=book.review_by(tree),
        card=card_of(book.guide, tree, [*cautions, *(source.title for source in sources.values())]),
        **street_calls(book),
    )


def _ease(tree: Tree) -> dict[str, str] | None:
    """How easy the words said to callers are to take in."""
    if tree.audience != "call":
        return None
    said = [text for _, text in words_said(tree.spec)]
    return {"age": f"{reading_age(said):.0f}", "score": f"{flesch(said):.0f}"}


def _nodes(tree: Tree, sees: Mapping[Place, str], address: str) -> Iterator[ShownNode]:
    order = [tree.start, *(id_ for id_ in tree.nodes if id_ != tree.start)]
    numbers = dict(zip(order, count(1), strict=False))
    done: dict[str, set[frozenset[str]]] = defaultdict(set)
    for id_, conditions in conditions_at(tree):
        done[id_].add(conditions)
    for id_ in order:
        node = tree.nodes[id_]
        answers = tuple(_answers(node, numbers))
        yield ShownNode(
            node,
            numbers[id_],
            tuple(answer for answer in answers if answer.exit.kind in ("answer", "range", "go")),
            tuple(answer for answer in answers if answer.exit.kind not in ("answer", "range", "go")),
            sees.get(node.place, ""),
            tuple(calculator_links.for_reading(node.spec, done[id_], f"{address}#{id_}"))
            if isinstance(node.spec, models.Reading) and tree.audience == "site" and address
            else (),
        )


def _answers(node: Node, numbers: dict[str, int]) -> Iterator[AnswerLink]:
    """The exits in order, each with its key: digits, but letters where digits are typed into the reading. A
    range that is found by the figure has none."""
    keys = chain("abcdefghijklmnopqrstuvwxyz" if node.kind == "reading" else "123456789", iter(str, None))
    for exit_, key in zip(node.exits, keys, strict=False):
        spec = node.spec
        range_ = ""
        if isinstance(spec, models.Reading) and exit_.kind == "range" and spec.instrument not in LIGHTS_FROM:
            range_ = wording.range_words(exit_.low, exit_.high, spec.unit, spec.change_from is not None)
        label = "Done: go on" if exit_.kind == "go" else exit_.label[:1].upper() + exit_.label[1:]
        yield AnswerLink(exit_, numbers[exit_.go], key, exit_.label if range_ else label, range_)


def _remembered(tree: Tree) -> set[str]:
    specs = (node.spec for node in tree.nodes.values())
    return {spec.remember for spec in specs if isinstance(spec, models.Question) and spec.remember}


def _site_trees(book: Book, tree: Tree) -> list[Tree]:
    """The site trees that ask what a call tree has asked, the one with the most in common first."""
    if tree.audience != "call":
        return []
    asked = _remembered(tree)
    shared = {other.id: len(asked & _remembered(other)) for other in book.guide.trees.values()}
    alike = [t for t in book.guide.trees.values() if t.audience == "site" and shared[t.id]]
    return sorted(book.in_order(alike), key=lambda other: -shared[other.id])
