"""The page for whoever serves the guide: what to allow, and what still works where it is not allowed."""

from __future__ import annotations

from build_tools.pages import server_policy
from build_tools.pages.page import Book, Page

__all__ = ["TITLE", "allow_page"]

TITLE = "What to allow"


def allow_page(book: Book) -> Page:
    """From the same policy as the sample settings."""
    return book.page(
        "allow.html",
        "allow.html",
        TITLE,
        headers=server_policy.HEADERS,
        python={"folder": server_policy.PYTHON_FOLDER, "policy": server_policy.PYTHON_POLICY},
        types=server_policy.TYPES,
        compressed=server_policy.COMPRESSED,
    )
