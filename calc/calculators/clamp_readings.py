"""Clamp readings at one home, before and after a known load: which state of its PEN they fit, how surely."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, Literal, NamedTuple

from calc.calculator import Answer, Calculator, Example, Number, Output, Row, Table, Tick
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, PAPER, QUIET, element, line, sheet, text
from calc.figures import figure
from calc.limits import LIMITS
from calc.results import results
from calc.work import KNOWN_LOAD_KW

__all__ = ["CALCULATOR", "LIMITS_A", "Band", "Clamped", "State", "doubts", "fits", "judged", "turned_round"]

State = Literal["carries", "part", "open", "not-proven"]


class _LimitsA(NamedTuple):
    """The limits of the site tree test-one-home, A: choices of this guide (a test holds them to the tree)."""

    tail_at_rest_below: float = 12
    change_from: float = 8
    change_below: float = 13
    open_below: float = 3
    carries_from: float = 6
    earth_below: float = 7.5


LIMITS_A = _LimitsA()


@dataclass(frozen=True, slots=True)
class Clamped:
    """What the clamp showed, A: neutral tail, main earth (None: not clamped alone) and both in one jaw."""

    tail_before: float
    both_before: float
    tail_after: float
    both_after: float
    earth_before: float | None = None
    earth_after: float | None = None

    @property
    def rise(self) -> float:
        """By how much the neutral tail rose."""
        return self.tail_after - self.tail_before


@dataclass(frozen=True, slots=True)
class Band:
    """What a meter may be wrong by: `percent` of the reading and `amps` besides."""

    percent: float
    amps: float

    def of(self, shown: float) -> float:
        """The error that a reading of so many amperes may have, A, either way."""
        return self.percent / 100 * shown + self.amps

    def edges(self, shown: float) -> tuple[float, float, float]:
        """The least, the shown and the largest current that a reading may stand for."""
        error = self.of(shown)
        return max(shown - error, 0.0), shown, shown + error


def judged(clamped: Clamped) -> State:
    """What the site tree makes of these readings, taken at their word. Raises nothing.

    >>> judged(Clamped(2.0, 2.0, 12.0, 0.4, 0.2, 12.0))
    'open'
    """
    ours = LIMITS_A
    known_load = ours.change_from <= abs(clamped.rise) < ours.change_below
    if clamped.tail_before >= ours.tail_at_rest_below or not known_load:
        return "not-proven"
    if clamped.both_after < ours.open_below:
        return "open"
    if clamped.both_after < ours.carries_from:
        return "part"
    if clamped.earth_after is None or clamped.earth_after >= ours.earth_below:
        return "not-proven"
    return "carries"


def fits(clamped: Clamped, band: Band) -> tuple[State, ...]:
    """Every state that the readings fit once each may be wrong by its band, the one at their word first.

    Where the pair looks as if it had been held wrongly in the jaw, what it then hides is among them.
    """
    ends: dict[str, Any] = {
        field.name: (None,) if (amps := getattr(clamped, field.name)) is None else band.edges(amps)
        for field in fields(Clamped)
    }
    states = [
        judged(Clamped(**dict(zip(ends, each, strict=True)))) for each in itertools.product(*ends.values())
    ]
    mistaken = [judged(replace(clamped, both_after=both)) for _, both in _held_wrongly(clamped, band)]
    return tuple(dict.fromkeys([judged(clamped), *states, *mistaken]))


def turned_round(tail: float, earth: float, both: float) -> float:
    """What both together would show with one of them turned round in the jaw, A.

    The sizes of the sum and of the difference of two phasors go together (parallelogram law).

    >>> turned_round(12, 12, 0)
    24.0
    """
    return math.sqrt(max(2 * tail**2 + 2 * earth**2 - both**2, 0.0))


def doubts(clamped: Clamped, band: Band, load_kw: float) -> Iterator[str]:
    """Why these readings may not be what they were meant to be, a sentence each.

    `load_kw` is the known load at 230 V; the supply may be anywhere in its permitted band.
    """
    yield from _other_load(clamped, band, load_kw)
    for when, tail, earth, both in (
        ("Before", clamped.tail_before, clamped.earth_before, clamped.both_before),
        ("After", clamped.tail_after, clamped.earth_after, clamped.both_after),
    ):
        if earth is not None:
            yield from _impossible(when, tail, earth, both, band)
    if clamped.earth_after is None:
        yield (
            "The main earth was not clamped alone with the load on, so a jaw that held the tail alone would "
            "pass for the pair."
        )
    yield from (sentence for sentence, _ in _held_wrongly(clamped, band))


def _held_wrongly(clamped: Clamped, band: Band) -> Iterator[tuple[str, float]]:
    """How the jaw may have been held with the load on, and what both together would then be, A: where the
    main earth carries so much that it is not believed, or where the state would be another one."""
    tail, earth, both = clamped.tail_after, clamped.earth_after, clamped.both_after
    if earth is None:
        return

    def hides(really: float) -> bool:
        other = judged(replace(clamped, both_after=really))
        return earth >= LIMITS_A.earth_below or other != judged(clamped)

    if abs(both - tail) <= band.of(both) + band.of(tail) and hides(abs(tail - earth)):
        words = (
            "The pair shows what the tail shows: the jaw may have held the tail alone. Clamp the pair again."
        )
        yield words, abs(tail - earth)
    added = abs(both - tail - earth) <= band.of(both) + band.of(tail) + band.of(earth)
    if added and hides(turned_round(tail, earth, both)):
        yield (
            "The pair shows tail and main earth added up: one of them may run the other way through the jaw, "
            "and a broken PEN looks whole like that. Lay both the same way and clamp again.",
            turned_round(tail, earth, both),
        )


def _expected_rise(load_kw: float) -> tuple[float, float]:
    """The least and the most that the known load adds at the ends of the permitted volts, A."""
    at_230 = 1000 * load_kw / LIMITS["declared-volts"].value
    low, high = (LIMITS[name].value / LIMITS["declared-volts"].value for name in ("volts-low", "volts-high"))
    return at_230 * low, at_230 * high


def _other_load(clamped: Clamped, band: Band, load_kw: float) -> Iterator[str]:
    least, most = _expected_rise(load_kw)
    error = band.of(clamped.tail_before) + band.of(clamped.tail_after)
    rise, told = clamped.rise, f"{figure(least, 1, 'A')} to {figure(most, 1, 'A')}"
    if rise < error:
        yield "The tail did not rise: the load is not on, or the clamp is round another conductor."
    elif rise < least - error:
        yield (
            f"The tail rose by {figure(rise, 1, 'A')}, where the known load adds {told}: another load may "
            "have switched off at the same time. Take all readings again."
        )
    elif rise > most + error:
        yield (
            f"The tail rose by {figure(rise, 1, 'A')}, where the known load adds {told}: another load may "
            "have switched on too. Take all readings again."
        )


def _impossible(when: str, tail: float, earth: float, both: float, band: Band) -> Iterator[str]:
    """Three phasors of which one is the sum of the others make a triangle: no side is longer than two."""
    error = band.of(tail) + band.of(earth) + band.of(both)
    if both > tail + earth + error or both < abs(tail - earth) - error:
        yield (
            f"{when} the load: {figure(tail, 2, 'A')}, {figure(earth, 2, 'A')} and {figure(both, 2, 'A')} "
            "cannot be a tail, a main earth and both together: the wrong conductor was clamped, or the "
            "current changed between two readings."
        )


def _strange(clamped: Clamped, band: Band) -> float | None:
    """The least current in the main earth before the load that this home's tail cannot explain, A."""
    if clamped.earth_before is None:
        return None
    error = band.of(clamped.earth_before) + band.of(clamped.tail_before)
    return max(clamped.earth_before - clamped.tail_before - error, 0.0)


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    alone = values["earth_taken"]
    clamped = Clamped(
        values["tail_before"],
        values["both_before"],
        values["tail_after"],
        values["both_after"],
        values["earth_before"] if alone else None,
        values["earth_after"] if alone else None,
    )
    band = Band(values["error_percent"], values["error_a"])
    states, doubtful = fits(clamped, band), tuple(doubts(clamped, band, values["load_kw"]))
    return Answer(
        tuple(_summary(clamped, band, states, doubtful, values["apart"])),
        (results(_OUTPUTS, _figures(clamped, band)), _held(clamped, band), _told(states)),
        _drawing(clamped, band),
        tuple(_warnings(states)),
    )


