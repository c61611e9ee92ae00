"""What a state of the street costs for each minute that it lasts, in persons.

A danger costs as long as it lasts. The unit of every figure here is persons: so many are, on the average of
that state, touching what is live, or at home beside something else that is wrong. Times minutes, that is
person-minutes. The kinds are not weighed against each other: a minute without supply is not a minute at a
live tap. The two kinds of touch add up, since nobody's hands are wet and dry at once.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import reduce
from typing import Any

from calc.circuit import EARTH
from calc.danger import HARMS, SUPPLY_LOST, VOLTS_TOO_HIGH, felt_volts, touched_points
from calc.limits import LIMITS
from calc.many import every, some, where
from calc.shock import body_ohm
from calc.street import Network

__all__ = [
    "EXPOSURES",
    "FIRE_FROM_WATTS",
    "TOUCHES",
    "Exposure",
    "People",
    "exposure",
    "hottest_joint_watts",
    "in_touch_danger",
    "street_exposure",
    "touchable",
]

TOUCH_DRY = "touch-dry"
TOUCH_WET = "touch-wet"
HIGH = "volts-high"
LOST = "supply-lost"
HEAT = "heat"

EXPOSURES: dict[str, str] = {
    TOUCH_DRY: "persons who touch metalwork that is live to true earth, with dry skin",
    TOUCH_WET: "persons who touch metalwork that is live to true earth, with wet skin",
    HIGH: "persons at a home whose appliances get more than the highest permitted volts",
    LOST: "persons at a home whose appliances get no supply, or far too little",
    HEAT: "persons at a home where a bad joint is hot enough to set fire",
}
"""Each kind of exposure, and whom it counts."""

TOUCHES = (TOUCH_DRY, TOUCH_WET)
"""The kinds that make up touch danger."""

Exposure = dict[str, Any]
"""Each of EXPOSURES -> persons; arrays for a batch of networks."""

WET_BODY_OHM = body_ohm(25, percent=5, edition="2005 water-wet", path="hands-to-feet")
"""A wet body from both hands to the feet, at the limit that holds where people are wet: the column of which
95 % of all people have more. Source: as calc.shock.BODY_OHM."""

FIRE_FROM_WATTS = 20.0
"""Heat in one joint from which it may set fire to what is round it. Engineering judgement between two figures
of NBSIR 76-1011 (National Bureau of Standards, 1976; abstract read): a loose connection was seen to glow at
5 W, and at 35 W its metal box passed 450 degrees F (232 degrees C)."""

_LIMITS = {
    TOUCH_DRY: (LIMITS["touch-volts"].value, LIMITS["body-ohm"].value),
    TOUCH_WET: (LIMITS["touch-volts-special"].value, WET_BODY_OHM),
}
"""The volts that a touch may have, and the body that they stand across."""

_JOINTED = ("service.", "tail.", "main_earth", "bond.")
"""Conductors of a home whose joints lie in or at the home."""


@dataclass(frozen=True, slots=True)
class People:
    """Who is at each home at any moment, and how much of that time they touch earthed metalwork.

    Raises ValueError for fewer than none, or for shares that are more than the whole of the time.
    """

    at_home: float
    """Persons at home, on the average of day and night."""
    touch_dry: float
    """Share of their time at home in which they touch metalwork with dry skin."""
    touch_wet: float
    """Share of their time at home in which they touch it with wet skin: at a sink, in a bath or shower,
    outdoors."""

    def __post_init__(self) -> None:
        if not (0 <= self.at_home < math.inf):
            raise ValueError(f"at_home must be 0 or more, got {self.at_home:g}")
        if not (self.touch_dry >= 0 and self.touch_wet >= 0 and self.touch_dry + self.touch_wet <= 1):
            raise ValueError(
                f"touch_dry and touch_wet must be shares of the time, got {self.touch_dry:g} and "
                f"{self.touch_wet:g}"
            )


def exposure(network: Network, people: People, sound: Network | None = None) -> dict[str, Exposure]:
    """The persons exposed at each home, as the street stands.

    `sound`: the same street without its fault, which tells a bad joint from the length of its cable; without
    it no heat is found.
    """
    watts = hottest_joint_watts(network, sound) if sound else {}
    return {home: _at(network, home, people, watts.get(home, 0.0)) for home in network.street.premises}


def street_exposure(network: Network, people: People, sound: Network | None = None) -> Exposure:
    """The same for all homes together."""
    homes = exposure(network, people, sound).values()
    return {kind: sum(home[kind] for home in homes) for kind in EXPOSURES}


def in_touch_danger(exposed: Exposure) -> Any:
    """Persons who touch what is live, dry and wet together: one figure to compare procedures by. It leaves
    out volts, supply and heat."""
    return sum(exposed[kind] for kind in TOUCHES)


def touchable(network: Network, home: str) -> Iterator[tuple[str, Any]]:
    """The points of a home that a person can touch, and whether they can (in which networks of a batch): what
    calc.danger.touched_points names, its length of each shared pipe, and the end of a main earth that is
    lifted or broken."""
    for point in touched_points(network, home):
        feet = network.branches.get(f"{home}/case_feet")
        yield point, where(feet.is_open, False, True) if feet and point.endswith(".case") else True
    for metal in network.street.metalwork:
        if home in metal.joins:
            yield f"{home}.{metal.name}", True
    main_earth = network.branches[f"{home}/main_earth"]
    if some(main_earth.is_open):
        yield main_earth.start, main_earth.is_open


def hottest_joint_watts(network: Network, sound: Network) -> dict[str, Any]:
    """Watts in the worst joint of each home's own conductors, for the homes that have a bad one: what its
    resistance has grown by, times the current squared. An open conductor has none: an arc is in no figure."""
    hottest: dict[str, Any] = {}
    for name, then in sound.branches.items():
        home, _, part = name.partition("/")
        now = network.branches[name]
        if now.impedance is then.impedance or home not in network.street.premises:
            continue
        if part.startswith(_JOINTED) and not every(now.is_open):
            grown = (now.impedance - then.impedance).real
            watts = where(now.is_open, 0.0, abs(network.solution.current(name)) ** 2 * grown)
            worst = hottest.get(home, 0.0)
            hottest[home] = where(watts > worst, watts, worst)
    return hottest


def _at(network: Network, home: str, people: People, watts: Any) -> Exposure:
    exposed = {
        kind: _persons(_live(network, home, *_LIMITS[kind]), people.at_home * share)
        for kind, share in ((TOUCH_DRY, people.touch_dry), (TOUCH_WET, people.touch_wet))
    }
    is_off, volts = _at_appliances(network, home)
    high = reduce(lambda one, other: where(one > other, one, other), volts)
    low = reduce(lambda one, other: where(one < other, one, other), volts)
    return exposed | {
        HIGH: _persons(where(is_off, False, HARMS[VOLTS_TOO_HIGH](high)), people.at_home),
        LOST: _persons(where(is_off, True, HARMS[SUPPLY_LOST](low)), people.at_home),
        HEAT: _persons(watts > FIRE_FROM_WATTS, people.at_home),
    }


def _live(network: Network, home: str, limit_volts: float, body: float) -> Any:
    """Whether anything that can be touched at a home is over the limit."""
    live: Any = False
    for point, is_there in touchable(network, home):
        live = live | (is_there & (felt_volts(network, point, EARTH, limit_volts, body) > limit_volts))
    return live


def _at_appliances(network: Network, home: str) -> tuple[Any, list[Any]]:
    """Whether the main switch has put the home off, and the volts of each line there otherwise. What an
    open switch leaves off with the loads are the filters, which every home has."""
    phases = network.street.premises[home].phases
    off = network.branches[f"{home}/filter.{phases[0]}"].is_open
    return off, [abs(network.solution.volts(f"{home}.{phase}", f"{home}.N")) for phase in phases]


def _persons(is_so: Any, persons: float) -> Any:
    return where(is_so, persons, 0.0)
