"""What an author is told of the text under the cursor: what the field means, what a name stands for, what a
reading is expected to show."""

from __future__ import annotations

from collections.abc import Iterator

from lsprotocol.types import Position, Range

from build_tools.language_server.cursor import Spot, spot_at
from build_tools.language_server.definition import name_at, term_at
from build_tools.language_server.expected import expected
from build_tools.language_server.fields import field_at
from build_tools.language_server.known import File, Known, merged
from build_tools.language_server.positions import Text

__all__ = ["hover"]

_MEASURED = ("reading", "instrument", "on", "unit", "ranges", "from", "to")
"""Fields of a reading beside which an author asks what it will show."""


def hover(known: Known, file: File, text: Text, position: Position) -> tuple[str, Range | None] | None:
    """Markdown for what stands at a position, and the range that it is about where that can be told."""
    offset = text.offset(position)
    if term := term_at(known, text.text, offset):
        return f"**{term.name}**: {term.words}", None
    spot = spot_at(text.text, offset) if file.kind else None
    if spot is None:
        return None
    said = list(_said(known, file, spot))
    return ("\n\n".join(said), text.range(spot.start, spot.end)) if said else None


def _said(known: Known, file: File, spot: Spot) -> Iterator[str]:
    if name := name_at(known, file, spot):
        yield f"`{name.name}`: {name.words}"
    data = merged(known.data(file.inside), spot.data)
    keys = spot.keys
    while keys and isinstance(keys[-1], int):
        keys = keys[:-1]
    words = field_at(file.kind or "", keys, data).get("description")
    field = keys[-1] if keys else ""
    if words:
        yield f"`{field}`: {words}"
    match (file.kind, *spot.keys):
        case ("tree", "nodes", str(node)) if spot.is_key:
            yield from expected(known, file, node)
        case ("tree", "nodes", str(node), *_) if field in _MEASURED:
            yield from expected(known, file, node)