def _figures(clamped: Clamped, band: Band) -> dict[str, float | None]:
    change, rise = clamped.both_after - clamped.both_before, clamped.rise
    earth = clamped.earth_after
    return {
        "rise": rise,
        "change": change,
        "share": 100 * change / rise if rise >= LIMITS_A.change_from else None,
        "error": band.of(clamped.both_after),
        "strange": _strange(clamped, band),
        "turned": None if earth is None else turned_round(clamped.tail_after, earth, clamped.both_after),
    }


_SAID: dict[State, str] = {
    "carries": "this home's own {what} carries its load",
    "part": "this home's own {what} carries only part of its load: take it as a joint going bad",
    "open": "this home's own {what} is open, or nearly so",
    "not-proven": "nothing is proven",
}
_DO: dict[State, str] = {
    "carries": "Go on with the site tree, then test every home that shares metalwork with this one the same "
    "way; open no earth before.",
    "part": "Tell the control room today, with all six figures. Disconnect nothing and put no load on.",
    "open": "Switch the known load off. Tell the control room now: PEN broken at this home, current through "
    "shared metalwork, supply to be made dead. Disconnect nothing.",
    "not-proven": "Tell the control room which reading is missing or doubtful. Disconnect nothing.",
}
_WORST: tuple[State, ...] = ("open", "part", "not-proven", "carries")


