"""The desk: where a call begins."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from build_tools.pages.page import Book, Page
from calc.locate import WORDS

__all__ = ["desk_page", "street_calls"]


def desk_page(book: Book, title: str, about: str, trees: Sequence[Page]) -> Page:
    """A box for what the caller says, the trees of calls, and several calls of one street put together."""
    settings = book.settings
    return book.page(
        "desk.html",
        "trees/call/index.html",
        title,
        about=about,
        pages=trees,
        find="call",
        cautions=(*settings.cautions, book.operator.local_rules),
        danger_now=settings.danger_now.get("call") or settings.cautions,
        **street_calls(book),
    )


def street_calls(book: Book) -> dict[str, Any]:
    """What a form asks about calls from one street: the streets, their homes, the words for what was seen."""
    streets = book.guide.streets
    return {
        "streets": streets,
        "homes": {id_: list(street.premises) for id_, street in streets.items()},
        "seen_words": WORDS,
    }
