"""The strokes and signs that drawings are made of, as SVG text. Lengths are in the drawing's own units."""

from __future__ import annotations

import math
from functools import cache
from html import escape

__all__ = [
    "ACCENT",
    "DANGER",
    "EDGE",
    "INK",
    "PAPER",
    "QUIET",
    "SMALL",
    "arrow",
    "bad_joint",
    "cross",
    "earth",
    "element",
    "fuse",
    "line",
    "resistance",
    "sheet",
    "text",
    "text_width",
    "transformer",
]

INK = "var(--ln-ink, #17222b)"
QUIET = "var(--ln-quiet, #4a5762)"
PAPER = "var(--ln-paper, #fefdfa)"
EDGE = "var(--ln-edge, #6b7780)"
ACCENT = "var(--ln-accent, #0b5b70)"
DANGER = "var(--ln-danger, #a4161f)"

SMALL = 12.5
"""The smallest text. A drawing 360 wide on a telephone 328 wide shows it 11.4 px high."""


def element(tag: str, *children: str, **attributes: float | str) -> str:
    """One SVG element. Children are SVG already; attribute values are escaped, `_` in names becomes `-`.

    >>> element("circle", r=2.50, stroke_width=1, fill="none")
    '<circle r="2.5" stroke-width="1" fill="none"/>'
    """
    said = "".join([f'{_begun(name)}{_value(value)}"' for name, value in attributes.items()])
    return f"<{tag}{said}>{''.join(children)}</{tag}>" if children else f"<{tag}{said}/>"


@cache
def _begun(name: str) -> str:
    return f' {name.rstrip("_").replace("_", "-")}="'


def _value(value: float | str) -> str:
    if isinstance(value, str):
        return escape(value)
    shown = f"{value:.1f}"
    return shown[:-2] if shown.endswith(".0") else shown


def sheet(name: str, width: float, height: float, title: str, about: str, *children: str) -> str:
    """A whole drawing, told to screen readers as one picture with a title and a description.

    `name` makes its ids: two drawings in one page need two names. It is as wide as its words are easy to
    read at; a page's style sheet lets it shrink. No style of its own: a page's policy may refuse that.
    """
    return element(
        "svg",
        element("title", escape(title), id=f"{name}-title"),
        element("desc", escape(about), id=f"{name}-desc"),
        _hatch(f"{name}-hatch"),
        *children,
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {_value(width)} {_value(height)}",
        role="img",
        aria_labelledby=f"{name}-title",
        aria_describedby=f"{name}-desc",
        font_family="inherit",
        width=f"{width * 1.4:.0f}",
    )


def _hatch(name: str) -> str:
    """The danger hatching, to be used as `fill="url(#name)"`."""
    stripe = element("path", d="M0 0V6", stroke=DANGER, stroke_width=1.5, opacity=0.45)
    return element(
        "defs",
        element(
            "pattern",
            stripe,
            id=name,
            width=6,
            height=6,
            patternUnits="userSpaceOnUse",
            patternTransform="rotate(45)",
        ),
    )


def text(
    x: float,
    y: float,
    words: str,
    size: float = SMALL,
    fill: str = INK,
    anchor: str = "start",
    weight: int = 400,
    halo: bool = False,
) -> str:
    """Words with their base line at `y`. `halo` clears what lies behind them."""
    more: dict[str, float | str] = {}
    if anchor != "start":
        more["text_anchor"] = anchor
    if weight != 400:
        more["font_weight"] = str(weight)
    if halo:
        more |= {"paint_order": "stroke", "stroke": PAPER, "stroke_width": 4.0, "stroke_linejoin": "round"}
    return element("text", escape(words, quote=False), x=x, y=y, font_size=size, fill=fill, **more)


