"""YAML text -> plain data, with the place of every value.

Every scalar stays the text that was written: `no`, `on`, `12:30` and a bare `12` mean what they say, and
the shape that expects a number, a date or a flag makes one of it. What YAML offers beyond mappings, lists,
text and anchors (tags, merge keys, several documents) is refused, and so is whatever could make a small
file large or deep. Nothing in a file raises: each fault is a finding.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

import yaml

from build_tools.findings import Finding, Place, few, shown

__all__ = ["Data", "Source", "read"]

Data: TypeAlias = "dict[str, Data] | list[Data] | str | None"

MOST_BYTES = 1 << 20
MOST_VALUES = 100_000  # counted as they stand once every alias is written out
DEEPEST = 30
MOST_TOLD = 20

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_UNPRINTABLE = re.compile("[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]")
_LINE_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")


@dataclass(slots=True)
class _Node:
    """One value while it is read: where it stands, its children by key, and how large and deep it is."""

    place: Place
    data: Data = None
    children: dict[str | int, _Node] = field(default_factory=dict)
    keys: dict[str, Place] = field(default_factory=dict)
    values: int = 1
    height: int = 0
    open: bool = True
    key: str | None = None  # the latest key; None when it was refused, and its value is dropped
    awaits_value: bool = False


@dataclass(frozen=True)
class Source:
    """One file as it was written. `data` is None when nothing could be read of it."""

    file: str
    data: Data
    findings: tuple[Finding, ...] = ()
    _root: _Node | None = field(default=None, repr=False, compare=False)

    def value(self, path: tuple[str | int, ...]) -> Data:
        """What stands at `path`; None where nothing does."""
        node = self._root
        for step in path:
            node = node.children.get(step) if node else None
        return node.data if node else None

    def place(self, path: tuple[str | int, ...] = (), *, key: bool = False) -> Place:
        """Where the value at `path` stands, or its key; list positions count from 0.

        A path that leads further than the file does gives the nearest enclosing value.
        """
        node = self._root
        if node is None:
            return Place(self.file, 1, 1)
        for depth, step in enumerate(path):
            if step not in node.children:
                return node.place
            if key and depth == len(path) - 1 and isinstance(step, str):
                return node.keys[step]
            node = node.children[step]
        return node.place


class _Unreadable(Exception):
    """Nothing more can be read of this file; holds the finding that says why."""

    def __init__(self, finding: Finding) -> None:
        self.finding = finding


def read(path: Path | str) -> Source:
    """The file's data with the place of every value. Never raises for what the file holds."""
    file = as_given(Path(path))
    composer = _Composer(file)
    try:
        return composer.compose(_text(Path(path), file))
    except _Unreadable as end:
        return Source(file, None, (*composer.findings, end.finding))


def as_given(path: Path) -> str:
    return str(path.relative_to(Path.cwd())) if path.is_relative_to(Path.cwd()) else str(path)


def _text(path: Path, file: str) -> str:
    start = Place(file, 1, 1)
    try:
        with path.open("rb") as stream:
            raw = stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise _Unreadable(Finding("missing-file", start, "there is no such file", mend="write it")) from None
    except OSError as error:
        what = f"the file cannot be read: {error.strerror}"
        raise _Unreadable(Finding("unreadable", start, what, mend="check its name and its rights")) from None
    if len(raw) > MOST_BYTES:
        raise _Unreadable(
            Finding(
                "too-large",
                start,
                "the file is larger than 1 MiB",
                expected="a file that a person can review",
                mend="split it into smaller files",
            )
        )
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8-sig", errors="replace")
        raise _Unreadable(
            Finding(
                "not-utf-8",
                _place_after(file, before),
                f"the byte 0x{raw[error.start]:02x} is not UTF-8 text",
                expected="text in UTF-8, so that it reads the same on every machine",
                mend="save the file again with the encoding set to UTF-8",
            )
        ) from None
    if odd := _UNPRINTABLE.search(text):
        name = "a NUL" if odd.group() == "\0" else f"the control character U+{ord(odd.group()):04X}"
        raise _Unreadable(
            Finding(
                "control-character",
                _place_after(file, text[: odd.start()]),
                f"{name} stands in the text",
                expected="characters that can be seen",
                mend="delete it",
            )
        )
    return text


def _place_of(mark: Any, file: str) -> Place:
    return Place(file, mark.line + 1, mark.column + 1) if mark else Place(file, 1, 1)


def _place_after(file: str, before: str) -> Place:
    lines = _LINE_BREAK.split(before)
    return Place(file, len(lines), len(lines[-1]) + 1)


