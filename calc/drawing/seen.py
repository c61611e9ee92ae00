"""What a drawing shows of a network: for each conductor its current and state, for each home its volts."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Literal

from calc.circuit import OPEN, Branch, solve
from calc.danger import (
    CASE_LIVE,
    END_LIVE,
    GAP_LIVE,
    METALWORK_LIVE,
    SUPPLY_LOST,
    VOLTS_TOO_HIGH,
    standing_harms,
)
from calc.figures import figure
from calc.instruments import INSTRUMENTS, read
from calc.street import Network
from calc.street import network as sound

__all__ = ["FLOWS_FROM_A", "Flow", "Seen", "SeenHome", "amps", "circuits", "see"]

FLOWS_FROM_A = 0.05
"""Amperes from which a conductor is drawn with an arrow. Project choice."""

State = Literal["whole", "open", "high", "moved"]

HARM_WORDS = {
    METALWORK_LIVE: "Live metalwork",
    CASE_LIVE: "A case is live",
    GAP_LIVE: "Gap is live",
    END_LIVE: "Loose end is live",
    VOLTS_TOO_HIGH: "Over 253 V",
    SUPPLY_LOST: "Supply lost",
}


@dataclass(frozen=True, slots=True)
class Flow:
    """The current of one conductor in A, whose it mostly is, and whether that goes home from start to end.

    `whose` is the home whose load sends the largest part of it, "" where nothing does. `added_ohm` is more
    than 0 for one in state `high`.
    """

    name: str
    amps: float
    whose: str
    forward: bool
    state: State = "whole"
    added_ohm: float = 0.0

    @property
    def runs(self) -> bool:
        """Whether there is current enough for an arrow."""
        return self.amps >= FLOWS_FROM_A


@dataclass(frozen=True, slots=True)
class SeenHome:
    """One home: volts line to neutral and A in the line, for each phase; V of its metalwork to true earth.

    `dangers` are the words for what can hurt there, and for what is wrong at the cut-out and in the circuits.
    """

    name: str
    phases: tuple[str, ...]
    volts: tuple[float, ...]
    line_a: tuple[float, ...]
    metalwork_volts: float
    dangers: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Seen:
    """A network as it is drawn: every conductor and every home by name."""

    network: Network
    flows: Mapping[str, Flow]
    homes: Mapping[str, SeenHome]


def see(network: Network, healthy: Network | None = None) -> Seen:
    """What is to be seen of a network. `healthy` is what breaks are told from: the street as its
    records say, when left out. Raises CircuitError as the network's solution does."""
    healthy = healthy or sound(network.street)
    homes = {home.name: home for home in _homes(network, healthy)}
    return Seen(network, _flows(network, healthy), homes)


def amps(value: float) -> str:
    """A current as drawings and their words write it.

    >>> amps(0.0), amps(0.347), amps(12.34), amps(140.2)
    ('0 A', '0.35 A', '12.3 A', '140 A')
    """
    if value < 0.005:
        return "0 A"
    return figure(value, 2 if value < 0.995 else 1 if value < 99.95 else 0, "A")


_NOT_DRAWN = ("load", "known_load", "filter", "insulation", "floor", "circuit.", "case_feet")


def _flows(network: Network, healthy: Network) -> dict[str, Flow]:
    """Every conductor that is drawn; ideal joins have no current of their own."""
    drawn = [
        branch
        for name, branch in network.branches.items()
        if branch.impedance != 0 and not name.split("/")[1].startswith(_NOT_DRAWN)
    ]
    carried = {branch.name: float(abs(network.solution.current(branch.name))) for branch in drawn}
    shares = tuple(_shares(network, [name for name, a in carried.items() if a >= FLOWS_FROM_A]))
    found = {}
    for branch in drawn:
        name, a = branch.name, carried[branch.name]
        whose = _largest(name, shares) if a >= FLOWS_FROM_A else ("", True)
        found[name] = Flow(name, a, *whose, *_state(branch, healthy))
    return found


def _state(branch: Branch, healthy: Network) -> tuple[State, float]:
    before = healthy.branches.get(branch.name, branch)
    if branch.impedance == OPEN:
        return ("whole" if before.impedance == OPEN else "open"), 0.0
    if (branch.start, branch.end) != (before.start, before.end):
        return "moved", 0.0
    if before.impedance not in (OPEN, branch.impedance):
        return "high", float(abs(branch.impedance - before.impedance))
    return "whole", 0.0