def _summary(
    clamped: Clamped, band: Band, states: tuple[State, ...], doubtful: tuple[str, ...], apart: bool
) -> Iterator[str]:
    what = "neutral" if apart else "PEN"
    said = [_SAID[state].format(what=what) for state in states]
    if doubtful:
        yield (
            f"At their word: {said[0]}. But the readings are in doubt, so they prove nothing; what "
            "follows is for the worst that they fit."
        )
    elif len(states) == 1:
        yield f"The readings fit one state, whatever the meter's error: {said[0]}."
    else:
        yield f"These readings do not tell. Within the meter's error they fit: {'; '.join(said)}."
    yield from doubtful
    worst = next(state for state in _WORST if state in states)
    yield _DO["not-proven" if worst == "carries" and doubtful else worst]
    yield (
        "They speak for this home only. A neighbour's broken PEN can come home through this main earth while "
        "every figure here is right."
    )
    strange = _strange(clamped, band)
    if strange:
        yield (
            f"At least {figure(strange, 1, 'A')} in the main earth before the load is not this home's own: "
            "it is somebody's neutral current, from a neighbour or from the main. Tell the control room, and "
            "test the homes that share metalwork."
        )


class _Held(NamedTuple):
    """One figure against a limit: the figure, what it may be wrong by, and the limits on its scale."""

    label: str
    amps: float
    error: float
    limits: tuple[float, ...]
    names: tuple[str, ...]  # one for each part of the scale
    right: int  # the part where the figure belongs in a home whose PEN carries


def _scales(clamped: Clamped, band: Band) -> Iterator[_Held]:
    ours = LIMITS_A
    error = band.of(clamped.tail_before) + band.of(clamped.tail_after)
    before, both = clamped.tail_before, clamped.both_after
    yield _Held(
        "Neutral tail before",
        before,
        band.of(before),
        (ours.tail_at_rest_below,),
        ("little enough", "too much is on"),
        0,
    )
    yield _Held(
        "Change of the tail",
        abs(clamped.rise),
        error,
        (ours.change_from, ours.change_below),
        ("too little", "the known load", "another load too"),
        1,
    )
    yield _Held(
        "Both together after",
        both,
        band.of(both),
        (ours.open_below, ours.carries_from),
        ("does not carry", "part", "carries"),
        2,
    )
    earth = clamped.earth_after
    if earth is not None:
        yield _Held(
            "Main earth after", earth, band.of(earth), (ours.earth_below,), ("believed", "not believed"), 0
        )


def _place(held: _Held) -> str:
    """Where a figure falls on its scale: one name, or several where the error reaches over a limit."""
    here, low, high = (sum(amps >= limit for limit in held.limits) for amps in (held.amps, *_ends(held)))
    others = [held.names[place] for place in range(low, high + 1) if place != here]
    return " or ".join([held.names[here], *others]) if others else f"{held.names[here]}, surely"


def _ends(held: _Held) -> tuple[float, float]:
    return held.amps - held.error, held.amps + held.error


def _held(clamped: Clamped, band: Band) -> Table:
    rows = (
        Row(
            f"{held.label} (limit {' and '.join(figure(limit, 1, 'A') for limit in held.limits)})",
            (f"{figure(held.amps, 2)} ± {figure(held.error, 2, 'A')}", _place(held)),
        )
        for held in _scales(clamped, band)
    )
    return Table("Against the limits of the site tree", ("What", "Read", "So"), tuple(rows))


def _told(states: tuple[State, ...]) -> Table:
    names: tuple[tuple[State, str], ...] = (
        ("carries", "This home's PEN carries"),
        ("part", "It carries part of the load"),
        ("open", "It is open or nearly so"),
        ("not-proven", "Nothing is proven"),
    )
    rows = tuple(Row(words, ("yes" if state in states else "no",)) for state, words in names)
    return Table("Which states the readings fit", ("State", "Fits?"), rows)


def _warnings(states: tuple[State, ...]) -> Iterator[str]:
    if "open" in states:
        yield (
            "This home's current may be going home through pipes and a neighbour's earth. Whoever opens that "
            "path makes metalwork live."
        )


# The drawing

_WIDTH, _LEFT, _RIGHT = 360.0, 14.0, 346.0


def _drawing(clamped: Clamped, band: Band) -> str:
    """One scale for each figure: its limits, the parts between them, the reading with its error."""
    scales = tuple(_scales(clamped, band))
    drawn, top = [], 22.0
    for held in scales:
        drawn += list(_scale(held, top))
        top += 78
    about = ". ".join(f"{held.label} {figure(held.amps, 2, 'A')}: {_place(held)}" for held in scales)
    return sheet("clamp", _WIDTH, top - 6, "Each reading on the scale of the site tree", f"{about}.", *drawn)


