"""What the reference is made of: chapters of parts of entries, each a name with what is to be said of it.

Words are in the authors' own manner, with names between backquotes; `[words](#anchor)` leads to a part.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

__all__ = ["Chapter", "Entry", "ReferencePart", "link", "unlinked"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One name. `facts`: what is said of it under a heading each, such as `unit`."""

    name: str
    words: str = ""
    facts: tuple[tuple[str, str], ...] = ()
    example: str = ""


@dataclass(frozen=True, slots=True)
class ReferencePart:
    """Names that belong together; `id` is the part's place on the page, and names it in a terminal."""

    id: str
    title: str
    entries: tuple[Entry, ...]
    words: str = ""

    def anchor(self, entry: Entry) -> str:
        """The place of an entry on the page."""
        return f"{self.id}.{entry.name}"


@dataclass(frozen=True, slots=True)
class Chapter:
    """Parts of one kind."""

    id: str
    title: str
    words: str
    parts: tuple[ReferencePart, ...]


def link(words: str, part: str) -> str:
    """Words that lead to a part."""
    return f"[{words}](#{part})"


def unlinked(words: str) -> str:
    """The same words where nothing can lead anywhere.

    >>> unlinked("a list, each [an answer](#answer)")
    'a list, each an answer'
    """
    return re.sub(r"\[([^\]]*)\]\(#[^)]*\)", r"\1", words)
