"""How well calc.locate places a broken PEN on drawn streets, from what callers at four homes say."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, replace

from calc.bands import Drawn, Sampling, draw
from calc.faults import KINDS, Fault
from calc.locate import ERRS, WORDS, located, span_of
from calc.street import Network, Street, load_ohm, network
from calc.symptoms import OFF_BELOW_VOLTS, TINGLE_FROM_VOLTS

__all__ = ["Placed", "placed"]

_KINDS = ("service-pen-open", "service-pen-high", "mains-pen-open", "mains-pen-high")
_HOMES = 4


@dataclass(frozen=True, slots=True)
class Placed:
    """Of `asked` streets on which at least one of four homes noticed its fault: on how many the first two
    places are within one span of it (`near`), are its very span or service (`exact`), and on how many the
    first tells a main from a service rightly (`told`)."""

    asked: int
    near: int
    exact: int
    told: int


def placed(sampling: Sampling, numbers: Iterable[int]) -> Placed:
    """Counted over the drawn streets of these numbers, one PEN open or going bad on each."""
    asked = near = exact = told = 0
    for number in numbers:
        drawn, chance = draw(sampling, number), random.Random(f"{sampling.seed}/placed/{number}")
        kind = chance.choice(_KINDS)
        true = Fault(kind, chance.choice(tuple(KINDS[kind].places(drawn.street))))
        really = _noticed(drawn, true)
        notice = [home for home, word in really.items() if word != "normal"]
        if not notice or len(really) < _HOMES:
            continue
        first = chance.choice(notice)
        others = chance.sample([home for home in really if home != first], _HOMES - 1)
        seen = {
            home: chance.choice(WORDS) if chance.random() < ERRS else really[home]
            for home in (first, *others)
        }
        ranked = located(drawn.street, seen)
        asked += 1
        near += any(_spans_apart(drawn.street, one.fault, true) <= 1 for one in ranked[:2])
        exact += any(one.fault.at == true.at for one in ranked[:2])
        told += ranked[0].fault.kind.startswith("mains") == kind.startswith("mains")
    return Placed(asked, near, exact, told)


def _noticed(drawn: Drawn, fault: Fault) -> dict[str, str]:
    """What each home notices, by the senses of the street's caller and loads that change once."""
    healthy = network(drawn.street)
    after = healthy.changed(
        *(
            replace(
                healthy.branches[f"{home}/load.{premises.phases[0]}"],
                impedance=load_ohm(drawn.later_kw[home], premises.power_factor),
            )
            for home, premises in drawn.street.premises.items()
        )
    )
    broken = [(fault.applied_to(one), one) for one in (healthy, after)]
    return {home: _word(home, broken, drawn.caller["caller-sees-volts"]) for home in drawn.street.premises}


def _word(home: str, broken: list[tuple[Network, Network]], sees: float) -> str:
    now, sound = broken[0]
    volts = _volts(now, home)
    if volts < OFF_BELOW_VOLTS:
        return "off"
    if abs(now.solution.potential(f"{home}.MET")) >= TINGLE_FROM_VOLTS:
        return "tingle"
    change = volts - _volts(sound, home)
    if abs(change) >= sees:
        return "bright" if change > 0 else "dim"
    later = _volts(broken[1][0], home) - _volts(broken[1][1], home)
    return "flicker" if abs(later - change) >= sees else "normal"


def _volts(one: Network, home: str) -> float:
    phase = one.street.premises[home].phases[0]
    return float(abs(one.solution.volts(f"{home}.{phase}", f"{home}.N")))


def _spans_apart(street: Street, one: Fault, other: Fault) -> float:
    """How many spans lie between two faults on a main without branches."""
    joints = ["substation", *(span.between[1] for span in street.mains)]
    spans = [span_of(street, fault) for fault in (one, other)]
    return abs(joints.index(spans[0]) - joints.index(spans[1])) if all(spans) else float("inf")
