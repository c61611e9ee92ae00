"""A page read for where things stand in its text, so that some of it can be changed and the rest stays."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from html.parser import HTMLParser
from itertools import accumulate

__all__ = ["Attributes", "PageText", "Piece", "with_pieces"]

Attributes = list[tuple[str, str | None]]


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a page's text, from `start` up to `end`, and what is to stand there."""

    start: int
    end: int
    words: str


class PageText(HTMLParser):
    """A page's text, read once; a subclass notes in its handlers what it looks for, and `here` says where."""

    def __init__(self, text: str, *, convert_charrefs: bool = True) -> None:
        super().__init__(convert_charrefs=convert_charrefs)
        self.text = text
        self._lines = [0, *accumulate(len(line) + 1 for line in text.split("\n"))]

    def read(self) -> None:
        """Go through the whole page."""
        self.feed(self.text)
        self.close()

    @property
    def here(self) -> int:
        """Where in the text what is being handled begins."""
        line, column = self.getpos()
        return self._lines[line - 1] + column


def with_pieces(text: str, pieces: Iterable[Piece]) -> str:
    """The text with every piece in its place; pieces in order, none inside another."""
    made, at = [], 0
    for piece in pieces:
        made += [text[at : piece.start], piece.words]
        at = piece.end
    return "".join([*made, text[at:]])
