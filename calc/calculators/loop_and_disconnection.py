"""The loop that the map promises, the loop that was measured, and whether a breaker opens in time."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from dataclasses import replace
from typing import Any, Literal

from calc.cable_names import cable_name
from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table, Tick
from calc.conductor import CABLES
from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, QUIET, element, line, text
from calc.figures import figure
from calc.instruments import LOOP_LOAD_OHM
from calc.limits import LIMITS, max_loop_ohm
from calc.results import results
from calc.street import Premises, Service, Span, Street, Supply, network

__all__ = ["CALCULATOR", "extra_ohm", "loop_parts", "loop_shown", "opens_within"]

Earthing = Literal["tn-c-s", "tn-s", "tt"]

COLD_SHARE = 0.8
"""A loop of cold conductors is this much of the same loop warm, which the table of breakers is for: they warm
up under load. BS 7671 Appendix 3 and the usual guidance; from memory."""

_APART_OHM, _APART_SHARE = 0.05, 0.2
"""Less than this, or this much of the map's loop, is no difference. Project choice: lengths on a map, cable
temperature and an ordinary tester."""

_HOME = "home"
_U0 = LIMITS["declared-volts"].value

_RATINGS = ("6", "10", "16", "20", "25", "32", "40", "50", "63")


def loop_parts(street: Street) -> dict[str, complex]:
    """The parts of the earth loop of the street's only home up to its main earthing terminal, ohm at 50 Hz.

    From the branches of the street's circuit, without metal pipes and other ways home.
    """
    branches = network(street).branches
    [(home, premises)] = street.premises.items()
    span, phase = street.mains[0].name, premises.phases[0]

    def ohm(*names: str) -> complex:
        return complex(sum(branches[name].impedance for name in names if name in branches))

    parts = {
        "Transformer": ohm(f"substation/{phase}"),
        "Main, line": ohm(f"{span}/{phase}"),
        "Service, line": ohm(f"{home}/service.{phase}"),
        "Meter tail": ohm(f"{home}/tail.{phase}"),
    }
    match premises.earthing:
        case "tn-c-s":
            parts |= {
                "Service, PEN": ohm(f"{home}/service.PEN"),
                "Main, PEN": ohm(f"{span}/PEN", f"{span}/N"),
            }
        case "tn-s":
            parts |= {
                "Service, sheath": ohm(f"{home}/service.E"),
                "Main, sheath or PEN": ohm(f"{span}/E" if f"{span}/E" in branches else f"{span}/PEN"),
            }
        case "tt":
            parts |= {
                "Home electrode": ohm(f"{home}/electrode"),
                "Substation electrode": ohm("substation/electrode"),
            }
    return parts | {"Main earth": ohm(f"{home}/main_earth")}


def loop_shown(loop: complex) -> float:
    """What a loop tester shows for a loop, ohm.

    It switches a resistance across the terminals and compares sizes of volts, so it sees nearly all of the
    resistance and little of the reactance.

    >>> round(loop_shown(0.3 + 0j), 3), round(loop_shown(0.1 + 0.3j), 3)
    (0.3, 0.104)
    """
    return abs(LOOP_LOAD_OHM + loop) - LOOP_LOAD_OHM


def extra_ohm(measured_ohm: float, expected: complex) -> float:
    """The resistance in one place, ohm, with which a loop tester would show `measured_ohm`.

    Below 0 when less was measured than expected: the loop then has another way home, or the map is wrong.

    >>> round(extra_ohm(1.0, 0.3 + 0.0j), 9), round(extra_ohm(0.104, 0.1 + 0.3j), 2)
    (0.7, -0.0)
    """
    total = measured_ohm + LOOP_LOAD_OHM
    return math.sqrt(max(total**2 - expected.imag**2, 0.0)) - LOOP_LOAD_OHM - expected.real


def opens_within(curve: Literal["B", "C", "D"], rating_a: float, fault_a: float) -> float | None:
    """The longest time, s, in which a breaker may open for a fault current in A; None: it may never open.

    0.1 s at its instantaneous current; 60 s (120 s above 32 A) from 2.55 x In; one hour (two above 63 A)
    from 1.45 x In. Source: IEC 60898-1 test currents, read in a maker's table; the instantaneous multiples
    are those of BS 7671's Zs tables.

    >>> [opens_within("B", 32, amps) for amps in (160, 159, 82, 50, 40)]
    [0.1, 60.0, 60.0, 3600.0, None]
    """
    steps = (
        (LIMITS[f"trip-multiple-{curve.lower()}"].value, 0.1),
        (2.55, 60.0 if rating_a <= 32 else 120.0),
        (1.45, 3600.0 if rating_a <= 63 else 7200.0),
    )
    return next((seconds for times, seconds in steps if fault_a >= times * rating_a * (1 - 1e-12)), None)


def mapped_street(values: Mapping[str, Any]) -> Street:
    """One home at the end of one main, as the values say. Raises ValueError where the home cannot be so.

    The transformer's impedance is that of its plate; a tap that raises its volts leaves the ohms alone.
    """
    earthing: Earthing = values["earthing"]
    tapped_kva = values["rating_kva"] * (values["volts"] / values["plate_volts"]) ** 2
    return Street(
        "One home",
        Supply(tapped_kva, values["impedance_percent"], values["star_point_ohm"], values["volts"]),
        (Span(("substation", "J"), values["main_m"], values["main_cable"]),),
        {
            _HOME: Premises(
                "J",
                Service(values["service_m"], values["service_cable"]),
                ("L1",),
                (0.0,),
                earthing,
                electrode_ohm=values["electrode_ohm"] if earthing == "tt" else None,
            )
        },
    )


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    try:
        parts = loop_parts(mapped_street(values))
    except ValueError as impossible:
        why = f"This home cannot be: {impossible}. Choose another service or another earthing."
        empty = dict.fromkeys(output.name for output in _OUTPUTS)
        return Answer((why,), (results(_OUTPUTS, empty),), _no_drawing())
    expected = sum(parts.values())
    measured = values["measured_ohm"] if values["measured"] else None
    extra = None if measured is None else extra_ohm(measured, expected)
    external = abs(expected + max(extra or 0.0, -expected.real))
    whole = external + values["circuit_ohm"]
    warm = whole / COLD_SHARE
    curve, rating = values["curve"], float(values["rating"])
    fault = _least_volts(values) / warm
    seconds = opens_within(curve, rating, fault)
    largest = _largest_ohm(values, curve)
    allowed = LIMITS[_time_limit(values)].value
    quick = seconds is not None and seconds <= allowed
    figures = {
        "expected": abs(expected),
        "measured": measured,
        "tester": loop_shown(expected),
        "extra": extra,
        "external": external,
        "origin_a": values["volts"] / external,
        "whole": whole,
        "warm": warm,
        "whole_a": fault,
        "largest": largest,
        "cold": COLD_SHARE * largest,
        "seconds": seconds,
    }
    return Answer(
        tuple(_summary(values, expected, measured, figures, quick)),
        (
            results(_held(values), figures),
            _parts_table(parts, expected),
            _breaker(values, fault),
        ),
        _drawing(parts, expected, measured, rating, curve, fault),
        tuple(_warnings(values, figures, quick)),
    )


def _least_volts(values: Mapping[str, Any]) -> float:
    """What drives the least earth fault current: 0.95 x 230 V, or the transformer's no-load volts if less."""
    return float(min(LIMITS["cmin"].value * _U0, values["volts"]))


