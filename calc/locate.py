"""Where along one street a fault lies, from what was seen at several of its homes.

Each fault that could be there is put on the street under a few draws of the loads; it is as likely as what
it makes homes see is like what was seen.
"""

from __future__ import annotations

import math
import random
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from calc.faults import HEALTHY, KINDS, Fault
from calc.street import Network, Street, load_ohm, network
from calc.symptoms import OFF_BELOW_VOLTS, TINGLE_FROM_VOLTS, home_volts

__all__ = ["PRIORS", "SETTLED", "WORDS", "Located", "located", "main_or_service", "next_home", "span_of"]

WORDS = ("normal", "bright", "dim", "flicker", "tingle", "off")
"""What a home can be said to be like."""

PRIORS = {
    "service-pen-open": 4.0,
    "service-pen-high": 4.0,
    "service-neutral-open": 4.0,
    "mains-pen-open": 4.0,
    "mains-pen-high": 4.0,
    "mains-neutral-open": 4.0,
    "line-open": 2.0,
    "mains-line-open": 2.0,
    "high-volts": 2.0,
    "healthy": 4.0,
}
"""How common each kind is, on a street where somebody rang up; shared by all its places. Project choice."""

SETTLED = 0.9
"""From what probability on a main is told from one home's service. Project choice; how often that is right is
measured over drawn streets."""

DRAWS = 3
"""Draws of the loads for each fault."""

_FIRST = 12
"""So many of the most probable faults are worked out at all homes, shown at one that was asked or not."""

ERRS = 0.05
"""How often what is said is some other word. Project choice, as for the callers of sampled streets."""

_SEES_VOLTS, _SPREAD_VOLTS = 12.0, 4.0
"""The change of volts that half of all people call bright or dim, and its spread. Project choice."""

_METER_VOLTS = 6.0
"""How far a typed reading may lie from the figure: the meter, the taps and the loads. Project choice."""


@dataclass(frozen=True, slots=True)
class Located:
    """A fault, how probable it is, and the volts and the word it makes likeliest at each home."""

    fault: Fault
    probability: float
    homes: Mapping[str, tuple[float, str]]


@dataclass(frozen=True, slots=True)
class _Felt:
    """One home under one draw: volts, their change from the healthy street, volts of metalwork, and what the
    volts do when loads change."""

    volts: float
    change: float
    metalwork: float
    swing: float

    def likely(self, said: str | float) -> float:
        if not isinstance(said, str):
            return math.exp(-(((self.volts - said) / _METER_VOLTS) ** 2) / 2) + 1e-3
        return (1 - ERRS) * self.words()[said] + ERRS / len(WORDS)

    def words(self) -> dict[str, float]:
        tingle = 0.7 * _share((self.metalwork - TINGLE_FROM_VOLTS) / 6)
        if self.volts < OFF_BELOW_VOLTS:
            return dict.fromkeys(WORDS, 0.0) | {"off": 1 - tingle / 2, "tingle": tingle / 2}
        bright = _share((self.change - _SEES_VOLTS) / _SPREAD_VOLTS)
        dim = _share((-self.change - _SEES_VOLTS) / _SPREAD_VOLTS)
        flicker = 0.5 * _share((self.swing - _SEES_VOLTS) / _SPREAD_VOLTS)
        odd = {"bright": bright, "dim": dim, "flicker": flicker, "tingle": tingle}
        normal = math.prod(1 - each for each in odd.values())
        total = normal + sum(odd.values())
        return {word: odd.get(word, 0.0) / total for word in WORDS} | {"normal": normal / total}


def located(street: Street, seen: Mapping[str, str | float], seed: int = 1) -> tuple[Located, ...]:
    """Every fault, the most probable first. `seen`: a word of WORDS or volts, by home. Raises KeyError for a
    home that the street does not have."""
    homes = tuple(street.premises)
    for home in seen:
        street.premises[home]
    chance = random.Random(seed)
    healthy = network(street)
    drawn = [_loaded(healthy, chance) for _ in range(DRAWS)]
    sound = [_volts(one) for one in drawn]
    found = []
    unsolved = set[Fault]()
    kinds = {kind: places for kind in PRIORS if (places := tuple(KINDS[kind].places(street)))}
    total_prior = sum(PRIORS[kind] for kind in kinds)
    for kind, places in kinds.items():
        for place in places:
            fault = Fault(kind, place)
            reached = _reaches(fault, street, seen)
            if not reached:
                unsolved.add(fault)
            felt = _felt(fault, drawn, sound, homes, reached)
            likely = sum(math.prod(one[home].likely(said) for home, said in seen.items()) for one in felt)
            prior = PRIORS[kind] / total_prior / len(places)
            shown = {home: (felt[0][home].volts, _likeliest(felt[0][home])) for home in homes}
            found.append(Located(fault, prior * likely / DRAWS, shown))
    total = math.fsum(one.probability for one in found)
    found = [replace(one, probability=one.probability / total) for one in found]
    found.sort(key=lambda one: -round(one.probability, 9))  # what is level keeps its order
    for rank, one in enumerate(found[:_FIRST]):
        if one.fault in unsolved:
            (alone,) = _felt(one.fault, drawn[:1], sound[:1], homes, True)
            found[rank] = replace(
                one, homes={home: (alone[home].volts, _likeliest(alone[home])) for home in homes}
            )
    return tuple(found)


