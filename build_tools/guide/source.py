"""YAML text -> plain data, with the place of every value.

Every scalar stays the text that was written: `no`, `on`, `12:30` and a bare `12` mean what they say, and
the shape that expects a number, a date or a flag makes one of it. What YAML offers beyond mappings, lists,
text and anchors (tags, merge keys, several documents) is refused, and so is whatever could make a small
file large or deep. Nothing in a file raises: each fault is a finding.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

import yaml

from build_tools.guide.findings import LINE_BREAK, Demand, Finding, Place, few, shown

__all__ = ["Composer", "Data", "Source", "UnreadableFile", "read", "unseen"]

Data: TypeAlias = "dict[str, Data] | list[Data] | str | None"

MOST_BYTES = 1 << 20
MOST_VALUES = 100_000  # counted as they stand once every alias is written out
DEEPEST = 30
MOST_TOLD = 20

_LOADER: Any = getattr(yaml, "CSafeLoader", yaml.SafeLoader)
_DIRECTION = "\u061c\u200e\u200f\u202a-\u202e\u2066-\u2069"  # Unicode's Bidi_Control, UAX 9
_UNSEEN = re.compile(f"[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[{_DIRECTION}]")


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
    text: str = field(default="", repr=False, compare=False)
    """What was read, as it was saved or as an editor holds it; nothing where it is no text."""
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

    def place_of(self, written: str, path: tuple[str | int, ...]) -> Place:
        """Where `written` stands in the value at `path` or after it; that value, if it is put otherwise."""
        value = self.place(path)
        lines = LINE_BREAK.split(self.text)
        for number, line in enumerate(lines[value.line - 1 :], value.line):
            start = value.column - 1 if number == value.line else 0
            if written and (column := line.find(written, start)) >= 0:
                return Place(self.file, number, column + 1)
        return value


class UnreadableFile(Exception):
    """Nothing more can be read of this file; holds the finding that says why."""

    def __init__(self, finding: Finding) -> None:
        self.finding = finding


def read(path: Path | str, held: str | None = None) -> Source:
    """The file's data with the place of every value. Never raises for what the file holds.

    `held`: the text that an editor holds of it, in place of what was saved.
    """
    file = as_given(Path(path))
    composer = Composer(file)
    try:
        raw = _saved(Path(path), file) if held is None else held.encode("utf-8", "surrogatepass")
        return composer.compose(_text(raw, file))
    except UnreadableFile as end:
        return Source(file, None, (*composer.findings, end.finding))


def as_given(path: Path) -> str:
    return str(path.relative_to(Path.cwd())) if path.is_relative_to(Path.cwd()) else str(path)


TOO_LARGE = Demand("too-large", "a file that a person can review", "split it into smaller files")
CONTROL_CHARACTER = Demand("control-character", "characters that can be seen", "delete it")
MISSING_FILE = Demand("missing-file", "every file that a guide needs", "write it")
UNREADABLE = Demand("unreadable", "files that can be read", "check its name and its rights")
NOT_UTF_8 = Demand(
    "not-utf-8",
    "text in UTF-8, so that it reads the same on every machine",
    "save the file again with the encoding set to UTF-8",
)


def _saved(path: Path, file: str) -> bytes:
    start = Place(file, 1, 1)
    try:
        with path.open("rb") as stream:
            return stream.read(MOST_BYTES + 1)
    except FileNotFoundError:
        raise UnreadableFile(MISSING_FILE.found(start, "there is no such file", expected="")) from None
    except OSError as error:
        what = f"the file cannot be read: {error.strerror}"
        raise UnreadableFile(UNREADABLE.found(start, what, expected="")) from None


def _text(raw: bytes, file: str) -> str:
    if len(raw) > MOST_BYTES:
        raise UnreadableFile(TOO_LARGE.found(Place(file, 1, 1), "the file is larger than 1 MiB"))
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start].decode("utf-8-sig", errors="replace")
        raise UnreadableFile(
            NOT_UTF_8.found(
                _place_after(file, before), f"the byte 0x{raw[error.start]:02x} is not UTF-8 text"
            )
        ) from None
    if odd := next(unseen(text), None):
        position, name = odd
        raise UnreadableFile(
            CONTROL_CHARACTER.found(_place_after(file, text[:position]), f"{name} stands in the text")
        )
    return text


def unseen(text: str) -> Iterator[tuple[int, str]]:
    """Every character that nobody sees, control characters and marks of direction: its position, and its
    name in Unicode. Of a language that is written from right to left the build sets the marks itself."""
    for odd in _UNSEEN.finditer(text):
        code = f"U+{ord(odd.group()):04X}"
        name = unicodedata.name(odd.group(), "")
        said = f"{name} ({code})" if name else f"the control character {code}"
        yield odd.start(), "a NUL" if odd.group() == "\0" else said


def _place_of(mark: Any, file: str) -> Place:
    return Place(file, mark.line + 1, mark.column + 1) if mark else Place(file, 1, 1)


def _place_after(file: str, before: str) -> Place:
    lines = LINE_BREAK.split(before)
    return Place(file, len(lines), len(lines[-1]) + 1)


SECOND_DOCUMENT = Demand("second-document", "one document in a file", "put the rest into a file of its own")
KEY = Demand("key", "a word as the key", "write a name before the colon")
UNKNOWN_ALIAS = Demand(
    "unknown-alias",
    "a `&name` before the value that it stands for, higher up in the file",
    "put quotes round the text if the star is part of it",
)
ALIAS_CYCLE = Demand("alias-cycle", "a value that ends", "write out the part that is meant")
TOO_MANY_VALUES = Demand(
    "too-many-values",
    "a file that a person can review",
    "split it, and use an alias for one small value at a time",
)
NOT_YAML = Demand(
    "yaml",
    "text that is YAML",
    "look at this line and the one before: brackets, quotation marks, colons, indentation",
)


EMPTY = Demand("empty", "something in the file", "write it, or delete it")
MERGE_KEY = Demand(
    "merge-key",
    "every key written out, so that a reviewer sees what holds",
    "write the keys here, or use an alias for a whole value",
)
DUPLICATE_KEY = Demand("duplicate-key", "each key once: only one of the two could count", "keep one of them")
TAG = Demand(
    "tag",
    "plain text, lists and mappings; what a value means follows from where it stands",
    "delete the tag, or put quotes round the text if the mark is part of it",
)


class Composer:
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
            self.take(event)
        if self.root is None or (self.root.data is None and not self.findings):
            self._found(EMPTY, Place(self.file, 1, 1), "there is nothing in this file", "")
        root = self.root
        findings = few(self.findings, Place(self.file, 1, 1))
        return Source(self.file, root.data if root else None, tuple(findings), text, root)

    def _events(self, text: str) -> Iterator[yaml.Event]:
        try:
            yield from yaml.parse(text, Loader=_LOADER)
        except yaml.MarkedYAMLError as error:
            raise UnreadableFile(_told_plainly(error, self.file, text)) from None
        except yaml.YAMLError as error:
            raise UnreadableFile(
                NOT_YAML.found(Place(self.file, 1, 1), f"this is not YAML: {error}", expected="", mend="")
            ) from None

    def _found(
        self, demand: Demand, place: Place, what: str, expected: str | None = None, mend: str | None = None
    ) -> None:
        if len(self.findings) <= MOST_TOLD:
            self.findings.append(demand.found(place, what, self._path(), expected, mend))

    def _path(self) -> tuple[str, ...]:
        """The keys of every mapping and list that is open, as an author would say them."""
        steps = (str(len(node.children)) if isinstance(node.data, list) else node.key for node in self.stack)
        return tuple(step for step in steps if step is not None)

    def _place(self, event: yaml.Event) -> Place:
        return _place_of(event.start_mark, self.file)

    def take(self, event: yaml.Event) -> None:
        """One more of the parser's events, in their order."""
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
            raise UnreadableFile(KEY.found(key.place, what, self._path()))
        if name == "<<":
            self._found(
                MERGE_KEY,
                key.place,
                "`<<` would merge another mapping into this one",
            )
            return None
        if name in parent.keys:
            self._found(
                DUPLICATE_KEY,
                key.place,
                f"{shown(name)} is written twice; the first is on line {parent.keys[name].line}",
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
            raise UnreadableFile(
                UNKNOWN_ALIAS.found(
                    place,
                    f"`*{event.anchor}` repeats a value that has no name yet",
                    self._path(),
                    f"`&{event.anchor}` before the value it stands for, higher up in this file",
                )
            )
        if target.open:
            raise UnreadableFile(
                ALIAS_CYCLE.found(
                    place,
                    f"`*{event.anchor}` stands inside the value that it repeats",
                    self._path(),
                    f"a value that ends; the one named on line {target.place.line} would go round for ever",
                )
            )
        self._add(target)

    def _bound(self, node: _Node) -> None:
        """Refuse a file that is deeper or larger than any guide, aliases written out."""
        if len(self.stack) + node.height > DEEPEST:
            raise UnreadableFile(_too_deep(node.place))
        self.values += node.values
        if self.values > MOST_VALUES:
            raise UnreadableFile(
                TOO_MANY_VALUES.found(
                    node.place,
                    f"the file holds more than {MOST_VALUES:,} values once its aliases are written out",
                )
            )

    def _refuse_tag(self, event: yaml.ScalarEvent | yaml.CollectionStartEvent) -> None:
        if event.tag is not None:
            self._found(
                TAG,
                self._place(event),
                f"the tag {shown(event.tag)} is not used in a guide",
            )

    def _refuse_escaped_control(self, written: str, place: Place) -> None:
        if odd := next(unseen(written), None):
            self._found(
                CONTROL_CHARACTER,
                place,
                f"an escape in this text makes {odd[1]}",
                mend="delete the escape",
            )

    def _refuse_second_document(self, place: Place) -> None:
        raise UnreadableFile(SECOND_DOCUMENT.found(place, "`---` starts a second document"))


TOO_DEEP = Demand(
    "too-deep",
    "at most eight or so: no part of a guide is deeper",
    "look for brackets that are opened and never closed",
)


def _too_deep(place: Place) -> Finding:
    return TOO_DEEP.found(place, f"lists and mappings are nested more than {DEEPEST} deep")


UNCLOSED_QUOTE = Demand(
    "unclosed-quote",
    "a second one at the end of the text",
    "close it; inside single quotes write an apostrophe twice",
)
TAB = Demand("tab", "spaces: how wide a tab is depends on the editor", "replace the tab by spaces")


def _told_plainly(error: yaml.MarkedYAMLError, file: str, text: str) -> Finding:
    """The parser's complaint, in an author's words."""
    place = _place_of(error.problem_mark or error.context_mark, file)
    opened = _place_of(error.context_mark, file)
    problem, context = error.problem or "", error.context or ""
    if "nesting depth" in problem:
        return _too_deep(place)
    if "quoted scalar" in context and "end of stream" in problem:
        return UNCLOSED_QUOTE.found(opened, "the quotation mark that opens here is never closed")
    lines = LINE_BREAK.split(text)
    at = lines[place.line - 1][place.column - 1 : place.column] if place.line <= len(lines) else ""
    if at == "\t" or "tab character" in problem:
        return TAB.found(place, "a tab stands where the line is indented")
    expected, mend = _HINTS.get(problem, ("", ""))
    if not expected and "did not find expected ',' or" in problem:
        expected = f"a comma, or the bracket that closes the one on line {opened.line}"
        mend = "close the bracket, or put quotes round a text that holds a comma or a bracket"
    if "cannot start any token" in problem:
        problem = f"a text cannot start with {shown(at)}"
    return NOT_YAML.found(place, f"this cannot be read: {problem}", expected=expected, mend=mend)


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
