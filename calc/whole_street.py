"""Every test at every home of one street at once, and what lifting each main earth would bring.

The same figures as calc.readings and calc.danger give home by home, in a fraction of the time: each state of
the work is solved once, in a shape whose plan is known already, and no impedance is worked out twice.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

from calc.circuit import OPEN, Solution
from calc.danger import END_LIVE, GAP_LIVE, METALWORK_LIVE, SUPPLY_LOST, Harm, Measured, measured, new_harms
from calc.instruments import Display, read
from calc.readings import TESTS
from calc.settling import OHMS
from calc.street import Network, load_ohm
from calc.work import KNOWN_LOAD_KW, Condition, as_worked

__all__ = ["Lift", "WholeStreet"]


class _Remembering(Solution):
    """A solution that works out the impedance between two points once."""

    def impedance_between(self, a: str, b: str) -> Any:
        """As Solution's."""
        known = self.__dict__.setdefault("_between", {})
        if (a, b) not in known:
            known[a, b] = super().impedance_between(a, b)
        return known[a, b]


class _Asked(Network):
    """A network that is asked many questions."""

    @cached_property
    def solution(self) -> Solution:
        """As Network's."""
        return _Remembering(tuple(self.settled.branches.values()))


def _asked(network: Network) -> _Asked:
    return _Asked(network.street, network.branches, network.law, network.thirds)


@dataclass(frozen=True, slots=True)
class Lift:
    """What lifting one home's main earth would do.

    `gap_volts` stand between the loose earth and the end it was lifted from, `probe_volts` between the loose
    earth and an independent earth, `end_volts` between the other end and an independent earth, as a voltmeter
    shows them; `felt_volts` are the largest of the three across a body, which fall where only the filters of
    appliances hold the loose earth up. `harms` were not there before.
    """

    home: str
    gap_volts: float
    probe_volts: float
    end_volts: float
    felt_volts: float
    harms: tuple[Harm, ...]

    @property
    def goes_off(self) -> tuple[str, ...]:
        """Homes that lose their supply, or all but lose it."""
        return tuple(harm.home for harm in self.harms if harm.what == SUPPLY_LOST)

    @property
    def elsewhere(self) -> tuple[Harm, ...]:
        """Harms besides the gap itself, its end, and lost supplies."""
        return tuple(harm for harm in self.harms if harm.what not in (GAP_LIVE, END_LIVE, SUPPLY_LOST))


class WholeStreet:
    """One network, to be asked for everything. Raises CircuitError as its solution does."""

    def __init__(self, network: Network) -> None:
        self.network = _asked(network)
        self._lifted: dict[str, Network] = {}

    def readings(self, home: str) -> dict[str, Display]:
        """What each of TESTS shows at a home, by test id: calc.readings.readings, to the last digit."""
        worked: dict[tuple[str, ...], Network] = {(): self.network}
        shown = {}
        for test in TESTS:
            if test.after not in worked:
                worked[test.after] = self._after(test.after, home)
            shown[test.id] = read(worked[test.after], home, test.instrument, test.on)
        return shown

    def _after(self, actions: tuple[str, ...], home: str) -> Network:
        match actions:
            case ("switch-on-known-load",):
                return _with_known_load(self.network, home)
            case ("lift-main-earth",):
                return self.lifted(home)
        raise ValueError(f"no test comes after {', '.join(actions)}")

    @cached_property
    def everywhere(self) -> Mapping[str, Mapping[str, Display]]:
        """Readings by home, then by test."""
        return {home: self.readings(home) for home in self.network.street.premises}

    def lifted(self, home: str) -> Network:
        """The network with this home's main earth off its terminal."""
        if home not in self._lifted:
            worked = as_worked(self.network, frozenset({Condition("main-earth-lifted", home)}))
            self._lifted[home] = _asked(worked)
        return self._lifted[home]

    @cached_property
    def lifts(self) -> tuple[Lift, ...]:
        """What lifting each main earth would do, worst first: by homes harmed, then by volts once touched."""
        return tuple(sorted(map(self._lift, self.network.street.premises), key=_badness, reverse=True))

    @cached_property
    def _before(self) -> Measured:
        return measured(self.network)

    def _lift(self, home: str) -> Lift:
        shows = self.everywhere[home]
        gap, probe = (
            shows[test].value or 0.0 for test in ("lifted-loose-to-supply-earth", "lifted-loose-earth-probe")
        )
        end = read(self.lifted(home), home, "voltmeter", ("supply_earth", "independent_earth")).value or 0.0
        after = measured(self.lifted(home))
        felt_volts = max(after[home][what] for what in (GAP_LIVE, END_LIVE, METALWORK_LIVE))
        return Lift(home, gap, probe, end, felt_volts, new_harms(self._before, after))


def _badness(lift: Lift) -> tuple[int, float]:
    return len({harm.home for harm in lift.harms}), lift.felt_volts


def _with_known_load(network: Network, home: str) -> Network:
    """The known load in parallel with what is on there: no branch more, so the plan is the same. A heater is
    ohms without harmonics, so that it is a branch of its own beside loads that are anything else."""
    if network.law != OHMS or network.thirds:
        return _asked(as_worked(network, frozenset({Condition("known-load-on", home)})))
    load = network.branches[f"{home}/load.{network.street.premises[home].phases[0]}"]
    known = load_ohm(KNOWN_LOAD_KW)
    both = known if load.impedance == OPEN else load.impedance * known / (load.impedance + known)
    worked = network.changed(replace(load, impedance=both))
    return _asked(worked)
