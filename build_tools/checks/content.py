"""What a guide says is backed, current and explained.

Sources that are cited are in `sources.yaml`; the guide has cautions, and as many as it says it stands on,
and so with its rules; a tree that takes covers off has cautions of its own; review dates are days to come,
and the guide's own review is not; words in double square brackets are in the glossary; no link in them runs
a script.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from typing import TypeAlias

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, Place, few, nearest, shown
from build_tools.guide.loading import SAME_NAME
from build_tools.guide.prose import TERM
from build_tools.guide.source import Data, Source
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.validation import SHAPE, told

__all__ = ["OVERDUE", "check", "is_broken", "known_terms", "unknown_term", "unknown_terms"]

Keys: TypeAlias = "tuple[str | int, ...]"


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every YAML file."""
    yield from _sources(guide)
    yield from _cautions(guide)
    yield from _stands_on(guide)
    yield from _dates(guide)
    yield from _spelt_twice(guide)
    yield from _terms(guide)


def _terms(guide: Guide) -> Iterator[Finding]:
    """Words in double brackets."""
    known = known_terms(guide)
    for source in guide.files.values():
        yield from few(_terms_of_file(source, known), source.place())


def known_terms(guide: Guide) -> dict[str, str] | None:
    """Every spelling of every term, by its lower case; None when the glossary is broken and has to wait."""
    if is_broken(guide, "glossary.yaml"):
        return None
    return {spelling.casefold(): spelling for spelling in _spellings(guide)}


def is_broken(guide: Guide, name: str) -> bool:
    """Whether nothing could be made of a file: then what depends on it has to wait."""
    return name in guide.files and any(
        finding.place.file == guide.files[name].file for finding in guide.findings
    )


def texts(data: Data, keys: Keys = ()) -> Iterator[tuple[Keys, str]]:
    """Every text in a file's data, with the keys that lead to it."""
    if isinstance(data, str):
        yield keys, data
    elif isinstance(data, dict):
        for key, inner in data.items():
            yield from texts(inner, (*keys, key))
    elif isinstance(data, list):
        for position, inner in enumerate(data):
            yield from texts(inner, (*keys, position))


def _sources(guide: Guide) -> Iterator[Finding]:
    """Every id in a list called `sources`, and the source of the reading ease."""
    if is_broken(guide, "sources.yaml"):
        return
    for source in guide.files.values():
        yield from few(_sources_of_file(source, guide.sources), source.place())


UNKNOWN_SOURCE = Demand(
    "unknown-source",
    "an id in sources.yaml: a reader must be able to look it up",
    "correct the id, or add the source to sources.yaml",
)


def _sources_of_file(source: Source, known: Collection[str]) -> Iterator[Finding]:
    for keys, text in texts(source.data):
        cited = keys[-2:-1] == ("sources",) or keys == ("reading_ease", "source")
        if cited and text not in known:
            yield UNKNOWN_SOURCE.found(
                source.place(keys), f"no source is called {shown(text)}{nearest(text, known)}", told(keys)
            )


NO_CAUTIONS = Demand(
    "no-cautions",
    "at least who may do this work, and that the local safety rules come first: it can kill",
    "add `cautions:` with a list of sentences",
)
NO_CAUTION_OF_ITS_OWN = Demand(
    "no-caution-of-its-own",
    "cautions of its own in a tree that takes covers off: who may do that, and with what",
    "add `cautions:` with a list of sentences, before `start:`",
)


def _cautions(guide: Guide) -> Iterator[Finding]:
    if guide.settings and not guide.settings.cautions:
        yield NO_CAUTIONS.found(
            guide.files["guide.yaml"].place(("cautions",), key=True),
            "the guide has no cautions",
            ("cautions",),
        )
    for file in guide.tree_files.values():
        opening = [
            name
            for name, node in file.spec.nodes.items()
            if isinstance(node, models.Step) and "opens-cover" in node.hazards
        ]
        if opening and not file.spec.cautions:
            path = ("nodes", opening[0], "hazards")
            yield NO_CAUTION_OF_ITS_OWN.found(
                file.place(*path),
                "covers come off here, and the tree has no cautions",
                told(path),
                "who may do that, and with what: the crew reads it at the head of the tree before it begins",
            )


STANDS_ON = Demand(
    "stands-on",
    "what the guide stands on, said twice: a rule, a caution or a danger lost by a slip must not go unseen",
    "put back what was lost, or write down here that it was meant",
)


