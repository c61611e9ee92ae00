"""What the checks found, and how it is told to an author."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from itertools import islice
from pathlib import Path
from typing import Any

__all__ = [
    "LINE_BREAK",
    "Demand",
    "Finding",
    "Hop",
    "Place",
    "Refused",
    "extent",
    "few",
    "in_order",
    "json_report",
    "lines_report",
    "nearest",
    "nearest_names",
    "shown",
    "text_report",
]

LINE_BREAK = re.compile("\r\n|[\n\r\x85\u2028\u2029]")
"""What YAML counts as the end of a line."""

_UNDER_CARET = re.compile(
    r"""("[^"]*"|'[^']*'|(?:[^\s,\[\]{}:#]|:(?=\S))+(?:[ ](?:[^\s,\[\]{}:#]|:(?=\S))+)*)"""
)
_LONGEST_SHOWN = 60
_FEW = 20
_WIDEST_LINE = 160


@dataclass(frozen=True, order=True, slots=True)
class Place:
    """Where something is written: `line` and `column` count from 1, in characters."""

    file: str
    line: int
    column: int

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}"


@dataclass(frozen=True, slots=True)
class Hop:
    """One step of a path through a tree."""

    place: Place
    what: str


@dataclass(frozen=True, slots=True)
class Demand:
    """What is demanded of a guide under one id, and how a guide that falls short is mended; both in the
    words that follow `expected` and `mend` in a report. Each is declared once, beside what raises it."""

    id: str
    demands: str
    mend: str

    def found(
        self,
        place: Place,
        what: str,
        path: tuple[str, ...] = (),
        expected: str | None = None,
        mend: str | None = None,
        hops: tuple[Hop, ...] = (),
    ) -> Finding:
        """A finding of this, in the demand's own words where no closer ones are given."""
        wanted = self.demands if expected is None else expected
        return Finding(self.id, place, what, path, wanted, self.mend if mend is None else mend, hops)


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing for the author to mend; made by a Demand.

    `check` is the demand's id, `path` the keys that lead to the value (list positions count from 1, as
    authors count), `hops` the way through the tree or the ring that shows the fault.
    """

    check: str
    place: Place
    what: str
    path: tuple[str, ...] = ()
    expected: str = ""
    mend: str = ""
    hops: tuple[Hop, ...] = ()


class Refused(Exception):
    """The guide cannot be built; holds every finding."""

    def __init__(self, findings: Iterable[Finding]) -> None:
        self.findings = tuple(findings)
        super().__init__(f"{len(self.findings)} finding{'s' * (len(self.findings) != 1)}")


def in_order(findings: Iterable[Finding]) -> list[Finding]:
    """The findings in order of place, each said once."""
    once = {(f.place, f.check, f.what): f for f in reversed(list(findings))}
    return sorted(once.values(), key=lambda f: (f.place, f.check, f.what))


MORE = Demand("more", "fewer mistakes in one file: the first of them are told", "mend these, and look again")


def few(findings: Iterable[Finding], file: Place) -> list[Finding]:
    """The first twenty findings of one file, and one more that says so when there are others.

    Takes no more from `findings` than it gives, so that a file full of mistakes costs little time.
    """
    rest = iter(findings)
    first = list(islice(rest, _FEW))
    if next(rest, None):
        what = f"there is more like this in the file; these are the first {_FEW}"
        first.append(MORE.found(file, what, expected=""))
    return first


def text_report(findings: Iterable[Finding]) -> str:
    """Every finding in order of place: place and words, path, source line with a caret, hops, mend."""
    lines_of = _Lines()
    return "\n\n".join(_as_text(finding, lines_of) for finding in in_order(findings))


def json_report(findings: Iterable[Finding]) -> str:
    """The same findings as a JSON object `{"findings": [...]}`."""
    return json.dumps({"findings": [_as_data(f) for f in in_order(findings)]}, indent=2, ensure_ascii=False)


def lines_report(findings: Iterable[Finding]) -> str:
    """The same findings as JSON Lines: one object a line, nothing for none."""
    return "\n".join(json.dumps(_as_data(f), ensure_ascii=False) for f in in_order(findings))


def nearest(name: str, known: Iterable[str]) -> str:
    """` - did you mean `x`?` for a misspelt name, or nothing when nothing known comes near."""
    near = nearest_names(name, known)
    return f" - did you mean {' or '.join(f'`{one}`' for one in near)}?" if near else ""


def nearest_names(name: str, known: Iterable[str]) -> list[str]:
    """At most two known names that look like this one, the nearest first."""
    if len(name) > _LONGEST_SHOWN:
        return []
    spelt = {one.casefold(): one for one in known}
    return [spelt[one] for one in get_close_matches(name.casefold(), spelt, n=2, cutoff=0.6)]


def shown(value: object) -> str:
    """A value as it can be quoted in one line of a message: short, and without control characters."""
    text = _visible(str(value))
    return f"`{text if len(text) <= _LONGEST_SHOWN else text[: _LONGEST_SHOWN - 3] + '...'}`"


def _visible(text: str) -> str:
    return "".join(
        c if c.isprintable() else " " if c.isspace() else "\N{REPLACEMENT CHARACTER}" for c in text
    )


def extent(line: str, column: int) -> int:
    """How many characters belong to what stands in a line from `column` on: at least one."""
    under = _UNDER_CARET.match(line, column - 1)
    return len(under.group()) if under else 1


class _Lines:
    """Lines of the files that findings point into, each file read once."""

    def __init__(self) -> None:
        self._files: dict[str, list[str]] = {}

    def __call__(self, place: Place) -> list[tuple[int, str]]:
        """The line of the place and the one before it, with their numbers."""
        if place.file not in self._files:
            self._files[place.file] = _read_lines(Path(place.file))
        lines = self._files[place.file]
        return [(n, lines[n - 1]) for n in (place.line - 1, place.line) if 0 < n <= len(lines)]


def _read_lines(path: Path) -> list[str]:
    try:
        with path.open("rb") as file:
            raw = file.read(1 << 20)
    except OSError:
        return []
    return LINE_BREAK.split(raw.decode("utf-8-sig", errors="replace"))


def _as_text(finding: Finding, lines_of: _Lines) -> str:
    told = [f"{finding.place}: {finding.check}: {finding.what}"]
    if finding.path:
        told.append("  " + " > ".join(map(_visible, finding.path)))
    told += _excerpt(finding, lines_of(finding.place))
    if finding.hops:
        told.append("  the way there:")
        told += [f"    {hop.place}: {hop.what}" for hop in finding.hops]
    if finding.mend:
        told.append(f"  mend: {finding.mend}")
    return "\n".join(told)


def _excerpt(finding: Finding, lines: list[tuple[int, str]]) -> list[str]:
    expected = f" expected {finding.expected}" if finding.expected else ""
    if not lines or len(lines[-1][1]) > _WIDEST_LINE:
        return [f" {expected}"] if expected else []
    gutter = len(str(lines[-1][0]))
    carets = "^" * extent(lines[-1][1], finding.place.column)
    return [
        *(f"  {n:>{gutter}} | {_visible(line)}".rstrip() for n, line in lines if len(line) <= _WIDEST_LINE),
        f"  {'':>{gutter}} | {' ' * (finding.place.column - 1)}{carets}{expected}",
    ]


def _as_data(finding: Finding) -> dict[str, Any]:
    return {
        "check": finding.check,
        **_place_data(finding.place),
        "what": finding.what,
        "path": list(finding.path),
        "expected": finding.expected,
        "mend": finding.mend,
        "hops": [{**_place_data(hop.place), "what": hop.what} for hop in finding.hops],
    }


def _place_data(place: Place) -> dict[str, str | int]:
    return {"file": place.file, "line": place.line, "column": place.column}
