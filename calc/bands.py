"""Streets drawn at random from what an author states, and the bands that readings over them keep to.

A draw depends on the seed and its own number only: not on the machine, nor on which draws were made
before it, nor on how the work is split.
"""

from __future__ import annotations

import itertools
import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, ClassVar

from calc.street import Conductor, Electrode, Metalwork, Phase, Premises, Service, Span, Street, Supply

__all__ = ["SPREADS", "Drawn", "Layout", "Sampling", "Spread", "band", "draw"]

_STRICT: dict[str, Any] = {"extra": "forbid"}

SPREADS: dict[str, str] = {
    "supply-volts": "number, volts to neutral with no load",
    "transformer-kva": "choice of ratings",
    "transformer-percent": "number, impedance voltage",
    "star-point-ohm": "number",
    "main-metres": "number, for each span",
    "main-cable": "choice of cables",
    "service-metres": "number, for each home",
    "service-cable": "choice of cables",
    "load-kw": "number, for each home",
    "power-factor": "number, for each home",
    "main-earth-metres": "number, for each home",
    "pipe": "choice of pipes",
    "pipe-metres": "number, between neighbours",
    "pipe-joint-ohm": "number, all joints between two neighbours",
    "pipe-is-whole": "chance, for each two neighbours on one joint of the main",
    "pipe-passes-the-joint": "chance, for neighbours on two joints of the main",
    "pipe-is-in-soil": "chance, for the street",
    "pipe-earth-ohm": "number, for each home",
    "electrode-ohm": "number, for each joint of the main",
    "load-changes": "chance, for each home, between the first tests and the known-load test",
    "known-load-kw": "number, the load that the crew brings",
    "clamp-error": "number, a share of the reading",
    "clamp-stray-a": "number, what the jaw picks up from conductors beside it",
    "voltmeter-error": "number, a share of the reading",
    "loop-error": "number, a share of the reading",
    "loop-offset-ohm": "number",
    "caller-body-ohm": "number, a caller from hand to feet, skin and shoes included",
    "caller-feels-ma": "number, the current that a caller feels",
    "caller-sees-volts": "number, the change from the usual volts that a caller calls bright or dim",
    "caller-sees-dip": "number, the dip when an appliance starts that a caller sees, a share of the volts",
    "caller-errs": "chance, for each question asked of a caller: any other answer, as likely as the next",
}
"""Every parameter that a sampling must state, and what it is."""


OUT_OF_SOIL_OHM = 10e6
"""A pipe that touches no soil, to true earth. Engineering judgement: clips and dry walls."""


@dataclass(frozen=True, slots=True)
class Spread:
    """How one parameter is spread: one of `uniform`, `log_uniform` (ends), `choice` (name -> weight) and
    `chance` (that it is so); `source` says where that comes from.

    Raises ValueError unless exactly one is given and can be drawn from.
    """

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    source: str
    uniform: tuple[float, float] | None = None
    log_uniform: tuple[float, float] | None = None
    choice: dict[str, float] | None = None
    chance: float | None = None

    def __post_init__(self) -> None:
        given = [n for n in ("uniform", "log_uniform", "choice", "chance") if getattr(self, n) is not None]
        if len(given) != 1:
            raise ValueError(f"give one of uniform, log_uniform, choice or chance, got {len(given)} of them")
        for ends in filter(None, (self.uniform, self.log_uniform)):
            if self.log_uniform and not ends[0] > 0:
                raise ValueError(f"log_uniform needs ends above 0, got {list(ends)}")
            if not ends[0] <= ends[1]:
                raise ValueError(f"{given[0]} needs two ends, the lower first, got {list(ends)}")
        if self.choice is not None and not (
            self.choice and all(weight > 0 for weight in self.choice.values())
        ):
            raise ValueError(f"choice needs weights above 0, got {self.choice}")
        if self.chance is not None and not 0 <= self.chance <= 1:
            raise ValueError(f"chance must be from 0 to 1, got {self.chance:g}")

    def at(self, share: float) -> Any:
        """The value below which `share` (0 to 1) of all draws lie; for a chance, whether it is so."""
        if self.uniform is not None:
            low, high = self.uniform
            return low + share * (high - low)
        if self.log_uniform is not None:
            low, high = self.log_uniform
            return low * (high / low) ** share
        if self.chance is not None:
            return share < self.chance
        assert self.choice is not None
        total = sum(self.choice.values())
        for name, weight in self.choice.items():
            share -= weight / total
            if share < 0:
                return name
        return name


