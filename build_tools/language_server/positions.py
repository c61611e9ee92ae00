"""Places as a file counts them (characters, lines as YAML ends them) and as an editor does (units of its
encoding, usually UTF-16, lines as the protocol ends them)."""

from __future__ import annotations

import re
from bisect import bisect_right
from dataclasses import dataclass
from functools import cached_property

from lsprotocol.types import Position, Range
from pygls.workspace import PositionCodec

from build_tools.guide.findings import LINE_BREAK, Place, extent

__all__ = ["Text"]

_EDITOR_BREAK = re.compile("\r\n|[\n\r]")


@dataclass(frozen=True)
class Text:
    """One file's text. `codec` knows the units in which the editor counts columns; offsets count characters
    from the beginning of the file."""

    text: str
    codec: PositionCodec

    def offset(self, position: Position) -> int:
        """The character that an editor's position stands before; beyond a line's end, that end."""
        if position.line >= len(self._starts):
            return len(self.text)
        start = self._starts[position.line]
        line = _EDITOR_BREAK.split(self.text[start:], maxsplit=1)[0]
        units = 0
        for place, character in enumerate(line):
            if units >= position.character:
                return start + place
            units += self.codec.client_num_units(character)
        return start + len(line)

    def position(self, offset: int) -> Position:
        """The editor's position before a character."""
        line = bisect_right(self._starts, offset) - 1
        return Position(line, self.codec.client_num_units(self.text[self._starts[line] : offset]))

    def range(self, start: int, end: int) -> Range:
        """The editor's range from one character up to another."""
        return Range(self.position(start), self.position(end))

    def range_at(self, place: Place) -> Range:
        """The editor's range of what stands at a place of the file."""
        line = min(place.line, len(self._written_starts)) - 1
        start = self._written_starts[line]
        written = LINE_BREAK.split(self.text[start:], maxsplit=1)[0]
        begin = min(place.column - 1, len(written))
        end = min(begin + extent(written, begin + 1), len(written))
        return self.range(start + begin, start + end)

    @cached_property
    def _starts(self) -> list[int]:
        return [0, *(found.end() for found in _EDITOR_BREAK.finditer(self.text))]

    @cached_property
    def _written_starts(self) -> list[int]:
        return [0, *(found.end() for found in LINE_BREAK.finditer(self.text))]