def main_or_service(ranked: tuple[Located, ...]) -> tuple[float, float]:
    """How probable it is that the fault is in the main, and in one home's service, where it is in either."""
    main, service = (
        math.fsum(one.probability for one in ranked if one.fault.kind.startswith(begins))
        for begins in (("mains-",), ("service-", "line-"))
    )
    both = main + service
    return (main / both, service / both) if both else (0.5, 0.5)


def next_home(ranked: tuple[Located, ...], seen: Mapping[str, str | float]) -> str:
    """The home not asked yet whose word parts the probable faults the most; "" where all were asked."""

    def parts(home: str) -> float:
        by_word: dict[str, float] = {}
        for one in ranked:
            word = one.homes[home][1]
            by_word[word] = by_word.get(word, 0.0) + one.probability
        return round(-sum(p * math.log(p) for p in by_word.values() if p > 0), 9)

    left = [home for home in ranked[0].homes if home not in seen]
    return max(left, key=parts, default="")


def span_of(street: Street, fault: Fault) -> str:
    """The joint of the main where a fault lies: the far end of its span, or where the home's service taps."""
    place = fault.at.split(".")[0]
    if place in street.premises:
        return street.junction_of(place)
    return next((span.between[1] for span in street.mains if span.name == place), "")


def _felt(
    fault: Fault,
    drawn: list[Network],
    sound: list[dict[str, tuple[float, float]]],
    homes: tuple[str, ...],
    reached: bool,
) -> list[dict[str, _Felt]]:
    now = [_under(fault, one, before, reached) for one, before in zip(drawn, sound, strict=True)]
    changes = [
        {home: one[home][0] - before[home][0] for home in homes}
        for one, before in zip(now, sound, strict=True)
    ]
    felt = []
    for one, change in zip(now, changes, strict=True):
        felt.append(
            {
                home: _Felt(
                    one[home][0],
                    change[home],
                    one[home][1],
                    max(each[home] for each in changes) - min(each[home] for each in changes),
                )
                for home in homes
            }
        )
    return felt


def _under(
    fault: Fault,
    drawn: Network,
    sound: dict[str, tuple[float, float]],
    reached: bool,
) -> dict[str, tuple[float, float]]:
    """Volts and metalwork of every home. What reaches no home that was asked is not solved."""
    street = drawn.street
    off = {home: (0.0, sound[home][1]) for home in _without_line(fault, street)}
    if off:
        return sound | off
    return _volts(fault.applied_to(drawn)) if reached else sound


def _reaches(fault: Fault, street: Street, seen: Mapping[str, str | float]) -> bool:
    """Whether the fault can show at a home that was asked: in one home's service, only along metalwork."""
    place = fault.at
    if place not in street.premises:
        return fault != HEALTHY
    return not seen.keys().isdisjoint((place, *street.sharing_metalwork(place)))


def _without_line(fault: Fault, street: Street) -> Iterator[str]:
    place, _, phase = fault.at.partition(".")
    if fault.kind in ("line-open", "mains-line-open"):
        homes = (place,) if place in street.premises else street.beyond(place)
        yield from (home for home in homes if street.premises[home].phases[0] == phase)


def _volts(one: Network) -> dict[str, tuple[float, float]]:
    """Line to neutral, and metalwork to true earth, at each home."""
    return {
        home: (home_volts(one, home), float(abs(one.solution.potential(f"{home}.MET"))))
        for home in one.street.premises
    }


def _loaded(healthy: Network, chance: random.Random) -> Network:
    """The street under one draw of its loads: a tenth to three times what each home is said to take."""
    loads = []
    for home, premises in healthy.street.premises.items():
        for phase, kilowatts in zip(premises.phases, premises.load_kw, strict=True):
            drawn = max(0.1, kilowatts) * 10 ** chance.uniform(-0.7, 0.5)
            branch = healthy.branches[f"{home}/load.{phase}"]
            loads.append(replace(branch, impedance=load_ohm(drawn, premises.power_factor)))
    return healthy.changed(*loads)


def _likeliest(felt: _Felt) -> str:
    shares = felt.words()
    return max(WORDS, key=lambda word: shares[word])


def _share(value: float) -> float:
    return 1 / (1 + math.exp(-max(-30.0, min(30.0, value))))
