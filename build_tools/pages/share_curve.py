"""The readings of a clamp as curves: on what share of streets it reads so much or more."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, QUIET, line, text

__all__ = ["STROKES", "Line", "curve_svg"]

WIDTH, LEFT, RIGHT, TOP, FOOT = 360.0, 48.0, 344.0, 26.0, 232.0
STROKES = ((INK, 3.4, ""), (DANGER, 2.4, "9 4"), (ACCENT, 2.4, "2 4"), (QUIET, 2.4, "12 4 2 4"))
"""Colour, width and dashes of each line, told apart without the colour too."""


@dataclass(frozen=True, slots=True)
class Line:
    """One curve: what it is of, and for each threshold the share of streets that read at least that."""

    of: str
    above: tuple[float, ...]


def curve_svg(
    name: str, title: str, steps: Sequence[float], lines: Sequence[Line], limits: Sequence[float]
) -> str:
    """Inline SVG, 360 wide. `steps`: the thresholds in amperes, as far apart as each other whatever they are.
    `limits` (A) are marked. At most as many lines as STROKES."""
    said = "; ".join(
        f"{one.of}: "
        + ", ".join(f"{share:.0%} from {low:g} A" for low, share in zip(steps, one.above, strict=True))
        for one in lines
    )
    strokes = list(zip(lines, STROKES, strict=False))
    return ink.sheet(
        name,
        WIDTH,
        FOOT + 44 + 19 * len(lines),
        title,
        f"Share of streets that read so much or more. {said}.",
        *_frame(steps),
        *(_limit(steps, limit) for limit in limits),
        *(
            line(*_points(one), stroke=stroke, width=width, dashes=dashes)
            for one, (stroke, width, dashes) in strokes
        ),
        *(
            line((LEFT, y - 4), (LEFT + 44, y - 4), stroke=stroke, width=width, dashes=dashes)
            + text(LEFT + 54, y, one.of)
            for y, (one, (stroke, width, dashes)) in zip(
                range(int(FOOT) + 56, 999, 19), strokes, strict=False
            )
        ),
    )


def _frame(steps: Sequence[float]) -> Iterator[str]:
    yield text(4, 13, "Share of streets that read so much or more", fill=QUIET)
    for quarter in range(5):
        y = _y(quarter / 4)
        yield line((LEFT, y), (RIGHT, y), stroke=EDGE, width=0.7)
        yield text(LEFT - 6, y + 4, f"{25 * quarter} %", anchor="end", fill=QUIET)
    for place, step in enumerate(steps):
        yield text(_x(place, len(steps)), FOOT + 17, f"{step:g}", anchor="middle", fill=QUIET)
    yield text(RIGHT, FOOT + 34, "amperes or more", anchor="end", fill=QUIET)


def _limit(steps: Sequence[float], limit: float) -> str:
    """A limit of the guide, between the two thresholds that it lies between."""
    below = min(bisect_right(steps, limit) - 1, len(steps) - 2)
    between = (limit - steps[below]) / (steps[below + 1] - steps[below])
    x = _x(below + min(1.0, between), len(steps))
    words = text(x + 4, TOP + 12, f"limit {limit:g} A", halo=True)
    return line((x, TOP), (x, FOOT), stroke=INK, width=1.2, dashes="1 3") + words


def _points(one: Line) -> list[tuple[float, float]]:
    return [(_x(place, len(one.above)), _y(share)) for place, share in enumerate(one.above)]


def _x(place: float, steps: int) -> float:
    return LEFT + (RIGHT - LEFT - 8) * place / (steps - 1)


def _y(share: float) -> float:
    return FOOT - (FOOT - TOP) * share