def text_width(words: str, size: float = SMALL, weight: int = 400) -> float:
    """About how wide words are in the widest sans serif that is common.

    Widths by kind of character were measured in DejaVu Sans, which is as wide as Verdana.
    """
    ems = sum(
        0.31
        if c in " .,:;'|ijl·I"
        else 0.41
        if c in "rtf()-²"
        else 0.93
        if c in "mwMWΩ—%"
        else 0.72
        if c.isupper()
        else 0.62
        for c in words
    )
    return ems * size * (1.1 if weight > 500 else 1.0)


def line(
    *points: tuple[float, float], stroke: str = INK, width: float = 1.5, dashes: str = "", **more: float | str
) -> str:
    """A line through some points."""
    path = "M" + "L".join(f"{_value(x)} {_value(y)}" for x, y in points)
    if dashes:
        more["stroke_dasharray"] = dashes
    return element(
        "path",
        d=path,
        fill="none",
        stroke=stroke,
        stroke_width=width,
        stroke_linejoin="round",
        **more,
    )


def arrow(x: float, y: float, towards: tuple[float, float], size: float = 5.0, fill: str = ACCENT) -> str:
    """An arrowhead with its middle at x, y that points the way `towards`, a direction of any length."""
    length = math.hypot(*towards)
    dx, dy = size * towards[0] / length, size * towards[1] / length
    corners = ((x + 1.2 * dx, y + 1.2 * dy), (x - dx - dy, y - dy + dx), (x - dx + dy, y - dy - dx))
    path = "M" + "L".join(f"{_value(a)} {_value(b)}" for a, b in corners) + "Z"
    return element("path", d=path, fill=fill, stroke=PAPER, stroke_width=1.6, paint_order="stroke")


def cross(x: float, y: float, size: float = 6.0) -> str:
    """The mark of a break, which clears the conductor that lies under it."""
    gap = element("circle", cx=x, cy=y, r=size + 1.5, fill=PAPER)
    strokes = (
        f"M{_value(x - size)} {_value(y - size)}l{_value(2 * size)} {_value(2 * size)}m0 {_value(-2 * size)}"
    )
    strokes += f"l{_value(-2 * size)} {_value(2 * size)}"
    return gap + element(
        "path", d=strokes, fill="none", stroke=DANGER, stroke_width=3.2, stroke_linecap="round"
    )


def bad_joint(x: float, y: float, upright: bool) -> str:
    """The mark of a joint that has gone bad: the resistor sign (IEC 60617) in a conductor."""
    width, height = (8, 16) if upright else (16, 8)
    return element(
        "rect",
        x=x - width / 2,
        y=y - height / 2,
        width=width,
        height=height,
        fill=PAPER,
        stroke=DANGER,
        stroke_width=2.4,
    )


def earth(x: float, y: float, stroke: str = INK) -> str:
    """The earth sign (IEC 60617) hanging from x, y: 20 wide, 18 high."""
    path = f"M{_value(x)} {_value(y)}v7m-10 0h20m-16.5 5h13m-9.5 5h6"
    return element("path", d=path, fill="none", stroke=stroke, stroke_width=1.8)


def fuse(x: float, y: float, stroke: str = QUIET) -> str:
    """The fuse sign (IEC 60617) in a level conductor, its middle at x, y: 14 wide, 6 high."""
    body = element("rect", x=x - 7, y=y - 3, width=14, height=6, fill=PAPER, stroke=stroke, stroke_width=1.4)
    return body + line((x - 7, y), (x + 7, y), stroke=stroke, width=1.2)


def resistance(x: float, y: float, stroke: str = INK) -> str:
    """The resistance sign (IEC 60617) in a level conductor, its middle at x, y: 14 wide, 6 high."""
    return element("rect", x=x - 7, y=y - 3, width=14, height=6, fill=PAPER, stroke=stroke, stroke_width=1.6)


def transformer(x: float, y: float, stroke: str = INK) -> str:
    """The transformer sign (IEC 60617) with its foot at x, y: two circles, 20 wide, 33 high."""
    rings = (
        element("circle", cx=x, cy=y - up, r=10, fill="none", stroke=stroke, stroke_width=1.8)
        for up in (10, 23)
    )
    return "".join(rings)
