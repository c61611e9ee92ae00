"""The page of one street: what its records say, its drawing, and where each fault ends in each tree."""

from __future__ import annotations

from datetime import date

from markupsafe import Markup

from build_tools.pages import calculator_links
from build_tools.pages.endings import tree_tables
from build_tools.pages.page import Book, Page
from calc.drawing import street_svg, street_text
from calc.street import Street, network

__all__ = ["due", "street_page"]


def due(street: Street) -> date | None:
    """The day by which a street is reviewed again, if it has one."""
    return date.fromisoformat(str(street.review_by)) if street.review_by else None


def street_page(book: Book, id_: str, street: Street) -> Page:
    """The page of the street called `id_`."""
    known = book.guide.sources
    healthy = network(street)
    return book.page(
        "street.html",
        f"streets/{id_}.html",
        street.title,
        about=street.about,
        review_by=due(street),
        id=id_,
        street=street,
        drawing=Markup(street_svg(healthy, healthy=healthy)),
        told=street_text(healthy, healthy=healthy),
        asked_in=tuple(calculator_links.for_street(id_, f"streets/{id_}.html")),
        tables=tree_tables(book, street),
        sources={source: known[source] for source in street.sources if source in known},
    )