@dataclass(frozen=True, slots=True)
class Layout:
    """One shape of street: the phase of each home, by joint of the main, and how often it is drawn."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    id: str
    homes: tuple[tuple[Phase, ...], ...]
    weight: float = 1.0

    def __post_init__(self) -> None:
        if not self.weight > 0:
            raise ValueError(f"weight must be above 0, got {self.weight:g}")
        if not self.homes or not all(self.homes):
            raise ValueError("homes must name at least one home at each joint")


@dataclass(frozen=True, slots=True)
class Sampling:
    """The distribution of streets: shapes, spreads and the seed."""

    __pydantic_config__: ClassVar[dict[str, Any]] = _STRICT
    seed: int
    streets: int
    layouts: tuple[Layout, ...]
    spreads: dict[str, Spread]

    def __post_init__(self) -> None:
        if missing := sorted(SPREADS.keys() - self.spreads.keys()):
            raise ValueError(f"spreads must also state {', '.join(missing)}")
        if unknown := sorted(self.spreads.keys() - SPREADS.keys()):
            raise ValueError(f"spreads: nothing is called {', '.join(unknown)}")
        if not self.streets > 0:
            raise ValueError(f"streets must be above 0, got {self.streets}")
        if not self.layouts:
            raise ValueError("layouts must name at least one")


@dataclass(frozen=True, slots=True)
class Drawn:
    """One street as drawn, and what else the draw decided.

    `later_kw` is each home's load once the known load is on. `meters` holds the errors of the
    instruments, `caller` what a caller there feels and sees. `shares` are three more numbers from 0 to 1,
    for which home is visited, where the fault is and how bad a joint is.
    """

    number: int
    layout: str
    street: Street
    later_kw: dict[str, float]
    meters: dict[str, float]
    known_load_kw: float
    shares: tuple[float, float, float]
    caller: dict[str, float]


def draw(sampling: Sampling, number: int) -> Drawn:
    """The street with this number. The same sampling and number give the same street everywhere."""
    chance = random.Random(f"{sampling.seed}/{number}")
    layout = Spread("", choice={str(i): each.weight for i, each in enumerate(sampling.layouts)}).at(
        chance.random()
    )
    shape = sampling.layouts[int(layout)]

    def some(name: str) -> Any:
        return sampling.spreads[name].at(chance.random())

    joints = [f"J{place}" for place in range(1, len(shape.homes) + 1)]
    supply = Supply(
        float(some("transformer-kva")),
        some("transformer-percent"),
        some("star-point-ohm"),
        some("supply-volts"),
    )
    cable = some("main-cable")
    mains = tuple(
        Span((near, far), some("main-metres"), cable)
        for near, far in zip(["substation", *joints], joints, strict=False)
    )
    homes = [(joint, phase) for joint, phases in zip(joints, shape.homes, strict=True) for phase in phases]
    premises = {
        str(place): Premises(
            at=joint,
            service=Service(some("service-metres"), some("service-cable")),
            phases=(phase,),
            load_kw=(some("load-kw"),),
            power_factor=some("power-factor"),
            main_earth=Conductor(some("main-earth-metres"), 16),
        )
        for place, (joint, phase) in enumerate(homes, 1)
    }
    street = Street(
        f"drawn street {number}",
        supply,
        mains,
        premises,
        _pipe(premises, some),
        tuple(Electrode(joint, some("electrode-ohm")) for joint in joints),
    )
    later = {
        home: some("load-kw") if some("load-changes") else each.load_kw[0] for home, each in premises.items()
    }
    meters = {
        name: some(name)
        for name in ("clamp-error", "clamp-stray-a", "voltmeter-error", "loop-error", "loop-offset-ohm")
    }
    shares = (chance.random(), chance.random(), chance.random())
    known = some("known-load-kw")
    caller = {
        name: some(name)
        for name in ("caller-body-ohm", "caller-feels-ma", "caller-sees-volts", "caller-sees-dip")
    }
    return Drawn(number, shape.id, street, later, meters, known, shares, caller)


def _pipe(premises: Mapping[str, Premises], some: Any) -> tuple[Metalwork, ...]:
    names = tuple(premises)
    gaps = tuple(
        (one, other)
        for one, other in itertools.pairwise(names)
        if not some("pipe-is-whole" if premises[one].at == premises[other].at else "pipe-passes-the-joint")
    )
    pipe, metres, joint = some("pipe"), some("pipe-metres"), some("pipe-joint-ohm")
    earth = some("pipe-earth-ohm")
    if not some("pipe-is-in-soil"):
        earth = OUT_OF_SOIL_OHM
    return (Metalwork("water", pipe, names, metres, gaps, joint, earth),)


def band(values: Sequence[float], low: float = 0.05, high: float = 0.95) -> tuple[float, float]:
    """The values below which `low` and `high` of all lie, between neighbours by proportion.

    >>> band([1, 2, 3, 4, 5], 0.25, 0.75)
    (2.0, 4.0)
    """
    ordered = sorted(values)

    def quantile(share: float) -> float:
        place = share * (len(ordered) - 1)
        below = math.floor(place)
        above = min(below + 1, len(ordered) - 1)
        return float(ordered[below] + (place - below) * (ordered[above] - ordered[below]))

    return quantile(low), quantile(high)
