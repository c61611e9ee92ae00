"""When a street, or something done to it, can hurt someone."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from calc.circuit import EARTH, OPEN
from calc.instruments import across
from calc.limits import LIMITS
from calc.street import Network, Street

__all__ = ["Harm", "endangered_homes", "new_harms", "standing_harms", "touch_volts"]


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

RISE_VOLTS = 5.0
"""From what rise on a supply that passes its limit is laid to what was done. Project choice."""


def touch_volts(network: Network, home: str) -> float:
    """Volts across a body (LIMITS["body-ohm"]) between a home's earthed metalwork and true earth.

    A loose earth that only the filters of appliances hold up shows half the mains to a voltmeter and
    falls to a few volts across a body; one that a neighbour's load holds up does not fall.
    """
    return float(across(network, f"{home}.MET", EARTH, LIMITS["body-ohm"].value))


def standing_harms(network: Network) -> tuple[Harm, ...]:
    """Every harm on the street as it stands, at every home."""
    return tuple(harm for home in network.street.premises for harm in _harms_at(network, home))


def new_harms(before: Network, after: Network) -> tuple[Harm, ...]:
    """Harms that stand after something was done and did not stand before it.

    Volts that were near the limit and pass it by a hair are not the doing of what was done: they count
    from a rise of RISE_VOLTS.
    """
    known = {(harm.home, harm.what) for harm in standing_harms(before)}
    return tuple(
        harm
        for harm in standing_harms(after)
        if (harm.home, harm.what) not in known
        and (harm.what != VOLTS_TOO_HIGH or _rise(before, after, harm.home) >= RISE_VOLTS)
    )


def _rise(before: Network, after: Network, home: str) -> float:
    """By how many volts the highest line of a home rose."""

    def highest(network: Network) -> float:
        lines = (f"{home}.{phase}" for phase in network.street.premises[home].phases)
        return max(float(abs(network.solution.volts(line, f"{home}.N"))) for line in lines)

    return highest(after) - highest(before)


def endangered_homes(street: Street, homes: tuple[str, ...]) -> frozenset[str]:
    """The homes given and every home that shares metalwork with one of them."""
    return frozenset(homes).union(*(street.sharing_metalwork(home) for home in homes))


def _harms_at(network: Network, home: str) -> Iterator[Harm]:
    touch = _felt(network, f"{home}.MET", EARTH)
    if touch > LIMITS["touch-volts"].value:
        yield Harm(home, METALWORK_LIVE, touch)
    main_earth = network.branches[f"{home}/main_earth"]
    if main_earth.impedance == OPEN:
        gap = _felt(network, main_earth.start, main_earth.end)
        if gap > LIMITS["touch-volts"].value:
            yield Harm(home, GAP_LIVE, gap)
    for phase in network.street.premises[home].phases:
        volts = abs(network.solution.volts(f"{home}.{phase}", f"{home}.N"))
        if volts > LIMITS["volts-high"].value:
            yield Harm(home, VOLTS_TOO_HIGH, volts)
        elif volts < SUPPLY_LOST_BELOW_VOLTS:
            yield Harm(home, SUPPLY_LOST, volts)


def _felt(network: Network, a: str, b: str) -> float:
    """Volts across a body between two points. No body can raise the volts of a passive network, so
    the body is left out where even the open circuit is below the limit."""
    open_circuit = float(across(network, a, b, math.inf))
    if open_circuit <= LIMITS["touch-volts"].value:
        return open_circuit
    return float(across(network, a, b, LIMITS["body-ohm"].value))