class _Composer:
    """Builds the values from the parser's events, without recursion, so that depth costs nothing."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.findings: list[Finding] = []
        self.stack: list[_Node] = []
        self.anchors: dict[str, _Node] = {}
        self.root: _Node | None = None
        self.values = 0

    def compose(self, text: str) -> Source:
        for event in self._events(text):
            self._take(event)
        if self.root is None or (self.root.data is None and not self.findings):
            self._found(
                "empty", Place(self.file, 1, 1), "there is nothing in this file", "", "write it, or delete it"
            )
        root = self.root
        findings = few(self.findings, Place(self.file, 1, 1))
        return Source(self.file, root.data if root else None, tuple(findings), root)

    def _events(self, text: str) -> Iterator[yaml.Event]:
        try:
            yield from yaml.parse(text, Loader=_LOADER)
        except yaml.MarkedYAMLError as error:
            raise _Unreadable(_told_plainly(error, self.file, text)) from None
        except yaml.YAMLError as error:
            raise _Unreadable(Finding("yaml", Place(self.file, 1, 1), f"this is not YAML: {error}")) from None

    def _found(self, check: str, place: Place, what: str, expected: str, mend: str) -> None:
        if len(self.findings) <= MOST_TOLD:
            self.findings.append(Finding(check, place, what, self._path(), expected, mend))

    def _path(self) -> tuple[str, ...]:
        """The keys of every mapping and list that is open, as an author would say them."""
        steps = (str(len(node.children)) if isinstance(node.data, list) else node.key for node in self.stack)
        return tuple(step for step in steps if step is not None)

    def _place(self, event: yaml.Event) -> Place:
        return _place_of(event.start_mark, self.file)

    def _take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.DocumentStartEvent) and self.root is not None:
            self._refuse_second_document(self._place(event))
        elif isinstance(event, yaml.AliasEvent):
            self._alias(event)
        elif isinstance(event, yaml.ScalarEvent):
            written: str = event.value
            empty = event.implicit[0] and written in ("", "~")
            self._add(_Node(self._place(event), None if empty else written, open=False), event.anchor)
            self._refuse_tag(event)
            self._refuse_escaped_control(written, self._place(event))
        elif isinstance(event, yaml.CollectionStartEvent):
            node = _Node(self._place(event), {} if isinstance(event, yaml.MappingStartEvent) else [])
            self._add(node, event.anchor)
            self._refuse_tag(event)
            self.stack.append(node)
        elif isinstance(event, yaml.CollectionEndEvent):
            self._close()

    def _add(self, node: _Node, anchor: str | None = None) -> None:
        """Put a value where it belongs: at the root, in a list, as a key, or under the key before it."""
        if anchor is not None:
            self.anchors[anchor] = node
        self._bound(node)
        if not self.stack:
            self.root = node
            return
        parent = self.stack[-1]
        if isinstance(parent.data, list):
            parent.children[len(parent.data)] = node
            parent.data.append(node.data)
        elif isinstance(parent.data, dict) and parent.awaits_value:
            parent.awaits_value = False
            if parent.key is not None:
                parent.children[parent.key] = node
                parent.data[parent.key] = node.data
        else:
            parent.awaits_value = True
            parent.key = self._key(parent, node)

    def _key(self, parent: _Node, key: _Node) -> str | None:
        """The key as it will be used, or None for one that is refused."""
        name = key.data
        parent.key = None
        if not isinstance(name, str):
            what = "a list or mapping stands as a key" if key.open else "a key is missing before the colon"
            raise _Unreadable(
                Finding(
                    "key", key.place, what, self._path(), "a word as the key", "write a name before the colon"
                )
            )
        if name == "<<":
            self._found(
                "merge-key",
                key.place,
                "`<<` would merge another mapping into this one",
                "every key written out, so that a reviewer sees what holds",
                "write the keys here, or use an alias for a whole value",
            )
            return None
        if name in parent.keys:
            self._found(
                "duplicate-key",
                key.place,
                f"{shown(name)} is written twice; the first is on line {parent.keys[name].line}",
                "each key once: only one of the two could count",
                "keep one of them",
            )
            return None
        parent.keys[name] = key.place
        return name

    def _close(self) -> None:
        node = self.stack.pop()
        node.open = False
        for child in node.children.values():
            node.values += child.values
            node.height = max(node.height, child.height + 1)

    def _alias(self, event: yaml.AliasEvent) -> None:
        place, target = self._place(event), self.anchors.get(event.anchor or "")
        if target is None:
            raise _Unreadable(
                Finding(
                    "unknown-alias",
                    place,
                    f"`*{event.anchor}` repeats a value that has no name yet",
                    self._path(),
                    f"`&{event.anchor}` before the value it stands for, higher up in this file",
                    "put quotes round the text if the star is part of it",
                )
            )
        if target.open:
            raise _Unreadable(
                Finding(
                    "alias-cycle",
                    place,
                    f"`*{event.anchor}` stands inside the value that it repeats",
                    self._path(),
                    f"a value that ends; the one named on line {target.place.line} would go round for ever",
                    "write out the part that is meant",
                )
            )
        self._add(target)

    def _bound(self, node: _Node) -> None:
        """Refuse a file that is deeper or larger than any guide, aliases written out."""
        if len(self.stack) + node.height > DEEPEST:
            raise _Unreadable(_too_deep(node.place))
        self.values += node.values
        if self.values > MOST_VALUES:
            raise _Unreadable(
                Finding(
                    "too-many-values",
                    node.place,
                    f"the file holds more than {MOST_VALUES:,} values once its aliases are written out",
                    (),
                    "a file that a person can review",
                    "split it, and use an alias for one small value at a time",
                )
            )

    def _refuse_tag(self, event: yaml.ScalarEvent | yaml.CollectionStartEvent) -> None:
        if event.tag is not None:
            self._found(
                "tag",
                self._place(event),
                f"the tag {shown(event.tag)} is not used in a guide",
                "plain text, lists and mappings; what a value means follows from where it stands",
                "delete the tag, or put quotes round the text if the mark is part of it",
            )

    def _refuse_escaped_control(self, written: str, place: Place) -> None:
        if odd := _UNPRINTABLE.search(written):
            self._found(
                "control-character",
                place,
                f"an escape in this text makes the control character U+{ord(odd.group()):04X}",
                "characters that can be seen",
                "delete the escape",
            )

    def _refuse_second_document(self, place: Place) -> None:
        raise _Unreadable(
            Finding(
                "second-document",
                place,
                "`---` starts a second document",
                expected="one document in a file",
                mend="put the rest into a file of its own",
            )
        )


def _too_deep(place: Place) -> Finding:
    return Finding(
        "too-deep",
        place,
        f"lists and mappings are nested more than {DEEPEST} deep",
        expected="at most eight or so: no part of a guide is deeper",
        mend="look for brackets that are opened and never closed",
    )


def _told_plainly(error: yaml.MarkedYAMLError, file: str, text: str) -> Finding:
    """The parser's complaint, in an author's words."""
    place = _place_of(error.problem_mark or error.context_mark, file)
    opened = _place_of(error.context_mark, file)
    problem, context = error.problem or "", error.context or ""
    if "nesting depth" in problem:
        return _too_deep(place)
    if "quoted scalar" in context and "end of stream" in problem:
        return Finding(
            "unclosed-quote",
            opened,
            "the quotation mark that opens here is never closed",
            expected="a second one at the end of the text",
            mend="close it; inside single quotes write an apostrophe twice",
        )
    lines = _LINE_BREAK.split(text)
    at = lines[place.line - 1][place.column - 1 : place.column] if place.line <= len(lines) else ""
    if at == "\t" or "tab character" in problem:
        return Finding(
            "tab",
            place,
            "a tab stands where the line is indented",
            expected="spaces: how wide a tab is depends on the editor",
            mend="replace the tab by spaces",
        )
    expected, mend = _HINTS.get(problem, ("", ""))
    if not expected and "did not find expected ',' or" in problem:
        expected = f"a comma, or the bracket that closes the one on line {opened.line}"
        mend = "close the bracket, or put quotes round a text that holds a comma or a bracket"
    if "cannot start any token" in problem:
        problem = f"a text cannot start with {shown(at)}"
    return Finding("yaml", place, f"this cannot be read: {problem}", expected=expected, mend=mend)


_HINTS = {
    "mapping values are not allowed in this context": (
        "one key and one value on a line",
        "put quotes round a text that holds a colon and a space, and line up the keys",
    ),
    "did not find expected key": (
        "a key here, lined up with the keys above",
        "check the indentation and the quotation marks of this line and the one before",
    ),
    "did not find expected '-' indicator": (
        "a dash here, lined up with the dashes above",
        "check the indentation of this line",
    ),
    "block sequence entries are not allowed in this context": (
        "the list on a line of its own",
        "start a new line before the dash",
    ),
    "found character that cannot start any token": (
        "letters, digits, a dash or a quotation mark",
        "put quotes round the text",
    ),
}
