"""Volts against the permitted band: what each side of it means, for how many homes, and whom to tell."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, PAPER, QUIET, element, line, sheet, text
from calc.figures import figure
from calc.limits import LIMITS
from calc.results import cited, results
from calc.symptoms import OFF_BELOW_VOLTS

__all__ = ["CALCULATOR", "Judgement", "Side", "band", "joint_adds", "judge", "side_of"]

Side = Literal["dead", "low", "within", "high", "beyond"]
Homes = Literal["one", "same", "opposite", "unknown"]
Moves = Literal["steady", "own", "others", "unknown"]
Flow = Literal["draws", "feeds", "unknown"]

_DECLARED, _LOW, _HIGH, _MOST = (
    LIMITS[name].value for name in ("declared-volts", "volts-low", "volts-high", "phase-to-phase")
)
_LETS_GO = LIMITS["inverter-volts-mean"]


def band(declared_volts: float, less_percent: float, plus_percent: float) -> tuple[float, float]:
    """The lowest and highest volts that a declaration permits.

    >>> [round(volts, 1) for volts in band(230, 6, 10)]
    [216.2, 253.0]
    """
    return declared_volts * (1 - less_percent / 100), declared_volts * (1 + plus_percent / 100)


def side_of(volts: float) -> Side:
    """On which side of the band volts from line to neutral are; both its ends are within.

    `dead` below 100 V, as in the site tree; `beyond` what a lost neutral of three phases with plain loads can
    bring at the highest permitted volts.

    >>> [side_of(volts) for volts in (0, 216.1, 216.2, 253, 253.1, 500)]
    ['dead', 'low', 'within', 'within', 'high', 'beyond']
    """
    if volts < OFF_BELOW_VOLTS:
        return "dead"
    if volts < _LOW:
        return "low"
    if volts <= _HIGH:
        return "within"
    return "high" if volts <= _MOST * _HIGH / _DECLARED else "beyond"


def joint_adds(flow: Literal["draws", "feeds"], amps: float, joint_ohm: float) -> float:
    """Volts that a joint of `joint_ohm` in its line or neutral adds to a one-phase home, unity power factor.

    Below 0 where the home draws `amps`, above 0 where it feeds them in: what it feeds in has to climb over
    every ohm on its way to the transformer. Source: Ohm's law.

    >>> joint_adds("draws", 16, 1.0), joint_adds("feeds", 16, 1.0)
    (-16.0, 16.0)
    """
    return amps * joint_ohm if flow == "feeds" else -amps * joint_ohm


@dataclass(frozen=True, slots=True)
class Judgement:
    """What volts mean: the likely causes, how many homes they reach, how soon, and whom to tell."""

    meaning: str
    homes: str
    soon: Literal["now", "today", "not for this"]
    tell: str


_CREW_NOW = "The control room, now: volts of each line here, and whether they move with load. A crew at once."
_CREW_AND_FEED = (
    "The control room, now: volts of each line here with the feed-in on and off, and how many amperes it "
    "feeds in. A crew at once."
)
_SUPPLY_NOW = (
    "The control room, now, as a broken neutral until it is found to be something else; then the engineer of "
    "the network for the transformer's tap."
)
_DO_NOTHING = "Nobody, for the volts; a shock, a tingle or a smell is told all the same."


def judge(side: Side, homes: Homes, moves: Moves, flow: Flow = "unknown") -> Judgement:
    """What volts on one side of the band mean, for these homes, this movement and this way of the current.

    `homes`: one, several to the same side, several to opposite sides, or not known. `moves`: steady, with
    this home's own load or feed-in, with the loads of others, or not known. `flow`: the home draws, feeds in
    (solar, battery, vehicle), or not known. Trade reasoning: common practice, no source.
    """
    if homes == "opposite":
        return Judgement(
            "Some homes high and some low at one time: the neutral of three phases is lost, in the main or "
            "in a service with three lines.",
            "Every home past the break.",
            "now",
            _CREW_NOW,
        )
    match side:
        case "dead":
            return Judgement(
                "A line is lost, or the neutral is: with the neutral lost, every terminal can be live though "
                "nothing works.",
                "This home, or all past the break.",
                "now",
                "The control room, now: which line is dead, and that nothing may be touched. Crew to measure "
                "neutral to an independent earth.",
            )
        case "low":
            return _low(homes, moves, flow)
        case "high":
            return _high(homes, moves, flow)
        case "beyond":
            return Judgement(
                "More than a lost neutral brings with plain loads. Two lines may be crossed, a higher "
                "voltage may have come in, an inverter may feed a part that is cut off, or the meter or its "
                "range is wrong.",
                "Not known.",
                "now",
                _CREW_NOW,
            )
    return _within(homes, moves, flow)


def _low(homes: Homes, moves: Moves, flow: Flow) -> Judgement:
    if flow == "feeds" and homes != "same":
        return Judgement(
            "Low although this home feeds in, which raises its volts: without it they would be lower still. "
            "Look past the home: a lost neutral, a joint of the main, or a main with too much load.",
            "Every home past the break or the joint, as far as is known.",
            "now",
            _CREW_AND_FEED,
        )
    if homes == "one":
        meaning = (
            "A joint or tail of this home is going bad, line or neutral, or its service is too long "
            "for the load"
        )
        told = {
            "own": f"{meaning}. That it moves with the home's own load speaks for it.",
            "others": "One home is low and moves with the loads of others: the main's neutral may be going, "
            "and the neighbours have not looked yet.",
        }.get(moves, f"{meaning}. Steady does not clear it.")
        reach = "This home, as far as is known." if moves == "others" else "This home."
        return Judgement(told, reach, "now", _CREW_NOW)
    if homes == "same":
        return Judgement(
            "Several homes low together: the main is overloaded, a joint of the line or of the PEN is going "
            "bad, or the transformer's tap is low.",
            "All homes on that line of the main.",
            "now",
            _SUPPLY_NOW,
        )
    return Judgement(
        "A joint going bad, a lost neutral, or a main with too much load: one home's figure does not tell "
        "them apart.",
        "Not known: ask the neighbours.",
        "now",
        _CREW_NOW,
    )


_FEEDS = (
    "A home that feeds in raises its own volts by its current times every ohm up to the transformer: a joint "
    "of line or neutral going bad does that, in its service or in the main, and so does a long or thin cable"
)
_LOST = "Volts above the band that move with load: a neutral of three phases is lost or nearly so"


def _high(homes: Homes, moves: Moves, flow: Flow) -> Judgement:
    if homes == "same" and moves == "steady":
        return Judgement(
            "Several homes high together and steady: the transformer's tap is too high, or much sun or wind "
            "feeds in. On one line alone it may still be a lost neutral.",
            "All homes of the transformer.",
            "now",
            _SUPPLY_NOW,
        )
    past = "Every home past the break; others are low."
    match moves, flow:
        case "own", "draws":
            return Judgement(
                f"{_LOST}. What a home draws brings its own volts down over a joint of its service, not up: "
                "the break is in the main, or in a service with three lines.",
                past,
                "now",
                _CREW_NOW,
            )
        case "own", "feeds":
            return Judgement(
                f"{_FEEDS}. A lost neutral of the main does it too and is not ruled out: ask the neighbours.",
                "This home, as far as is known.",
                "now",
                _CREW_AND_FEED,
            )
        case "own", _:
            return Judgement(
                f"{_LOST}, unless this home feeds in (solar, battery, vehicle): then a bad joint of its own "
                "raises its volts as well. Find out.",
                "Every home past the break, as far as is known; others are low.",
                "now",
                _CREW_AND_FEED,
            )
        case "others", _:
            return Judgement(
                f"{_LOST}. A neighbour who feeds in over a joint that both share does it too.",
                past,
                "now",
                _CREW_NOW,
            )
    if flow == "feeds":
        return Judgement(
            f"{_FEEDS}. Too high a tap and a lost neutral bring it too. Volts alone do not tell: switch the "
            "feed-in off at its own switch, and read again.",
            "Not known: ask the neighbours.",
            "now",
            _CREW_AND_FEED,
        )
    return Judgement(
        "Too high a tap, a lost neutral whose loads stand still just now, or a home that feeds in. Volts "
        "alone do not tell.",
        "Not known: ask the neighbours.",
        "now",
        _SUPPLY_NOW,
    )


def _within(homes: Homes, moves: Moves, flow: Flow) -> Judgement:
    if moves == "own":
        what = "feed-in" if flow == "feeds" else "load"
        return Judgement(
            f"Within the band, but it moves with this home's own {what}: a joint of line or neutral may be "
            "going bad.",
            "This home, as far as is known.",
            "today",
            "The control room, today: by how many volts, and with which load. Site tree: Test one home.",
        )
    if moves == "others":
        return Judgement(
            "Within the band just now, but it moves when others switch: the main's neutral may be going.",
            "Every home past the joint.",
            "now",
            _CREW_NOW,
        )
    ask = "Find out whether they move when something switches. " if moves == "unknown" else ""
    hidden = (
        " Feed-in that meets the home's own load leaves no current in a joint to show it."
        if flow == "feeds"
        else ""
    )
    return Judgement(
        f"Usual volts. {ask}They say nothing of the PEN: balanced loads, or a pipe that stands in, keep the "
        f"volts usual with the PEN open.{hidden}",
        "No home is cleared by it.",
        "not for this",
        _DO_NOTHING,
    )


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    volts, error = values["volts"], values["error_percent"] / 100 * values["volts"] + values["error_v"]
    side = side_of(volts)
    sides = tuple(dict.fromkeys([side, *(side_of(max(volts + way * error, 0.0)) for way in (-1, 1))]))
    worst: Side = next((each for each in sides if each != "within"), "within")
    homes, moves, flow = values["homes"], values["moves"], values["flow"]
    judgement = judge(worst, homes, moves, flow)
    figures = _figures(volts, error, flow, values["current_a"], values["joint_ohm"])
    return Answer(
        (*_summary(volts, error, sides, judgement), _joint(values, figures)),
        (results(_OUTPUTS, figures), _judged(judgement), _sides(worst, homes, moves, flow)),
        _drawing(volts, error, side),
        tuple(_warnings(volts, worst, judgement, flow)),
    )


def _figures(
    volts: float, error: float, flow: Flow, current_a: float, joint_ohm: float
) -> dict[str, float | None]:
    adds = None if flow == "unknown" else joint_adds(flow, current_a, joint_ohm)
    without = None if adds is None or volts < adds else volts - adds
    return {
        "joint": adds,
        "without": without,
        "low": volts,
        "high": volts,
        "percent": 100 * (volts / _DECLARED - 1),
        "to_low": volts - _LOW,
        "to_high": _HIGH - volts,
        "error": error,
        "power": 100 * (volts / _DECLARED) ** 2,
    }


def _joint(values: Mapping[str, Any], figures: Mapping[str, float | None]) -> str:
    """What a joint as bad as the one asked about does to the volts of a one-phase home."""
    amps, ohm = figure(values["current_a"], 1, "A"), figure(values["joint_ohm"], 2, "ohm")
    adds, without = figures["joint"], figures["without"]
    if adds is None:
        size = figure(joint_adds("feeds", values["current_a"], values["joint_ohm"]), 1, "V")
        return f"{amps} over a joint of {ohm} are {size}: on top where a home feeds in, off where it draws."
    does = "fed in" if values["flow"] == "feeds" else "drawn"
    end = f"{amps} {does} over a joint of {ohm} {'add' if adds >= 0 else 'take'} {figure(abs(adds), 1, 'V')}"
    if without is None:
        return f"{end}, which is more than there is: the joint or the current is less than that."
    return f"{end}; without that joint there would be {figure(without, 1, 'V')}."


_IN_WORDS: dict[Side, str] = {
    "dead": "as good as dead",
    "low": "too low",
    "within": "within the band",
    "high": "too high",
    "beyond": "higher than a lost neutral brings",
}


def _summary(volts: float, error: float, sides: tuple[Side, ...], judgement: Judgement) -> Iterator[str]:
    limits = f"{figure(_LOW, 1, 'V')} to {figure(_HIGH, 1, 'V')}"
    yield f"{figure(volts, 1, 'V')} is {_IN_WORDS[sides[0]]}: {limits} is permitted."
    if len(sides) > 1:
        others = " or ".join(_IN_WORDS[side] for side in sides[1:])
        yield (
            f"Within the meter's error of ± {figure(error, 1, 'V')} it may as well be {others}: the figure "
            "does not tell. The worse is taken."
        )
    yield judgement.meaning
    yield f"Tell: {judgement.tell}"


_SOON = {"now": "now", "today": "today", "not for this": "not for the volts"}


def _judged(judgement: Judgement) -> Table:
    rows = (
        Row("Homes it reaches", (judgement.homes,)),
        Row("Told to the control room", (_SOON[judgement.soon],)),
    )
    return Table("Whom it reaches, and how soon", ("Question", "Answer"), rows)


_BRIEFLY: dict[Side, str] = {
    "dead": "line or neutral lost",
    "low": "joint going bad, neutral lost, overload",
    "within": "says nothing of the PEN",
    "high": "neutral lost, tap too high, feed-in over a bad joint",
    "beyond": "lines crossed, or the meter",
}


def _sides(here: Side, homes: Homes, moves: Moves, flow: Flow) -> Table:
    """Every side of the band, for the same homes and movement."""
    rows = (
        Row(
            _IN_WORDS[side][:1].upper() + _IN_WORDS[side][1:] + (" (here)" if side == here else ""),
            (_SOON[judge(side, homes, moves, flow).soon], brief),
        )
        for side, brief in _BRIEFLY.items()
    )
    return Table("The sides of the band, all else the same", ("Volts", "Told", "Think of"), tuple(rows))


def _warnings(volts: float, side: Side, judgement: Judgement, flow: Flow) -> Iterator[str]:
    if flow == "feeds" and volts > _LETS_GO.value:
        yield (
            f"An inverter is to let go by itself above {figure(_LETS_GO.value, 0, 'V')} held for 10 minutes "
            f"({_LETS_GO.source}). One that lets go and comes back all day is told as such a joint."
        )
    if side in ("high", "beyond"):
        power = figure(100 * (volts / _DECLARED) ** 2, 0, "%")
        yield f"A heater takes {power} of its power at these volts: appliances can fail and catch fire."
    if side == "dead":
        yield "No volts is not dead: with a lost neutral every terminal, and the metalwork, can be live."
    elif judgement.soon == "now" and side != "within":
        yield (
            "Metalwork may be live past a lost neutral, also where the lights look usual. Keep people off it."
        )


# The drawing

_WIDTH, _FOOT, _TOP_Y, _SCALE_V = 360.0, 330.0, 40.0, 440.0
_BAR_X, _BAR_W = 96.0, 46.0


def _y(volts: float) -> float:
    return _FOOT - (_FOOT - _TOP_Y) * min(volts, _SCALE_V) / _SCALE_V


def _drawing(volts: float, error: float, side: Side) -> str:
    """An upright scale from 0 V with the band on it, and the point."""
    parts = (
        (0.0, OFF_BELOW_VOLTS, "no supply", "url(#volts-hatch)"),
        (OFF_BELOW_VOLTS, _LOW, "too low", PAPER),
        (_LOW, _HIGH, "permitted", ACCENT),
        (_HIGH, _SCALE_V, "too high", "url(#volts-hatch)"),
    )
    drawn = [text(10, 20, "Line to neutral", 14, weight=700)]
    for low, high, words, fill in parts:
        top, foot = _y(high), _y(low)
        drawn.append(
            element(
                "rect",
                x=_BAR_X,
                y=top,
                width=_BAR_W,
                height=foot - top,
                fill=fill,
                stroke=EDGE,
                stroke_width=1,
            )
        )
        drawn.append(text(_BAR_X - 8, (top + foot) / 2 + 4, words, fill=QUIET, anchor="end"))
    for limit, words, shift in (
        (_HIGH, f"{figure(_HIGH, 0, 'V')} highest", -3.0),
        (_DECLARED, f"{figure(_DECLARED, 0, 'V')} declared", 5.0),
        (_LOW, f"{figure(_LOW, 1, 'V')} lowest", 15.0),
        (_MOST, f"{figure(_MOST, 0, 'V')} line to line", 4.0),
        (OFF_BELOW_VOLTS, figure(OFF_BELOW_VOLTS, 0, "V"), 4.0),
        (0.0, figure(0.0, 0, "V"), 4.0),
    ):
        drawn.append(line((_BAR_X, _y(limit)), (_BAR_X + _BAR_W + 6, _y(limit)), stroke=INK, width=1.5))
        drawn.append(text(_BAR_X + _BAR_W + 88, _y(limit) + shift, words, fill=QUIET))
    here, ends = _y(volts), (_y(max(volts - error, 0.0)), _y(volts + error))
    middle = _BAR_X + _BAR_W / 2
    drawn += [
        line((middle, ends[0]), (middle, ends[1]), stroke=DANGER, width=3),
        element("circle", cx=middle, cy=here, r=6, fill=DANGER, stroke=PAPER, stroke_width=1.8),
        line((middle + 6, here), (_BAR_X + _BAR_W + 14, here), stroke=DANGER, width=1.5),
        text(_BAR_X + _BAR_W + 17, here + 4, figure(volts, 1, "V"), 14, fill=DANGER, weight=700, halo=True),
    ]
    limits = f"{figure(_LOW, 1, 'V')} to {figure(_HIGH, 0, 'V')} is permitted"
    about = f"{figure(volts, 1, 'V')} is {_IN_WORDS[side]}; {limits}."
    title = f"{figure(volts, 1, 'V')} on the scale of the permitted band"
    return sheet("volts", _WIDTH, _FOOT + 16, title, about, *drawn)


_OUTPUTS = (
    Output("low", "Volts, against the lowest permitted", "V", 1, "volts-low", "at-least"),
    Output("high", "Volts, against the highest permitted", "V", 1, "volts-high", "at-most"),
    Output("percent", "Above (or below) the declared volts", "%", 1),
    Output("to_low", "Above the lowest permitted", "V", 1),
    Output("to_high", "Below the highest permitted", "V", 1),
    Output("error", "The meter may be wrong by, either way", "V", 1),
    Output("joint", "A joint as bad as asked adds (or takes)", "V", 1),
    Output("without", "Volts without such a joint", "V", 1),
    Output("power", "Power of a plain heater, of what it takes at 230 V", "%", 0),
)

CALCULATOR = Calculator(
    id="volts-within-limits",
    title="Volts within limits?",
    about="Volts from line to neutral against the permitted band: what each side of it means, for how many "
    "homes, and whom to tell.",
    inputs=(
        Number("volts", "Volts, line to neutral", "V", 0, 1000, 241, 0.1),
        Choice(
            "homes",
            "How many homes",
            (
                ("one", "One home; the neighbours have usual volts"),
                ("same", "Several, all to the same side"),
                ("opposite", "Several: some high, some low"),
                ("unknown", "Not known"),
            ),
            "unknown",
        ),
        Choice(
            "moves",
            "Do the volts move",
            (
                ("steady", "They hold still"),
                ("own", "With this home's own load or feed-in"),
                ("others", "When others switch"),
                ("unknown", "Not known"),
            ),
            "unknown",
        ),
        Choice(
            "flow",
            "This home just now",
            (
                ("draws", "It draws; nothing in it feeds in"),
                ("feeds", "It feeds in: solar, battery or vehicle"),
                ("unknown", "Not known"),
            ),
            "unknown",
        ),
        Number("current_a", "Current that it draws or feeds in", "A", 0, 100, 16, 0.1),
        Number(
            "joint_ohm",
            "Joint in its service to reckon with",
            "ohm",
            0,
            10,
            1,
            0.01,
            "A good one has a thousandth of an ohm or less.",
        ),
        Number(
            "error_percent", "Meter may be wrong by, of the reading", "%", 0, 10, 1, 0.1, "See its handbook."
        ),
        Number("error_v", "And besides by", "V", 0, 10, 0.2, 0.1),
    ),
    outputs=_OUTPUTS,
    run=run,
    examples=(
        Example("Just too high", {"volts": "254", "homes": "same", "moves": "steady"}),
        Example("High, and it moves", {"volts": "287", "homes": "opposite", "moves": "others"}),
        Example("Low at one home", {"volts": "204", "homes": "one", "moves": "own"}),
        Example("Usual, but it dips", {"volts": "232", "homes": "one", "moves": "own"}),
        Example(
            "16 A of sun over a joint of 1 Ω",
            {"volts": "257.6", "homes": "one", "moves": "own", "flow": "feeds"},
        ),
        Example("No volts", {"volts": "3"}),
    ),
    sources=(
        *(cited(limit) for limit in map(LIMITS.__getitem__, ("volts-low", "volts-high", "phase-to-phase"))),
        *(cited(LIMITS[name]) for name in ("volts-low-en-50160", "inverter-volts-mean")),
        "EN 50160 has 253 V as the upper end too (230 V plus 10 %); its public summary was read.",
        "A joint's volts: Ohm's law at unity power factor, one phase, checked against ngspice. A home's own "
        "capacitors or a neighbour's current in shared metalwork can raise volts as well, by less.",
        "No supply below 100 V: a choice of this guide, as in the site tree.",
        "The meanings: common practice, no source.",
    ),
    cautions=(
        "Volts within the band prove nothing about the PEN or the earth, and are no leave to touch or open "
        "anything.",
        "Callers are asked what they see, never to measure. Local rules come first.",
        "An inverter that is off at its switch may still have live direct current from panels or battery.",
    ),
)
