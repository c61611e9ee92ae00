"""Whether what an author wrote has the shape it should have; each misfit placed at the value itself."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from functools import cache
from types import UnionType
from typing import Annotated, Any, Union, get_args, get_origin, get_type_hints

from pydantic import BaseModel, Tag, TypeAdapter, ValidationError

from build_tools.guide.findings import Demand, Finding, few, nearest, nearest_names, shown
from build_tools.guide.models import KINDS, NUMBER, tag
from build_tools.guide.source import Data, Source

__all__ = ["conform"]

Loc = tuple[str | int, ...]

_SMALLEST, _LARGEST = 1e-6, 1e9
"""What figures of a dataclass lie between, in whatever unit, unless they are 0: others overflow a circuit."""

_TAGS = {tag(kind): kind for kind in KINDS}


def conform(shape: Any, source: Source, names: Mapping[str, str] | None = None) -> tuple[Any, list[Finding]]:
    """The value that `source` makes, or None and what must be mended first.

    `shape` is anything pydantic can check: a model, a frozen dataclass, `dict[Id, Term]`. `names`: what
    stands for `{...}` in its texts; None leaves them as they are.
    """
    try:
        value = _adapter(shape).validate_python(source.data, context=names)
    except ValidationError as error:
        misfits = (misfit for misfit in error.errors(include_url=False) if not _is_echo(misfit))
        findings = few((_finding(shape, source, misfit) for misfit in misfits), source.place())
        return None, _without_echoes(findings)
    findings = few(_loose_scalars(value, source, ()), source.place())
    return (None, findings) if findings else (value, [])


@cache
def _adapter(shape: Any) -> TypeAdapter[Any]:
    return TypeAdapter(shape)


SHAPE = Demand(
    "shape", "a value of the kind that the field holds", "write it as the field's entry in the reference says"
)


def _finding(shape: Any, source: Source, misfit: Mapping[str, Any]) -> Finding:
    """One of pydantic's errors in an author's words."""
    loc: Loc = misfit["loc"]
    path = _written_path(source.data, loc)
    kind: str = misfit["type"]
    if kind == "missing":
        return _missing(source, path, str(loc[-1]))
    if kind in ("extra_forbidden", "unexpected_keyword_argument"):
        return _unknown_key(source, path, [step for step in loc if step in _TAGS], _known_keys(shape, loc))
    if kind == "node-kind":
        return _no_kind(source, path, misfit["input"])
    if loc and loc[-1] == "[key]":
        return _unfit_key(source, path, misfit)
    if kind == "not-the-operators":
        return _unknown_of_operator(source, path, misfit["ctx"])
    if kind == "value_error":
        return _refused_at_birth(source, path, misfit)
    written = source.value(path)
    expected, mend = _wanted(kind, misfit.get("ctx", {}), written)
    what = f"{path[-1]} is {_described(written)}" if path else f"the file is {_described(written)}"
    if isinstance(path[-1] if path else None, int):
        what = f"this entry is {_described(written)}"
    return SHAPE.found(source.place(path), what, told(path), expected, mend)


def told(path: Loc) -> tuple[str, ...]:
    """A path as authors count: list positions from 1."""
    return tuple(str(step + 1) if isinstance(step, int) else step for step in path)


def _written_path(data: Data, loc: Loc) -> Loc:
    """The steps of pydantic's location that the author wrote; union tags and the like are left out."""
    path: list[str | int] = []
    for step in loc:
        inside: Any = (
            data if isinstance(data, dict) else dict(enumerate(data)) if isinstance(data, list) else {}
        )
        if step in inside and step not in _TAGS:
            data = inside[step]
            path.append(step)
    return tuple(path)


MISSING_KEY = Demand("missing-key", "every key that is needed", "add it")


def _missing(source: Source, path: Loc, name: str) -> Finding:
    return MISSING_KEY.found(
        source.place(path, key=True),
        f"`{name}` is missing",
        (*told(path), name),
        f"`{name}` among the keys of {'this part' if path else 'the file'}",
        f"add `{name}:`",
    )


UNKNOWN_KEY = Demand("unknown-key", "keys that are known here", "correct the spelling, or delete the key")
TWO_KINDS = Demand(
    "two-kinds",
    "one thing at a time: whoever follows the guide does one, then the next",
    "make two nodes of it, and let `go` lead from one to the other, or delete one of the keys",
)


def _unknown_key(source: Source, path: Loc, tags: list[str | int], known: list[str]) -> Finding:
    name = str(path[-1]) if path else ""
    if tags and name in KINDS:
        kind = _TAGS[str(tags[-1])]
        return TWO_KINDS.found(
            source.place(path, key=True),
            f"this node is a {kind} and a {name}",
            told(path),
            mend=f"make two nodes of it, and let `go` lead from one to the other, or delete `{name}`",
        )
    return UNKNOWN_KEY.found(
        source.place(path, key=True),
        f"the key {shown(name)} is not known here{nearest(name, known)}",
        told(path),
        f"one of: {', '.join(known)}" if known else "no further key",
    )


