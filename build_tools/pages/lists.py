"""Pages that list others: the home page, and one for each kind of page."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from build_tools.pages.page import Book, Page

__all__ = ["home_page", "list_page"]


def list_page(
    book: Book, address: str, title: str, about: str, pages: Sequence[Page], *, with_cautions: bool = False
) -> Page:
    """One list; with the guide's cautions where what it lists can lead to work."""
    cautions = (*book.settings.cautions, book.settings.local_rules) if with_cautions else ()
    return book.page("listing.html", address, title, about=about, pages=pages, cautions=cautions)


def home_page(book: Book, lists: Mapping[str, Sequence[Page]]) -> Page:
    """The way in, for a guide whose authors wrote no `index.md`: heading -> the pages under it."""
    cautions = (*book.settings.cautions, book.settings.local_rules)
    return book.page("home.html", "index.html", book.settings.title, lists=lists, cautions=cautions)