def _largest_ohm(values: Mapping[str, Any], curve: Literal["B", "C", "D"]) -> float:
    """The largest loop of the table of breakers, warm, at the volts that there are."""
    return max_loop_ohm(curve, float(values["rating"])) * _least_volts(values) / (LIMITS["cmin"].value * _U0)


def _time_limit(values: Mapping[str, Any]) -> str:
    where = "distribution" if values["distribution"] else "final"
    return f"disconnect-{where}-{'tt' if values['earthing'] == 'tt' else 'tn'}-s"


def _held(values: Mapping[str, Any]) -> tuple[Output, ...]:
    """The outputs with the limits of this earthing and this kind of circuit."""
    limits = {"seconds": _time_limit(values)}
    if values["earthing"] != "tt":
        limits["external"] = f"ze-{values['earthing']}"
    return tuple(
        replace(output, limit=limits[output.name], side="at-most") if output.name in limits else output
        for output in _OUTPUTS
    )


def _summary(
    values: Mapping[str, Any],
    expected: complex,
    measured: float | None,
    figures: Mapping[str, float | None],
    quick: bool,
) -> Iterator[str]:
    yield (
        f"By the map the loop at the main earthing terminal is {figure(abs(expected), 3, 'ohm')}, so a dead "
        f"short to earth there would drive {_amps(values['volts'] / abs(expected))}."
    )
    if measured is not None:
        extra = figures["extra"] or 0.0
        noise = max(_APART_OHM, _APART_SHARE * abs(expected))
        if extra > noise:
            yield (
                f"Measured is {figure(measured, 2, 'ohm')}: {figure(extra, 2, 'ohm')} more than the map "
                "gives. A joint or a longer or thinner cable could be the reason. Tell the control room, and "
                "do not close the job on a second reading alone."
            )
        elif extra < -noise:
            yield (
                f"Measured is {figure(measured, 2, 'ohm')}, less than the map gives: metal pipes or a "
                "neighbour help to carry the current home, or the map is wrong. A bad joint may hide behind "
                "them."
            )
        else:
            yield (
                f"Measured is {figure(measured, 2, 'ohm')}: the map gives as much, within what cable lengths "
                "and a tester can tell apart. A pipe beside the PEN can give that reading with the PEN open."
            )
    device = f"A {values['rating']} A type {values['curve']} breaker"
    warm, limit = (figure(figures[name] or 0, 3, "ohm") for name in ("warm", "largest"))
    far = f"{figure(figures['whole'] or 0, 3, 'ohm')} cold is {warm} warm"
    if quick:
        yield f"{device} opens at once for an earth fault at the far end: {far}, and {limit} is the most."
    else:
        yield (
            f"{device} need not open in time for an earth fault at the far end: {far}, where {limit} is "
            f"the most. {_slow(figures['seconds'])}"
        )
    if values["earthing"] == "tt":
        rcd = LIMITS["rcd-30-ma-ohm"]
        yield (
            "With an electrode as the only earth, a residual current device does what the breaker cannot: "
            f"one of 30 mA wants the electrode below {figure(rcd.value, 0, 'ohm')} ({rcd.source})."
        )


