"""Electrodes: the ohms of a rod, rods in line or a strip, and of all electrodes of a main together."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal

from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table
from calc.drawing.chart import Axis, Curve, Level, Mark, chart_svg
from calc.electrode import parallel_ohm, rod_ohm, rods_ohm, strip_ohm, wenner_ohm_m
from calc.figures import figure
from calc.limits import LIMITS
from calc.results import results

__all__ = ["CALCULATOR", "Buried"]

_OVERALL, _EACH = LIMITS["pme-neutral-ohm"].value, LIMITS["pme-electrode-ohm"].value
_OTHERS = ("other_1", "other_2", "other_3", "other_4")

_SOILS = (
    ("Loam, garden soil", 5, 50),
    ("Clay", 10, 100),
    ("Chalk", 30, 100),
    ("Clay, sand, gravel", 40, 250),
)
"""Soil -> ohm.m from, to. Source: BS 7430, read on a public page."""


@dataclass(frozen=True, slots=True)
class Buried:
    """An electrode in uniform soil: one rod, rods in line, or a strip; lengths in m."""

    kind: Literal["rod", "rods", "strip"]
    soil_ohm_m: float
    length_m: float
    across_m: float
    count: int = 1
    spacing_m: float = math.inf
    depth_m: float = 0.6

    @property
    def one_ohm(self) -> float:
        """The strip, or one of the rods alone, ohm."""
        if self.kind == "strip":
            return strip_ohm(self.soil_ohm_m, self.length_m, self.across_m, self.depth_m)
        return rod_ohm(self.soil_ohm_m, self.length_m, self.across_m)

    @property
    def crowded(self) -> bool:
        """Whether rods stand nearer than their length, where the formula does not hold."""
        return self.kind == "rods" and self.count > 1 and self.spacing_m < self.length_m

    @property
    def ohm(self) -> float:
        """The whole, ohm; crowded rods count as one, which is the most that they can have."""
        if self.kind != "rods" or self.crowded:
            return self.one_ohm
        return rods_ohm(self.one_ohm, self.count, self.spacing_m, self.soil_ohm_m)


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    measured = values["soil_from"] == "wenner"
    soil = wenner_ohm_m(values["spacing_m"], values["reading_ohm"]) if measured else values["soil_ohm_m"]
    buried = _buried(values, soil)
    others = [values[name] for name in _OTHERS if values[name]]
    overall = parallel_ohm([buried.ohm, *others])
    figures = {"soil_ohm_m": soil, "one_ohm": buried.one_ohm, "ohm": buried.ohm, "overall_ohm": overall}
    return Answer(
        tuple(_summary(buried, overall, len(others))),
        (results(OUTPUTS, figures), _main(buried.ohm, others, overall), _soils(buried, others)),
        _picture(buried),
        tuple(_warnings(values, buried, measured)),
    )


def _buried(values: Mapping[str, Any], soil: float) -> Buried:
    if values["kind"] == "strip":
        width = values["strip_mm"] / 1000
        return Buried("strip", soil, values["strip_m"], width, depth_m=values["depth_m"])
    count = int(values["count"]) if values["kind"] == "rods" else 1
    across = values["rod_mm"] / 1000
    return Buried(values["kind"], soil, values["rod_m"], across, count, values["apart_m"])


def _summary(buried: Buried, overall: float, others: int) -> Iterator[str]:
    soil, ohm = f"{figure(buried.soil_ohm_m, 0)} Ω·m", figure(buried.ohm, 1, "ohm")
    yield f"{_named(buried)} in soil of {soil}: about {ohm} to true earth."
    limit = figure(_OVERALL, 0, "ohm")
    kept = "within" if overall <= _OVERALL else "over"
    together = f"Together with {others} other{'s' if others > 1 else ''} on the main" if others else "Alone"
    yield (
        f"{together} that is {figure(overall, 1, 'ohm')} from neutral to earth: {kept} the {limit} that this "
        "guide works with (from memory; the distributor's own figure comes first)."
    )
    kw = LIMITS["declared-volts"].value ** 2 / 3000
    volts = LIMITS["declared-volts"].value * overall / (overall + kw)
    would = "would still" if volts > LIMITS["touch-volts"].value else "would"
    yield (
        "An electrode does not stand in for a PEN. Were all of these past a break, 3 kW of load "
        f"{would} put metalwork at {figure(volts, 0, 'V')} to true earth, and more load higher."
    )


def _named(buried: Buried) -> str:
    match buried.kind:
        case "strip":
            return f"A strip of {figure(buried.length_m, 1, 'm')}"
        case "rods" if buried.count > 1:
            rods = f"{buried.count} rods of {figure(buried.length_m, 1, 'm')}"
            return f"{rods} in line, {figure(buried.spacing_m, 1, 'm')} apart"
    return f"One rod of {figure(buried.length_m, 1, 'm')}"


def _main(ohm: float, others: list[float], overall: float) -> Table:
    each = [("This one", ohm), *((f"Other {n}", other) for n, other in enumerate(others, 1))]
    rows = [Row(name, (figure(one, 1, "ohm"), figure(100 * overall / one, 0, "%"))) for name, one in each]
    rows.append(Row("All together", (figure(overall, 1, "ohm"), figure(100, 0, "%"))))
    return Table("Neutral to earth of the main", ("Electrode", "Ohms", "Share of the current"), tuple(rows))


def _soils(buried: Buried, others: list[float]) -> Table:
    rows = []
    for name, *ends in _SOILS:
        alone = [replace(buried, soil_ohm_m=float(end)).ohm for end in ends]
        both = [parallel_ohm([ohm, *others]) for ohm in alone]
        rows.append(Row(name, (f"{ends[0]} to {ends[1]} Ω·m", _span(alone), _span(both))))
    return Table(
        "The same in other soils", ("Soil", "Resistivity", "This electrode", "The main"), tuple(rows)
    )


def _span(ohms: list[float]) -> str:
    return f"{figure(ohms[0], 1)} to {figure(ohms[1], 1, 'ohm')}"


def _picture(buried: Buried) -> str:
    if buried.kind == "rods":
        across = Axis("Rods in line", 1, 10, (1, 2, 4, 6, 8, 10))
        of = "these rods, joined"
        drawn = [(float(n), replace(buried, count=n).ohm) for n in range(1, 11)]
        ideal: tuple[Curve, ...] = (
            Curve("if they did not crowd", tuple((n, buried.one_ohm / n) for n, _ in drawn)),
        )
        here = float(buried.count)
    else:
        rod = buried.kind == "rod"
        ticks = (0.5, 1, 2, 5, 10, 30) if rod else (5, 10, 20, 50, 100, 200)
        across = Axis("Length, m", ticks[0], ticks[-1], ticks, log=True)
        of = f"this {buried.kind}, shorter or longer"
        drawn = [(metres, replace(buried, length_m=metres).ohm) for metres in across.spread(40)]
        ideal, here = (), buried.length_m
    top = _round_up(max(ohm for _, ohm in drawn))
    upright = Axis("Electrode to true earth, Ω", 0, top, tuple(top * n / 5 for n in range(6)))
    mark = Mark((here, buried.ohm), f"{_named(buried)}: {figure(buried.ohm, 1, 'ohm')}")
    about = (
        f"From {figure(drawn[0][1], 1, 'ohm')} at {figure(drawn[0][0], 1)} down to "
        f"{figure(drawn[-1][1], 1, 'ohm')} at {figure(drawn[-1][0], 1)}. {mark.words}."
    )
    levels = (Level(_OVERALL, f"{figure(_OVERALL, 0, 'ohm')}, the whole main"),) if top >= _OVERALL else ()
    curves = (Curve(of, tuple(drawn)), *ideal)
    return chart_svg(
        "electrodes", f"Ohms over {across.words.lower()}", about, across, upright, curves, (mark,), levels
    )


def _round_up(ohm: float) -> float:
    """The next of 1, 2, 5, 10 and so on that is not below."""
    power = 10.0 ** math.floor(math.log10(ohm))
    return next(power * step for step in (1, 2, 5, 10) if power * step >= ohm)


def _warnings(values: Mapping[str, Any], buried: Buried, measured: bool) -> Iterator[str]:
    if buried.crowded:
        yield (
            f"Rods {figure(buried.spacing_m, 1, 'm')} apart stand nearer than their own length. The formula "
            "does not hold there; they are counted as one rod, which is the most they can have."
        )
    if buried.soil_ohm_m > 250:
        yield "Soil like this is dry, sandy or rock. A neighbouring patch can differ tenfold: measure."
    if measured and buried.kind != "strip" and values["spacing_m"] < buried.length_m:
        yield "Probes nearer together than the rod is long did not feel the soil at its foot."


OUTPUTS = (
    Output("soil_ohm_m", "Soil", "Ω·m", 1),
    Output("one_ohm", "One rod alone, or the strip", "ohm", 2),
    Output("ohm", "This electrode", "ohm", 2, "pme-electrode-ohm", "at-most"),
    Output(
        "overall_ohm", "Neutral to earth, all electrodes together", "ohm", 2, "pme-neutral-ohm", "at-most"
    ),
)

_OTHER_HELP = "0: there is none"

CALCULATOR = Calculator(
    id="electrodes",
    title="Electrodes",
    about="The ohms of a rod, of rods in line or of a strip, from the soil or from a four-probe reading, and "
    "what all electrodes of a main come to together.",
    inputs=(
        Choice(
            "kind", "Electrode", (("rod", "One rod"), ("rods", "Rods in line"), ("strip", "Strip")), "rod"
        ),
        Choice(
            "soil_from",
            "The soil is known from",
            (("resistivity", "Its resistivity"), ("wenner", "A four-probe reading (Wenner)")),
            "resistivity",
        ),
        Number("soil_ohm_m", "Soil resistivity", "Ω·m", 1, 10_000, 100, 1),
        Number("spacing_m", "Probes apart", "m", 0.5, 50, 3, 0.1, "Four-probe reading only"),
        Number("reading_ohm", "The tester reads", "ohm", 0.01, 1000, 5.3, 0.01, "Four-probe reading only"),
        Number("rod_m", "Length of a rod", "m", 0.5, 30, 2.4, 0.1, slider=True),
        Number("rod_mm", "Its diameter", "mm", 8, 50, 16, 0.1),
        Choice("count", "Rods", tuple((str(n), str(n)) for n in range(1, 11)), "3", "Rods in line only"),
        Number("apart_m", "Rods apart", "m", 0.5, 50, 2.4, 0.1, "Rods in line only"),
        Number("strip_m", "Length of the strip", "m", 5, 200, 20, 0.5, "Strip only"),
        Number("strip_mm", "Width of the strip", "mm", 10, 100, 25, 1, "Strip only"),
        Number("depth_m", "Its depth", "m", 0.3, 2, 0.6, 0.1, "Strip only"),
        *(
            Number(name, f"Other electrode {n} of the same main", "ohm", 0, 10_000, ohm, 0.1, _OTHER_HELP)
            for n, (name, ohm) in enumerate(zip(_OTHERS, (60, 60, 0, 0), strict=True), 1)
        ),
    ),
    run=run,
    outputs=OUTPUTS,
    examples=(
        Example("Three rods in line", {"kind": "rods"}),
        Example("20 m of strip", {"kind": "strip"}),
        Example("Four probes 3 m apart read 6.52 Ω", {"soil_from": "wenner", "reading_ohm": "6.52"}),
        Example("One rod in gravel, and nothing else", {"soil_ohm_m": "250", "other_1": "0", "other_2": "0"}),
    ),
    sources=(
        "Rod: Dwight, as used in BS 7430, R = ρ/(2πL) (ln(8L/d) − 1); two public calculation sheets.",
        "Rods in line: BS 7430, R (1 + λa)/n with a = ρ/(2πRs); λ from memory.",
        "Strip: BS 7430, R = ρ/(2πL) (ln(2L²/(wh)) − 1), for strips long beside their depth, with "
        "Dwight's terms for shorter ones (IEEE Std 142); both from memory.",
        "Four probes: ρ = 2πaR, MIL-HDBK-419A, read.",
        "Soils: BS 7430, read on a public page.",
        f"{figure(_OVERALL, 0, 'ohm')} for the main and {figure(_EACH, 0, 'ohm')} for one electrode: "
        f"{LIMITS['pme-neutral-ohm'].source}: not read, and not sure.",
        "All together: resistances in parallel.",
    ),
    cautions=(
        "An electrode is not lifted to be measured while the supply is on: it may be all that holds "
        "metalwork down.",
        "Soil is layered, dries and freezes. What is calculated is for planning; what is measured decides.",
        "Electrodes are added as if far apart. Near each other they crowd, and the main has more ohms.",
        "Local rules and competent persons come first.",
    ),
)
