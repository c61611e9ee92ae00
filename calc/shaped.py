"""Plain data, as JSON holds it, made into frozen dataclasses, and back: for streets on their way to a reader,
and for those that come from one.

The types of a class's fields say what is expected. What has its default may be left out.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from functools import cache
from types import UnionType
from typing import Any, Literal, TypeVar, Union, get_args, get_origin, get_type_hints

__all__ = ["plain", "shaped"]

_T = TypeVar("_T")
LARGEST = 1e9
"""No figure of a street is larger, whatever its unit."""


def shaped(kind: type[_T], data: Any, name: str = "it") -> _T:
    """`data` as a `kind`: a dataclass whose fields are dataclasses, tuples, dicts with text keys, text,
    numbers, literals or one of these or None.

    Raises ValueError, with the name of what does not fit.
    """
    return _made(kind, data, name)  # type: ignore[no-any-return]


def plain(value: Any) -> Any:
    """The data that `shaped` makes the same value from, without what has its default."""
    if is_dataclass(value):
        return {
            field.name: plain(getattr(value, field.name))
            for field in fields(value)
            if not _is_default(field, getattr(value, field.name))
        }
    if isinstance(value, Mapping):
        return {key: plain(inner) for key, inner in value.items()}
    return [plain(inner) for inner in value] if isinstance(value, tuple) else value


def _is_default(field: Any, value: Any) -> bool:
    if field.default is not MISSING:
        return bool(field.default == value)
    return field.default_factory is not MISSING and bool(field.default_factory() == value)


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind)


def _made(kind: Any, data: Any, name: str) -> Any:
    origin, inner = get_origin(kind), get_args(kind)
    if is_dataclass(kind):
        return _record(kind, data, name)
    if origin is Literal:
        return _is(data in inner, data, name, f"one of {', '.join(map(str, inner))}")
    if origin in (Union, UnionType):
        (one,) = (each for each in inner if each is not type(None))
        return None if data is None else _made(one, data, name)
    if origin is tuple:
        _is(isinstance(data, list | tuple), data, name, "a list")
        if inner[-1] is not Ellipsis:
            _is(len(data) == len(inner), data, name, f"a list of {len(inner)}")
        kinds = inner if inner[-1] is not Ellipsis else inner[:1] * len(data)
        return tuple(_made(each, value, name) for each, value in zip(kinds, data, strict=True))
    if origin is dict:
        _is(isinstance(data, dict), data, name, "names with values")
        return {key: _made(inner[1], value, f"{name} {key}") for key, value in data.items()}
    if kind is float:
        number = isinstance(data, int | float) and not isinstance(data, bool)
        _is(number and abs(data) <= LARGEST, data, name, "a number")
        return float(data)
    return _is(type(data) is kind, data, name, {str: "text", int: "a whole number"}.get(kind, str(kind)))


def _record(kind: Any, data: Any, name: str) -> Any:
    _is(isinstance(data, dict), data, name, "names with values")
    hints = _hints(kind)
    known = {field.name: hints[field.name] for field in fields(kind)}
    if odd := sorted(data.keys() - known.keys()):
        raise ValueError(f"{name}: nothing is called {odd[0][:24]!r} there")
    values = {key: _made(known[key], value, key) for key, value in data.items()}
    try:
        return kind(**values)
    except TypeError:
        needed = [f.name for f in fields(kind) if f.default is MISSING and f.default_factory is MISSING]
        raise ValueError(f"{name} must also have {', '.join(sorted({*needed} - data.keys()))}") from None


def _is(fits: bool, data: Any, name: str, expected: str) -> Any:
    if not fits:
        raise ValueError(f"{name} must be {expected}, not {str(data)[:24]!r}")
    return data
