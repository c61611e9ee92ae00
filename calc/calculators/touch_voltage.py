"""Touch voltage and body current: what live metalwork drives through a person, and what a tingle tells."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table
from calc.drawing.chart import Axis, Curve, Mark, chart_svg
from calc.figures import figure
from calc.limits import LIMITS
from calc.results import results
from calc.shock import Edition, ZoneEdition, heart_ma, line_ma, through_ma, touch_volts, zone

__all__ = ["CALCULATOR", "Shock", "felt_volts", "shock"]

_PATHS = {
    "left-hand-to-feet": ("Left hand to both feet", "hand-to-feet"),
    "right-hand-to-feet": ("Right hand to both feet", "hand-to-feet"),
    "both-hands-to-feet": ("Both hands to both feet", "hands-to-feet"),
    "left-hand-to-right-hand": ("Hand to hand", "hand-to-hand"),
}
"""Path by its heart factor -> its words, and the same path by its impedance."""

_TABLES: dict[str, Edition] = {"dry": "2005", "wet": "2005 water-wet"}
_PERCENTS = (5, 50, 95)
_LINES = ("a", "b", "c1", "c2")

_MEANS = {
    "AC-1": "hardly felt",
    "AC-2": "felt; muscles may start, usually no harm to the body",
    "AC-3": "muscles cramp, the hand may not let go, breathing is hard; harm to organs is not usual",
    "AC-4.1": "the heart may fibrillate (up to about 5 in 100)",
    "AC-4.2": "the heart may well fibrillate, heart and breathing may stop, deep burns (AC-4.2 or AC-4.3)",
}


@dataclass(frozen=True, slots=True)
class Shock:
    """mA through the person, mA from left hand to feet as dangerous to the heart, V across the person, and
    the time-current zone."""

    body_ma: float
    heart_ma: float
    body_volts: float
    zone: str


def shock(
    volts: float,
    floor_ohm: float,
    seconds: float,
    path: str,
    skin: str,
    percent: int,
    edition: ZoneEdition,
) -> Shock:
    """What `volts` between metalwork and footing (or the other hand) do to a person for so many seconds.

    `path` as in calc.shock.HEART_FACTORS, `skin` dry or wet, `percent` 5, 50 or 95 as in calc.shock.body_ohm.
    Raises ValueError as calc.shock does.
    """
    body = through_ma(volts, floor_ohm, percent, _TABLES[skin], _PATHS[path][1])
    heart = heart_ma(body, path)
    return Shock(body, heart, volts - floor_ohm * body / 1000, zone(body, heart, seconds, edition))


def felt_volts(current_ma: float, floor_ohm: float, path: str, skin: str, percent: int) -> float:
    """V between metalwork and footing that send `current_ma` through a person: the least it can have been.

    Raises ValueError as calc.shock.touch_volts.
    """
    body = touch_volts(current_ma, percent, _TABLES[skin], _PATHS[path][1])
    return body + floor_ohm * current_ma / 1000


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    volts, floor, seconds = values["volts"], values["floor_ohm"], values["seconds"]
    path, skin, edition = values["path"], values["skin"], values["edition"]
    shocks = {p: shock(volts, floor, seconds, path, skin, p, edition) for p in _PERCENTS}
    now = shocks[int(values["percent"])]
    felt = {p: felt_volts(values["felt_ma"], floor, path, skin, p) for p in _PERCENTS}
    return Answer(
        tuple(_summary(values, now, felt)),
        (
            results(OUTPUTS, _figures(now, felt)),
            _people(shocks, felt, values["felt_ma"]),
            _lines(now, seconds, edition),
        ),
        _picture(now, seconds, edition),
        tuple(_warnings(values, now)),
    )


def _figures(now: Shock, felt: Mapping[int, float]) -> dict[str, float | None]:
    return {
        "body_ma": now.body_ma,
        "heart_ma": now.heart_ma,
        "body_volts": now.body_volts,
        "felt_low": felt[5],
        "felt_high": felt[95],
    }


def _summary(values: Mapping[str, Any], now: Shock, felt: Mapping[int, float]) -> Iterator[str]:
    volts, seconds = figure(values["volts"], 0, "V"), figure(values["seconds"], 2, "s")
    yield (
        f"{volts} drive {figure(now.body_ma, 1, 'mA')} through {_who(values)}, "
        f"{_PATHS[values['path']][0].lower()}, {_skin(values)}. Held for {seconds} that lies in zone "
        f"{now.zone} of IEC 60479-1 ({values['edition']}): {_MEANS[now.zone]}."
    )
    yield (
        f"Told backwards, a tingle of {figure(values['felt_ma'], 1, 'mA')} had at least "
        f"{figure(felt[5], 0, 'V')} behind it, and {figure(felt[95], 0, 'V')} for somebody whose body "
        "resists more. Metalwork can stand far higher: dry shoes and floor keep most of the volts, wet not."
    )
    yield (
        "A tingle is a report of live metalwork, however weak it was. Keep people away from it and treat it "
        "as an emergency until a crew has measured."
    )


def _who(values: Mapping[str, Any]) -> str:
    percent = values["percent"]
    return "a person of middling body" if percent == "50" else f"a person at the {percent} % end of bodies"


def _skin(values: Mapping[str, Any]) -> str:
    floor = values["floor_ohm"]
    more = f", with {figure(floor, 0, 'ohm')} of shoes and floor" if floor else ", nothing else in the way"
    return f"skin {'wet with water' if values['skin'] == 'wet' else 'dry'}{more}"


def _people(shocks: Mapping[int, Shock], felt: Mapping[int, float], felt_ma: float) -> Table:
    words = {5: "5 % have no more ohms", 50: "Half have no more ohms", 95: "95 % have no more ohms"}
    rows = (
        Row(
            words[p],
            (
                figure(told.body_volts / told.body_ma * 1000, 0, "ohm"),
                figure(told.body_ma, 1, "mA"),
                told.zone,
                figure(felt[p], 0, "V"),
            ),
        )
        for p, told in shocks.items()
    )
    behind = f"Volts behind {figure(felt_ma, 1, 'mA')}"
    return Table("Other bodies", ("Body", "Ohms of the body", "Current", "Zone", behind), tuple(rows))


def _lines(now: Shock, seconds: float, edition: ZoneEdition) -> Table:
    words = (
        ("a", "Can be felt (line a)", now.body_ma),
        ("b", "Hand may not let go (line b)", now.body_ma),
        ("c1", "Heart may fibrillate (line c1)", now.heart_ma),
        ("c2", "About 5 in 100 fibrillate (line c2)", now.heart_ma),
    )
    rows = (
        Row(
            said, (figure(at, 1, "mA"), figure(current, 1, "mA"), "passed" if current >= at else "not passed")
        )
        for which, said, current in words
        for at in (line_ma(which, seconds, edition),)  # type: ignore[arg-type]
    )
    heading = f"Line at {figure(seconds, 2, 's')}"
    return Table(f"Zones, IEC 60479-1 ({edition})", ("Line", heading, "Current", "Passed?"), tuple(rows))


def _picture(now: Shock, seconds: float, edition: ZoneEdition) -> str:
    across = Axis("mA, 50 Hz", 0.1, 2000, (0.1, 0.5, 2, 10, 40, 200, 1000), log=True)
    upright = Axis("Seconds of contact", 0.01, 10, (0.01, 0.1, 1, 10), log=True)
    times = upright.spread(40)
    curves = [
        Curve(f"line {which}: {words}", tuple((line_ma(which, t, edition), t) for t in times))  # type: ignore[arg-type]
        for which, words in zip(
            _LINES,
            ("can be felt", "hand may not let go", "heart may fibrillate", "about 5 in 100"),
            strict=True,
        )
    ]
    marks = [Mark((now.body_ma, seconds), f"through the body: {figure(now.body_ma, 1, 'mA')}")]
    if now.heart_ma != now.body_ma:
        words = f"as the heart counts it: {figure(now.heart_ma, 1, 'mA')}"
        marks.append(Mark((now.heart_ma, seconds), words, hollow=True))
    names = ((0.2, 4, "AC-1"), (1.7, 4, "AC-2"), (20, 4, "AC-3"), (500, 4, "AC-4"))
    about = (
        f"{figure(now.body_ma, 1, 'mA')} through the body for {figure(seconds, 2, 's')}, "
        f"{figure(now.heart_ma, 1, 'mA')} as the heart counts it: zone {now.zone}."
    )
    title = f"Time-current zones, IEC 60479-1 ({edition})"
    return chart_svg("touch-zones", title, about, across, upright, curves, marks, words=names)


def _warnings(values: Mapping[str, Any], now: Shock) -> Iterator[str]:
    if now.zone.startswith("AC-4"):
        yield f"{figure(now.body_ma, 0, 'mA')} for {figure(values['seconds'], 2, 's')} can kill."
    elif now.zone == "AC-3":
        yield "A person may be unable to let go, and then the time of contact has no end."
    if now.body_volts < 25:
        yield "The table begins at 25 V. Its ohms are held below that, which makes the current too large."
    if values["skin"] == "wet":
        yield (
            "Wet means fresh water over large contacts, and its figures are from memory. Salt water, cuts, a "
            "bath or bare feet on wet ground are worse than any column here."
        )
    if values["path"] == "left-hand-to-right-hand":
        yield "The factor 0.4 from hand to hand is the printed one. Later modelling puts it nearer 1."


OUTPUTS = (
    Output("body_ma", "Current through the body", "mA", 1, "perceptible-ma"),
    Output("heart_ma", "The same as the heart counts it, left hand to feet", "mA", 1, "fibrillation-ma-long"),
    Output("body_volts", "Volts left across the body", "V", 1, "touch-volts"),
    Output("felt_low", "Behind the tingle, body of few ohms", "V", 0),
    Output("felt_high", "Behind the tingle, body of many ohms", "V", 0),
)

CALCULATOR = Calculator(
    id="touch-voltage",
    title="Touch voltage and body current",
    about="What live metalwork drives through a person, in which zone of IEC 60479-1 that lies, and how many "
    "volts stood behind a tingle.",
    inputs=(
        Number(
            "volts",
            "Metalwork to where the person stands, or to the other hand",
            "V",
            1,
            500,
            122,
            1,
            slider=True,
        ),
        Number("seconds", "Time of contact", "s", 0.01, 10, 1, 0.01),
        Choice(
            "path", "From where to where", tuple((k, w) for k, (w, _) in _PATHS.items()), "left-hand-to-feet"
        ),
        Choice("skin", "Skin", (("dry", "Dry"), ("wet", "Wet with fresh water")), "dry"),
        Number(
            "floor_ohm",
            "Shoes and floor, in series",
            "ohm",
            0,
            100_000,
            0,
            100,
            "0: bare feet, or held metal",
        ),
        Choice(
            "percent",
            "Whose body",
            (
                ("5", "Few ohms: 5 % of people have no more (cautious)"),
                ("50", "Middling: half have no more"),
                ("95", "Many ohms: 95 % have no more"),
            ),
            "5",
        ),
        Choice(
            "edition",
            "IEC 60479-1, edition of the zones",
            (("2016", "2016: line b ends at 5 mA"), ("2005", "2005: line b ends at 10 mA")),
            "2016",
        ),
        Number(
            "felt_ma", "A tingle, told backwards", "mA", 0.1, 50, 1, 0.1, "About 0.5 mA is the least felt"
        ),
    ),
    run=run,
    outputs=OUTPUTS,
    examples=(
        Example("A tap at 122 V, wet skin", {"skin": "wet"}),
        Example("Rubber soles: 50 kΩ of shoes and floor", {"floor_ohm": "50000"}),
        Example("Two pipes 230 V apart, hand to hand", {"volts": "230", "path": "left-hand-to-right-hand"}),
        Example("A tingle of 3 mA through dry shoes", {"felt_ma": "3", "floor_ohm": "10000"}),
    ),
    sources=(
        "Ohms of the body, IEC 60479-1 (2005, unchanged in 2016), large contacts. Dry: 50 % read second-hand "
        "in EN 50522 Table B.2; 5 % and 95 % from memory. Wet with water: from memory throughout.",
        "Ohms along a path: 0.75 of hand to hand for one hand to feet, 0.5 for both hands. From memory.",
        "Heart factors: IEC 60479-1, as reprinted in a public textbook.",
        "Line a, and where line b ends: IEC 60479-1, read second-hand. Slope of b, and line c1: from memory.",
        "Line c2: EN 50522 Table B.1, 2022 beside zones of 2016, 2010 beside 2005, read second-hand. Line c3 "
        "was not read, so AC-4.2 and AC-4.3 are told as one.",
        f"Conventional touch voltage limit {figure(LIMITS['touch-volts'].value, 0, 'V')}: "
        f"{LIMITS['touch-volts'].source}. A limit for design, and not a limit of harm.",
        "Shoes and floor: Ohm's law; their ohms are the reader's own, and change with every puddle.",
    ),
    cautions=(
        "No figure here says that anything may be touched: bodies, skin and footing differ more than tables.",
        "Do not ask a caller to touch again, or to say how strong it was by trying.",
        "The current edition of the standard, local rules and competent persons come before this page.",
    ),
)
