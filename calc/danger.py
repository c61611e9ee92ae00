"""When a street, or something done to it, can hurt someone."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from calc.circuit import EARTH, OPEN
from calc.instruments import across
from calc.limits import LIMITS
from calc.street import Network, Street

__all__ = [
    "HARMS",
    "Harm",
    "Measured",
    "endangered_homes",
    "measured",
    "new_harms",
    "standing_harms",
    "touch_volts",
]

Measured = dict[str, dict[str, float]]
"""For each home the volts that decide each of HARMS."""


@dataclass(frozen=True, slots=True, order=True)
class Harm:
    """One thing that hurts: at which home, what it is, and by how many volts."""

    home: str
    what: str
    volts: float

    def __str__(self) -> str:
        return f"{self.home}: {self.what} ({self.volts:.0f} V)"


METALWORK_LIVE = "earthed metalwork live to true earth"
GAP_LIVE = "volts across the lifted main earth"
VOLTS_TOO_HIGH = "supply above 253 V"
SUPPLY_LOST = "supply lost or far too low"

SUPPLY_LOST_BELOW_VOLTS = 160.0
"""A home below this has in effect lost its supply. Project choice."""

CHANGE_VOLTS = 5.0
"""From what change on a harm is laid to what was done. Project choice."""

HARMS: dict[str, Callable[[Any], Any]] = {
    METALWORK_LIVE: lambda volts: volts > LIMITS["touch-volts"].value,
    GAP_LIVE: lambda volts: volts > LIMITS["touch-volts"].value,
    VOLTS_TOO_HIGH: lambda volts: volts > LIMITS["volts-high"].value,
    SUPPLY_LOST: lambda volts: volts < SUPPLY_LOST_BELOW_VOLTS,
}
"""Each harm, and whether so many volts are one (an array for many streets)."""


def touch_volts(network: Network, home: str) -> float:
    """Volts across a body (LIMITS["body-ohm"]) between a home's earthed metalwork and true earth.

    A loose earth that only the filters of appliances hold up shows half the mains to a voltmeter and
    falls to a few volts across a body; one that a neighbour's load holds up does not fall.
    """
    return float(across(network, f"{home}.MET", EARTH, LIMITS["body-ohm"].value))


def standing_harms(network: Network) -> tuple[Harm, ...]:
    """Every harm on the street as it stands, at every home."""
    return tuple(
        Harm(home, what, volts)
        for home, measures in measured(network).items()
        for what, volts in measures.items()
        if HARMS[what](volts)
    )


def new_harms(before: Measured, after: Measured) -> tuple[Harm, ...]:
    """Harms that stand after something was done and did not stand before it, from what was measured then.

    What was near a limit and passes it by a hair is not the doing of what was done: a harm counts from a
    change of CHANGE_VOLTS.
    """
    harms = []
    for home, now in after.items():
        then = before[home]
        for what, is_harm in HARMS.items():
            changed = abs(now[what] - then[what]) >= CHANGE_VOLTS
            if is_harm(now[what]) and not is_harm(then[what]) and changed:
                harms.append(Harm(home, what, now[what]))
    return tuple(harms)


def endangered_homes(street: Street, homes: tuple[str, ...]) -> frozenset[str]:
    """The homes given and every home that shares metalwork with one of them."""
    return frozenset(homes).union(*(street.sharing_metalwork(home) for home in homes))


def measured(network: Network) -> Measured:
    """The volts that decide each of HARMS, home by home; 0 across a main earth that is connected."""
    return {home: _measures(network, home) for home in network.street.premises}


def _measures(network: Network, home: str) -> dict[str, float]:
    main_earth = network.branches[f"{home}/main_earth"]
    lines = [f"{home}.{phase}" for phase in network.street.premises[home].phases]
    supplied = [float(abs(network.solution.volts(line, f"{home}.N"))) for line in lines]
    return {
        METALWORK_LIVE: _felt(network, f"{home}.MET", EARTH),
        GAP_LIVE: _felt(network, main_earth.start, main_earth.end) if main_earth.impedance == OPEN else 0.0,
        VOLTS_TOO_HIGH: max(supplied),
        SUPPLY_LOST: min(supplied),
    }


def _felt(network: Network, a: str, b: str) -> float:
    """Volts across a body between two points. No body can raise the volts of a passive network, so
    the body is left out where even the open circuit is below the limit."""
    open_circuit = float(across(network, a, b, math.inf))
    if open_circuit <= LIMITS["touch-volts"].value:
        return open_circuit
    return float(across(network, a, b, LIMITS["body-ohm"].value))
