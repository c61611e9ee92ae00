"""What the neutral of three loaded phases carries, with the third harmonic that adds there."""

from __future__ import annotations

import cmath
import math
from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from calc.balance import Neutral, needed_rating, neutral_with_thirds
from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table
from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, QUIET, element, line, text
from calc.figures import figure
from calc.results import results
from calc.street import PHASES

__all__ = ["CALCULATOR", "fundamental", "third_of_line"]


_BALANCED = 0.02
"""A neutral that carries less than this share of a line carries nothing worth telling. Project choice."""


def fundamental(rms_a: float, power_factor: float, leads: bool, third: float) -> complex:
    """The 50 Hz part of a line's current, A, against its own phase voltage.

    `rms_a` is what a true r.m.s. clamp shows, `third` the third harmonic as a share of the 50 Hz part;
    `power_factor` is that of the 50 Hz part.

    >>> f"{fundamental(10, 0.8, False, 0):.1f}"
    '8.0-6.0j'
    """
    angle = math.acos(power_factor)
    return cmath.rect(rms_a / math.hypot(1, third), angle if leads else -angle)


def third_of_line(third: float) -> float:
    """The third harmonic as a share of the line's r.m.s. current, from its share of the fundamental."""
    return third / math.hypot(1, third)


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    rms = [values[f"current_{n}"] for n in (1, 2, 3)]
    thirds = [values[f"third_{n}"] / 100 for n in (1, 2, 3)]
    lines = [
        fundamental(rms[n - 1], values[f"pf_{n}"], values[f"way_{n}"] == "leads", thirds[n - 1])
        for n in (1, 2, 3)
    ]
    neutral = neutral_with_thirds(lines, thirds)
    largest = max(rms)
    worst = max(
        (needed_rating(amps, third_of_line(third)) for amps, third in zip(rms, thirds, strict=True)),
        key=lambda needed: needed[0],
    )
    # The table is for equal lines: where this neutral carries more than it foresees, the neutral decides.
    needed = max(worst[0], neutral.rms_a)
    figures = {
        "neutral": neutral.rms_a,
        "fundamental": abs(neutral.fundamental_a),
        "third": neutral.third_a,
        "largest": largest,
        "ratio": 100 * neutral.rms_a / largest if largest else None,
        "factor": worst[1],
        "needed": needed,
        "rating": values["rating_a"],
    }
    return Answer(
        tuple(_summary(values, neutral, largest, worst, needed)),
        (results(_OUTPUTS, figures), _lines(rms, lines, thirds)),
        _drawing(lines, neutral, largest),
        tuple(_warnings(values, neutral, largest, needed)),
    )


def _summary(
    values: Mapping[str, Any],
    neutral: Neutral,
    largest: float,
    worst: tuple[float, float, str],
    needed: float,
) -> Iterator[str]:
    if largest == 0:
        yield "Nothing is switched on, and the neutral carries nothing."
        return
    yield (
        f"The neutral carries {figure(neutral.rms_a, 1, 'A')}, where the most loaded line has "
        f"{figure(largest, 1, 'A')}: {figure(abs(neutral.fundamental_a), 1, 'A')} because the loads do not "
        f"balance and {figure(neutral.third_a, 1, 'A')} of third harmonic, which no balance takes away."
    )
    if neutral.third_a > abs(neutral.fundamental_a):
        yield (
            "Most of it is third harmonic. Moving loads from one phase to another will help little, and "
            "a PEN that carries so much warms every joint in it."
        )
    yield (
        f"A four-core cable for it needs {figure(needed, 1, 'A')} before other factors (table factor "
        f"{figure(worst[1], 2)}, by the {'neutral' if needed > worst[0] else worst[2]}), and this one has "
        f"{figure(values['rating_a'], 1, 'A')}."
    )
    if neutral.rms_a < _BALANCED * largest:
        yield (
            "If this neutral is lost nothing shows it while the loads balance so well; the next load that "
            "switches moves the volts of the homes apart."
        )
    else:
        yield (
            "If this neutral is lost, this current goes home by pipes and earths where there are any, and "
            "the volts of the homes move apart."
        )


