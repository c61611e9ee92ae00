"""What can be written at the cursor: field names where a key is expected, names where a value is."""

from __future__ import annotations

import re
from collections.abc import Iterator

from lsprotocol.types import CompletionItem, CompletionItemKind, Position, Range, TextEdit

from build_tools.language_server.cursor import Spot, inside_of, spot_at, word_at
from build_tools.language_server.fields import Schema, choices, field_at, keys_of
from build_tools.language_server.known import File, Known, merged
from build_tools.language_server.names import Name, named_at, names, terms
from build_tools.language_server.positions import Text

__all__ = ["completions"]

_TERM_BEGUN = re.compile(r"\[\[([^\[\]|\n]*)$")
_LONGEST_TERM = 100


def completions(known: Known, file: File, text: Text, position: Position) -> list[CompletionItem]:
    """Everything that may be written at a position, in the order in which it should be shown."""
    offset = text.offset(position)
    if begun := _TERM_BEGUN.search(text.text[max(0, offset - _LONGEST_TERM) : offset]):
        return _terms(known, text, offset - len(begun[1]), offset)
    spot = spot_at(text.text, offset, typing=True) if file.kind else None
    if spot is None or file.kind is None:
        return []
    data = merged(known.data(file.inside), spot.data)
    range_ = text.range(*word_at(text.text, offset))
    if spot.is_key:
        offered = _keys(field_at(file.kind, spot.keys[:-1], data), _beside(spot, spot.keys[:-1]))
        return _as_keys(text, offset, range_, [*offered, *_names(known, file, spot)])
    field = field_at(file.kind, spot.keys, data)
    if keys_of(field):
        alone = _begins_line(text.text, word_at(text.text, offset)[0])
        return _as_keys(text, offset, range_, list(_keys(field, set()))) if alone else []
    found = list(_names(known, file, spot)) or [Name(word, "") for word in choices(field)]
    return [_item(name, range_, name.name, CompletionItemKind.Value, n) for n, name in enumerate(found)]


def _names(known: Known, file: File, spot: Spot) -> Iterator[Name]:
    named = named_at(file.kind, spot.keys, is_key=spot.is_key)
    if named and not (named == "node" and spot.is_key):
        yield from names(named, known, file, spot)


def _keys(field: Schema, there: set[str]) -> Iterator[Name]:
    for key, inner in keys_of(field).items():
        if key not in there:
            yield Name(key, inner.get("description", ""))


def _beside(spot: Spot, keys: tuple[str | int, ...]) -> set[str]:
    """The keys that the mapping has already, but for the one that is being written."""
    data = inside_of(spot.data, *keys)
    return set(data) - {str(spot.keys[-1])} if isinstance(data, dict) else set()


def _begins_line(text: str, offset: int) -> bool:
    """Whether nothing but dashes of a list stands before an offset on its line."""
    return not text[text.rfind("\n", 0, offset) + 1 : offset].strip(" -")


def _as_keys(text: Text, offset: int, range_: Range, offered: list[Name]) -> list[CompletionItem]:
    """The names as keys, with a colon unless one follows."""
    _, end = word_at(text.text, offset)
    colon = "" if text.text[end : end + 1] == ":" else ": "
    return [
        _item(name, range_, name.name + colon, CompletionItemKind.Field, number)
        for number, name in enumerate(offered)
    ]


def _terms(known: Known, text: Text, start: int, offset: int) -> list[CompletionItem]:
    close = "" if text.text.startswith("]]", offset) else "]]"
    range_ = text.range(start, offset)
    return [
        _item(name, range_, name.name + close, CompletionItemKind.Text, number)
        for number, name in enumerate(terms(known))
    ]


def _item(name: Name, range_: Range, new: str, kind: CompletionItemKind, number: int) -> CompletionItem:
    return CompletionItem(
        name.name,
        kind=kind,
        documentation=name.words or None,
        sort_text=f"{number:04}",
        filter_text=name.name,
        text_edit=TextEdit(range_, new),
    )
