"""Whatever an instrument can show has one meaning, and one place to go.

The ranges of a reading cover the line from 0 without end: no gap, no overlap, a shared end counted once
(it belongs to the higher range). Unit, span and places to hold it are those of the instrument. And there
is a way on when there is no figure: not taken, over range, not steady.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from build_tools import shapes
from build_tools.conform import told
from build_tools.findings import Finding, few, nearest, shown
from build_tools.guide import Guide, Tree, TreeFile
from calc.instruments import CLAMPED, INSTRUMENTS, LIGHTS_FROM, TOUCHED

__all__ = ["can_be_held", "can_be_walked", "check"]

MOST_POINTS = 12
"""More conductors than any jaw goes round; what lies beyond is not looked at one by one."""


@dataclass(frozen=True)
class _Reading:
    """One reading, and where it is written."""

    file: TreeFile
    name: str
    spec: shapes.Reading

    def finding(
        self, check: str, keys: tuple[str | int, ...], what: str, expected: str, mend: str
    ) -> Finding:
        path = ("nodes", self.name, *keys)
        return Finding(check, self.file.place(*path, key=not keys), what, told(path), expected, mend)

    def span(self, low: float, high: float) -> str:
        """`0.5 to 0.8 A`, or `600 A and above`."""
        if math.isinf(high):
            return f"{low:g} {self.spec.unit} and above"
        return f"{low:g} to {high:g} {self.spec.unit}"


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every reading in every tree file."""
    for file in guide.tree_files.values():
        yield from few(_of_file(file), file.place())


def _of_file(file: TreeFile) -> Iterator[Finding]:
    for name, spec in file.spec.nodes.items():
        if isinstance(spec, shapes.Reading):
            reading = _Reading(file, name, spec)
            yield from _line(reading)
            yield from _instrument(reading)
            yield from _held_where(reading)
            yield from _without_figure(reading)


def _line(reading: _Reading) -> Iterator[Finding]:
    """Gaps, overlaps and empty ranges on the line from 0 to infinity."""
    for i, one in enumerate(reading.spec.ranges):
        if one.low >= _high(one):
            what = f"no figure lies from {one.low:g} up to {_high(one):g}"
            mend = "correct one of the two"
            yield reading.finding("empty-range", ("ranges", i), what, "`from` below `to`", mend)
    ranges = [(i, one) for i, one in enumerate(reading.spec.ranges) if one.low < _high(one)]
    ranges.sort(key=lambda entry: entry[1].low)
    if not ranges:
        return
    first, lowest = ranges[0]
    if lowest.low > 0:
        yield _gap(reading, first, "from", 0.0, lowest.low, "delete `from`")
    for (_, below), (i, above) in pairwise(ranges):
        if _high(below) < above.low:
            yield _gap(reading, i, "from", _high(below), above.low, f"write `from: {_high(below):g}`")
        elif _high(below) > above.low:
            yield _overlap(reading, i, below, above)
    last, highest = max(ranges, key=lambda entry: _high(entry[1]))
    if not math.isinf(_high(highest)):
        yield _gap(reading, last, "to", _high(highest), math.inf, "delete `to`")


def _high(one: shapes.Range) -> float:
    return math.inf if one.high is None else one.high


def _gap(reading: _Reading, i: int, key: str, low: float, high: float, mend: str) -> Finding:
    wanted = {"from": f"{low:g}", "to": "no end"}[key]
    example = f"a meter that shows {_between(low, high):g}"
    return reading.finding(
        "range-gap",
        ("ranges", i, key),
        f"nothing covers {reading.span(low, high)}",
        f"{wanted}: {example} would leave the crew with no answer",
        f"{mend}, or add a range that says what {reading.span(low, high)} means",
    )


def _between(low: float, high: float) -> float:
    return low * 2 if math.isinf(high) else (low + high) / 2


def _overlap(reading: _Reading, i: int, below: shapes.Range, above: shapes.Range) -> Finding:
    return reading.finding(
        "range-overlap",
        ("ranges", i, "from"),
        f"{reading.span(above.low, min(_high(below), _high(above)))} has two answers",
        f"one: {shown(below.label)} and {shown(above.label)} cannot both be meant",
        f"end the one with `to: {above.low:g}`, where the other starts"
        if above.low > below.low
        else "give one of them a `from` or a `to` that leaves room for the other",
    )


def _instrument(reading: _Reading) -> Iterator[Finding]:
    """The unit and the span of the instrument."""
    tester = INSTRUMENTS[reading.spec.instrument]
    if reading.spec.unit != tester.unit:
        yield reading.finding(
            "unit",
            ("unit",),
            f"unit is {shown(reading.spec.unit)}",
            f"`{tester.unit}`, which is what the {tester.title.lower()} shows",
            f"write `unit: {tester.unit}`",
        )
    for i, one in enumerate(reading.spec.ranges):
        if one.low > tester.high:
            yield reading.finding(
                "range-never-shown",
                ("ranges", i, "from"),
                f"the {tester.title.lower()} never shows {one.low:g} {tester.unit}",
                f"at most {tester.high:g} {tester.unit}: above that it shows that it is over range",
                "correct the figure, or leave what lies above to `over_range`",
            )


def _held_where(reading: _Reading) -> Iterator[Finding]:
    """Conductors for a clamp, one point for an indicator that touches one, two for the others."""
    instrument, on = reading.spec.instrument, reading.spec.on
    known, wanted = _places(instrument)
    for i, name in enumerate(on[:MOST_POINTS]):
        if name not in known:
            yield reading.finding(
                "unknown-point",
                ("on", i),
                f"{shown(name)} is no place to hold a {instrument}{nearest(name, known)}",
                f"one of: {', '.join(known)}",
                "write one of these",
            )
        elif name in on[:i]:
            yield reading.finding(
                "same-point", ("on", i), f"{shown(name)} stands here twice", "it once", "delete it"
            )
    if len(on) > MOST_POINTS or (wanted and len(on) != wanted):
        yield reading.finding(
            "points",
            ("on",),
            f"{len(on)} point{'s' * (len(on) != 1)} to hold it to",
            f"{wanted or 'a few'}, for a {instrument}",
            "name what it is held to",
        )


def can_be_held(spec: shapes.Reading) -> bool:
    """Whether the instrument can be held where the reading says: only then can a walk take it."""
    known, wanted = _places(spec.instrument)
    return set(spec.on) <= set(known) and wanted in (None, len(spec.on))


def can_be_walked(tree: Tree) -> bool:
    """Whether every reading of a tree can be taken somewhere; the check tells those that cannot."""
    return all(
        can_be_held(node.spec) for node in tree.nodes.values() if isinstance(node.spec, shapes.Reading)
    )


def _places(instrument: str) -> tuple[Collection[str], int | None]:
    """What an instrument is held to, and at how many places (None: at any number, in one jaw)."""
    if instrument == "clamp":
        return CLAMPED, None
    return TOUCHED, 1 if instrument in LIGHTS_FROM else 2


def _without_figure(reading: _Reading) -> Iterator[Finding]:
    words = {
        "not_taken": "the reading could not be taken",
        "over_range": "the instrument is over range",
        "not_steady": "the display is not steady",
    }
    for key, case in words.items():
        if getattr(reading.spec, key) is None:
            yield reading.finding(
                "no-way-on",
                (),
                f"nothing says where to go when {case}",
                f"`{key}`: it happens, and nobody may be left without an answer then",
                f"add `{key}: {{go: ...}}`",
            )