def _lines(rms: Sequence[float], lines: Sequence[complex], thirds: Sequence[float]) -> Table:
    rows = (
        ("Clamp", rms, "A"),
        ("At 50 Hz", [abs(current) for current in lines], "A"),
        ("Third harmonic", [abs(c) * third for c, third in zip(lines, thirds, strict=True)], "A"),
        ("Third harmonic, of the line's current", [100 * third_of_line(third) for third in thirds], "%"),
        ("Angle to its own voltage", [math.degrees(cmath.phase(current)) for current in lines], "°"),
    )
    return Table(
        "The lines",
        ("What", *PHASES),
        tuple(Row(what, tuple(figure(value, 1, unit) for value in values)) for what, values, unit in rows),
    )


def _warnings(values: Mapping[str, Any], neutral: Neutral, largest: float, needed: float) -> Iterator[str]:
    rating = values["rating_a"]
    if neutral.rms_a > rating:
        yield (
            f"The neutral carries {figure(neutral.rms_a, 1, 'A')} and is rated {figure(rating, 1, 'A')}: it "
            "overheats, and "
            + (
                "no fuse or breaker in the lines will see it."
                if largest <= rating
                else "so does the most loaded line."
            )
        )
    elif needed > rating:
        yield (
            f"With four cores that all warm up the cable needs {figure(needed, 1, 'A')}; its rating of "
            f"{figure(rating, 1, 'A')} is for three."
        )


# The drawing: the lines' currents at 50 Hz and their sum, and what the neutral carries in bars.

_WIDTH, _RADIUS = 360.0, 108.0
_MIDDLE = (180.0, 176.0)
Point = tuple[float, float]


def _drawing(lines: Sequence[complex], neutral: Neutral, largest: float) -> str:
    turned = [current * turn for current, turn in zip(lines, PHASES.values(), strict=True)]
    longest = max([abs(current) for current in (*turned, neutral.fundamental_a)])
    scale = _RADIUS / longest if longest else 0.0
    arrows = [
        *((name, current, ACCENT) for name, current in zip(PHASES, turned, strict=True)),
        ("N", neutral.fundamental_a, DANGER),
    ]
    x, y = _MIDDLE
    drawn = [
        text(10, 22, "Currents at 50 Hz, and their sum N", 14, weight=700),
        element("circle", cx=x, cy=y, r=_RADIUS, fill="none", stroke=EDGE, stroke_dasharray="2 4"),
        *(part for name, current, colour in arrows for part in _phasor(name, current, scale, colour)),
        *_names([(name, scale * abs(current), _along(current)) for name, current, _ in arrows if current]),
        element("circle", cx=x, cy=y, r=3.5, fill=INK),
    ]
    drawn += list(_bars(316, neutral, largest))
    about = ", ".join(f"{name} {figure(abs(current), 1, 'A')}" for name, current, _ in arrows)
    about += f" at 50 Hz; third harmonic in the neutral {figure(neutral.third_a, 1, 'A')}, together "
    about += f"{figure(neutral.rms_a, 1, 'A')}."
    return ink.sheet("neutral", _WIDTH, 418, "The neutral's current as a sum of three", about, *drawn)


def _phasor(name: str, current: complex, scale: float, colour: str) -> Iterator[str]:
    """An arrow from the middle, L1's voltage upward."""
    size = scale * abs(current)
    if size < 1:
        return
    along = _along(current)
    tip = (_MIDDLE[0] + size * along[0], _MIDDLE[1] + size * along[1])
    head = (tip[0] - 7 * along[0], tip[1] - 7 * along[1])
    neutral = name == "N"
    yield line(_MIDDLE, head, stroke=colour, width=3.4 if neutral else 2.4, dashes="7 3" if neutral else "")
    yield ink.arrow(*head, along, 6, colour)


def _along(current: complex) -> Point:
    """The way an arrow points on the paper."""
    up = current / abs(current) * 1j
    return up.real, -up.imag


def _names(arrows: Sequence[tuple[str, float, Point]]) -> Iterator[str]:
    """The name of each line past its arrow's tip; that of the sum, which may lie on one of them, beside its
    arrow where it is farthest from theirs."""
    placed: list[Point] = []
    for name, size, along in arrows:
        if size < 1:
            continue
        if name == "N":
            asides = [_past(share * size, along, aside) for share in (0.5, 0.8) for aside in (15, -15)]
            at = max(asides, key=lambda one: min((math.dist(one, other) for other in placed), default=0))
        else:
            at = _past(size + 16, along)
        placed.append(at)
        colour = DANGER if name == "N" else ACCENT
        yield text(at[0], at[1] + 4, name, 14, anchor="middle", fill=colour, weight=700, halo=True)


def _past(out: float, along: Point, aside: float = 0) -> Point:
    return _MIDDLE[0] + out * along[0] - aside * along[1], _MIDDLE[1] + out * along[1] + aside * along[0]


