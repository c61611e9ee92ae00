"""When a street, or something done to it, can hurt someone."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import reduce
from typing import Any

from calc.circuit import EARTH
from calc.instruments import across
from calc.limits import LIMITS
from calc.many import some, where
from calc.street import Network, Street

__all__ = [
    "CASE_LIVE",
    "HARMS",
    "Harm",
    "Measured",
    "endangered_homes",
    "felt_volts",
    "measured",
    "metalwork_volts",
    "new_harms",
    "raised",
    "standing_harms",
    "touch_volts",
    "touched_points",
]

Measured = dict[str, dict[str, Any]]
"""For each home the volts that decide each of HARMS; arrays for a batch of networks."""


@dataclass(frozen=True, slots=True, order=True)
class Harm:
    """One thing that hurts: at which home, what it is, and by how many volts."""

    home: str
    what: str
    volts: float

    def __str__(self) -> str:
        return f"{self.home}: {self.what} ({self.volts:.0f} V)"


METALWORK_LIVE = "earthed metalwork live to true earth"
CASE_LIVE = "an appliance's case live to true earth"
GAP_LIVE = "volts across the lifted main earth"
END_LIVE = "end of the lifted main earth live to true earth"
VOLTS_TOO_HIGH = "supply above 253 V"
SUPPLY_LOST = "supply lost or far too low"

SUPPLY_LOST_BELOW_VOLTS = 160.0
"""A home below this has in effect lost its supply. Project choice."""

CHANGE_VOLTS = 5.0
"""From what change on a harm is laid to what was done. Project choice."""

HARMS: dict[str, Callable[[Any], Any]] = {
    METALWORK_LIVE: lambda volts: volts > LIMITS["touch-volts"].value,
    CASE_LIVE: lambda volts: volts > LIMITS["touch-volts"].value,
    GAP_LIVE: lambda volts: volts > LIMITS["touch-volts"].value,
    END_LIVE: lambda volts: volts > LIMITS["touch-volts"].value,
    VOLTS_TOO_HIGH: lambda volts: volts > LIMITS["volts-high"].value,
    SUPPLY_LOST: lambda volts: volts < SUPPLY_LOST_BELOW_VOLTS,
}
"""Each harm, and whether so many volts are one (an array for many streets)."""


def touch_volts(network: Network, home: str) -> Any:
    """Volts across a body (LIMITS["body-ohm"]) between what people touch at a home and true earth: its
    earthed metalwork, or the case of an appliance that is earthed no more, whichever is more.

    A loose earth that only the filters of appliances hold up shows half the mains to a voltmeter and
    falls to a few volts across a body; one that a neighbour's load holds up does not fall.
    """
    body_ohm = LIMITS["body-ohm"].value
    felt = (across(network, point, EARTH, body_ohm) for point in touched_points(network, home))
    return reduce(lambda one, other: where(one > other, one, other), felt)


def touched_points(network: Network, home: str) -> tuple[str, ...]:
    """What people touch at a home: its earthed metalwork, and the case of an appliance that is earthed no
    more, where there is one."""
    return tuple(point for point in (f"{home}.MET", _case(network, home)) if point)


def _case(network: Network, home: str) -> str:
    """The point of a case that is earthed no more; empty where there is none."""
    return f"{home}.case" if f"{home}/case_feet" in network.branches else ""


def metalwork_volts(network: Network, home: str) -> Any:
    """The volts that decide METALWORK_LIVE: as touch_volts, but without a body where that is harmless too."""
    return felt_volts(network, f"{home}.MET", EARTH)


def standing_harms(network: Network) -> tuple[Harm, ...]:
    """Every harm on the street as it stands, at every home."""
    return tuple(
        Harm(home, what, volts)
        for home, measures in measured(network).items()
        for what, volts in measures.items()
        if HARMS[what](volts)
    )


def new_harms(before: Measured, after: Measured) -> tuple[Harm, ...]:
    """Harms that stand after something was done and did not stand before it, from what was measured then."""
    return tuple(Harm(home, what, after[home][what]) for home, what, new in raised(before, after) if new)


def raised(before: Measured, after: Measured) -> Iterator[tuple[str, str, Any]]:
    """Each home and each of HARMS, and whether it stands after something was done and did not before (in
    which networks of a batch).

    What was near a limit and passes it by a hair is not the doing of what was done: a harm counts from a
    change of CHANGE_VOLTS.
    """
    for home in after:
        for what, is_harm in HARMS.items():
            then, now = before[home][what], after[home][what]
            yield home, what, (is_harm(now) > is_harm(then)) & (abs(now - then) >= CHANGE_VOLTS)


def endangered_homes(street: Street, homes: tuple[str, ...]) -> frozenset[str]:
    """The homes given and every home that shares metalwork with one of them."""
    return frozenset(homes).union(*(street.sharing_metalwork(home) for home in homes))


def measured(network: Network) -> Measured:
    """The volts that decide each of HARMS, home by home.

    Across a main earth that is connected, at an end that it does not have, and where no case has lost its
    earth, stand 0 V. The end is where the conductor comes from: whoever has lifted it has that in the other
    hand, and a cut-out's earth stands at mains voltage where its PEN is broken, whatever the loose earth
    does.
    """
    return {home: _measures(network, home) for home in network.street.premises}


def _measures(network: Network, home: str) -> dict[str, Any]:
    main_earth = network.branches[f"{home}/main_earth"]
    lines = [f"{home}.{phase}" for phase in network.street.premises[home].phases]
    supplied = [abs(network.solution.volts(line, f"{home}.N")) for line in lines]
    return {
        METALWORK_LIVE: metalwork_volts(network, home),
        CASE_LIVE: _felt_at_case(network, home),
        GAP_LIVE: _felt_where(main_earth.is_open, network, main_earth.start, main_earth.end),
        END_LIVE: _felt_where(main_earth.is_open, network, main_earth.start, EARTH),
        VOLTS_TOO_HIGH: reduce(lambda one, other: where(one > other, one, other), supplied),
        SUPPLY_LOST: reduce(lambda one, other: where(one < other, one, other), supplied),
    }


def _felt_at_case(network: Network, home: str) -> Any:
    """In a batch, 0 V in the networks whose case has its earth."""
    case = _case(network, home)
    if not case:
        return 0.0
    return where(network.branches[f"{home}/case_feet"].is_open, 0.0, felt_volts(network, case, EARTH))


def _felt_where(lifted: Any, network: Network, a: str, b: str) -> Any:
    return where(lifted, felt_volts(network, a, b), 0.0) if some(lifted) else 0.0


def felt_volts(
    network: Network,
    a: str,
    b: str,
    limit_volts: float = LIMITS["touch-volts"].value,
    body_ohm: float = LIMITS["body-ohm"].value,
) -> Any:
    """Volts across a body between two points, to be held against a limit. No body can raise the volts of a
    passive network, so the body is left out where even the open circuit is below the limit."""
    open_circuit = across(network, a, b, math.inf)
    too_many = open_circuit > limit_volts
    if not some(too_many):
        return open_circuit
    return where(too_many, across(network, a, b, body_ohm), open_circuit)
