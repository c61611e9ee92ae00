"""Which appliances of a home fail, or drop out, at the volts that it stands at."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from calc.settling import NOMINAL_VOLTS
from calc.street import Network

__all__ = ["APPLIANCES", "Appliance", "suffering"]


@dataclass(frozen=True, slots=True)
class Appliance:
    """A kind of appliance: the share of 230 V below which it `drops` out and above which it `fails`, each
    with what is seen there. None: it does neither. `source` says who says so."""

    drops_below: float | None
    drops: str
    fails_above: float | None
    fails: str
    source: str


APPLIANCES: dict[str, Appliance] = {
    "electronics": Appliance(
        0.7,
        "switch off or start again",
        1.2,
        "fail: power supplies, chargers and controls burn out",
        "ITI curve: 70 % and 120 % for half a second at most, 110 % for good (public pages, read); for 120 V "
        "equipment, and what 230 V equipment bears is often more (abstract of a paper on it, read)",
    ),
    "motors": Appliance(
        0.7,
        "stall and overheat: fridges, freezers, pumps",
        1.2,
        "overheat: the iron saturates",
        "engineering judgement: torque goes with the square of the volts, half of it at 0.7; IEC 60034-1 "
        "asks for 95 % to 105 %, and 90 % to 110 % for a time (from memory)",
    ),
    "contactors": Appliance(
        0.7,
        "may drop out: chargers and heat pumps switch off",
        None,
        "",
        "IEC 60947-4-1: drop out between 75 % and 20 % of rated coil volts, close from 85 % (from memory)",
    ),
    "lamps": Appliance(
        None,
        "",
        1.2,
        "burn out in hours: a filament's life goes with about the thirteenth power of the volts",
        "common practice, no source",
    ),
}
"""What a home has, by kind. Figures are edges of what appliances must bear: many bear more, some less."""


def suffering(network: Network) -> dict[str, dict[str, dict[str, Any]]]:
    """For each home, each kind of APPLIANCES, and `drops` and `fails`: whether it does on some line of the
    home (in which networks of a batch)."""
    return {home: _at(network, home) for home in network.street.premises}


def _at(network: Network, home: str) -> dict[str, dict[str, Any]]:
    lines = (f"{home}.{phase}" for phase in network.street.premises[home].phases)
    volts = [abs(network.solution.volts(line, f"{home}.N")) / NOMINAL_VOLTS for line in lines]
    found: dict[str, dict[str, Any]] = {}
    for kind, appliance in APPLIANCES.items():
        low, high = appliance.drops_below, appliance.fails_above
        drops: Any = False
        fails: Any = False
        for share in volts:
            drops = drops | (low is not None and share < low)
            fails = fails | (high is not None and share > high)
        found[kind] = {"drops": drops, "fails": fails}
    return found
