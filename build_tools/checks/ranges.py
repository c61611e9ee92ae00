"""Whatever an instrument can show has one meaning, and one place to go.

The ranges of a reading cover the line from 0 without end: no gap, no overlap, a shared end counted once
(it belongs to the higher range). Unit, span and places to hold it are those of the instrument. And there
is a way on when there is no figure: not taken, over range, not steady.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise

from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few, nearest, shown
from build_tools.guide.trees import Guide, Tree, TreeFile
from build_tools.guide.validation import told
from build_tools.walks.walkable import places
from calc.instruments import INSTRUMENTS

__all__ = ["check"]

MOST_POINTS = 12
"""More conductors than any jaw goes round; what lies beyond is not looked at one by one."""


@dataclass(frozen=True)
class _Reading:
    """One reading, and where it is written."""

    file: TreeFile
    name: str
    spec: models.Reading

    def found(
        self,
        demand: Demand,
        keys: tuple[str | int, ...],
        what: str,
        expected: str | None = None,
        mend: str | None = None,
    ) -> Finding:
        path = ("nodes", self.name, *keys)
        return demand.found(self.file.place(*path, key=not keys), what, told(path), expected, mend)

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
        if isinstance(spec, models.Reading):
            reading = _Reading(file, name, spec)
            yield from _line(reading)
            yield from _instrument(reading)
            yield from _held_where(reading)
            yield from _without_figure(reading)


EMPTY_RANGE = Demand("empty-range", "`from` below `to`", "correct one of the two")


def _line(reading: _Reading) -> Iterator[Finding]:
    """Gaps, overlaps and empty ranges on the line from 0 to infinity."""
    for i, one in enumerate(reading.spec.ranges):
        if one.low >= _high(one):
            what = f"no figure lies from {one.low:g} up to {_high(one):g}"
            yield reading.found(EMPTY_RANGE, ("ranges", i), what)
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


def _high(one: models.Range) -> float:
    return math.inf if one.high is None else one.high


RANGE_GAP = Demand(
    "range-gap",
    "every figure from 0 up in one range or another: a meter that shows one that is not "
    "would leave the crew with no answer",
    "move an end, or add a range that says what those figures mean",
)


def _gap(reading: _Reading, i: int, key: str, low: float, high: float, mend: str) -> Finding:
    wanted = {"from": f"{low:g}", "to": "no end"}[key]
    example = f"a meter that shows {_between(low, high):g}"
    return reading.found(
        RANGE_GAP,
        ("ranges", i, key),
        f"nothing covers {reading.span(low, high)}",
        f"{wanted}: {example} would leave the crew with no answer",
        f"{mend}, or add a range that says what {reading.span(low, high)} means",
    )


def _between(low: float, high: float) -> float:
    return low * 2 if math.isinf(high) else (low + high) / 2


RANGE_OVERLAP = Demand(
    "range-overlap",
    "every figure in one range only: two meanings cannot both be meant",
    "end the one with `to` where the other starts",
)


def _overlap(reading: _Reading, i: int, below: models.Range, above: models.Range) -> Finding:
    return reading.found(
        RANGE_OVERLAP,
        ("ranges", i, "from"),
        f"{reading.span(above.low, min(_high(below), _high(above)))} has two answers",
        f"one: {shown(below.label)} and {shown(above.label)} cannot both be meant",
        f"end the one with `to: {above.low:g}`, where the other starts"
        if above.low > below.low
        else "give one of them a `from` or a `to` that leaves room for the other",
    )


UNIT = Demand("unit", "the unit that the instrument shows", "write it")
RANGE_NEVER_SHOWN = Demand(
    "range-never-shown",
    "figures that the instrument shows: above its last it says that it is over range",
    "correct the figure, or leave what lies above to `over_range`",
)


def _instrument(reading: _Reading) -> Iterator[Finding]:
    """The unit and the span of the instrument."""
    tester = INSTRUMENTS[reading.spec.instrument]
    if reading.spec.unit != tester.unit:
        yield reading.found(
            UNIT,
            ("unit",),
            f"unit is {shown(reading.spec.unit)}",
            f"`{tester.unit}`, which is what the {tester.title.lower()} shows",
            f"write `unit: {tester.unit}`",
        )
    for i, one in enumerate(reading.spec.ranges):
        if one.low > tester.high:
            yield reading.found(
                RANGE_NEVER_SHOWN,
                ("ranges", i, "from"),
                f"the {tester.title.lower()} never shows {one.low:g} {tester.unit}",
                f"at most {tester.high:g} {tester.unit}: above that it shows that it is over range",
            )


UNKNOWN_POINT = Demand("unknown-point", "a place where the instrument can be held", "write one of these")
SAME_POINT = Demand("same-point", "each point once", "delete it")
POINTS = Demand(
    "points",
    "any few conductors for a clamp, one point for an indicator that touches one, two for the others",
    "name what it is held to",
)


def _held_where(reading: _Reading) -> Iterator[Finding]:
    """Conductors for a clamp, one point for an indicator that touches one, two for the others."""
    instrument, on = reading.spec.instrument, reading.spec.on
    known, wanted = places(instrument)
    for i, name in enumerate(on[:MOST_POINTS]):
        if name not in known:
            yield reading.found(
                UNKNOWN_POINT,
                ("on", i),
                f"{shown(name)} is no place to hold a {instrument}{nearest(name, known)}",
                f"one of: {', '.join(known)}",
            )
        elif name in on[:i]:
            yield reading.found(SAME_POINT, ("on", i), f"{shown(name)} stands here twice", "it once")
    if len(on) > MOST_POINTS or (wanted and len(on) != wanted):
        yield reading.found(
            POINTS,
            ("on",),
            f"{len(on)} point{'s' * (len(on) != 1)} to hold it to",
            f"{wanted or 'a few'}, for a {instrument}",
        )


NO_WAY_ON = Demand(
    "no-way-on",
    "`not_taken`, `over_range` and `not_steady` on every reading: it happens, and nobody may "
    "be left without an answer then",
    "add each with the node that follows, as in `not_taken: {go: ...}`",
)

_CASES = {
    "not_taken": "the reading could not be taken",
    "over_range": "the instrument is over range",
    "not_steady": "the display is not steady",
}
"""Key -> when it is that there is no figure."""


def _without_figure(reading: _Reading) -> Iterator[Finding]:
    missing = [key for key in _CASES if getattr(reading.spec, key) is None]
    if missing:
        yield reading.found(
            NO_WAY_ON,
            (),
            f"nothing says where to go when {_listed([_CASES[key] for key in missing], 'or')}",
            f"{_listed([f'`{key}`' for key in missing], 'and')}: it happens, and nobody may be left without "
            "an answer then",
            f"add {_listed([f'`{key}: {{go: ...}}`' for key in missing], 'and')}",
        )


def _listed(words: Sequence[str], last: str) -> str:
    """`a`, `a or b`, `a, b or c`."""
    return f" {last} ".join(filter(None, (", ".join(words[:-1]), words[-1])))
