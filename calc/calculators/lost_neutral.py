"""A three-phase main that has lost its PEN: what each phase gets, and what metalwork stands at."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from calc.calculator import Answer, Calculator, Example, Number, Output, Row, Table, Tick
from calc.circuit import EARTH, OPEN, Branch, solve
from calc.drawing import phasors_svg
from calc.figures import figure
from calc.limits import LIMITS
from calc.results import cited, results
from calc.street import FLOOR_OHM, PHASES, load_ohm
from calc.work import KNOWN_LOAD_KW

__all__ = ["CALCULATOR", "Lost", "lost"]

SOURCE_OHM = 1e-6
"""Next to nothing: the volts asked for are those that the homes have while the PEN is whole."""

_LIMITS = tuple(LIMITS[name] for name in ("volts-high", "volts-low", "touch-volts"))
_HIGH, _LOW, _TOUCH = (limit.value for limit in _LIMITS)


@dataclass(frozen=True, slots=True)
class Lost:
    """Volts of the homes on L1, L2, L3; V of metalwork to true earth; A through the electrode; and the
    phasor V of the homes' neutral above the supply's."""

    volts: tuple[float, ...]
    metalwork_volts: float
    electrode_a: float
    shift: complex


def lost(
    supply_volts: float, load_kw: Sequence[float], electrode_ohm: float | None, star_point_ohm: float
) -> Lost:
    """The part of a main past a break of its PEN.

    `load_kw` has a figure for each phase, taken at 230 V; `electrode_ohm` is all electrodes and buried
    metal of that part together (None: only the dry building), `star_point_ohm` the substation's own.
    """
    branches = [
        Branch("star point", "star", EARTH, star_point_ohm),
        Branch("building", "neutral", EARTH, FLOOR_OHM),
        Branch("electrode", "neutral", EARTH, OPEN if electrode_ohm is None else electrode_ohm),
    ]
    for (phase, unit), kilowatts in zip(PHASES.items(), load_kw, strict=True):
        branches.append(Branch(f"source {phase}", "star", phase, SOURCE_OHM, supply_volts * unit))
        branches.append(Branch(f"load {phase}", phase, "neutral", load_ohm(kilowatts)))
    solution = solve(branches)
    return Lost(
        tuple(float(abs(solution.volts(phase, "neutral"))) for phase in PHASES),
        float(abs(solution.potential("neutral"))),
        float(abs(solution.current("electrode"))),
        solution.volts("neutral", "star"),
    )


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    volts, loads = values["supply_volts"], [values[f"load_{phase.lower()}"] for phase in PHASES]
    electrode = values["electrode_ohm"] if values["electrode"] else None
    now = lost(volts, loads, electrode, values["star_point_ohm"])
    heater = lost(volts, [loads[0] + KNOWN_LOAD_KW, *loads[1:]], electrode, values["star_point_ohm"])
    emfs = [volts * unit for unit in PHASES.values()]
    return Answer(
        tuple(_summary(volts, loads, now, heater)),
        (results(_OUTPUTS, _figures(now)), _homes(volts, loads, now, heater), _metalwork(now, heater)),
        phasors_svg(emfs, now.shift),
        tuple(_warnings(now)),
    )


def _summary(volts: float, loads: list[float], now: Lost, heater: Lost) -> Iterator[str]:
    by_phase = dict(zip(PHASES, now.volts, strict=True))
    level = {phase: round(volts, 6) for phase, volts in by_phase.items()}  # alike is alike on every machine
    high, low = max(level, key=lambda p: level[p]), min(level, key=lambda p: level[p])
    if by_phase[high] - by_phase[low] < 1:
        why = (
            "The loads balance" if max(loads) - min(loads) <= 0.05 * max(loads) else "The electrodes hold it"
        )
        yield (
            f"{why}: every home has {figure(by_phase[high], 1, 'V')}, as if the PEN were whole. "
            "Volts alone would not find the break."
        )
    else:
        yield (
            f"Homes on {high} get {figure(by_phase[high], 1, 'V')} and homes on {low} "
            f"{figure(by_phase[low], 1, 'V')}, instead of {figure(volts, 1, 'V')}: the least loaded phase "
            "rises, the most loaded falls."
        )
    yield (
        f"Metalwork tied to the lost PEN stands at {figure(now.metalwork_volts, 1, 'V')} to true earth in "
        "every home past the break, also in one where everything is switched off."
    )
    changes = [f"L{n} to {figure(v, 1, 'V')}" for n, v in enumerate(heater.volts, 1)]
    yield (
        f"A {figure(KNOWN_LOAD_KW, 1, 'kW')} heater more on L1 moves {', '.join(changes)}: lights that "
        "change in one home when another switches something on are the sign."
    )


def _homes(volts: float, loads: list[float], now: Lost, heater: Lost) -> Table:
    rows = (
        Row(
            f"On {phase}",
            (
                figure(kw, 1, "kW"),
                figure(volts, 1, "V"),
                figure(v, 1, "V"),
                _judged(v),
                figure(after, 1, "V"),
            ),
        )
        for phase, kw, v, after in zip(PHASES, loads, now.volts, heater.volts, strict=True)
    )
    heading = f"{figure(KNOWN_LOAD_KW, 1, 'kW')} more on L1"
    return Table(
        "Volts, line to neutral", ("Homes", "Load", "PEN whole", "PEN lost", "Limits", heading), tuple(rows)
    )


def _judged(volts: float) -> str:
    if volts > _HIGH:
        return f"over {figure(_HIGH, 0, 'V')}"
    return f"under {figure(_LOW, 1, 'V')}" if volts < _LOW else "within"


def _metalwork(now: Lost, heater: Lost) -> Table:
    rows = (
        ("Metalwork to true earth", 1, "V", now.metalwork_volts, heater.metalwork_volts),
        ("Current through the electrode", 2, "A", now.electrode_a, heater.electrode_a),
        ("Neutral moved from the supply's", 1, "V", abs(now.shift), abs(heater.shift)),
    )
    return Table(
        "Metalwork",
        ("What", "PEN whole", "PEN lost", f"{figure(KNOWN_LOAD_KW, 1, 'kW')} more on L1"),
        tuple(
            Row(what, tuple(figure(v, digits, unit) for v in (0.0, *both)))
            for what, digits, unit, *both in rows
        ),
    )


def _figures(now: Lost) -> dict[str, float | None]:
    return {
        "most_volts": max(now.volts),
        "least_volts": min(now.volts),
        "metalwork_volts": now.metalwork_volts,
        "electrode_a": now.electrode_a,
    }


def _warnings(now: Lost) -> Iterator[str]:
    if now.metalwork_volts > _TOUCH:
        yield f"Metalwork at {figure(now.metalwork_volts, 0, 'V')} to true earth can kill."
    if max(now.volts) > _HIGH:
        yield f"{figure(max(now.volts), 0, 'V')} on a 230 V appliance can start a fire."


_OUTPUTS = (
    Output("most_volts", "Highest of the three, line to neutral", "V", 1, "volts-high", "at-most"),
    Output("least_volts", "Lowest of the three, line to neutral", "V", 1, "volts-low", "at-least"),
    Output("metalwork_volts", "Metalwork to true earth", "V", 1, "touch-volts", "at-most"),
    Output("electrode_a", "Current through the electrode", "A", 2),
)

CALCULATOR = Calculator(
    id="lost-neutral",
    title="A three-phase main that has lost its PEN",
    about="Homes on three phases past a break in the main's PEN: the volts each gets, and what their "
    "metalwork stands at.",
    inputs=(
        *(
            Number(
                f"load_{phase.lower()}", f"Load on {phase}", "kW", 0, 100, kw, 0.1, "All homes past the break"
            )
            for phase, kw in zip(PHASES, (6, 4, 2), strict=True)
        ),
        Tick("electrode", "The part past the break has an electrode or buried metal", True),
        Number("electrode_ohm", "All its electrodes together", "ohm", 0.1, 1000, 20, 0.1),
        Number("star_point_ohm", "Electrode of the substation", "ohm", 0, 100, 1, 0.1),
        Number("supply_volts", "Supply, line to neutral", "V", 100, 300, 240, 0.1),
    ),
    run=run,
    outputs=_OUTPUTS,
    examples=(
        Example("The loads balance, and hide it", {"load_l1": "4", "load_l2": "4", "load_l3": "4"}),
        Example("One heater on, nearly nothing else", {"load_l1": "3", "load_l2": "0.2", "load_l3": "0.2"}),
        Example("No electrode past the break", {"electrode": "no"}),
    ),
    sources=(
        *(cited(limit) for limit in _LIMITS),
        "The moved neutral: nodal analysis, checked against Millman's theorem.",
    ),
    cautions=(
        "No figure here is a limit to work by, or leave to touch metalwork.",
        "Loads are taken as plain resistances. Real appliances behave differently away from 230 V, so take "
        "the figures as the kind of thing that happens.",
    ),
)