def _amps(amps: float) -> str:
    return figure(amps, 0 if amps >= 100 else 1, "A")


def _slow(seconds: float | None) -> str:
    if seconds is None:
        return "It may never open, and metalwork would stay live."
    return f"It may take {_duration(seconds)}, with metalwork live all the while."


def _duration(seconds: float) -> str:
    if seconds < 1:
        return figure(seconds, 1, "s")
    return figure(seconds / 60, 0, "min") if seconds < 3600 else figure(seconds / 3600, 0, "h")


def _parts_table(parts: Mapping[str, complex], expected: complex) -> Table:
    rows = [(name, z) for name, z in (*parts.items(), ("Whole loop by the map", expected))]
    return Table(
        "Parts of the loop",
        ("Part", "Resistance", "Reactance", "Impedance"),
        tuple(Row(name, tuple(_ohm(x) for x in (z.real, z.imag, abs(z)))) for name, z in rows),
    )


def _breaker(values: Mapping[str, Any], fault_a: float) -> Table:
    rating = float(values["rating"])
    rows = []
    for curve in ("B", "C", "D"):
        largest = _largest_ohm(values, curve)
        within = opens_within(curve, rating, fault_a)
        rows.append(
            Row(
                f"Type {curve}, {values['rating']} A" + (" (yours)" if curve == values["curve"] else ""),
                (
                    figure(LIMITS[f"trip-multiple-{curve.lower()}"].value * rating, 0, "A"),
                    figure(largest, 2, "ohm"),
                    figure(COLD_SHARE * largest, 2, "ohm"),
                    "may never open" if within is None else f"within {_duration(within)}",
                ),
            )
        )
    return Table(
        "Does the breaker open?",
        ("Breaker", "Opens at once at", "Largest loop", "Measured cold", "Opens"),
        tuple(rows),
    )


def _warnings(values: Mapping[str, Any], figures: Mapping[str, float | None], quick: bool) -> Iterator[str]:
    if not quick:
        yield "Metalwork may stay live through an earth fault: the breaker need not open in time."
    current, declared = figures["origin_a"], LIMITS["fault-current-ka"].value
    if current is not None and current > 1000 * declared:
        yield (
            f"{figure(current / 1000, 1, 'kA')} is more than the {figure(declared, 0, 'kA')} declared for a "
            "single-phase service."
        )
    usual = LIMITS.get(f"ze-{values['earthing']}")
    external = figures["external"]
    if usual is not None and values["earthing"] != "tt" and external is not None and external > usual.value:
        yield (
            f"{figure(external, 2, 'ohm')} is above the {figure(usual.value, 2, 'ohm')} that a distributor "
            "usually quotes as the most for this kind of earthing. Tell the distributor."
        )


# The drawing

_WIDTH = 360.0
_MOST = 50.0
"""Multiple of the rating at the right end of the breaker's scale."""


