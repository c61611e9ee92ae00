"""What was seen at one home: which faults explain it, and which test tells the most next."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Mapping
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Example, Number, Row, Table
from calc.drawing import ink
from calc.explain import (
    ASKED,
    TOO_LIKELY,
    Asked,
    Explained,
    State,
    before_anything,
    code_of,
    in_danger,
    sampled,
)
from calc.figures import figure
from calc.instruments import INSTRUMENTS
from calc.readings import TESTS

__all__ = ["CALCULATOR"]

_NOT = "not-taken"
_SHOWN = 4
"""States that are shown beside what was seen."""

_TOGETHER = "All states that can kill or burn, together"

_DIGITS = {"A": 2, "V": 0, "ohm": 2}


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR. `data["explain"]` is the table of sampled readings; without it there is no answer."""
    if "explain" not in data:
        words = (
            "This page came without sampled readings: what stands here is how common each state is, "
            "whatever was seen."
        )
        return Answer((words,), (_common(),), _bars(before_anything()))
    seen = {name: value for name, value in values.items() if value is not None and value != _NOT}
    told = Explained(
        sampled(data["explain"]), {name: code_of(ASKED[name], value) for name, value in seen.items()}
    )
    states = told.states()
    telling = told.telling() if told.fits else ()
    return Answer(
        tuple(_summary(told, states, telling)),
        (_ranked(told, states, seen), _next(telling)),
        _bars(states) if told.fits else "",
        tuple(_warnings(told)),
    )


def _common() -> Table:
    rows = tuple(Row(words, (_chance(share),)) for words, share in _grouped(before_anything()))
    return Table("How common each state is", ("State", "Probability"), rows)


def _grouped(states: tuple[State, ...]) -> tuple[tuple[str, float], ...]:
    """The states of danger together, then every state, each with its probability."""
    return (_TOGETHER, in_danger(states)), *((state.title, state.probability) for state in states)


def _bars(states: tuple[State, ...]) -> str:
    """The most probable states as bars, 360 wide; the words and figures say the same."""
    shown = _grouped(states)[:7]
    said = "; ".join(f"{title}: {_chance(share)}" for title, share in shown)
    bars, y = [], 4.0
    for title, share in shown:
        told = f"{title}: {_chance(share)}".replace(" %", "\u00a0%")  # a figure stays with its sign
        for words in textwrap.wrap(told, 46):
            y += 15
            bars.append(ink.text(8, y, words))
        y += 6
        for width, fill, stroke in ((344.0, "none", ink.EDGE), (344 * min(share, 1.0), ink.ACCENT, "none")):
            bars.append(ink.element("rect", x=8, y=y, width=width, height=8, fill=fill, stroke=stroke))
        y += 16
    title = "How probable each state is"
    return ink.sheet("explain", 360, y, title, f"{said}.", *bars)


def _summary(told: Explained, states: tuple[State, ...], telling: Any) -> Iterator[str]:
    if not told.seen:
        yield (
            "Nothing was entered yet. These are the chances of a home that is visited because something was "
            "noticed."
        )
    elif not told.fits:
        yield (
            "None of these fits: no sampled street showed readings near these. Take them again, and look for "
            "what this guide does not know: two faults at once, another supply, a meter that is wrong."
        )
        return
    yield from _lead(states)
    if telling:
        yield f"Tells the most next: {ASKED[telling[0][0]].title}."


def _lead(states: tuple[State, ...]) -> Iterator[str]:
    """Danger first where all that can kill or burn is likelier together than no fault; told in any case."""
    harmless = next(state.probability for state in states if state.place == 0)
    together, first = in_danger(states), states[0]
    worst, then = [state for state in states if state.endangers][:2]
    danger = (
        f"{_TOGETHER}: {_chance(together)}. The most probable of them: {_named(worst)}, then {_named(then)}."
    )
    if together >= harmless:
        yield danger
        if not first.endangers:
            yield f"Of single states the most probable: {_named(first)}."
    else:
        yield f"Most probable: {_named(first)}."
        yield danger


def _named(state: State) -> str:
    title = state.title.lower() if state.place == 0 else state.title
    return f"{title} ({_chance(state.probability)})"


