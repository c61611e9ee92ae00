"""Pages that list others: the home page, and one for each kind of page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from build_tools.pages.page import Book, Page

__all__ = ["home_page", "list_page"]


def list_page(
    book: Book,
    address: str,
    title: str,
    about: str,
    pages: Sequence[Page],
    *,
    with_cautions: bool = False,
    find: str = "",
) -> Page:
    """One list; with the guide's cautions where what it lists can lead to work.

    `find`: with a box to find things in, and which of them come first there.
    """
    cautions = (*book.settings.cautions, book.operator.local_rules) if with_cautions else ()
    return book.page("listing.html", address, title, about=about, pages=pages, cautions=cautions, find=find)


def home_page(book: Book, lists: Mapping[str, Sequence[Page]]) -> Page:
    """The way in, for a guide whose authors wrote no `index.md`: heading -> the pages under it."""
    cautions = (*book.settings.cautions, book.operator.local_rules)
    return book.page(
        "home.html", "index.html", book.settings.title, lists=lists, cautions=cautions, find="home"
    )
