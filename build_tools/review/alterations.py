"""What changed inside one thing of a guide: where it stands, what it was, what it is."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import fields, is_dataclass
from difflib import SequenceMatcher
from itertools import zip_longest
from typing import Any

from pydantic import BaseModel

from build_tools.guide.findings import shown
from build_tools.guide.validation import told

__all__ = ["alterations"]

Path = tuple[str | int, ...]

_FIGURE = re.compile(r"\d+(?:[.,]\d+)*")


def alterations(before: Any, after: Any, words: Sequence[str], path: Path = ()) -> Iterator[str]:
    """A line for each value that is another: `ranges > 1 > to`: 3 -> 4.

    `words`: keys of texts that are only read. Of those, only the figures that changed are told.
    """
    was, now = _inside(before), _inside(after)
    if isinstance(was, dict) and isinstance(now, dict):
        for key in dict.fromkeys((*was, *now)):
            yield from alterations(was.get(key), now.get(key), words, (*path, key))
    elif isinstance(was, list) and isinstance(now, list) and _holds_parts(was + now):
        for place, one, other in _beside(was, now):
            yield from alterations(one, other, words, (*path, place))
    elif was != now:
        where = " > ".join(told(path))
        if any(step in words for step in path):
            figures = [_FIGURE.findall(str(value or "")) for value in (was, now)]
            if figures[0] != figures[1]:
                yield f"`{where}`: figures {' -> '.join(', '.join(one) or 'none' for one in figures)}"
        else:
            yield f"`{where}`: {_short(was)} -> {_short(now)}" if where else f"{_short(was)} -> {_short(now)}"


def _inside(value: Any) -> Any:
    """Keys and values as authors write them, of a shape or a street's part; lists as lists."""
    if isinstance(value, BaseModel):
        names = {name: field.alias or name for name, field in type(value).model_fields.items()}
        return {names[name]: inner for name, inner in value}
    if is_dataclass(value) and not isinstance(value, type):
        return {field.name: getattr(value, field.name) for field in fields(value)}
    if isinstance(value, Mapping):
        return dict(value)
    return list(value) if isinstance(value, tuple | list) else value


def _holds_parts(values: list[Any]) -> bool:
    """Whether a list holds parts with keys of their own, and not words or figures."""
    return any(isinstance(_inside(value), dict) for value in values)


def _beside(was: list[Any], now: list[Any]) -> Iterator[tuple[int, Any, Any]]:
    """Entries of two lists that are not alike, those that took the place of each other together."""
    one, other = [[repr(value) for value in values] for values in (was, now)]
    for how, i, i_end, j, j_end in SequenceMatcher(None, one, other, autojunk=False).get_opcodes():
        if how != "equal":
            for step, pair in enumerate(zip_longest(was[i:i_end], now[j:j_end])):
                yield (i if i_end - i > j_end - j else j) + step, *pair


def _short(value: Any) -> str:
    inside = _inside(value)
    if inside in (None, [], {}):
        return "nothing"
    match inside:
        case bool():
            return "yes" if inside else "no"
        case float() | int():
            return f"{inside:g}"
        case str():
            return shown(inside)
        case list():
            return shown(", ".join(_bare(entry) for entry in inside))
    return shown(_bare(inside))


def _bare(value: Any) -> str:
    """A part in one line, without what it does not say."""
    inside = _inside(value)
    if isinstance(inside, dict):
        said = {key: inner for key, inner in inside.items() if inner not in (None, (), [], False)}
        return ", ".join(f"{key} {_bare(inner)}" for key, inner in said.items())
    if isinstance(inside, list):
        return ", ".join(map(_bare, inside))
    return f"{inside:g}" if isinstance(inside, float) else str(inside)