def _warnings(told: Explained) -> Iterator[str]:
    yield (
        "A probability closes no job. Treat metalwork as live until the guide's tests are done and show "
        "otherwise."
    )
    if told.hurts("switch-on-known-load") > TOO_LIKELY:
        yield (
            "Do not switch a known load on yet: in a state that is still probable it would put somebody in "
            "danger. Take the other tests first."
        )


def _chance(share: float) -> str:
    if share < 0.001:
        return "under 0.1 %"
    if share > 0.999:
        return "over 99.9 %"
    return f"{figure(share * 100, 1 if share < 0.1 or share > 0.9 else 0)} %"


def _ranked(told: Explained, states: tuple[State, ...], seen: Mapping[str, Any]) -> Table:
    """The states, each with what it would have shown where something was entered."""
    shown = [state for state in states if state.probability >= TOO_LIKELY][: 2 * _SHOWN]
    names = tuple(seen)[:6]
    rows = [
        Row(state.title, (_chance(state.probability), *(_would(told, state, name) for name in names)))
        for state in shown
    ]
    rows.insert(0, Row(_TOGETHER, (_chance(in_danger(states)), *("–" for _ in names))))
    if names:
        rows.insert(0, Row("Entered", ("–", *(_entered(ASKED[name], seen[name]) for name in names))))
    return Table(
        "States, and what each would show (half, 5 to 95 %)" if told.fits else "None of these fits",
        (
            "State",
            "Probability" if told.fits else "If it had to be one of these",
            *(ASKED[name].title for name in names),
        ),
        tuple(rows),
    )


def _entered(one: Asked, value: Any) -> str:
    return value if one.words else figure(value, _DIGITS[one.unit], one.unit)


def _would(told: Explained, state: State, name: str) -> str:
    shown = told.would_show(state.place, name)
    if isinstance(shown, str):
        return shown
    low, half, high = (_figure(value, ASKED[name].unit) for value in shown)
    return f"{half} ({low} to {high})"


def _figure(value: float, unit: str) -> str:
    return figure(value, _DIGITS[unit], unit) if value < 1e6 else "over range"


def _next(telling: Any) -> Table:
    rows = tuple(Row(ASKED[name].title, (figure(bits, 2),)) for name, bits in telling[:5])
    return Table(
        "Next, the most telling first", ("Test that is safe in every state still probable", "Bits"), rows
    )


def _input(one: Asked) -> Choice | Number:
    if one.words:
        options = ((_NOT, "not seen, or could not take it"), *((word, word) for word in one.words))
        return Choice(one.id, one.title, options, _NOT)
    instrument = next(test.instrument for test in TESTS if test.id == one.id)
    step = INSTRUMENTS[instrument].resolution
    help_ = "Empty: could not take it." if one.unit else ""
    return Number(one.id, one.title, one.unit, 0, one.high, 0.5, step, help_, optional=True)


CALCULATOR = Calculator(
    id="explain",
    title="Explain what was seen",
    about="Enter what was seen at one home, as much or as little as there is: faults ranked by how probable "
    "they are, what each would have shown, and the test that tells the most next and hurts nobody.",
    inputs=tuple(_input(one) for one in ASKED.values()),
    examples=(
        Example(
            "Clamp takes no share of the known load",
            {
                "clamp-main-earth": "2.6",
                "loop-line-earth": "0.21",
                "known-load-neutral-tail": "14.2",
                "known-load-neutral-and-earth": "0.05",
            },
        ),
        Example(
            "Metalwork away from earth, loop of ohms",
            {"volts-earth-probe": "38", "loop-line-earth": "6.5", "lights": "bright"},
        ),
    ),
    run=run,
    sources=(
        "Sampled readings: nodal analysis of streets drawn at random as the guide's sampling states, with "
        "combined services only, meter errors and load changes included. How often it is right stands on "
        "the Proof page.",
        "How common each fault is before anything is seen: project choice, no source.",
        "Faults that it does not know: of separate neutrals, sheaths and lines, between homes, beyond the "
        "meter.",
    ),
    cautions=(
        "No fault is ruled out here: it gives no leave to touch metalwork or to lift a main earth.",
        "It knows one fault at a time, on streets like the sampled ones. A crew that sees more than it was "
        "told knows better.",
        "It never proposes to lift a main earth. Local rules and safety rules come first.",
    ),
)