def _bars(top: float, neutral: Neutral, largest: float) -> Iterator[str]:
    bars = (
        ("Most loaded line", largest, INK),
        ("Neutral, 50 Hz", abs(neutral.fundamental_a), ACCENT),
        ("Neutral, third harmonic", neutral.third_a, ACCENT),
        ("Neutral, together", neutral.rms_a, DANGER if neutral.rms_a > largest else INK),
    )
    scale = 110 / (max(amps for _, amps, _ in bars) or 1.0)
    for number, (name, amps, colour) in enumerate(bars):
        y = top + 25 * number
        yield text(10, y + 12, name, fill=QUIET)
        yield element("rect", x=162, y=y, width=max(scale * amps, 0.8), height=15, fill=colour)
        yield text(170 + scale * amps, y + 12, figure(amps, 1, "A"), halo=True)


_OUTPUTS = (
    Output("neutral", "Current in the neutral, r.m.s.", "A", 1),
    Output("fundamental", "Of it at 50 Hz", "A", 1),
    Output("third", "Of it third harmonic", "A", 1),
    Output("largest", "Most loaded line", "A", 1),
    Output("ratio", "Neutral against the most loaded line", "%", 0),
    Output("factor", "Factor for the cable's harmonics", "", 2),
    Output("needed", "Rating that the cable needs, before other factors", "A", 1),
    Output("rating", "Rating it has", "A", 1),
)

_WAYS = (("lags", "lags its voltage"), ("leads", "leads its voltage"))


def _inputs(number: int, amps: float) -> tuple[Number | Choice, ...]:
    return (
        Number(
            f"current_{number}",
            f"Current in L{number}",
            "A",
            0,
            2000,
            amps,
            0.5,
            "As a true r.m.s. clamp shows.",
        ),
        Number(f"pf_{number}", f"Power factor of L{number} at 50 Hz", "", 0, 1, 1, 0.01),
        Choice(f"way_{number}", f"The current in L{number}", _WAYS, "lags"),
        Number(
            f"third_{number}",
            f"Third harmonic in L{number}",
            "%",
            0,
            100,
            20,
            1,
            "Of the line's 50 Hz current.",
        ),
    )


CALCULATOR = Calculator(
    id="neutral-current",
    title="Three-phase neutral current",
    about="Three loaded lines and the current that comes home in their neutral: what is out of balance, and "
    "the third harmonic, which adds.",
    inputs=(
        *(shape for number, amps in ((1, 40.0), (2, 25.0), (3, 15.0)) for shape in _inputs(number, amps)),
        Number("rating_a", "Rating of the cable, each core", "A", 1, 3000, 63, 1),
    ),
    outputs=_OUTPUTS,
    run=run,
    examples=(
        Example(
            "Heaters on one phase",
            {"current_1": "40", "current_2": "0", "current_3": "0", "third_1": "0"},
        ),
        Example(
            "Balanced, and electronics on every phase",
            {f"{name}_{n}": size for n in (1, 2, 3) for name, size in (("current", "40"), ("third", "70"))},
        ),
        Example(
            "Three power factors",
            {
                "current_1": "10",
                "current_2": "9",
                "current_3": "8",
                "pf_2": "0.9",
                "pf_3": "0.8",
                **{f"third_{n}": "0" for n in (1, 2, 3)},
            },
        ),
    ),
    sources=(
        "Out of balance at 50 Hz: the sum of three phasors, as BS 7671 annex A722.1 writes it (read in a "
        "public forum).",
        "Third harmonics add in the neutral: BSRIA AG 2/2000 (read), 70 % giving 172 % of a line's current.",
        "Factors 1.0, 0.86, 0.86, 1.0 up to 15, 33, 45 % of third harmonic and above: IEC 60364-5-52 Table "
        "E.52.1, the same in BS 7671 Appendix 4 (read on public pages). Grouping, warm places and thermal "
        "insulation have factors of their own in the same appendix, and come on top.",
    ),
    cautions=(
        "Only trained people open a cover to clamp, and a neutral can be live. A clamp that is not true "
        "r.m.s. reads such currents too low.",
        "Third harmonics of unlike loads do not stand in phase, so less may be found; ninth and fifteenth "
        "add in the same way and are not counted.",
        "The factors are for cables with four cores alike, lines about equal. Two loaded phases are harder "
        "on the neutral; a designer chooses cables, not this page.",
    ),
)
