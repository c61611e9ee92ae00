"""YAML of the shipped guide, broken line by line as hands break it; and YAML as an editor reads it."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import yaml
from hypothesis import strategies as st

ODD_SCALARS = (
    "", "~", "no", "true", "0", "-1", "-0.0", "1e999", "1e300", "1e-300", "9" * 400, "0x1F", "1_000", ".inf",
    ".nan", "12:30", "2027-02-30", "''", '"', "'", "[", "{", "]", "}", "[]", "{}", "- x", "? x", "a: b",
    "&a x", "*a", "&a [*a]", "!!python/object x", "!x y", "|", ">", "%", "@", "`", "<<", "\t", "\\0",
    '"\\0"', '"\\ud800"',
    "\N{ZERO WIDTH SPACE}", "\N{LINE SEPARATOR}", "é" * 300, "../..", "[[", "[[]]", "{{", "<b>",
)  # fmt: skip
"""What may stand where a value should."""

_VALUE = re.compile(r"^(\s*(?:- )?[\w.-]+:)\s+(\S.*)$")
_FLOW_VALUE = re.compile(r"(?<=: )[^,{}\[\]]+(?=[,}\]])")

Lines = list[str]
Draw = Callable[[st.SearchStrategy[Any]], Any]


def _drop(draw: Draw, lines: Lines, at: int) -> None:
    del lines[at : at + draw(st.integers(1, 4))]


def _double(draw: Draw, lines: Lines, at: int) -> None:
    lines[at:at] = lines[at : at + draw(st.integers(1, 6))]


def _move(draw: Draw, lines: Lines, at: int) -> None:
    lines.insert(draw(st.integers(0, len(lines) - 1)), lines.pop(at))


def _indent(draw: Draw, lines: Lines, at: int) -> None:
    by = draw(st.sampled_from((-4, -2, -1, 1, 2, 4, 60)))
    lines[at] = " " * by + lines[at] if by > 0 else lines[at].removeprefix(" " * -by)


def _spoil_value(draw: Draw, lines: Lines, at: int) -> None:
    """Another value after the key, an odd one or one from elsewhere in the file."""
    others = [found[2] for line in lines if (found := _VALUE.match(line))] or ["x"]
    value = draw(st.sampled_from(ODD_SCALARS) | st.sampled_from(others))
    if found := _VALUE.match(lines[at]):
        lines[at] = f"{found[1]} {value}"
    else:
        lines[at] = _FLOW_VALUE.sub(lambda _: value, lines[at], count=1)


def _spoil_figure(draw: Draw, lines: Lines, at: int) -> None:
    """Another figure for the first one from here on: a slip by a thousand, or a size that nothing has."""
    figure = draw(st.sampled_from(("0", "-3", "1e300", "1e-300", "1e9", "0.0005", "9" * 30, "5000")))
    for i in range(at, len(lines)):
        if re.search(r"\d", lines[i]):
            lines[i] = re.sub(r"\d+(\.\d+)?", figure, lines[i], count=1)
            return


def _spoil_key(draw: Draw, lines: Lines, at: int) -> None:
    key = draw(
        st.sampled_from(("go", "nodes", "is", "titel", "<<", "1", "", "&a k", "*a", "? k", "call", "back"))
    )
    lines[at] = re.sub(r"[\w.-]+:", f"{key}:", lines[at], count=1)


def _put_in(draw: Draw, lines: Lines, at: int) -> None:
    """A character that opens something, anywhere in the line."""
    column = draw(st.integers(0, len(lines[at])))
    mark = draw(
        st.sampled_from(("'", '"', "[", "]", "{", "}", "#", ":", ": ", "&a ", "*a", "\t", "\0", "- ", "|"))
    )
    lines[at] = lines[at][:column] + mark + lines[at][column:]


def _cut(draw: Draw, lines: Lines, at: int) -> None:
    lines[at:] = [lines[at][: draw(st.integers(0, len(lines[at])))]]


def _repeat_by_alias(draw: Draw, lines: Lines, at: int) -> None:
    """Name a value, and put it in a second place."""
    if found := _VALUE.match(lines[at]):
        lines[at] = f"{found[1]} &named {found[2]}"
    other = draw(st.integers(0, len(lines) - 1))
    if other != at and (found := _VALUE.match(lines[other])):
        lines[other] = f"{found[1]} *named"


_WAYS = (
    _drop, _double, _move, _indent, _spoil_value, _spoil_value, _spoil_figure, _spoil_figure, _spoil_key,
    _put_in, _cut, _repeat_by_alias,
)  # fmt: skip


@st.composite
def broken(draw: Draw, text: str) -> str:
    """`text` with one to three things done to it."""
    lines = text.split("\n")
    for _ in range(draw(st.integers(1, 3))):
        draw(st.sampled_from(_WAYS))(draw, lines, draw(st.integers(0, len(lines) - 1)))
        lines = lines or [""]
    return "\n".join(lines)


class _EditorLoader(yaml.CSafeLoader):
    """The core schema of YAML 1.2 (yaml.org/spec/1.2.2, 10.3), by which editors tell values apart."""


_EditorLoader.yaml_implicit_resolvers = {}
for _tag, _pattern, _first in (
    ("null", r"~|null|Null|NULL|", [*"~nN", ""]),
    ("bool", r"true|True|TRUE|false|False|FALSE", list("tTfF")),
    ("int", r"[-+]?[0-9]+|0o[0-7]+|0x[0-9a-fA-F]+", list("-+0123456789")),
    ("float", r"[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?|[-+]?\.inf|\.nan", list("-+.0123456789")),
):
    _EditorLoader.add_implicit_resolver(f"tag:yaml.org,2002:{_tag}", re.compile(f"^(?:{_pattern})$"), _first)
_EditorLoader.add_constructor(
    "tag:yaml.org,2002:int",
    lambda loader, node: int(loader.construct_scalar(node), 0 if "x" in node.value else 10),
)


def as_an_editor_reads(text: str) -> Any:
    """The value of a YAML text, its keys made text as JSON has them. Raises yaml.YAMLError."""
    return _with_text_keys(yaml.load(text, Loader=_EditorLoader))


def _with_text_keys(value: Any) -> Any:
    if isinstance(value, dict):
        return {key if isinstance(key, str) else f"{key}": _with_text_keys(one) for key, one in value.items()}
    return [_with_text_keys(one) for one in value] if isinstance(value, list) else value
