"""What a person at a home does to the street: lift an earth, open a switch, put a load on.

The state of the work is a set of `Condition`s on top of a faulty network, so that each can be undone.
"""

from __future__ import annotations

import itertools
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from calc.circuit import OPEN, Branch
from calc.street import Network, load_ohm

__all__ = ["ACTIONS", "KNOWN_LOAD_KW", "Condition", "as_worked", "done"]

KNOWN_LOAD_KW = 2.4
"""The portable load that crews switch on for a test: about 10 A. Project choice."""

QUIET_KW = 0.5
"""What stays on, on each line of a home, while its ovens, showers and heaters are left off, and what it
generates is switched off. Engineering judgement."""


@dataclass(frozen=True, slots=True, order=True)
class Condition:
    """Something done at a home that still holds: `main-earth-lifted`, `main-switch-open`, `home-quiet`,
    `known-load-on`, `fuse-withdrawn`."""

    name: str
    home: str


ACTIONS: dict[str, tuple[str, bool]] = {
    "lift-main-earth": ("main-earth-lifted", True),
    "restore-main-earth": ("main-earth-lifted", False),
    "open-main-switch": ("main-switch-open", True),
    "close-main-switch": ("main-switch-open", False),
    "switch-on-known-load": ("known-load-on", True),
    "switch-off-known-load": ("known-load-on", False),
    "quieten-home": ("home-quiet", True),
    "end-quiet": ("home-quiet", False),
    "withdraw-cut-out-fuse": ("fuse-withdrawn", True),
    "replace-cut-out-fuse": ("fuse-withdrawn", False),
}
"""Each action's condition, and whether it begins or ends it. `go-next-door` and `come-back` move the
person instead, and belong to the walk."""


def done(conditions: frozenset[Condition], action: str, home: str) -> frozenset[Condition]:
    """The conditions after `action` at `home`. Raises KeyError for an unknown action."""
    name, begins = ACTIONS[action]
    condition = frozenset({Condition(name, home)})
    return conditions | condition if begins else conditions - condition


def as_worked(network: Network, conditions: frozenset[Condition]) -> Network:
    """The network with every condition in force.

    In order of name, so that `main-switch-open` comes after `known-load-on` and takes the load off with it.
    """
    for condition in sorted(conditions):
        network = _EFFECTS[condition.name](network, condition.home)
    return network


def _main_switch_open(network: Network, home: str) -> Network:
    """All that lies beyond the switch taken off, which parts both poles: a circuit that comes back to this
    home's neutral from another as well."""
    borrows = (name for name, b in network.branches.items() if "/circuit." in name and b.end == f"{home}.N")
    parts = ("load.", "generation.", "filter.", "known_load", "circuit.")
    own = (network.conductors_of(home, part) for part in parts)
    return network.opened(*itertools.chain(borrows, *own))


def _known_load_on(network: Network, home: str) -> Network:
    """The portable load, on the first phase."""
    line = f"{home}.{network.street.premises[home].phases[0]}"
    return network.changed(Branch(f"{home}/known_load", line, f"{home}.N", load_ohm(KNOWN_LOAD_KW)))


def _home_quiet(network: Network, home: str) -> Network:
    """Its generation off, and loads above QUIET_KW brought down to it; in a batch, where they are above it.
    What a home gives would hide what the known load takes: a clamp shows only what is between them."""
    quiet = abs(load_ohm(QUIET_KW))
    loads = (network.branches[name] for name in network.conductors_of(home, "load."))
    calm = (replace(load, impedance=_at_least(load.impedance, quiet)) for load in loads)
    return network.changed(*calm).opened(*network.conductors_of(home, "generation."))


def _at_least(impedance: Any, ohm: float) -> Any:
    """The impedance, its size raised to `ohm` where it is below, its angle kept."""
    if isinstance(impedance, complex) and impedance == OPEN:
        return impedance
    size = abs(impedance)
    return impedance * ((size + ohm + abs(size - ohm)) / 2 / size)


_EFFECTS: dict[str, Callable[[Network, str], Network]] = {
    "main-earth-lifted": lambda network, home: network.opened(f"{home}/main_earth"),
    "main-switch-open": _main_switch_open,
    "home-quiet": _home_quiet,
    "known-load-on": _known_load_on,
    "fuse-withdrawn": lambda network, home: network.opened(
        *(f"{home}/tail.{phase}" for phase in network.street.premises[home].phases)
    ),
}
