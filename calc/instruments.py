"""What a tester shows when it is held to a street: display, threshold and range included.

Every figure for an instrument is an ordinary one for its class (engineering judgement, no source)
unless its line says otherwise; the instrument in the bag comes first.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, Literal

from calc.street import Network

__all__ = [
    "INSTRUMENTS",
    "Display",
    "Instrument",
    "across",
    "clamped",
    "loop_volts",
    "measured",
    "points_of",
    "read",
]

InstrumentName = Literal["clamp", "voltmeter", "two-pole", "contact", "non-contact", "loop"]

CLAMPED = ("main_earth", "neutral_tail", "line_tail", "service", "bond", "known_load")
LINES = ("line", "line2", "line3")
TOUCHED = (*LINES, "neutral", "earth", "supply_earth", "independent_earth", "pipe")


@dataclass(frozen=True, slots=True)
class Instrument:
    """One class of tester.

    Shows `low` to `high` in `unit` by steps of `resolution`; below `threshold` it shows 0; above
    `high` it shows that it is over range. `ohm` is its own resistance between its two probes
    (infinite for one that touches a single point or none).
    """

    id: str
    title: str
    unit: str
    high: float
    resolution: float
    threshold: float = 0.0
    ohm: float = math.inf
    low: float = 0.0

    def shown(self, value: float) -> Display:
        """The display for a true value of `value` (same unit)."""
        if not value <= self.high:
            return Display(self, None, f"over range (above {self.high:g} {self.unit})", "over-range")
        steps = 0 if value < self.threshold else round(value / self.resolution)
        figure = steps * self.resolution
        decimals = max(0, -math.floor(math.log10(self.resolution)))
        return Display(self, round(figure, decimals), f"{figure:.{decimals}f} {self.unit}")


@dataclass(frozen=True, slots=True)
class Display:
    """What is shown: `value` in the instrument's unit (None without a figure), the text, and which it is."""

    instrument: Instrument
    value: float | None
    text: str
    state: Literal["shown", "over-range", "no-test"] = "shown"


INSTRUMENTS: dict[str, Instrument] = {
    instrument.id: instrument
    for instrument in (
        Instrument("clamp", "Clamp meter", "A", high=200, resolution=0.01, threshold=0.03),
        Instrument("voltmeter", "Voltmeter", "V", high=1000, resolution=0.1, ohm=1e6),
        Instrument("two-pole", "Two-pole voltage indicator", "V", high=690, resolution=1, ohm=200e3),
        Instrument("contact", "Single-pole contact indicator", "V", high=1000, resolution=1),
        Instrument("non-contact", "Non-contact indicator", "V", high=1000, resolution=1),
        Instrument("loop", "Loop tester", "ohm", high=200, resolution=0.01),
    )
}
"""The testers of the guide, by id."""

TWO_POLE_STEPS = (12, 24, 50, 120, 230, 400, 690)
"""Lamps of a two-pole indicator, volts. Each lights from 0.85 of its figure (from memory)."""

LIGHTS_FROM = {"contact": 100.0, "non-contact": 80.0}
"""Volts to true earth from which a single-pole indicator lights (common practice, no source)."""

LOOP_LOAD_OHM = 10.0
"""The known load that a loop tester switches across its terminals: about 23 A."""

LOOP_NEEDS_VOLTS = 195.0
"""Below this a loop tester refuses to test (common practice, no source)."""


def points_of(network: Network, home: str, name: str) -> str:
    """The circuit point that an author's word means at a home.

    `line`, `line2`, `line3`: main switch, supply side. `earth`: main earthing terminal, with all that
    is bonded to it (the loose earth once the main earthing conductor is lifted). `supply_earth`: the
    terminal that the conductor was lifted from. `pipe`: the first shared pipe, or the home's own
    metalwork where none is shared. `independent_earth`: a probe in the ground away from all metalwork.
    Raises KeyError for an unknown word or a phase that the home does not have.
    """
    premises = network.street.premises[home]
    if name.startswith("line"):
        return f"{home}.{dict(zip(LINES, premises.phases, strict=False))[name]}"
    pipes = [metalwork.name for metalwork in network.street.metalwork if home in metalwork.joins]
    return {
        "neutral": f"{home}.N",
        "earth": f"{home}.MET",
        "supply_earth": f"{home}.electrode" if premises.earthing == "tt" else f"{home}.cutout.E",
        "independent_earth": "earth",
        "pipe": f"{home}.{pipes[0]}" if pipes else f"{home}.MET",
    }[name]