def _scale(held: _Held, top: float) -> Iterator[str]:
    ends = _ends(held)
    most = 1.6 * held.limits[-1]  # what lies beyond stands at the end

    def x(amps: float) -> float:
        return _LEFT + (_RIGHT - _LEFT) * min(max(amps / most, 0.0), 1.0)

    yield text(_LEFT, top, f"{held.label}: {figure(held.amps, 2, 'A')}", weight=700)
    bar = top + 22
    borders = (0.0, *held.limits, most)
    for place, (low, high) in enumerate(itertools.pairwise(borders)):
        yield element(
            "rect",
            x=x(low),
            y=bar,
            width=x(high) - x(low),
            height=16,
            fill=ACCENT if place == held.right else PAPER,
            fill_opacity="0.25",
            stroke=EDGE,
            stroke_width=1,
        )
        yield text((x(low) + x(high)) / 2, bar + 29, held.names[place], fill=QUIET, anchor="middle")
    for limit in held.limits:
        yield line((x(limit), bar - 4), (x(limit), bar + 16), stroke=INK, width=2)
        yield text(x(limit), bar - 6, figure(limit, 1, "A"), anchor="middle")
    yield line((x(ends[0]), bar + 8), (x(ends[1]), bar + 8), stroke=DANGER, width=3)
    yield element("circle", cx=x(held.amps), cy=bar + 8, r=5, fill=DANGER, stroke=PAPER, stroke_width=1.6)


def _amps(name: str, label: str, default: float, help: str = "") -> Number:
    return Number(name, label, "A", 0, 200, default, 0.01, help)


_OUTPUTS = (
    Output("rise", "Rise of the neutral tail", "A", 2),
    Output("change", "Change of both together", "A", 2),
    Output("share", "Change of both against rise of the tail, by size alone", "%", 0),
    Output("error", "What both together may be wrong by, either way", "A", 2),
    Output("strange", "In the main earth before, at least, and not this home's own", "A", 2),
    Output("turned", "Both together, were one of them turned round in the jaw", "A", 2),
)

CALCULATOR = Calculator(
    id="clamp-readings",
    title="Clamp readings before and after a known load",
    about="What a clamp showed round neutral tail, main earth and both together: which state of this home's "
    "PEN the figures fit, and how surely.",
    inputs=(
        _amps("tail_before", "Neutral tail, before the known load", 2.1),
        _amps("earth_before", "Main earth, before", 1.4),
        _amps("both_before", "Both together, before", 1.6, "In one jaw, both running the same way."),
        _amps("tail_after", "Neutral tail, with the known load on", 12.4),
        _amps("earth_after", "Main earth, with the load on", 3.2),
        _amps("both_after", "Both together, with the load on", 9.4),
        Tick("earth_taken", "The main earth was clamped alone, before and after", True),
        Tick("apart", "Earth apart from the neutral (TN-S or TT)", False),
        Number("load_kw", "Known load, at 230 V", "kW", 1, 6, KNOWN_LOAD_KW, 0.1),
        Number(
            "error_percent", "Meter may be wrong by, of the reading", "%", 0, 10, 2, 0.1, "See its handbook."
        ),
        Number("error_a", "And besides by", "A", 0, 1, 0.05, 0.01),
    ),
    outputs=_OUTPUTS,
    run=run,
    examples=(
        Example(
            "The PEN is open, and a pipe carries",
            {"earth_before": "2.1", "both_before": "0", "earth_after": "12.4", "both_after": "0"},
        ),
        Example("Part of the load", {"earth_after": "8.1", "both_after": "4.3"}),
        Example("Too near a limit to tell", {"earth_after": "6.4", "both_after": "6.05"}),
        Example("One of them turned round", {"earth_after": "12.4", "both_after": "24.8"}),
        Example("The jaw held the tail alone", {"earth_after": "12.4", "both_after": "12.4"}),
        Example("A neighbour's current", {"earth_before": "6.3", "both_before": "5.2"}),
    ),
    sources=(
        "The limits of 3, 6, 7.5, 8, 12 and 25 A: choices of this guide, the same as in the site tree Test "
        "one home.",
        "The sum of two phasors: triangle and parallelogram laws.",
        "The meter's error, 2 % and 0.05 A: ordinary for its class (engineering judgement); its handbook "
        "comes first.",
    ),
    cautions=(
        "No figure here is leave to open an earth, to part a pipe or to touch metalwork.",
        "Clamping is live work at the meter position, for people trained and authorised for it. Local rules "
        "come first.",
        "A steady mix of loads is taken for granted. Where a display is not steady, nothing is proven.",
    ),
)