NODE_KIND = Demand(
    "node-kind",
    "a key that says what kind of node it is: what to ask, read, do or conclude, or which tree to go through",
    "add the one that is meant",
)


def _no_kind(source: Source, path: Loc, written: object) -> Finding:
    if not isinstance(written, dict):
        what, near = f"this node is {_described(written)}", ""
    else:
        near = next((nearest(key, KINDS) for key in written if nearest_names(key, KINDS)), "")
        what = f"nothing says what kind of node this is{near}"
    return NODE_KIND.found(
        source.place(path, key=True),
        what,
        told(path),
        f"one of the keys {', '.join(KINDS)}, which says what to ask, read, do or conclude",
    )


NAME = Demand(
    "name",
    "small letters, digits and hyphens, a letter or digit first, at most 80: names become addresses of pages",
    "change the name, and wherever it is used",
)


def _unfit_key(source: Source, path: Loc, misfit: Mapping[str, Any]) -> Finding:
    expected, mend = _wanted(misfit["type"], misfit.get("ctx", {}), misfit["input"])
    what = f"the name {shown(misfit['input'])} does not fit"
    return NAME.found(source.place(path, key=True), what, told(path), expected, mend)


NOT_THE_OPERATORS = Demand(
    "not-the-operators",
    "a name of operator.yaml between the braces",
    "correct the name, or give it there: to a number by `called`, to a local rule under `rules`",
)


def _unknown_of_operator(source: Source, path: Loc, context: Mapping[str, Any]) -> Finding:
    name, known = context["name"], context["known"]
    return NOT_THE_OPERATORS.found(
        source.place(path),
        f"{{{name}}} names nothing of operator.yaml{nearest(name, known)}",
        told(path),
        f"one of: {', '.join(f'{{{one}}}' for one in known)}",
    )


VALUE = Demand("value", "values that go together", "correct the value")


def _refused_at_birth(source: Source, path: Loc, misfit: Mapping[str, Any]) -> Finding:
    """A ValueError of the shape itself, placed at what its words speak of."""
    words = str(misfit["ctx"]["error"])
    at = _spoken_of(source, path, re.findall(r"[\w.-]+", words))
    return VALUE.found(source.place(at), words, told(at), "")


def _spoken_of(source: Source, path: Loc, words: list[str]) -> Loc:
    """The keys that a message begins with (`metres must be ...`), else the figure that it quotes."""
    at = path
    for word in words[:6]:
        at = _written_path(source.data, (*at, word))
    inside = source.value(path)
    if at == path and isinstance(inside, dict):
        figures = {float(word) for word in words if NUMBER.fullmatch(word)}
        for key, written in inside.items():
            if isinstance(written, str) and NUMBER.fullmatch(written) and float(written) in figures:
                return (*path, key)
    return at


def _wanted(kind: str, context: Mapping[str, Any], written: object) -> tuple[str, str]:
    """What would fit, and how to mend it."""
    if kind in ("literal_error", "not-one-of"):
        known = context.get("known") or re.findall(r"'([^']*)'", context["expected"])
        near = (
            [_RENAMED[str(written)]]
            if _RENAMED.get(str(written)) in known
            else nearest_names(str(written), known)
        )
        mend = f"did you mean {' or '.join(f'`{name}`' for name in near)}?" if near else "write one of these"
        return f"one of: {', '.join(known)}", mend
    if kind in _BOUNDS:
        return f"{_BOUNDS[kind]} {next(iter(context.values())):g}", "correct the figure"
    return _WANTED.get(kind, ("something else", "see the description of this file"))


_RENAMED = {"none": "unsettled"}
"""Names that there were once -> what they are called now."""

_BOUNDS = {
    "greater_than": "a number above",
    "greater_than_equal": "a number that is at least",
    "less_than": "a number below",
    "less_than_equal": "a number that is at most",
}
_LIST = ("a list", "write each entry on a line of its own after a dash, or all of them in [ ]")
_MAPPING = ("keys with values", "write `key: value` on lines of their own")
_FIGURE = ("a number in digits, such as 0.5", "write it so")
_SWITCH = ("`true` or `false`", "write it so")
_DAY = ("a day of the calendar as year-month-day, such as 2027-06-01", "write it so")
_WHOLE = ("a whole number", "write it in digits")
_WANTED = {
    "number": _FIGURE,
    "huge-number": ("a number of a size that can be measured", "correct the figure"),
    "colour": (
        'a colour in six hex digits, such as "#2b4a66"',
        "write it so, between quotes: # begins a note",
    ),
    "flag": _SWITCH,
    "day": _DAY,
    "one-line": ("words on one line, without a tab or another control character", "write them on one line"),
    "string_type": ("a text", "write the text after the colon"),
    "string_too_short": ("a text", "write the text, or delete the key"),
    "string_too_long": ("at most 80 letters", "make it shorter"),
    "string_pattern_mismatch": (
        "small letters, digits and hyphens, a letter or digit first: names become addresses of pages",
        "change the name, and wherever it is used",
    ),
    "tuple_type": _LIST,
    "list_type": _LIST,
    "dict_type": _MAPPING,
    "model_type": _MAPPING,
    "dataclass_type": _MAPPING,
    "too_short": ("at least one entry", "add one"),
    "too_long": ("fewer entries", "delete what is too many"),
    "float_type": _FIGURE,
    "float_parsing": _FIGURE,
    "finite_number": _FIGURE,
    "int_type": _WHOLE,
    "int_parsing": _WHOLE,
    "int_from_float": _WHOLE,
    "int_parsing_size": _WHOLE,
    "bool_type": _SWITCH,
    "bool_parsing": _SWITCH,
    "date_type": _DAY,
}


