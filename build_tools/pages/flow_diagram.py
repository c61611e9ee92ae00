"""Bands from one list to another, each as wide as its share of what begins it."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from dataclasses import dataclass

from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, INK, QUIET, element, text

__all__ = ["FlowBand", "bands_svg"]

WIDTH, LEFT, RIGHT, ROW, TOP = 760.0, 190.0, 452.0, 52.0, 26.0
_WIDEST = 13.0
_STROKES = ((DANGER, ""), (DANGER, "9 3"), (INK, "3 3"), (ACCENT, "12 3 3 3"), (ACCENT, ""))
"""Colour and dashes by rank; the words at the right say the same."""


@dataclass(frozen=True, slots=True)
class FlowBand:
    """`walks` of the `of` walks that begin at `left` can come to `right`; `means` says what that is, `rank`
    from 0 how urgent."""

    left: str
    right: str
    means: str
    rank: int
    walks: int
    of: int


def bands_svg(name: str, title: str, bands: Sequence[FlowBand]) -> str:
    """Inline SVG, 760 wide; the most urgent at the top right."""
    left = list(dict.fromkeys(band.left for band in bands))
    right = sorted({(band.rank, band.right, band.means) for band in bands})
    height = TOP + ROW * max(len(left), len(right)) + 10
    from_ = {label: _y(place, len(left), height) for place, label in enumerate(left)}
    to = {key[1:]: _y(place, len(right), height) for place, key in enumerate(right)}
    said = "; ".join(f"{b.left}: {b.right} ({b.means}), {b.walks} of {b.of} walks" for b in bands)
    return ink.sheet(
        name,
        WIDTH,
        height,
        title,
        said + ".",
        text(4, 14, "Fault", weight=700),
        text(RIGHT + 14, 14, "Outcome", weight=700),
        *(_band(band, from_[band.left], to[band.right, band.means]) for band in bands),
        *(_label(4, y, textwrap.wrap(label, 28)) for label, y in from_.items()),
        *(_label(RIGHT + 14, y, textwrap.wrap(words, 46)[:3], means) for (words, means), y in to.items()),
    )


def _y(place: int, of: int, height: float) -> float:
    return TOP + (height - TOP - 10) * (place + 0.5) / of


def _band(band: FlowBand, y: float, end: float) -> str:
    stroke, dashes = _STROKES[min(band.rank, len(_STROKES) - 1)]
    middle = (LEFT + RIGHT) / 2
    more: dict[str, float | str] = {"stroke_dasharray": dashes} if dashes else {}
    return element(
        "path",
        d=f"M{LEFT:.0f} {y:.1f}C{middle:.0f} {y:.1f} {middle:.0f} {end:.1f} {RIGHT:.0f} {end:.1f}",
        fill="none",
        stroke=stroke,
        stroke_width=max(0.8, _WIDEST * band.walks / band.of),
        stroke_opacity=0.55,
        **more,
    )


def _label(x: float, y: float, lines: list[str], means: str = "") -> str:
    first = y + 4 - 7 * (len(lines) - 1 + bool(means))
    told = [text(x, first + 14 * place, line) for place, line in enumerate(lines)]
    if means:
        told.append(text(x, first + 14 * len(lines), means, fill=QUIET))
    return "".join(told)
