"""What a tester shows when it is held to a street: display, threshold and range included.

Every figure for an instrument is an ordinary one for its class (engineering judgement, no source)
unless its line says otherwise; the instrument in the bag comes first.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Literal

from calc.many import rounded, some, where
from calc.street import Network, Street

__all__ = [
    "INSTRUMENTS",
    "Display",
    "Instrument",
    "across",
    "as_display",
    "clamped",
    "lacking",
    "loop_volts",
    "measured",
    "points_of",
    "read",
    "reading",
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

    @property
    def decimals(self) -> int:
        """How many decimals its figures have."""
        return max(0, -math.floor(math.log10(self.resolution)))

    def figure(self, value: Any) -> Any:
        """The figure for a true value of `value` (same unit), infinite when it is over range."""
        steps = where(value < self.threshold, 0.0, rounded(value / self.resolution))
        return where(value <= self.high, rounded(steps * self.resolution, self.decimals), math.inf)

    def shown(self, value: float) -> Display:
        """The display for a true value of `value` (same unit)."""
        return self.display(self.figure(value))

    def display(self, figure: float) -> Display:
        """The display of a figure; of one that is not a number, that there is no test."""
        if math.isnan(figure):
            return Display(self, None, "no test: supply too low", "no-test")
        if math.isinf(figure):
            return Display(self, None, f"over range (above {self.high:g} {self.unit})", "over-range")
        return Display(self, figure, f"{figure:.{self.decimals}f} {self.unit}")


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
    is bonded to it (the loose earth once the main earthing conductor is lifted). `supply_earth`: what the
    conductor comes from, whatever that is: the cut-out's earth, an electrode, or the line where somebody
    has connected it there. `pipe`: the first shared pipe, or the home's own metalwork where none is
    shared. `independent_earth`: a probe in the ground away from all metalwork.
    Raises KeyError for an unknown word or a phase that the home does not have.
    """
    premises = network.street.premises[home]
    if name.startswith("line"):
        return f"{home}.{dict(zip(LINES, premises.phases, strict=False))[name]}"
    pipes = [metalwork.name for metalwork in network.street.metalwork if home in metalwork.joins]
    return {
        "neutral": f"{home}.N",
        "earth": f"{home}.MET",
        "supply_earth": network.branches[f"{home}/main_earth"].start,
        "independent_earth": "earth",
        "pipe": f"{home}.{pipes[0]}" if pipes else f"{home}.MET",
    }[name]


def lacking(street: Street, home: str, on: tuple[str, ...]) -> str:
    """The first line that a reading is to be taken on and the home does not have; empty if none."""
    missing = LINES[len(street.premises[home].phases) :]
    return next((name for name in missing if name in on), "")


def read(network: Network, home: str, instrument: str, on: tuple[str, ...]) -> Display:
    """What `instrument` shows at `home`.

    `on` names conductors in one jaw for a clamp, two points for a voltmeter, two-pole indicator or
    loop tester, one point for a single-pole indicator. Raises KeyError for an unknown name.
    """
    return as_display(instrument, reading(network, home, instrument, on))


def reading(
    network: Network,
    home: str,
    instrument: str,
    on: tuple[str, ...],
    erring: Callable[[Any], Any] = lambda value: value,
) -> Any:
    """What `instrument` shows as a number (an array for a batch of networks).

    That is the lamp of a two-pole indicator, `high` or 0 for a single-pole one that is lit or dark, infinity
    for over range, and not a number where no test can be made. `erring` gives the value that it takes a true
    one for. `on` as for `read`.
    """
    tester = INSTRUMENTS[instrument]
    if instrument == "loop":
        enough = loop_volts(network, home, on) >= LOOP_NEEDS_VOLTS
        if not some(enough):
            return where(enough, math.nan, math.nan)
        return where(enough, tester.figure(erring(measured(network, home, instrument, on))), math.nan)
    value = measured(network, home, instrument, on)
    if instrument in LIGHTS_FROM:
        return where(value >= LIGHTS_FROM[instrument], tester.high, 0.0)
    return _lamp(erring(value)) if instrument == "two-pole" else tester.figure(erring(value))


def _lamp(volts: Any) -> Any:
    """The highest lamp that lights; 0 for none."""
    lamp = 0.0
    for step in TWO_POLE_STEPS:
        lamp = where(volts >= 0.85 * step, float(step), lamp)
    return lamp


def as_display(instrument: str, figure: float) -> Display:
    """The display of which `reading` gives the figure."""
    tester = INSTRUMENTS[instrument]
    if instrument in LIGHTS_FROM:
        return Display(tester, figure, "lit" if figure else "dark")
    if instrument == "two-pole":
        return Display(tester, figure, f"{figure:.0f} V lamp" if figure else "no lamp")
    return tester.display(figure)


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
    """Amperes round a set of conductors in one jaw, signs and phases kept, r.m.s. with the third harmonic.
    Raises KeyError."""
    conductors = [conductor for name in on for conductor in _conductors(network, home, name)]
    fundamental = abs(sum(map(network.solution.current, conductors), start=0j))
    if network.third is None:
        return fundamental
    third = abs(sum(map(network.third.current, conductors), start=0j))
    return (fundamental**2 + third**2) ** 0.5


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
