"""What was seen at several homes of one street: where the fault lies, and which home to visit next."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Example, Input, Number, Row, Table
from calc.drawing import street_svg
from calc.faults import HEALTHY, titles_besides
from calc.figures import figure
from calc.locate import PRIORS, SETTLED, WORDS, Located, located, main_or_service, next_home
from calc.shaped import shaped
from calc.street import Street, network

__all__ = ["CALCULATOR"]

_NOT = "not-asked"
_HOMES = 4
_SHOWN = 6


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    street = shaped(Street, data["streets"][values["street"]])
    seen = _seen(values)
    ranked = located(street, seen)
    places = tuple(one for one in ranked if one.fault != HEALTHY)
    after = next_home(ranked, seen)
    healthy = network(street)
    return Answer(
        tuple(_summary(ranked, seen, after)),
        (_places(ranked), _homes(places, seen)),
        street_svg(places[0].fault.applied_to(healthy), healthy, after or None, name="locate"),
        (
            "A place is where to look first, never where it is safe. Every home that may be beyond the break "
            "is made safe before anybody digs or opens a joint.",
        ),
    )


def _seen(values: Mapping[str, Any]) -> dict[str, str | float]:
    """What was seen by home; volts come before words, and a home given twice keeps what came last."""
    seen: dict[str, str | float] = {}
    for number in range(1, _HOMES + 1):
        word, volts = values[f"seen_{number}"], values[f"volts_{number}"]
        if volts is not None:
            seen[values[f"home_{number}"]] = volts
        elif word != _NOT:
            seen[values[f"home_{number}"]] = word
    return seen


def _summary(ranked: tuple[Located, ...], seen: Mapping[str, str | float], after: str) -> Iterator[str]:
    if not seen:
        yield "Nothing was entered yet: these places are only as probable as they are common."
    first, second = [one for one in ranked if one.fault != HEALTHY][:2]
    danger = math.fsum(one.probability for one in ranked if one.fault.endangers)
    nothing = math.fsum(one.probability for one in ranked if one.fault == HEALTHY)
    yield f"Look first: {first.fault.title} ({_chance(first.probability)})."
    yield f"Then: {second.fault.title} ({_chance(second.probability)})."
    yield (
        f"Faults that can kill or burn, all places together: {_chance(danger)}; nothing wrong on this "
        f"street: {_chance(nothing)}."
    )
    yield _main_or_service(ranked)
    if after:
        yield f"Visit or ring next: {after}. What is seen there parts the probable places the most."


def _main_or_service(ranked: tuple[Located, ...]) -> str:
    main, service = main_or_service(ranked)
    shares = f"the main {_chance(main)}, one home's service {_chance(service)}"
    if max(main, service) < SETTLED:
        return f"Main or one home's service: not to be told from this ({shares}). Treat it as the main."
    where = "the main" if main > service else "one home’s service"
    return f"If it is in main or service, it is in {where}: {shares}."


def _chance(share: float) -> str:
    return f"{figure(min(max(share, 0.0), 1.0) * 100, 0)} %"


def _places(ranked: tuple[Located, ...]) -> Table:
    rows = tuple(Row(one.fault.title, (_chance(one.probability),)) for one in ranked[:_SHOWN])
    return Table("Where it may lie", ("Fault", "Probability"), rows)


def _homes(ranked: tuple[Located, ...], seen: Mapping[str, str | float]) -> Table:
    def said(home: str) -> str:
        word = seen.get(home, "–")
        return word if isinstance(word, str) else figure(word, 0, "V")

    rows = tuple(
        Row(
            home,
            (
                said(home),
                *(f"{one.homes[home][1]}, {figure(one.homes[home][0], 0, 'V')}" for one in ranked[:2]),
            ),
        )
        for home in ranked[0].homes
    )
    return Table("What each home would see", ("Home", "Seen", "With the first", "With the second"), rows)


def _inputs() -> Iterator[Input]:
    yield Choice("street", "Street", (), "", options_from="streets")
    words = ((_NOT, "not asked"), *((word, word) for word in WORDS))
    for number in range(1, _HOMES + 1):
        yield Choice(
            f"home_{number}", f"Home {number} that was asked", (), "", options_from="homes", after=number - 1
        )
        first = "bright" if number == 1 else _NOT
        yield Choice(
            f"seen_{number}", f"What was said of home {number}", words, first, "Lights, or a tingle."
        )
        yield Number(
            f"volts_{number}",
            f"Or volts at home {number}",
            "V",
            0,
            450,
            230,
            1,
            "Line to neutral.",
            optional=True,
        )


CALCULATOR = Calculator(
    id="locate",
    title="Locate a fault along a street",
    about="Calls or readings from several homes of one street: the spans, services and joints where the "
    "fault may lie, the most probable first, and the home to visit next.",
    inputs=tuple(_inputs()),
    run=run,
    examples=(
        Example("One call alone", {}),
        Example("Two neighbours, one bright and one dim", {"seen_2": "dim"}),
        Example(
            "One home off, the others as ever",
            {"seen_1": "off", "seen_2": "normal", "seen_3": "normal", "seen_4": "normal"},
        ),
    ),
    sources=(
        "Volts: nodal analysis of the street with each fault in turn, under a few draws of the loads.",
        "What people call bright, dim or a tingle, and how common each fault is: project choice, no source.",
        f"Faults that it does not know: {titles_besides(PRIORS)}.",
    ),
    cautions=(
        "Callers are asked what they see, never to touch, open or measure anything.",
        "It knows one fault at a time, and no switch, link or cable that the street's record leaves out. "
        "Local rules and the control room come first.",
    ),
)