def _described(written: object) -> str:
    if written is None:
        return "empty"
    if isinstance(written, dict | list):
        kind = "list" if isinstance(written, list) else "set of keys"
        return f"a {kind}" if written else f"an empty {kind}"
    return shown(written) if written != "" else "an empty text"


def _is_echo(misfit: Mapping[str, Any]) -> bool:
    """A list is `too short` for pydantic when all that stands in it is unfit, which is told already."""
    return misfit["type"] == "too_short" and len(misfit["input"]) > 0


def _without_echoes(findings: list[Finding]) -> list[Finding]:
    """A misspelt key is one fault: the key that is missing because of it is not told a second time."""
    meant = {
        (*finding.path[:-1], name)
        for finding in findings
        if finding.check == "unknown-key"
        for name in nearest_names(
            finding.path[-1], [f.path[-1] for f in findings if f.check == "missing-key"]
        )[:1]
    }
    return [f for f in findings if f.check != "missing-key" or f.path not in meant]


def _known_keys(shape: Any, loc: Loc) -> list[str]:
    """The keys that the shape knows where pydantic found an unknown one."""
    inside = [shape]
    for step in loc[:-1]:
        inside = [deeper for one in inside for deeper in _inside(one, step)]
    return [key for one in inside for key in _fields(one)]


def _inside(shape: Any, step: str | int) -> Iterator[Any]:
    """The shapes that one step of a location leads to."""
    origin, arguments = get_origin(shape), get_args(shape)
    if origin is Annotated:
        if step in _TAGS and Tag(str(step)) in arguments[1:]:
            yield arguments[0]
        elif not any(isinstance(mark, Tag) for mark in arguments[1:]):
            yield from _inside(arguments[0], step)
    elif origin in (Union, UnionType):
        for one in arguments:
            yield from _inside(one, step)
    elif origin is dict:
        yield from _choices(arguments[1])
    elif origin in (tuple, list):
        yield from _choices(arguments[0])
    elif step in (fields := _fields(shape)):
        yield from _choices(fields[str(step)])


def _choices(shape: Any) -> list[Any]:
    return list(get_args(shape)) if get_origin(shape) in (Union, UnionType) else [shape]


def _fields(shape: Any) -> dict[str, Any]:
    """Key -> shape of its value, for a model or a dataclass; nothing for anything else."""
    if get_origin(shape) is not None or not isinstance(shape, type):
        return {}
    if issubclass(shape, BaseModel):
        return {field.alias or name: field.annotation for name, field in shape.model_fields.items()}
    if dataclasses.is_dataclass(shape):
        hints = get_type_hints(shape, include_extras=True)
        return {field.name: hints[field.name] for field in dataclasses.fields(shape)}
    return {}


def _loose_scalars(value: Any, source: Source, path: Loc) -> Iterator[Finding]:
    """Figures and flags of a dataclass that were read from something laxer than a guide allows.

    Dataclasses of `calc` know nothing of text, so pydantic converts for them, and takes `nan`, `1_000`
    and `yes`. Here what was written is held against what it became, and against what can be measured.
    """
    if dataclasses.is_dataclass(value):
        for field in dataclasses.fields(value):
            yield from _loose_scalars(getattr(value, field.name), source, (*path, field.name))
    elif isinstance(value, dict):
        for key, inner in value.items():
            yield from _loose_scalars(inner, source, (*path, key))
    elif isinstance(value, tuple):
        for position, inner in enumerate(value):
            yield from _loose_scalars(inner, source, (*path, position))
    elif isinstance(value, bool | int | float) and isinstance(written := source.value(path), str):
        kind = "flag" if isinstance(value, bool) else "number"
        fits = written in ("true", "false") if kind == "flag" else NUMBER.fullmatch(written)
        if fits and kind == "number" and value and not _SMALLEST <= abs(value) <= _LARGEST:
            kind, fits = "huge-number", None
        if not fits:
            expected, mend = _wanted(kind, {}, written)
            what = f"{path[-1]} is {_described(written)}"
            yield SHAPE.found(source.place(path), what, told(path), expected, mend)