def read(network: Network, home: str, instrument: str, on: tuple[str, ...]) -> Display:
    """What `instrument` shows at `home`.

    `on` names conductors in one jaw for a clamp, two points for a voltmeter, two-pole indicator or
    loop tester, one point for a single-pole indicator. Raises KeyError for an unknown name.
    """
    tester = INSTRUMENTS[instrument]
    if instrument == "loop" and loop_volts(network, home, on) < LOOP_NEEDS_VOLTS:
        return Display(tester, None, "no test: supply too low", "no-test")
    value = measured(network, home, instrument, on)
    if instrument in LIGHTS_FROM:
        lit = value >= LIGHTS_FROM[instrument]
        return Display(tester, tester.high if lit else 0.0, "lit" if lit else "dark")
    if instrument == "two-pole":
        lamp = max((step for step in TWO_POLE_STEPS if value >= 0.85 * step), default=0)
        return Display(tester, float(lamp), f"{lamp} V lamp" if lamp else "no lamp")
    return tester.shown(value)


def measured(network: Network, home: str, instrument: str, on: tuple[str, ...]) -> Any:
    """The true value that an instrument responds to, in its unit: amperes, volts, volts to true earth for a
    single-pole indicator, or ohms. An array for a batch of networks. `on` as for `read`."""
    if instrument == "clamp":
        return clamped(network, home, on)
    if instrument in LIGHTS_FROM:
        return abs(network.solution.potential(points_of(network, home, on[0])))
    a, b = (points_of(network, home, name) for name in on)
    if instrument != "loop":
        return across(network, a, b, INSTRUMENTS[instrument].ohm)
    # as it works: a known load switched across the terminals, the other loads on, magnitudes only
    under_load = across(network, a, b, LOOP_LOAD_OHM)
    drop = across(network, a, b, math.inf) - under_load
    return (drop + abs(drop)) / 2 / (under_load / LOOP_LOAD_OHM)


def loop_volts(network: Network, home: str, on: tuple[str, ...]) -> Any:
    """Volts that a loop tester finds before it tests."""
    a, b = (points_of(network, home, name) for name in on)
    return across(network, a, b, math.inf)


def clamped(network: Network, home: str, on: tuple[str, ...]) -> Any:
    """Amperes round a set of conductors in one jaw, signs and phases kept. Raises KeyError."""
    total = 0j
    for name in on:
        for conductor in _conductors(network, home, name):
            total += network.solution.current(conductor)
    return abs(total)


def _conductors(network: Network, home: str, name: str) -> tuple[str, ...]:
    premises = network.street.premises[home]
    match name:
        case "main_earth":
            return (f"{home}/main_earth",)
        case "neutral_tail":
            return (f"{home}/tail.N",)
        case "line_tail":
            return (f"{home}/tail.{premises.phases[0]}",)
        case "service":
            return network.conductors_of(home, "service.")
        case "bond":
            return network.conductors_of(home, "bond.")
        case "known_load":
            return network.conductors_of(home, "known_load")
    raise KeyError(name)


def across(network: Network, a: str, b: str, ohm: float) -> Any:
    """Volts that stand across a load of `ohm` held between two points (open circuit for infinity).

    Raises CircuitError for a point that is not there.
    """
    if not network.solution.joined(a, b):
        return 0.0  # the meter's own resistance makes them one potential
    open_circuit = network.solution.volts(a, b)
    if math.isinf(ohm):
        return abs(open_circuit)
    return abs(open_circuit * ohm / (ohm + network.solution.impedance_between(a, b)))
