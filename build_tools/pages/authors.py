"""The page for whoever writes the guide: every field, every name, every finding."""

from __future__ import annotations

from build_tools.pages.page import Book, Page
from build_tools.reference.book import chapters

__all__ = ["authors_page"]


def authors_page(book: Book) -> Page:
    """The whole reference, each name at an anchor of its own."""
    about = "Every field of the files, every name that they may hold, every finding and how it is mended."
    return book.page(
        "authors.html", "for-authors.html", "For authors: reference", about=about, chapters=chapters()
    )
