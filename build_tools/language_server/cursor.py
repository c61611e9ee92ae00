"""What stands at one place of a YAML file, be the file half written or not.

The parser tells what it reads in order, so all that stands before a fault is known. What is being typed is
itself a fault more often than not: it is then read as if it were finished, as a value, a key or a quoted
text. A line before it that cannot be read is passed over.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, TypeAlias

import yaml

from build_tools.guide.source import MOST_BYTES, Composer, Data, UnreadableFile

__all__ = ["Keys", "Spot", "inside_of", "spot_at", "word_at"]

Keys: TypeAlias = "tuple[str | int, ...]"

_MOST_FAULTS = 5
"""Lines that are passed over before a file counts as no YAML."""
_BEFORE = re.compile(r"""[^\s,\[\]{}:#"']*\Z""")
_AFTER = re.compile(r"""[^\s,\[\]{}:#"']*""")


@dataclass(frozen=True, slots=True)
class Spot:
    """One text of a file, from `start` up to `end`: the keys that lead to it (itself the last where it is a
    key), and all that could be read of the file."""

    keys: Keys
    is_key: bool
    written: str
    start: int
    end: int
    data: Data


def inside_of(data: Data, *keys: str | int) -> Any:
    """What stands at keys inside of data; None where nothing does."""
    for step in keys:
        if isinstance(data, dict) and isinstance(step, str):
            data = data.get(step)
        elif isinstance(data, list) and isinstance(step, int) and step < len(data):
            data = data[step]
        else:
            return None
    return data


def word_at(text: str, offset: int) -> tuple[int, int]:
    """Where the word at an offset begins and ends; one that is empty begins and ends there."""
    before = _BEFORE.search(text[max(0, offset - 200) : offset])
    after = _AFTER.match(text, offset)
    return offset - len(before[0] if before else ""), after.end() if after else offset


def spot_at(text: str, offset: int, *, typing: bool = False) -> Spot | None:
    """What stands at an offset; None where nothing does. `typing`: what could stand there counts too."""
    if len(text) > MOST_BYTES:
        return None
    text = text.encode("utf-8", "replace").decode()  # half of an emoji is no text for the parser
    for _ in range(_MOST_FAULTS):
        faults = []
        for tried in _finished(text, offset) if typing else (text,):
            seeker = _Seeker(offset)
            faults.append(seeker.seek(tried))
            if seeker.spot is not None:
                return seeker.spot
        if faults[0] is None or faults[0] >= text.count("\n", 0, offset):
            return None
        text = _without_line(text, faults[0])
    return None


def _finished(text: str, offset: int) -> Iterator[str]:
    """The text with what is being typed made whole, in every way that could be meant: as a value, a key, a
    quoted text, with what follows or without. A word alone on its line is first of all a key."""
    start, end = word_at(text, offset)
    typed, after = text[:start] + (text[start:end] or "x"), text[end:]
    alone = not text[text.rfind("\n", 0, start) + 1 : start].strip() and not after.split("\n")[0].strip()
    for rest in (after, ""):
        for close in (":", "", '"', "'") if alone else ("", ":", '"', "'"):
            yield typed + close + rest


def _without_line(text: str, number: int) -> str:
    """The same text with one line emptied, and every other character where it was."""
    lines = text.split("\n")
    lines[number] = " " * len(lines[number])
    return "\n".join(lines)


class _Seeker(Composer):
    """Reads as far as it can, and keeps what stands at one offset."""

    def __init__(self, offset: int) -> None:
        super().__init__("")
        self.offset = offset
        self._found_at: tuple[Keys, bool, Any] | None = None
        self._last_line = 0
        self._brackets: list[int] = []

    def seek(self, text: str) -> int | None:
        """Read the text; gives the line of the fault that ended it, from 0, or None where nothing did."""
        try:
            self.compose(text)
        except UnreadableFile as end:
            return self._fault(text.split("\n"), end.finding.place.line - 1)
        return None

    def _fault(self, lines: list[str], told: int) -> int:
        """The line to blame: that of a bracket which is still open, or the first one that was not read. The
        parser itself often tells the one after it."""
        if self._brackets:
            return self._brackets[0]
        unread = (n for n in range(self._last_line + 1, told) if lines[n].strip())
        return told if told <= self._last_line else next(unread, min(told, len(lines) - 1))

    @property
    def spot(self) -> Spot | None:
        if self._found_at is None:
            return None
        keys, is_key, event = self._found_at
        data = self.root.data if self.root else None
        return Spot(keys, is_key, event.value, event.start_mark.index, event.end_mark.index, data)

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.ScalarEvent) and self._covers(event):
            self._found_at = (*self._led_by(event), event)
        self._keep_line(event)
        super().take(event)

    def _keep_line(self, event: Any) -> None:
        first, last = event.start_mark.line, event.end_mark.line
        if isinstance(event, yaml.CollectionStartEvent) and event.flow_style:
            self._brackets.append(first)
        elif isinstance(event, yaml.CollectionEndEvent) and self._brackets:
            self._brackets.pop()
        elif isinstance(event, yaml.ScalarEvent | yaml.AliasEvent):
            self._last_line = last

    def _covers(self, event: Any) -> bool:
        return bool(event.start_mark.index <= self.offset <= event.end_mark.index and event.value)

    def _led_by(self, event: yaml.ScalarEvent) -> tuple[Keys, bool]:
        keys: list[str | int] = []
        for node in self.stack[:-1]:
            keys.append(len(node.children) - 1 if isinstance(node.data, list) else node.key or "")
        if not self.stack:
            return (), False
        inner = self.stack[-1]
        if isinstance(inner.data, list):
            return (*keys, len(inner.children)), False
        return (*keys, (inner.key or "") if inner.awaits_value else event.value), not inner.awaits_value