@dataclass(frozen=True, slots=True)
class _Share:
    """What one load sends through the street: its home, and the A in each conductor that are its."""

    home: str
    sent: Mapping[str, complex]


def _shares(network: Network, conductors: Collection[str]) -> Iterator[_Share]:
    """Each load as a source of current (the substitution theorem), all others silent."""
    loads = [
        b
        for name, b in network.branches.items()
        if name.split("/")[1].startswith(_LOADS) and b.impedance != OPEN
    ]
    stiff = {load.name: replace(load, impedance=_STIFF) for load in loads}
    street = solve({**network.branches, **stiff}.values())
    for load in loads:
        alone = street.driven(load.start, load.end, complex(abs(network.solution.current(load.name))))
        yield _Share(load.name.split("/")[0], {name: alone.current(name) for name in conductors})


def _largest(conductor: str, shares: tuple[_Share, ...]) -> tuple[str, bool]:
    """Whose current the conductor carries most of, and whether that runs from start to end."""
    most = max(shares, key=lambda share: abs(share.sent[conductor]), default=None)
    return ("", True) if most is None else (most.home, most.sent[conductor].real >= 0)


_LOADS = ("load", "known_load", "circuit.borrowed.", "circuit.leak")
_STIFF = 1e9 + 0j
"""Ohms behind which a source of as many volts drives 1 A into anything on a street."""


def _homes(network: Network, healthy: Network) -> Iterator[SeenHome]:
    """Every home; its volts are what a voltmeter shows."""
    harms = standing_harms(network)
    for home, premises in network.street.premises.items():
        lines = zip(("line", "line2", "line3"), premises.phases, strict=False)
        yield SeenHome(
            home,
            premises.phases,
            tuple(_voltmeter(network, home, line, "neutral") for line, _ in lines),
            tuple(float(abs(network.solution.current(f"{home}/tail.{p}"))) for p in premises.phases),
            _voltmeter(network, home, "earth", "independent_earth"),
            (
                *dict.fromkeys(HARM_WORDS[harm.what] for harm in harms if harm.home == home),
                *_at_the_cut_out(network, healthy, home),
                *(short for short, _ in circuits(network, home)),
            ),
        )


def circuits(network: Network, home: str) -> Iterator[tuple[str, str]]:
    """What is wrong in the circuits of a home, beyond its main switch: in few words, and in a sentence."""
    for name in network.conductors_of(home, "circuit."):
        kind, _, other = name.removeprefix(f"{home}/circuit.").partition(".")
        ohm = abs(network.branches[name].impedance)
        match kind:
            case "borrowed":
                yield "N borrowed", f"A circuit of {home} comes back to the neutral of {other}"
            case "joined":
                yield "N joined to E", f"Neutral and earth are joined in a circuit of {home}"
            case "leak":
                leaks = f"{figure(ohm, 0, 'ohm')} from its line to earthed metalwork"
                yield "Leak to earth", f"A circuit of {home} leaks: {leaks}"
            case "case_leak":
                yield "A case floats", f"An appliance of {home} has lost its protective conductor"


def _voltmeter(network: Network, home: str, a: str, b: str) -> float:
    tester = INSTRUMENTS["voltmeter"]
    shown = read(network, home, tester.id, (a, b)).value
    return tester.high if shown is None else shown


def _at_the_cut_out(network: Network, healthy: Network, home: str) -> Iterator[str]:
    """What is wrong with the meter tails, in few words."""
    tails = [f"{home}/tail.{part}" for part in (*network.street.premises[home].phases, "N")]
    states = {name: _state(network.branches[name], healthy) for name in tails}
    own = network.branches[f"{home}/tail.N"].start.startswith(f"{home}.")
    if any(state == "moved" for state, _ in states.values()):
        yield "Reversed" if own else "N tail crossed"
    for name, (state, added) in states.items():
        conductor = name.split(".")[-1]
        if state == "high":
            yield f"{conductor} tail +{figure(added, 1, 'ohm')}"
        elif state == "open":
            yield f"{conductor} fuse out" if conductor != "N" else "N tail open"
