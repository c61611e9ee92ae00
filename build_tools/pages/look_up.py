"""The pages to look things up in: glossary, sources and rules."""

from __future__ import annotations

import inspect
from collections.abc import Iterator
from dataclasses import dataclass

from pydantic import BaseModel

from build_tools.checks.paths import Way
from build_tools.checks.rules import kept, needed_at
from build_tools.guide import job_record, wording
from build_tools.guide.models import Condition, QuestionCondition, Reading, ReadingCondition, Reference, Rule
from build_tools.guide.prose import slug
from build_tools.guide.trees import Exit, Node, Tree
from build_tools.pages.page import Book, Page
from build_tools.pages.street_page import due
from calc.instruments import INSTRUMENTS

__all__ = ["glossary_page", "jobs_page", "review_page", "rules_page", "sources_page"]


def glossary_page(book: Book) -> Page:
    """Every term in alphabetical order, each at the anchor that its links name."""
    glossary = dict(sorted(book.guide.glossary.items(), key=lambda item: item[0].casefold()))
    return book.page("glossary.html", "glossary.html", "Glossary", glossary=glossary, slug=slug)


def sources_page(book: Book) -> Page:
    """Every source at the anchor of its id, the published ones first."""
    kinds: dict[str, dict[str, Reference]] = {}
    for id_, source in book.guide.sources.items():
        kinds.setdefault(source.kind, {})[id_] = source
    return book.page("sources.html", "sources.html", "Sources", kinds=kinds)


LANGUAGE = (Rule, Condition, ReadingCondition, QuestionCondition, Reading)
"""What the language of rules is made of; the page says what their docstrings and fields say."""


def rules_page(book: Book) -> Page:
    """Every rule in words, with the trees that it binds and one path that keeps it, so that those who follow
    the guide can hold it to them."""
    return book.page(
        "rules.html",
        "rules.html",
        "Rules",
        rules=book.guide.rules,
        sentences={rule.id: list(_sentences(rule)) for rule in book.guide.rules},
        bound={rule.id: list(_bound(book, rule)) for rule in book.guide.rules},
        language={shape.__name__: _meaning(shape) for shape in LANGUAGE},
        sources=book.guide.sources,
        page_of=book.tree_address,
    )


def _meaning(shape: type[BaseModel]) -> list[str]:
    fields = ((field.alias or name, field.description) for name, field in shape.model_fields.items())
    return [*(inspect.getdoc(shape) or "").split("\n\n"), *(f"`{name}`: {said}" for name, said in fields)]


@dataclass(frozen=True, slots=True)
class _Hop:
    """One node of a path: how it is left (empty where the path stops), and whether that meets a need."""

    node: Node
    answer: str
    is_needed: bool


def _bound(book: Book, rule: Rule) -> Iterator[tuple[Tree, list[_Hop]]]:
    """Each tree with a node that the rule binds, and the shortest way to such a node."""
    for tree in book.in_order(book.guide.trees.values()):
        if way := kept(rule, tree):
            yield tree, _hops(rule, tree, way)


def _hops(rule: Rule, tree: Tree, way: Way) -> list[_Hop]:
    return [
        _Hop(tree.nodes[id_], _left_by(exit_), needed_at(rule, tree.nodes[id_], exit_)) for id_, exit_ in way
    ]


def _left_by(exit_: Exit | None) -> str:
    return "" if exit_ is None or exit_.kind == "go" else exit_.label


def _sentences(rule: Rule) -> Iterator[str]:
    where = wording.AUDIENCES[rule.audience][0].lower() if rule.audience else "in every tree"
    node = _condition(rule.every)
    needed = [_a(condition) for condition in rule.needs_earlier]
    if needed:
        yield f"Needed {where}: before every {node}, {wording.joined(needed)}."
    forbidden = [_a(condition) for condition in rule.never_after]
    if forbidden:
        yield f"Never {where}: {_a(rule.every)}, after {wording.joined(forbidden, 'or')}."
    if rule.unless:
        yield f"Both start afresh after {_a(rule.unless)}."


def _a(condition: Condition) -> str:
    return wording.joined([_with_article(_condition(one)) for one in condition.any_of or (condition,)], "or")


def _with_article(noun: str) -> str:
    return f"{'an' if noun.startswith('outcome') else 'a'} {noun}"


def _condition(condition: Condition) -> str:
    """What a condition asks, as a noun with what must hold of it."""
    if condition.any_of:
        return wording.joined([_condition(one) for one in condition.any_of], "or")
    kind = condition.node_kind or "node"
    said: list[str] = []
    if condition.hazard:
        kind, said = "step", [*said, f"marked “{wording.hazard(condition.hazard)}”"]
    if condition.does:
        kind, said = "step", [*said, f"that does this: {condition.does.replace('-', ' ')}"]
    if condition.priority:
        kind, said = "outcome", [*said, f"of priority {condition.priority}"]
    if condition.outcome_closes is not None:
        closes = "lets the job be closed" if condition.outcome_closes else "keeps the job open"
        kind, said = "outcome", [*said, f"that {closes}"]
    if condition.reading:
        kind, said = "reading", [*said, *_reading(condition.reading)]
    if condition.question:
        name = condition.question.fact or condition.question.remember or ""
        kind, said = "question", [*said, f"about {name.replace('-', ' ')}"]
        if condition.question.is_:
            said.append(f"answered {condition.question.is_}")
    return " ".join([kind, *said])


def _reading(reading: ReadingCondition) -> Iterator[str]:
    unit = f" {wording.unit_sign(INSTRUMENTS[reading.instrument].unit)}"
    yield f"with the {INSTRUMENTS[reading.instrument].title.lower()}"
    if reading.on:
        yield wording.conductors(reading.instrument, reading.on)
    if reading.answered:
        yield f"answered {reading.answered}"
    if reading.not_answered:
        yield f"answered anything but {reading.not_answered}"
    if reading.at_least is not None:
        yield f"that shows {wording.figure(reading.at_least)}{unit} or more"
    if reading.below is not None:
        yield f"that shows less than {wording.figure(reading.below)}{unit}"


def jobs_page(book: Book) -> Page:
    """The jobs that a device keeps; scripts fill it there."""
    about = "What was answered on this device, and where it led. It is kept here only, and sent nowhere."
    return book.page("jobs.html", "jobs.html", "Jobs on this device", about=about, schema=job_record.schema())


def review_page(book: Book) -> Page:
    """For the author: what has to be reviewed by when, the first due on top."""
    settings, guide = book.settings, book.guide
    whole = [(settings.review_by, "The guide as a whole", "index.html", "")] if settings.review_by else []
    trees = [
        (tree.review_by, tree.title, book.tree_address(tree), wording.AUDIENCES[tree.audience][0])
        for tree in guide.trees.values()
    ]
    streets = [
        (day, street.title, f"streets/{id_}.html", "Streets")
        for id_, street in guide.streets.items()
        if (day := due(street))
    ]
    about = "What has to be reviewed by when. A page past its day says so, and a strict build refuses it."
    return book.page(
        "review.html",
        "review.html",
        "Review list",
        about=about,
        due=sorted(whole + trees + streets),
    )