def _stands_on(guide: Guide) -> Iterator[Finding]:
    """Rules, their conditions, cautions and dangers are those that `stands_on` in guide.yaml says."""
    said = guide.settings.stands_on if guide.settings else None
    if said is None or guide.settings is None or is_broken(guide, "rules.yaml"):
        return
    there = {rule.id: len(rule.needs_earlier) + len(rule.never_after) for rule in guide.rules}
    differ: list[tuple[Keys, str]] = [
        (("stands_on", "rules", id_), f"the rule {shown(id_)} has {there.get(id_, 0)} conditions, not {many}")
        for id_, many in said.rules.items()
        if there.get(id_) != many
    ]
    unsaid = there.keys() - said.rules.keys()
    differ += ((("stands_on", "rules"), f"the rule {shown(id_)} is not named here") for id_ in sorted(unsaid))
    if len(guide.settings.cautions) != said.cautions:
        what = f"the guide has {len(guide.settings.cautions)} cautions, not {said.cautions}"
        differ.append((("stands_on", "cautions"), what))
    for id_ in sorted(set(said.dangers) ^ guide.settings.dangers.keys()):
        lost = "is not named here" if id_ in guide.settings.dangers else "is not among the dangers"
        differ.append((("stands_on", "dangers"), f"{shown(id_)} {lost}"))
    for keys, what in differ:
        yield STANDS_ON.found(guide.files["guide.yaml"].place(keys), what, told(keys))


REVIEWED_IN_FUTURE = Demand("reviewed-in-future", "a day that has been", "write the day of the last review")


def _dates(guide: Guide) -> Iterator[Finding]:
    for file in guide.tree_files.values():
        yield from _review(file.source, file.spec.review_by, guide.today)
    for id_, street in guide.streets.items():
        if street.review_by:
            yield from _review(guide.files[f"streets/{id_}.yaml"], street.review_by, guide.today)
    if guide.settings and guide.settings.review_by:
        yield from _review(guide.files["guide.yaml"], guide.settings.review_by, guide.today)
    if guide.settings and guide.settings.reviewed > guide.today:
        yield REVIEWED_IN_FUTURE.found(
            guide.files["guide.yaml"].place(("reviewed",)),
            f"the guide was reviewed on {guide.settings.reviewed}, and today is {guide.today}",
            ("reviewed",),
        )


OVERDUE = Demand(
    "review-past", "a day to come: nobody stands behind what is overdue", "review it, then set the next date"
)
"""A build forgives it unless it is strict: the page itself says so."""


def _review(source: Source, written: date | str, today: date) -> Iterator[Finding]:
    place, path = source.place(("review_by",)), ("review_by",)
    try:
        due = date.fromisoformat(str(written))
    except ValueError:
        expected = "a day as year-month-day, such as 2027-06-01"
        yield SHAPE.found(place, f"review_by is {shown(written)}", path, expected, "write it so")
        return
    if due < today:
        yield OVERDUE.found(place, f"the review was due on {due}, and today is {today}", path)


def _spellings(guide: Guide) -> Iterator[str]:
    for term, entry in guide.glossary.items():
        yield from (term, *entry.also)


def _spelt_twice(guide: Guide) -> Iterator[Finding]:
    source = guide.files["glossary.yaml"]
    owner: dict[str, str] = {}
    for term, entry in guide.glossary.items():
        for spelling in (term, *entry.also):
            other = owner.setdefault(spelling.casefold(), term)
            if other != term:
                what = f"{shown(spelling)} belongs to {shown(other)} as well"
                place = source.place((term,), key=True)
                yield SAME_NAME.found(place, what, (term,), "one meaning for a word", "keep one of them")


def _terms_of_file(source: Source, known: Mapping[str, str] | None) -> Iterator[Finding]:
    for keys, text in texts(source.data):
        for _, term in unknown_terms(text, known):
            yield unknown_term(source.place(keys), told(keys), term, known)


def unknown_terms(text: str, known: Mapping[str, str] | None) -> Iterator[tuple[int, str]]:
    """Terms in a text that are not among the known (None: all are), with the position where each begins."""
    for match in re.finditer(TERM, text):
        term = " ".join(match[1].split())
        if known is not None and term.casefold() not in known:
            yield match.start(), term


UNKNOWN_TERM = Demand(
    "unknown-term",
    "a word of glossary.yaml, or one of its other spellings",
    "correct the spelling, add the word to the glossary, or take the brackets away",
)


def unknown_term(place: Place, path: tuple[str, ...], term: str, known: Mapping[str, str] | None) -> Finding:
    """The finding for one term, with its nearest neighbours."""
    return UNKNOWN_TERM.found(
        place, f"the glossary does not know {shown(term)}{nearest(term, (known or {}).values())}", path
    )
