"""A curve on two axes with the reader's own point on it, for answers that are graphs."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, PAPER, QUIET, element, line, text, text_width

__all__ = ["Axis", "Curve", "Level", "Mark", "chart_svg"]

WIDTH, LEFT, RIGHT, TOP, FOOT = 360.0, 46.0, 346.0, 28.0, 258.0
STROKES = ((INK, 2.6, ""), (ACCENT, 2.4, "8 4"), (QUIET, 2.2, "2 4"), (DANGER, 2.4, "12 4 2 4"))
"""Colour, width and dashes of each curve: told apart without the colour too."""


@dataclass(frozen=True, slots=True)
class Axis:
    """One axis: its words (unit included), its ends, and where figures stand. `log` needs a low above 0."""

    words: str
    low: float
    high: float
    ticks: tuple[float, ...]
    log: bool = False

    def share(self, value: float) -> float:
        """How far along the axis a value lies, 0 to 1; one beyond an end is at that end."""
        value = min(max(value, self.low), self.high)
        if self.log:
            return math.log(value / self.low) / math.log(self.high / self.low)
        return (value - self.low) / (self.high - self.low)

    def spread(self, count: int) -> list[float]:
        """`count` values from end to end, evenly placed on the paper."""
        shares = [n / (count - 1) for n in range(count)]
        if self.log:
            return [self.low * (self.high / self.low) ** share for share in shares]
        return [self.low + (self.high - self.low) * share for share in shares]


@dataclass(frozen=True, slots=True)
class Curve:
    """A curve: what it is of, and its points."""

    of: str
    points: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Level:
    """A limit, as a dashed level line at `at` on the upright axis, with its words."""

    at: float
    words: str


@dataclass(frozen=True, slots=True)
class Mark:
    """A point of the reader's with its words; `hollow` draws a ring instead of a dot."""

    at: tuple[float, float]
    words: str
    hollow: bool = False


def chart_svg(
    name: str,
    title: str,
    about: str,
    across: Axis,
    upright: Axis,
    curves: Sequence[Curve],
    marks: Sequence[Mark] = (),
    levels: Sequence[Level] = (),
    words: Sequence[tuple[float, float, str]] = (),
) -> str:
    """Inline SVG, 360 wide. At most as many curves as STROKES; `words` are written at points of the plane.

    Marks keep to the paper: one beyond an end of an axis stands at that end.
    """
    frame = (across, upright)
    return ink.sheet(
        name,
        WIDTH,
        FOOT + 52 + 19 * (len(curves) + sum(len(_lines(mark)) for mark in marks)),
        title,
        about,
        *_axes(across, upright),
        *(_level(level, upright) for level in levels),
        *(
            line(*(_at(point, *frame) for point in curve.points), stroke=stroke, width=width, dashes=dashes)
            for curve, (stroke, width, dashes) in zip(curves, STROKES, strict=False)
        ),
        *(_level_words(level, upright) for level in levels),
        *(
            text(*_at((x, y), *frame), said, fill=QUIET, anchor="middle", halo=True, weight=700)
            for x, y, said in words
        ),
        *(_dot(*_at(mark.at, *frame), mark.hollow) for mark in marks),
        *_legend(curves, marks),
    )


def _at(point: tuple[float, float], across: Axis, upright: Axis) -> tuple[float, float]:
    return (
        LEFT + (RIGHT - LEFT) * across.share(point[0]),
        FOOT - (FOOT - TOP) * upright.share(point[1]),
    )


def _axes(across: Axis, upright: Axis) -> Iterator[str]:
    yield line((LEFT, TOP), (LEFT, FOOT), (RIGHT, FOOT), stroke=EDGE)
    yield text(4, 14, upright.words, fill=QUIET)
    yield text(RIGHT, FOOT + 36, across.words, fill=QUIET, anchor="end")
    for tick in across.ticks:
        x = LEFT + (RIGHT - LEFT) * across.share(tick)
        yield line((x, TOP), (x, FOOT + 4), stroke=EDGE, width=0.6, opacity=0.6)
        said = f"{tick:g}"
        yield text(min(x, WIDTH - 2 - text_width(said) / 2), FOOT + 18, said, fill=QUIET, anchor="middle")
    for tick in upright.ticks:
        y = FOOT - (FOOT - TOP) * upright.share(tick)
        yield line((LEFT - 4, y), (RIGHT, y), stroke=EDGE, width=0.6, opacity=0.6)
        said = f"{tick / 1000:g}k" if tick >= 10_000 else f"{tick:g}"
        yield text(LEFT - 7, y + 4, said, fill=QUIET, anchor="end")


def _level(level: Level, upright: Axis) -> str:
    y = FOOT - (FOOT - TOP) * upright.share(level.at)
    return line((LEFT, y), (RIGHT, y), stroke=DANGER, width=1.8, dashes="6 4")


def _level_words(level: Level, upright: Axis) -> str:
    """On top of curves, which they clear."""
    y = FOOT - (FOOT - TOP) * upright.share(level.at)
    return text(RIGHT - 4, y - 5, level.words, fill=DANGER, anchor="end", weight=700, halo=True)


def _dot(x: float, y: float, hollow: bool) -> str:
    fill, stroke = ("none", DANGER) if hollow else (DANGER, PAPER)
    return element("circle", cx=x, cy=y, r=6.5, fill=fill, stroke=stroke, stroke_width=2.2)


def _legend(curves: Sequence[Curve], marks: Sequence[Mark]) -> Iterator[str]:
    y = FOOT + 60
    for curve, (stroke, width, dashes) in zip(curves, STROKES, strict=False):
        yield line((6, y - 4), (LEFT, y - 4), stroke=stroke, width=width, dashes=dashes)
        yield text(LEFT + 10, y, curve.of)
        y += 19
    for mark in marks:
        yield _dot(26, y - 4, mark.hollow)
        for words in _lines(mark):
            yield text(LEFT + 10, y, words, weight=700)
            y += 19


def _lines(mark: Mark) -> list[str]:
    """The words of a mark in lines about alike."""
    count = math.ceil(text_width(mark.words, weight=700) / (WIDTH - LEFT - 12))
    return textwrap.wrap(mark.words, math.ceil(len(mark.words) / count) + 4 * (count > 1))
