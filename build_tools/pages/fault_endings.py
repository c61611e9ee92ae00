"""Where each fault ends in one tree: a picture, the same as a table, and walks that the tree replays."""

from __future__ import annotations

import json
from collections import Counter
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from build_tools.guide import wording
from build_tools.guide.models import Outcome
from build_tools.guide.trees import Node, Tree
from build_tools.pages.flow_diagram import FlowBand, bands_svg
from build_tools.pages.page import Book, Page
from build_tools.walks.ends import ends_on
from build_tools.walks.replays import Replay, replays_on
from build_tools.walks.walk_report import answer_words, shown_words
from build_tools.walks.walkable import can_be_walked
from calc.danger import endangered_homes
from calc.faults import HEALTHY, KINDS, parse_one

__all__ = ["Told", "address_of", "is_walked", "replay_script", "replays_of", "told_walks", "where_page"]


@dataclass(frozen=True, slots=True)
class EndingStage:
    """One hop in words; `link` is its answer's place among the links of the node in the tree's page."""

    node: str
    home: str
    asked: str
    shown: str
    answer: str
    link: int


@dataclass(frozen=True, slots=True)
class Told:
    """A replay in words; `id` is its name in addresses."""

    id: str
    street: str
    fault: str
    kind: str
    home: str
    stages: tuple[EndingStage, ...]
    outcome: str
    ends: str


def address_of(tree: Tree) -> str:
    """Where the page stands."""
    return f"ends/{tree.id}.html"


def replays_of(tree: Tree) -> str:
    """Where the script with its walks stands."""
    return f"assets/walks/{tree.id}.js"


def is_walked(book: Book, tree: Tree) -> bool:
    """Whether some street walks the tree."""
    return tree.audience == "site" and bool(book.guide.streets) and can_be_walked(tree)


def where_page(book: Book, tree: Tree) -> Page | None:
    """The page of a site tree; None where no street walks it."""
    if not is_walked(book, tree):
        return None
    walks = told_walks(book, tree)
    bands, cases = _bands(book, tree)
    return book.page(
        "where.html",
        address_of(tree),
        f"Where each fault ends: {tree.title}",
        about="Every kind of fault, and the outcomes that the walks of this tree come to.",
        tree=tree,
        tree_address=book.tree_address(tree),
        drawing=Markup(bands_svg("ends", f"Where each fault ends: {tree.title}", bands)),
        rows=[(kind, total, [b for b in bands if b.left == kind]) for kind, total in cases.items()],
        walks=walks,
        streets=wording.joined([street.title for street in book.guide.streets.values()]),
    )


def _bands(book: Book, tree: Tree) -> tuple[list[FlowBand], dict[str, int]]:
    """The bands, and how many walks there are of each kind of fault, from the homes that it
    endangers. Told is what sets a walk apart from the
    same home's on the healthy street; where nothing does, whether the job could be closed."""
    cases: Counter[str] = Counter()
    counted: Counter[tuple[str, str, str, int]] = Counter()
    for street in book.guide.streets.values():
        ends = ends_on(street, [tree])[tree.id]
        for (written, home), one in ends.items():
            fault = parse_one(written)
            if home in endangered_homes(street, fault.not_to_close(street)):
                kind = KINDS[fault.kind].title
                cases[kind] += 1
                told = one.found - ends[str(HEALTHY), home].found
                shown = {_end(book, tree.nodes[id_]) for id_ in told}
                counted.update((kind, *end) for end in shown or {_as_healthy(tree, one.found)})
    ordered = sorted(counted.items(), key=lambda item: (list(cases).index(item[0][0]), item[0][3], item[0]))
    return [FlowBand(*end, walks, cases[end[0]]) for end, walks in ordered], dict(cases)


def _end(book: Book, node: Node) -> tuple[str, str, int]:
    spec = _outcome(node)
    closes = "the job may be closed" if spec.closes else "stays open"
    rank = list(book.operator.priorities).index(spec.priority)
    return node.words, f"{book.operator.priorities[spec.priority].label}; {closes}", rank


def _as_healthy(tree: Tree, found: frozenset[str]) -> tuple[str, str, int]:
    if any(_outcome(tree.nodes[id_]).closes for id_ in found):
        return "Nothing that a healthy street does not show", "the job may be closed", 98
    return "Nothing that a healthy street does not show", "stays open", 97


def _outcome(node: Node) -> Outcome:
    assert isinstance(node.spec, Outcome)
    return node.spec


def told_walks(book: Book, tree: Tree) -> tuple[Told, ...]:
    """One walk for each kind of fault and street."""
    site = [one for one in book.guide.trees.values() if one.audience == "site"]
    return tuple(
        _told(tree, id_, street.title, replay)
        for id_, street in book.guide.streets.items()
        for replay in replays_on(street, site).get(tree.id, ())
    )


def _told(tree: Tree, street_id: str, street: str, replay: Replay) -> Told:
    stages = []
    for hop in replay.hops:
        node = tree.nodes[hop.node]
        exit_ = node.exits[hop.exit]
        stages.append(
            EndingStage(
                hop.node,
                hop.home,
                node.words,
                shown_words(hop.display, node),
                answer_words(exit_, node),
                _as_linked(node).index(hop.exit),
            )
        )
    return Told(
        f"{street_id}.{replay.fault.kind}",
        street,
        replay.fault.title,
        replay.fault.kind,
        replay.home,
        tuple(stages),
        replay.outcome,
        tree.nodes[replay.outcome].words,
    )


def _as_linked(node: Node) -> list[int]:
    """The places of a node's exits in the order of its links: those without a figure come last."""
    return sorted(range(len(node.exits)), key=lambda i: node.exits[i].kind not in ("answer", "range", "go"))


def replay_script(book: Book, tree: Tree) -> str:
    """The walks as the script that the tree's page loads when it replays one."""
    walks: dict[str, Any] = {
        told.id: {
            "street": told.street,
            "fault": told.fault,
            "home": told.home,
            "hops": [[one.node, one.link, one.home, one.shown] for one in told.stages],
        }
        for told in told_walks(book, tree)
    }
    return f"lostNeutralWalks({json.dumps(walks, ensure_ascii=False, separators=(',', ':'))})\n"