def _drawing(
    parts: Mapping[str, complex],
    expected: complex,
    measured: float | None,
    rating: float,
    curve: Literal["B", "C", "D"],
    fault_a: float,
) -> str:
    """Bars of the loop's parts, and below them where the fault current falls on the breaker's scale."""
    bars, top = [], 40.0
    for name, z in parts.items():
        bars.append((name, abs(z), ACCENT))
    bars.append(("Whole, by the map", abs(expected), INK))
    if measured is not None:
        bars.append(("Measured", measured, DANGER if measured > abs(expected) else INK))
    scale = 120 / max(ohm for _, ohm, _ in bars)
    drawn = [text(10, 22, "Parts of the loop", 14, weight=700)]
    for name, ohm, colour in bars:
        width = max(scale * ohm, 0.8)
        drawn += [
            text(10, top + 12, name),
            element("rect", x=155, y=top, width=width, height=15, fill=colour),
            text(162 + width, top + 12, _ohm(ohm), halo=True),
        ]
        top += 23
    drawn += list(_scale(top + 18, rating, curve, fault_a))
    height = top + 132
    title = "The parts of the earth loop, and the breaker"
    about = "; ".join(f"{name} {_ohm(ohm)}" for name, ohm, _ in bars) + (
        f". The least fault current is {_amps(fault_a)}, {figure(fault_a / rating, 1)} times the rating."
    )
    return ink.sheet("loop", _WIDTH, height, title, about, *drawn)


def _no_drawing() -> str:
    words = "No loop to draw: this home cannot be."
    return ink.sheet("loop", _WIDTH, 40, "The parts of the earth loop", words, text(10, 25, words))


def _ohm(ohm: float) -> str:
    return figure(1000 * ohm, 1, "mΩ") if ohm < 1 else figure(ohm, 2, "ohm")


def _scale(top: float, rating: float, curve: Literal["B", "C", "D"], fault_a: float) -> Iterator[str]:
    """Multiples of the rating from 1 to 50 on a logarithmic line, with the breaker's steps and the fault."""
    at_once = LIMITS[f"trip-multiple-{curve.lower()}"].value

    def x(times: float) -> float:
        return 12 + 336 * math.log(min(max(times, 1.0), _MOST)) / math.log(_MOST)

    yield text(10, top, f"Least fault current, {figure(rating, 0, 'A')} type {curve} breaker", 14, weight=700)
    floor = top + 52
    for begins, ends, words, shade in (
        (1.0, 1.45, "never?", 0.10),
        (1.45, 2.55, "hours", 0.22),
        (2.55, at_once, "minutes", 0.36),
        (at_once, _MOST, "at once", 0.6),
    ):
        left, right = x(begins), x(ends)
        yield element(
            "rect",
            x=left,
            y=floor - 18,
            width=right - left,
            height=18,
            fill=ACCENT,
            fill_opacity=f"{shade:.2f}",
            stroke=EDGE,
            stroke_width=0.8,
        )
        if right - left > ink.text_width(words) + 4:
            yield text((left + right) / 2, floor - 5, words, anchor="middle", halo=True)
    for times in (1.0, at_once, _MOST):
        anchor = "start" if times == 1 else "end" if times == _MOST else "middle"
        yield line((x(times), floor), (x(times), floor + 5), stroke=QUIET)
        yield text(x(times), floor + 18, figure(times * rating, 0, "A"), anchor=anchor, fill=QUIET)
    here = x(fault_a / rating)
    yield ink.arrow(here, floor - 23, (0, 1), 5, DANGER)
    anchor = "start" if here < 70 else "end" if here > 290 else "middle"
    yield text(here, floor - 31, _amps(fault_a), fill=DANGER, anchor=anchor, weight=700, halo=True)
    yield text(10, floor + 40, "Far left: it may never open.", fill=QUIET)


_MAINS = tuple((name, cable_name(name)) for name in CABLES if name.startswith(("mains-", "overhead-")))
_SERVICES = tuple((name, cable_name(name)) for name in CABLES if name.startswith("service-"))

_OUTPUTS = (
    Output("expected", "Loop by the map, at the main earthing terminal", "ohm", 3),
    Output("tester", "What a loop tester would show for that", "ohm", 3),
    Output("measured", "Loop measured there", "ohm", 2),
    Output("extra", "Resistance in one place that would explain the difference", "ohm", 3),
    Output("external", "Loop with that resistance in it", "ohm", 3),
    Output(
        "origin_a", "Prospective earth fault current there", "A", 0, help="The no-load volts over the loop."
    ),
    Output("whole", "Loop to the far end of the circuit, conductors cold", "ohm", 3),
    Output("warm", "The same loop, conductors warm", "ohm", 3, help="The cold loop over 0.8."),
    Output(
        "whole_a",
        "Least earth fault current at the far end",
        "A",
        0,
        help="0.95 × 230 V, or the no-load volts where they are less, over the warm loop.",
    ),
    Output("largest", "Largest loop for the breaker to open at once, conductors warm", "ohm", 3),
    Output("cold", "The same for what is measured cold", "ohm", 3),
    Output("seconds", "Longest time to open", "s", 1),
)

