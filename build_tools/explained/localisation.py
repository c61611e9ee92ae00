"""How well calc.locate places a broken PEN on drawn streets, from what callers at four homes say."""

from __future__ import annotations

import random
from collections.abc import Iterable
from dataclasses import dataclass, fields, replace

from calc.drawn_streets import Drawn, draw
from calc.faults import KINDS, Fault
from calc.locate import ERRS, SETTLED, WORDS, Located, located, main_or_service, next_home, span_of
from calc.sampling import Sampling
from calc.street import Network, Street, load_ohm, network
from calc.symptoms import OFF_BELOW_VOLTS, TINGLE_FROM_VOLTS, home_volts

__all__ = ["Placed", "placed"]

_KINDS = ("service-pen-open", "service-pen-high", "mains-pen-open", "mains-pen-high")
_HOMES, _MORE = 4, 2


@dataclass(frozen=True, slots=True)
class Placed:
    """Of `asked` streets on which at least one of four homes noticed its fault: on how many the first two
    places are within one span of it (`near`), are its very span or service (`exact`), and on how many a main
    is told from a service rightly by what is the more probable (`told`).

    `settled`: on how many that has a probability of SETTLED or more, and `right`, on how many of these it
    is right; `settled_later`, `right_later`: once up to two homes more were asked, those that Locate names.
    """

    asked: int
    near: int
    exact: int
    told: int
    settled: int
    right: int
    settled_later: int
    right_later: int


def placed(sampling: Sampling, numbers: Iterable[int]) -> Placed:
    """Counted over the drawn streets of these numbers, one PEN open or going bad on each."""
    counts = dict.fromkeys((field.name for field in fields(Placed)), 0)
    for number in numbers:
        drawn, chance = draw(sampling, number), random.Random(f"{sampling.seed}/placed/{number}")
        kind = chance.choice(_KINDS)
        ohm = drawn.joint_ohm if KINDS[kind].is_joint else None
        true = Fault(kind, chance.choice(tuple(KINDS[kind].places(drawn.street))), ohm)
        really = _noticed(drawn, true)
        notice = [home for home, word in really.items() if word != "normal"]
        if not notice or len(really) < _HOMES:
            continue
        first = chance.choice(notice)
        others = chance.sample([home for home in really if home != first], _HOMES - 1)
        seen = {home: _said(really[home], chance) for home in (first, *others)}
        ranked = located(drawn.street, seen)
        _count(counts, drawn.street, ranked, true)
        for _ in range(_MORE):
            if max(main_or_service(ranked)) < SETTLED and (home := next_home(ranked, seen)):
                seen[home] = _said(really[home], chance)
                ranked = located(drawn.street, seen)
        settled, right = _told(ranked, true)
        counts["settled_later"] += settled
        counts["right_later"] += settled and right
    return Placed(**counts)


def _count(counts: dict[str, int], street: Street, ranked: tuple[Located, ...], true: Fault) -> None:
    settled, right = _told(ranked, true)
    counts["asked"] += 1
    counts["near"] += any(_spans_apart(street, one.fault, true) <= 1 for one in ranked[:2])
    counts["exact"] += any(one.fault.at == true.at for one in ranked[:2])
    counts["told"] += right
    counts["settled"] += settled
    counts["right"] += settled and right


def _told(ranked: tuple[Located, ...], true: Fault) -> tuple[bool, bool]:
    """Whether a main is told from a service with SETTLED, and whether the more probable is right."""
    main, service = main_or_service(ranked)
    return max(main, service) >= SETTLED, (main > service) == true.kind.startswith("mains-")


def _said(word: str, chance: random.Random) -> str:
    return chance.choice(WORDS) if chance.random() < ERRS else word


def _noticed(drawn: Drawn, fault: Fault) -> dict[str, str]:
    """What each home notices, by the senses of the street's caller and loads that change once."""
    healthy = network(drawn.street)
    after = healthy.changed(
        *(
            replace(
                healthy.branches[f"{home}/load.{phase}"], impedance=load_ohm(kilowatts, premises.power_factor)
            )
            for home, premises in drawn.street.premises.items()
            for phase, kilowatts in zip(premises.phases, drawn.later_kw[home], strict=True)
        )
    )
    broken = [(fault.applied_to(one), one) for one in (healthy, after)]
    return {home: _word(home, broken, drawn.caller["caller-sees-volts"]) for home in drawn.street.premises}


def _word(home: str, broken: list[tuple[Network, Network]], sees: float) -> str:
    now, sound = broken[0]
    volts = home_volts(now, home)
    if volts < OFF_BELOW_VOLTS:
        return "off"
    if abs(now.solution.potential(f"{home}.MET")) >= TINGLE_FROM_VOLTS:
        return "tingle"
    change = volts - home_volts(sound, home)
    if abs(change) >= sees:
        return "bright" if change > 0 else "dim"
    later = home_volts(broken[1][0], home) - home_volts(broken[1][1], home)
    return "flicker" if abs(later - change) >= sees else "normal"


def _spans_apart(street: Street, one: Fault, other: Fault) -> float:
    """How many spans lie between two faults on a main without branches."""
    joints = ["substation", *(span.between[1] for span in street.mains)]
    spans = [span_of(street, fault) for fault in (one, other)]
    return abs(joints.index(spans[0]) - joints.index(spans[1])) if all(spans) else float("inf")
