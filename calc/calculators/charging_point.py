"""A charging point on PME: the electrode that an open PEN would need, and what the one there is would do."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.balance import neutral_current, phase_emfs, star
from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table, Tick
from calc.drawing.chart import Axis, Curve, Level, Mark, chart_svg
from calc.electrode import open_pen_electrode_ohm, open_pen_volts, rod_ohm
from calc.figures import figure
from calc.limits import LIMITS
from calc.results import results

__all__ = ["CALCULATOR", "OpenPen", "open_pen"]

U0 = LIMITS["declared-volts"].value
TOUCH = LIMITS["open-pen-touch-volts"].value

_ROD = (100.0, 2.4, 0.016)
"""A rod to compare with: soil in ohm.m, length and diameter in m."""


@dataclass(frozen=True, slots=True)
class OpenPen:
    """What an open PEN does: V of metalwork to true earth with the electrode and without one, A through the
    electrode, V line to neutral of each phase that has a load, and A of neutral while the PEN is whole.

    `largest_ohm` is the electrode that keeps metalwork at 70 V; math.inf means any.
    """

    touch_volts: float
    bare_volts: float
    electrode_a: float
    line_volts: tuple[float, ...]
    neutral_a: float
    largest_ohm: float


def open_pen(currents: Sequence[float], electrode_ohm: float = math.inf, cmax: float = 1.1) -> OpenPen:
    """Loads of so many A at 230 V, one for a single-phase home or three, and their PEN open.

    Resistive loads of constant impedance; the source's own earth is taken as 0 ohm. Raises ValueError for a
    negative current, or when nothing is on.
    """
    l1_a, l2_a, l3_a = (*currents, 0.0, 0.0)[:3]
    volts = open_pen_volts(l1_a, l2_a, l3_a, electrode_ohm, cmax)
    emfs = phase_emfs(cmax * U0)[: len(currents)]
    ohms = [U0 / current if current else math.inf for current in currents]
    loads = star(emfs, ohms, electrode_ohm).load_v
    return OpenPen(
        volts,
        open_pen_volts(l1_a, l2_a, l3_a, cmax=cmax),
        volts / electrode_ohm,
        tuple(abs(load) for load in loads),
        float(abs(neutral_current(l1_a, l2_a, l3_a))),
        open_pen_electrode_ohm(l1_a, l2_a, l3_a, cmax),
    )


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    currents = _currents(values)
    electrode = values["electrode_ohm"] if values["electrode"] else math.inf
    now = open_pen(currents, electrode, values["cmax"])
    alone = open_pen_electrode_ohm(max(currents), cmax=values["cmax"])
    return Answer(
        tuple(_summary(now, alone, electrode, len(currents))),
        (results(OUTPUTS, _figures(now, alone, electrode)), _electrodes(currents, values["cmax"])),
        _picture(currents, values["cmax"], electrode, now),
        tuple(_warnings(now, electrode, len(currents))),
    )


def _currents(values: Mapping[str, Any]) -> list[float]:
    lines = ("l1_a",) if values["phases"] == "one" else ("l1_a", "l2_a", "l3_a")
    return [values[line] for line in lines]


def _finite(ohm: float) -> float | None:
    return ohm if math.isfinite(ohm) else None


def _figures(now: OpenPen, alone: float, electrode: float) -> dict[str, float | None]:
    there = math.isfinite(electrode)
    return {
        "largest_ohm": _finite(now.largest_ohm),
        "alone_ohm": _finite(alone),
        "touch_volts": now.touch_volts,
        "bare_volts": now.bare_volts,
        "electrode_a": now.electrode_a if there else None,
        "high_volts": max(now.line_volts),
        "low_volts": min(now.line_volts),
        "neutral_a": now.neutral_a,
    }


def _summary(now: OpenPen, alone: float, electrode: float, phases: int) -> Iterator[str]:
    limit, rod = figure(TOUCH, 0, "V"), rod_ohm(*_ROD)
    if math.isinf(now.largest_ohm):
        yield (
            "With these loads any electrode will do, even none: they balance so well that metalwork stays "
            f"at {limit} or less. That holds for these loads alone."
        )
    else:
        yield (
            f"With the PEN open, an electrode of {figure(now.largest_ohm, 2, 'ohm')} or less keeps metalwork "
            f"at {limit}. A {figure(_ROD[1], 1, 'm')} rod in soil of {figure(_ROD[0], 0)} Ω·m has "
            f"{figure(rod, 0, 'ohm')}."
        )
    if phases > 1:
        yield (
            "When the other phases go off and the fullest stays on, it takes "
            + (f"{figure(alone, 2, 'ohm')}." if math.isfinite(alone) else "none.")
        )
    metalwork = figure(now.touch_volts, 0, "V")
    if math.isfinite(electrode):
        yield (
            f"With the {figure(electrode, 1, 'ohm')} there is, an open PEN puts metalwork and the vehicle at "
            f"{metalwork} to true earth, and {figure(now.electrode_a, 1, 'A')} flow through the electrode."
        )
    else:
        yield f"Without an electrode, an open PEN puts metalwork and vehicle at {metalwork} to true earth."
    yield (
        "Where the electrode does not reach, another way of protection is needed: the designer of the "
        "installation chooses it, by the rules in force."
    )


def _electrodes(currents: Sequence[float], cmax: float) -> Table:
    rows = []
    for ohm in (1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, math.inf):
        then = open_pen(currents, ohm, cmax)
        kept = "yes" if then.touch_volts <= TOUCH else "no"
        name = figure(ohm, 0, "ohm") if math.isfinite(ohm) else "No electrode"
        lowest, highest = figure(min(then.line_volts), 0), figure(max(then.line_volts), 0, "V")
        line = highest if lowest == figure(max(then.line_volts), 0) else f"{lowest} to {highest}"
        rows.append(Row(name, (figure(then.touch_volts, 1, "V"), kept, line)))
    heading = f"At most {figure(TOUCH, 0, 'V')}?"
    return Table(
        "Other electrodes, PEN open", ("Electrode", "Metalwork", heading, "Line to neutral"), tuple(rows)
    )


def _picture(currents: Sequence[float], cmax: float, electrode: float, now: OpenPen) -> str:
    across = Axis("Electrode, Ω", 0.1, 1000, (0.1, 0.5, 2, 10, 50, 200, 1000), log=True)
    upright = Axis("Metalwork to true earth, V", 0, 260, (0, 50, 100, 150, 200, 250))
    points = tuple((ohm, open_pen(currents, ohm, cmax).touch_volts) for ohm in across.spread(60))
    marks = []
    if math.isfinite(electrode):
        words = f"the electrode there is: {figure(electrode, 1, 'ohm')}, {figure(now.touch_volts, 0, 'V')}"
        marks.append(Mark((electrode, now.touch_volts), words))
    if math.isfinite(now.largest_ohm):
        marks.append(
            Mark((now.largest_ohm, TOUCH), f"the largest: {figure(now.largest_ohm, 2, 'ohm')}", hollow=True)
        )
    about = (
        f"From {figure(points[0][1], 0, 'V')} with {figure(points[0][0], 1, 'ohm')} to "
        f"{figure(points[-1][1], 0, 'V')} with {figure(points[-1][0], 0, 'ohm')}; "
        + "; ".join(mark.words for mark in marks)
        + "."
    )
    return chart_svg(
        "charging-point",
        "Metalwork with the PEN open, over the electrode's ohms",
        about,
        across,
        upright,
        (Curve("metalwork with the PEN open", points),),
        marks,
        (Level(TOUCH, figure(TOUCH, 0, "V")),),
    )


def _warnings(now: OpenPen, electrode: float, phases: int) -> Iterator[str]:
    if now.touch_volts > TOUCH:
        yield f"An open PEN would put a vehicle at {figure(now.touch_volts, 0, 'V')}, which can kill."
    low, high = LIMITS["open-pen-volts-low"].value, LIMITS["open-pen-volts-high"].value
    if phases == 1 and low <= now.line_volts[0] <= high:
        yield (
            f"Line to neutral stays at {figure(now.line_volts[0], 0, 'V')}, within {figure(low, 0)} to "
            f"{figure(high, 0, 'V')}: a device that watches this alone would not open."
        )
    if math.isfinite(electrode) and now.electrode_a > 1:
        yield f"{figure(now.electrode_a, 0, 'A')} that flow on dry the soil round the rod: its ohms rise."


OUTPUTS = (
    Output("largest_ohm", "Largest electrode for these loads (a dash: any)", "ohm", 2),
    Output("alone_ohm", "Largest electrode, the fullest phase alone", "ohm", 2),
    Output("touch_volts", "Metalwork, PEN open", "V", 1, "open-pen-touch-volts", "at-most"),
    Output("bare_volts", "Metalwork, PEN open and no electrode", "V", 1, "open-pen-touch-volts", "at-most"),
    Output("electrode_a", "Current through the electrode", "A", 2),
    Output("high_volts", "Line to neutral, highest", "V", 1, "open-pen-volts-high", "at-most"),
    Output("low_volts", "Line to neutral, lowest", "V", 1, "open-pen-volts-low", "at-least"),
    Output("neutral_a", "Neutral current, PEN whole", "A", 1),
)

CALCULATOR = Calculator(
    id="charging-point",
    title="A charging point on PME",
    about="The largest electrode that would keep metalwork and vehicle at 70 V with the PEN open, and what "
    "an open PEN would do with the electrode there is.",
    inputs=(
        Choice("phases", "Supply", (("one", "Single phase"), ("three", "Three phases")), "one"),
        Number(
            "l1_a", "Load of the installation on L1", "A", 1, 400, 40, 0.1, "Charging and all else together"
        ),
        Number("l2_a", "Load on L2", "A", 0, 400, 8, 0.1, "Three phases only"),
        Number("l3_a", "Load on L3", "A", 0, 400, 8, 0.1, "Three phases only"),
        Tick("electrode", "The installation has an electrode", True, "A rod or buried metal of its own"),
        Number("electrode_ohm", "Its electrode to true earth", "ohm", 0.1, 1000, 20, 0.1, slider=True),
        Number("cmax", "Voltage factor", "", 1, 1.1, 1.1, 0.01, "1.1: supply at its highest"),
    ),
    run=run,
    outputs=OUTPUTS,
    examples=(
        Example("Single phase, charging alone: 32 A", {"l1_a": "32"}),
        Example(
            "Three phases, 80, 20 and 20 A", {"phases": "three", "l1_a": "80", "l2_a": "20", "l3_a": "20"}
        ),
        Example(
            "Three phases nearly balanced: any electrode will do",
            {"phases": "three", "l1_a": "100", "l2_a": "75", "l3_a": "50"},
        ),
        Example("No electrode at all", {"electrode": "no"}),
    ),
    sources=(
        f"{figure(TOUCH, 0, 'V')}: {LIMITS['open-pen-touch-volts'].source}.",
        f"{figure(LIMITS['open-pen-volts-low'].value, 0)} and "
        f"{figure(LIMITS['open-pen-volts-high'].value, 0, 'V')}: {LIMITS['open-pen-volts-high'].source}.",
        "Single phase: BS 7671 annex A722, R ≤ 70 U0/(I (Cmax U0 − 70)), from memory and confirmed by "
        "Millman's theorem.",
        "Three phases: derived by Millman's theorem, R ≤ 1/(Cmax In/70 − (I1 + I2 + I3)/U0). The printed "
        "expression was not seen. In as BS 7671 A722.1, read in a public forum.",
        f"Voltage factor: {LIMITS['cmax'].source}.",
    ),
    cautions=(
        "70 V is the figure for a device to open, and not a voltage that may be touched.",
        "The rules in force, and the designer of the installation, come before this page. It gives no leave "
        "to use a PME earth outdoors.",
        "For the loads entered, as plain resistances, unity power factor. Take the worst set, not the usual.",
        "Soil dries and freezes: an electrode's ohms are what was measured that day.",
    ),
)
