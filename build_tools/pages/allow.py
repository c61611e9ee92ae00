"""The page for whoever serves the guide: what to allow, and what still works where it is not allowed."""

from __future__ import annotations

from build_tools.pages.page import Book, Page
from build_tools.publish import policy

__all__ = ["TITLE", "allow_page"]

TITLE = "What to allow"


def allow_page(book: Book) -> Page:
    """From the same policy as the sample settings."""
    return book.page(
        "allow.html",
        "allow.html",
        TITLE,
        headers=policy.HEADERS,
        python={"folder": policy.PYTHON_FOLDER, "policy": policy.PYTHON_POLICY},
        types=policy.TYPES,
        compressed=policy.COMPRESSED,
    )
