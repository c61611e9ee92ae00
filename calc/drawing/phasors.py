"""Three supply volts and a star point that has moved off the middle: a small picture of arrows."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, PAPER, QUIET, element, line, text
from calc.figures import figure

__all__ = ["phasors_svg"]

WIDTH, HEIGHT = 360.0, 346.0
MIDDLE = (180.0, 182.0)
RADIUS = 118.0


def phasors_svg(emfs: Sequence[complex], shift: complex, name: str = "phasors") -> str:
    """The volts of three phases against their own star point, which stands at `shift` (all in V).

    `emfs` are L1, L2, L3 against the supply's star point. Inline SVG, 360 wide.
    """
    volts = [abs(emf - shift) for emf in emfs]
    title = "The three phase voltages with the PEN lost"
    said = ", ".join(f"L{n} {figure(v, 1, 'V')}" for n, v in enumerate(volts, 1))
    about = f"{said}; the homes' neutral stands {figure(abs(shift), 1, 'V')} from the supply's."
    scale = RADIUS / max(abs(emf) for emf in emfs)
    tips = [_at(emf, scale) for emf in emfs]
    star = _at(shift, scale)
    return ink.sheet(
        name,
        WIDTH,
        HEIGHT,
        title,
        about,
        element(
            "circle", cx=MIDDLE[0], cy=MIDDLE[1], r=RADIUS, fill="none", stroke=EDGE, stroke_dasharray="2 4"
        ),
        *(line(MIDDLE, tip, stroke=QUIET, width=1.2, dashes="5 4") for tip in tips),
        *(_phasor(star, tip) for tip in tips),
        *_tips(emfs, volts, scale),
        *_star(star, abs(shift)),
        text(32, HEIGHT - 25, _moved(abs(shift)), fill=DANGER if abs(shift) >= 1 else INK, weight=700),
        text(14, HEIGHT - 6, "Dashed: with the PEN whole. Solid: with it lost.", fill=QUIET),
    )


def _at(volts: complex, scale: float) -> tuple[float, float]:
    """Where a potential stands: L1 upward, L2 to the lower right."""
    turned = volts * scale * 1j
    return MIDDLE[0] + turned.real, MIDDLE[1] - turned.imag


def _phasor(start: tuple[float, float], tip: tuple[float, float]) -> str:
    length = math.dist(start, tip)
    if length < 1:
        return ""
    along = ((tip[0] - start[0]) / length, (tip[1] - start[1]) / length)
    head = (tip[0] - 7 * along[0], tip[1] - 7 * along[1])
    return line(start, head, stroke=ACCENT, width=3) + ink.arrow(*head, along, 6)


def _tips(emfs: Sequence[complex], volts: Sequence[float], scale: float) -> Iterator[str]:
    """Each phase's name and volts, outside the circle."""
    for number, (emf, value) in enumerate(zip(emfs, volts, strict=True), 1):
        x, y = _at(emf * 1.09, scale)
        side = x - MIDDLE[0]
        anchor = "middle" if abs(side) < 30 else "start" if side > 0 else "end"
        x, y = (x, y - 16) if anchor == "middle" else (x - math.copysign(44, side), y + 14)
        yield text(x, y, f"L{number}", fill=QUIET, anchor=anchor, halo=True)
        yield text(x, y + 16, figure(value, 1, "V"), 15, anchor=anchor, weight=700, halo=True)


def _star(star: tuple[float, float], shift: float) -> Iterator[str]:
    """Where the homes' neutral stands, and the same sign below the picture, beside its words."""
    yield element("circle", cx=MIDDLE[0], cy=MIDDLE[1], r=4, fill=PAPER, stroke=INK, stroke_width=1.8)
    yield element("circle", cx=20, cy=HEIGHT - 29, r=5, fill=DANGER if shift >= 1 else INK)
    if shift < 1:
        return
    yield line(MIDDLE, star, stroke=DANGER, width=2.4, dashes="3 3")
    yield element("circle", cx=star[0], cy=star[1], r=5, fill=DANGER)


def _moved(shift: float) -> str:
    return f"neutral moved {figure(shift, 1, 'V')}" if shift >= 1 else "neutral not moved"