CALCULATOR = Calculator(
    id="loop-and-disconnection",
    title="Loop and disconnection",
    about="The earth loop that the map gives, beside what was measured: fault current, what a joint might "
    "add, and whether a breaker opens in time.",
    inputs=(
        Number("rating_kva", "Transformer", "kVA", 5, 2000, 315, 1),
        Number("impedance_percent", "Its impedance", "%", 1, 15, 4.5, 0.05),
        Choice("main_cable", "Main", _MAINS, "mains-185-al-cne"),
        Number("main_m", "Length of the main", "m", 1, 3000, 200, 1),
        Choice("service_cable", "Service", _SERVICES, "service-25-al-cne"),
        Number("service_m", "Length of the service", "m", 1, 300, 14, 1),
        Choice(
            "earthing",
            "Earthing of the home",
            (
                ("tn-c-s", "TN-C-S: the PEN is the earth (PME)"),
                ("tn-s", "TN-S: sheath or earth core"),
                ("tt", "TT: an electrode of its own"),
            ),
            "tn-c-s",
        ),
        Number("electrode_ohm", "Electrode of the home, where TT", "ohm", 0.5, 1000, 80, 0.5),
        Number("star_point_ohm", "Electrode of the substation", "ohm", 0.1, 100, 1, 0.1),
        Number("volts", "No-load volts of the transformer, line to neutral", "V", 200, 260, 240, 0.1),
        Number(
            "plate_volts",
            "No-load volts on its plate, line to neutral",
            "V",
            200,
            260,
            240,
            0.1,
            "Its impedance is a share of these, whatever its tap makes of them. 240 V is 415 V line to line.",
        ),
        Tick("measured", "The loop was measured", True),
        Number("measured_ohm", "Measured at the main earthing terminal", "ohm", 0.01, 2000, 0.19, 0.01),
        Choice("curve", "Breaker type", tuple((c, f"Type {c}") for c in "BCD"), "B"),
        Choice("rating", "Breaker rating", tuple((r, f"{r} A") for r in _RATINGS), "32"),
        Number(
            "circuit_ohm",
            "Line and protective conductor of the circuit, to its far end",
            "ohm",
            0,
            50,
            0.4,
            0.01,
            "Known in the trade as R1 + R2, as measured cold, or worked out for 20 °C.",
        ),
        Tick("distribution", "It is a distribution circuit, or a final circuit above 63 A", False),
    ),
    outputs=_OUTPUTS,
    run=run,
    examples=(
        Example("A reading that agrees with the map", {"measured_ohm": "0.13"}),
        Example("Half an ohm too much", {"measured_ohm": "0.65"}),
        Example(
            "Far end of a long overhead line",
            {
                "rating_kva": "25",
                "main_cable": "overhead-abc-35",
                "main_m": "400",
                "service_cable": "service-abc-35",
                "measured": "no",
                "curve": "C",
            },
        ),
        Example("An electrode is the only earth", {"earthing": "tt", "measured": "no"}),
    ),
    sources=(
        "Largest loop of a breaker: 0.95 × 230 V over 5, 10 or 20 times its rating for types B, C and D "
        "(BS 7671 Table 41.3; B and C read on a public page, D by the same formula). Rows for fuses are "
        "left out on purpose: the public table looked wrong when it was read.",
        "Times: BS 7671 Table 41.1, 411.3.2.3 and 411.3.2.4, read on public pages.",
        "Breaker below its instantaneous current: IEC 60898-1 test currents, read in a maker's table.",
        "What is measured cold, or reckoned for 20 °C as the map's loop is, is held against 0.8 of the "
        "largest loop: BS 7671 Appendix 3, from memory.",
        "A tap changes a transformer's volts and hardly its ohms: engineering judgement. Where the no-load "
        "volts are below 0.95 × 230 V they take its place.",
        "Cables, transformer: IEC 60228, IEC 60909 and what calc.conductor says beside each figure.",
    ),
    cautions=(
        "A loop tester puts a load across the PEN: not where an open PEN is suspected and others could be "
        "harmed.",
        "Loop tests are live work for trained people under their own safety rules.",
        "The map's loop has cables at 20 °C and nothing for the high-voltage network, joints or pipes. A "
        "reading that agrees is no proof of a sound PEN; a site's own cable records come first.",
        "A loop tester sees little of the reactance, so near a transformer it shows less than the loop is.",
    ),
)
