"""Streets drawn at random from what an author states.

A draw depends on the seed and its own number only: not on the machine, nor on which draws were made
before it, nor on how the work is split.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from calc.sampling import Layout, Sampling, Spread, UnnamedHome
from calc.street import Conductor, Electrode, Metalwork, Premises, Service, Span, Street, Supply

__all__ = ["Drawn", "draw", "layout_of", "may_be_visited"]

MOST_VISITED = 8
EVERY = 5
"""Of a street of more homes than MOST_VISITED every so many may be visited. Each costs a walk, and those
between are like them; an odd number, so that each home of a pair at a joint comes up. Project choice."""

_MAINS = {
    "pen": ("main-metres", "main-cable"),
    "separate": ("main-metres", "main-cable-separate"),
    "overhead": ("overhead-metres", "overhead-cable"),
    "riser": ("riser-metres", "main-cable"),
}
"""The spreads of each kind of main: metres of a span, and its cable."""

OUT_OF_SOIL_OHM = 10e6
"""A pipe that touches no soil, to true earth. Engineering judgement: clips and dry walls."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """One street as drawn, and what else the draw decided.

    `later_kw` is each home's load, line by line, once the known load is on. `meters` holds the errors of the
    instruments, `caller` what a caller there feels and sees. `visited` is the home that is visited. `shares`
    are two more numbers from 0 to 1, for which home is tested and where the fault is; `joint_ohm` is what a
    joint that goes bad adds.
    `taken`: for each spread the shares (0 to 1) that it was drawn at, in their order.
    """

    number: int
    layout: str
    street: Street
    later_kw: dict[str, tuple[float, ...]]
    meters: dict[str, float]
    known_load_kw: float
    visited: str
    shares: tuple[float, float]
    joint_ohm: float
    caller: dict[str, float]
    taken: dict[str, tuple[float, ...]] = field(default_factory=dict)


def layout_of(sampling: Sampling, number: int) -> Layout:
    """The shape of the street with this number."""
    return _shape(sampling, random.Random(f"{sampling.seed}/{number}"))


def _shape(sampling: Sampling, chance: random.Random) -> Layout:
    weights = {str(place): each.weight for place, each in enumerate(sampling.layouts)}
    return sampling.layouts[int(Spread("", choice=weights).at(chance.random()))]


def draw(sampling: Sampling, number: int) -> Drawn:
    """The street with this number. The same sampling and number give the same street everywhere."""
    chance = random.Random(f"{sampling.seed}/{number}")
    shape = _shape(sampling, chance)

    taken: dict[str, tuple[float, ...]] = {}

    def some(name: str) -> Any:
        share = chance.random()
        taken[name] = (*taken.get(name, ()), share)
        return sampling.spreads[name].at(share)

    joints = [f"J{place}" for place in range(1, len(shape.homes) + 1)]
    supply = Supply(
        float(some("transformer-kva")),
        some("transformer-percent"),
        some("star-point-ohm"),
        some("supply-volts"),
    )
    metres, cables = _MAINS[shape.main]
    cable = some(cables)
    mains = tuple(
        Span((near, far), some(metres), cable)
        for near, far in zip(["substation", *joints], joints, strict=False)
    )
    premises: dict[str, Premises] = {}
    for joint, at_joint in zip(joints, shape.premises, strict=True):
        for home in at_joint:
            fed_from = str(len(premises)) if home.looped else joint
            premises[str(len(premises) + 1)] = _premises(home, fed_from, some)
    street = Street(
        f"drawn street {number}",
        supply,
        mains,
        premises,
        _pipe(shape, premises, some),
        tuple(Electrode(joint, some("electrode-ohm")) for joint in joints),
        load_law=some("load-law"),
    )
    later = {
        home: tuple(_load_kw(some) for _ in each.phases) if some("load-changes") else each.load_kw
        for home, each in premises.items()
    }
    meters = {
        name: some(name)
        for name in ("clamp-error", "clamp-stray-a", "voltmeter-error", "loop-error", "loop-offset-ohm")
    }
    shares = (chance.random(), chance.random())
    known = some("known-load-kw")
    caller = {
        name: some(name)
        for name in ("caller-body-ohm", "caller-feels-ma", "caller-sees-volts", "caller-sees-dip")
    }
    ohm = some("joint-ohm")
    visited = _visited(tuple(premises), shares[0])
    return Drawn(number, shape.id, street, later, meters, known, visited, shares, ohm, caller, taken)


def may_be_visited(homes: Sequence[str]) -> Sequence[str]:
    """Of so many homes those that may be visited."""
    return homes if len(homes) <= MOST_VISITED else homes[::EVERY]


def _visited(homes: tuple[str, ...], share: float) -> str:
    """The home below which this share of those that may be visited lie."""
    some = may_be_visited(homes)
    return some[int(share * len(some))]


def _load_kw(some: Any) -> float:
    big = some("big-load-kw") if some("has-big-load") else 0.0
    return float(some("load-kw") + big)


def _premises(home: UnnamedHome, fed_from: str, some: Any) -> Premises:
    separate = "-separate" if home.earthing == "tn-s" else ""
    return Premises(
        at=fed_from,
        service=Service(
            some("loop-metres" if home.looped else "service-metres"), some(f"service-cable{separate}")
        ),
        phases=home.phases,
        load_kw=tuple(_load_kw(some) for _ in home.phases),
        earthing=home.earthing,
        power_factor=some("power-factor"),
        main_earth=Conductor(some("main-earth-metres"), 16),
        electrode_ohm=some("home-electrode-ohm") if home.earthing == "tt" else None,
        generation_kw=_generation(home, some),
        third_harmonic=some("third-harmonic"),
    )


def _generation(home: UnnamedHome, some: Any) -> tuple[float, ...]:
    """What a home gives, line by line: 0 where it has none, so that all streets of a layout have the same
    conductors."""
    if not some("generates"):
        return (0.0,) * len(home.phases)
    return tuple(some("generation-kw") for _ in home.phases)


def _pipe(shape: Layout, premises: Mapping[str, Premises], some: Any) -> tuple[Metalwork, ...]:
    """The pipe of a street, home by home; plastic is a pipe with a gap everywhere, so that all streets of a
    layout have the same conductors."""
    names = tuple(premises)
    junctions = [joint for joint, homes in enumerate(shape.premises) for _ in homes]

    def whole(place: int) -> bool:
        match shape.pipes:
            case "iron":
                return True
            case "plastic":
                return False
            case "riser":
                return bool(some("pipe-is-whole"))
        passes = junctions[place] != junctions[place + 1]
        return bool(some("pipe-passes-the-joint" if passes else "pipe-is-whole"))

    pairs = tuple(itertools.pairwise(names))
    joined = [whole(place) for place in range(len(pairs))]
    forgotten = [is_whole and some("pipe-is-unrecorded") for is_whole in joined]
    pipe, metres, joint = some("pipe"), some("pipe-metres"), some("pipe-joint-ohm")
    earth = some("iron-main-ohm" if shape.pipes == "iron" else "pipe-earth-ohm")
    if shape.pipes == "plastic" or (shape.pipes != "iron" and not some("pipe-is-in-soil")):
        earth = OUT_OF_SOIL_OHM
    gaps = tuple(pair for pair, is_whole in zip(pairs, joined, strict=True) if not is_whole)
    unrecorded = tuple(pair for pair, unknown in zip(pairs, forgotten, strict=True) if unknown)
    return (Metalwork("water", pipe, names, metres, gaps, unrecorded, joint, earth),)
