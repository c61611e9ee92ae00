"""A joint of the PEN from good to open: volts, dips, heat, loop, what goes home by pipes, live metalwork."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Row, Table, Tick
from calc.circuit import EARTH, Branch, Solution
from calc.drawing.ink import ACCENT, DANGER, EDGE, INK, PAPER, QUIET, element, line, sheet, text
from calc.figures import figure
from calc.instruments import LOOP_LOAD_OHM, LOOP_NEEDS_VOLTS
from calc.limits import LIMITS
from calc.results import results
from calc.street import (
    Electrode,
    Metalwork,
    Network,
    Premises,
    Service,
    Span,
    Street,
    Supply,
    load_ohm,
    network,
)
from calc.symptoms import DIM_BELOW_VOLTS, LIGHTS_DIP_BY, OFF_BELOW_VOLTS, TINGLE_FROM_VOLTS
from calc.work import KNOWN_LOAD_KW

__all__ = ["CALCULATOR", "At", "Joint", "joint_of", "with_joint"]

HOME, NEXT = "Home", "Next door"
_JOINT = {"service": f"{HOME}/service.PEN", "main": "substation-J1/PEN"}

HOT_FROM_WATTS = 5.0
"""Heat in one joint from which it may be smelt or felt. Project choice: a small soldering iron has 15 W."""

EARTH_MOVES_FROM_VOLTS = 10.0
"""Earth to an independent earth from which it has moved. Choice of this guide, as in the site tree."""

_LOW, _HIGH, _TOUCH = (LIMITS[name].value for name in ("volts-low", "volts-high", "touch-volts"))
_LOOP = LIMITS["ze-tn-c-s"].value
_ZE_HIGH = LIMITS["ze-tn-s"].value


def with_joint(whole: complex, opened: complex, source_ohm: complex, joint_ohm: float) -> complex:
    """A phasor of a circuit with a joint of `joint_ohm` in one conductor (infinite: open).

    `whole` and `opened` are the phasor without the joint and with the conductor open; `source_ohm` is what
    the joint sees of the circuit. Exact for a linear circuit (compensation theorem), so two solutions make a
    curve.

    >>> round(abs(with_joint(0, 100, 2, 2)), 6)
    50.0
    """
    return (
        opened if math.isinf(joint_ohm) else opened + (whole - opened) * source_ohm / (source_ohm + joint_ohm)
    )


class At(NamedTuple):
    """What stands at one resistance of the joint, each at rest and with the switched load on.

    V line to neutral at the home and next door; V of the home's metalwork to true earth; W in the joint (0
    when open); loop line to earth and line to neutral, ohm (None below the volts that a loop tester needs);
    the share of the switched load that does not go home through the joint; A through neutral tail and main
    earth together.
    """

    home_volts: tuple[float, float]
    next_volts: tuple[float, float]
    metalwork_volts: tuple[float, float]
    heat_w: tuple[float, float]
    loop_ohm: tuple[float | None, float | None]
    diverted: float
    pair_a: tuple[float, float]

    @property
    def dip(self) -> float | None:
        """Fall of the home's volts when the load switches, as a share of them; None without supply."""
        return None if self.home_volts[0] < OFF_BELOW_VOLTS else 1 - self.home_volts[1] / self.home_volts[0]

    @property
    def neighbour_change(self) -> float:
        """Change of next door's volts when the load switches, as a share of the volts before."""
        return self.next_volts[1] / self.next_volts[0] - 1


class _State:
    """One network, solved with the joint's conductor whole and with it open."""

    def __init__(self, sound: Network, conductor: str) -> None:
        self.conductor = conductor
        self.whole: Solution = sound.solution
        self.opened: Solution = sound.opened(conductor).solution
        branch = sound.branches[conductor]
        self.source_ohm = self.opened.impedance_between(branch.start, branch.end) + branch.impedance

    def volts(self, a: str, b: str, ohm: float) -> complex:
        return with_joint(self.whole.volts(a, b), self.opened.volts(a, b), self.source_ohm, ohm)

    def current(self, name: str, ohm: float) -> complex:
        return with_joint(self.whole.current(name), self.opened.current(name), self.source_ohm, ohm)


@dataclass(frozen=True)
class Joint:
    """A joint in one conductor of two homes: the circuit at rest, with the switched load, in loop tests."""

    conductor: str
    rest: _State
    loaded: _State
    to_earth: _State
    to_neutral: _State

    def at(self, ohm: float) -> At:
        """Everything at one resistance of the joint (infinite: open)."""
        both = (self.rest, self.loaded)
        through = [state.current(self.conductor, ohm) for state in both]
        tails = [state.current(f"{HOME}/tail.N", ohm) for state in both]
        pairs = [state.current(f"{HOME}/service.PEN", ohm) for state in both]
        switched = tails[1] - tails[0]
        return At(
            home_volts=_two(abs(state.volts(f"{HOME}.L1", f"{HOME}.N", ohm)) for state in both),
            next_volts=_two(
                abs(state.volts(f"{NEXT}.{self.next_phase}", f"{NEXT}.N", ohm)) for state in both
            ),
            metalwork_volts=_two(abs(state.volts(f"{HOME}.MET", EARTH, ohm)) for state in both),
            heat_w=_two(0.0 if math.isinf(ohm) else abs(amps) ** 2 * ohm for amps in through),
            loop_ohm=(self._loop(self.to_earth, "MET", ohm), self._loop(self.to_neutral, "N", ohm)),
            diverted=abs(1 - (through[1] - through[0]) / switched),
            pair_a=_two(abs(amps) for amps in pairs),
        )

    @property
    def next_phase(self) -> str:
        """The phase of next door."""
        return next(name[-2:] for name in self.rest.whole.branches if name.startswith(f"{NEXT}/load."))

    def _loop(self, under_test: _State, point: str, ohm: float) -> float | None:
        """As calc.instruments does it: a load across the terminals, sizes only."""
        before, during = (abs(s.volts(f"{HOME}.L1", f"{HOME}.{point}", ohm)) for s in (self.rest, under_test))
        if before < LOOP_NEEDS_VOLTS:
            return None
        return float(max(before - during, 0.0) / (during / LOOP_LOAD_OHM))


def _two(values: Iterator[float]) -> tuple[float, float]:
    one, other = values
    return float(one), float(other)


def sound_street(values: Mapping[str, Any]) -> Network:
    """The two homes with a good joint, as the values say."""
    cable = Service(metres=14, cable="service-25-al-cne")
    soil = values["soil_ohm"] if values["soil"] else None
    gaps = () if values["pipe"] else ((HOME, NEXT),)
    street = Street(
        "A joint going bad",
        Supply(rating_kva=315, impedance_percent=4.5, star_point_earth_ohm=1),
        (Span(("substation", "J1"), metres=90, cable="mains-185-al-cne"),),
        {
            HOME: Premises("J1", cable, ("L1",), (values["load_kw"],)),
            NEXT: Premises("J1", cable, (values["next_phase"],), (values["next_kw"],)),
        },
        (
            Metalwork(
                "water",
                "copper-22",
                (HOME, NEXT),
                metres=9,
                gaps=gaps,
                joint_ohm=values["pipe_ohm"],
                earth_ohm_each=soil,
            ),
        ),
        (Electrode("J1", values["electrode_ohm"]),),
    )
    return network(street)


def joint_of(values: Mapping[str, Any]) -> Joint:
    """The joint that the values describe; its resistance is asked of the answer."""
    sound, conductor = sound_street(values), _JOINT[values["where"]]

    def state(*added: Branch) -> _State:
        return _State(sound.changed(*added), conductor)

    line = f"{HOME}.L1"
    return Joint(
        conductor,
        state(),
        state(Branch("switched load", line, f"{HOME}.N", load_ohm(values["switched_kw"]))),
        state(Branch("loop tester", line, f"{HOME}.MET", LOOP_LOAD_OHM)),
        state(Branch("loop tester", line, f"{HOME}.N", LOOP_LOAD_OHM)),
    )


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    joint = joint_of(values)
    ohm = math.inf if values["open"] else values["joint_ohm"]
    now = joint.at(ohm)
    return Answer(
        tuple(_summary(values, ohm, now)),
        (results(_OUTPUTS, _figures(ohm, now)), _steps(joint), _noticed(now)),
        _drawing(joint, ohm, now),
        tuple(_warnings(now)),
    )


def _figures(ohm: float, now: At) -> dict[str, float | None]:
    return {
        "rest_v": now.home_volts[0],
        "loaded_v": now.home_volts[1],
        "dip": None if now.dip is None else 100 * now.dip,
        "next_loaded_v": now.next_volts[1],
        "heat_loaded": None if math.isinf(ohm) else now.heat_w[1],
        "loop_earth": now.loop_ohm[0],
        "loop_neutral": now.loop_ohm[1],
        "diverted": 100 * now.diverted,
        "pair": now.pair_a[1],
        "metalwork": max(now.metalwork_volts),
    }


def _ohms(ohm: float) -> str:
    if math.isinf(ohm):
        return "open"
    return figure(1000 * ohm, 0, "mΩ") if ohm < 0.1 else figure(ohm, 2 if ohm < 10 else 0, "ohm")


def _summary(values: Mapping[str, Any], ohm: float, now: At) -> Iterator[str]:
    place = "this home's service PEN" if values["where"] == "service" else "the main's PEN"
    what = "is open" if math.isinf(ohm) else f"has {_ohms(ohm)}"
    volts = [figure(v, 1, "V") for v in now.home_volts]
    yield (
        f"The joint in {place} {what}. When {figure(values['switched_kw'], 1, 'kW')} switches on, the home "
        f"goes from {volts[0]} to {volts[1]}, and {figure(100 * now.diverted, 0, '%')} of that load goes "
        "home another way than through the joint."
    )
    if not math.isinf(ohm):
        yield (
            f"The joint takes {figure(now.heat_w[0], 1, 'W')} at rest and {figure(now.heat_w[1], 1, 'W')} "
            "then."
        )
    shows = list(_shows(now))
    if shows:
        yield f"It shows: {'; '.join(shows)}. Hand it over to the control room; put no more load on."
    elif math.isinf(ohm) or now.diverted > 0.6:
        yield (
            "Every ordinary test passes: other metal carries the load. Only the known-load test with the "
            "clamp, or an eye on the joint, tells. Nobody may lift an earth or part a pipe here."
        )
    else:
        yield (
            "No ordinary test and nobody's eyes find a joint like this yet. That is no proof that it is good."
        )


def _shows(now: At) -> Iterator[str]:
    """What an ordinary visit would find."""
    if not all(_LOW <= volts <= _HIGH for volts in now.home_volts):
        yield "the home's volts leave the permitted band"
    if not all(_LOW <= volts <= _HIGH for volts in now.next_volts):
        yield "next door's volts leave the permitted band"
    if (now.dip or 0) > LIGHTS_DIP_BY:
        yield "the lights dip"
    if any(loop is None or loop > _LOOP for loop in now.loop_ohm):
        yield "the loop is above the usual figure"
    if max(now.metalwork_volts) >= EARTH_MOVES_FROM_VOLTS:
        yield "the earth moves away from an independent earth"
    if max(now.heat_w) >= HOT_FROM_WATTS:
        yield "the joint is hot"


_STEPS = (0.001, 0.01, 0.1, 0.3, 1.0, 3.0, 10.0, 100.0, math.inf)


def _steps(joint: Joint) -> Table:
    """The same street at each step of the way from good to open, for those who do not see the curves."""
    rows = []
    for ohm in _STEPS:
        at = joint.at(ohm)
        rows.append(
            Row(
                _ohms(ohm),
                (
                    figure(at.home_volts[0], 1, "V"),
                    "—" if at.dip is None else figure(100 * at.dip, 1, "%"),
                    "—" if math.isinf(ohm) else figure(at.heat_w[1], 1, "W"),
                    _loop_text(at.loop_ohm[0]),
                    figure(100 * at.diverted, 0, "%"),
                    figure(at.metalwork_volts[1], 1, "V"),
                ),
            )
        )
    columns = ("Joint", "Volts at rest", "Dip", "Heat, load on", "Loop to earth", "Another way", "Metalwork")
    return Table("From good to open", columns, tuple(rows))


def _loop_text(ohm: float | None) -> str:
    return "no test" if ohm is None else figure(ohm, 2, "ohm")


def _noticed(now: At) -> Table:
    lights = [_lights(volts) for volts in now.home_volts]
    looks = (
        ("Lights at rest, and with the load on", f"{lights[0]}, {lights[1]}"),
        ("Lights dip when the load switches", _yes((now.dip or 0) > LIGHTS_DIP_BY)),
        ("Next door's lights change with it", _yes(abs(now.neighbour_change) > LIGHTS_DIP_BY)),
        ("A tingle off metalwork may be reported", _yes(max(now.metalwork_volts) >= TINGLE_FROM_VOLTS)),
        ("Heat, smell or buzz at the joint may be reported", _yes(max(now.heat_w) >= HOT_FROM_WATTS)),
    )
    crew = (
        ("Volts line to neutral", _kept(all(_LOW <= v <= _HIGH for v in now.home_volts))),
        ("Loop to earth, loop to neutral", ", ".join(map(_loop_judged, now.loop_ohm))),
        ("Earth to an independent earth", f"{figure(now.metalwork_volts[1], 1, 'V')} with the load on"),
        ("Known-load test, both together", f"{figure(now.pair_a[1], 1, 'A')} with the load on"),
    )
    rows = [Row(what, ("Call handler", says)) for what, says in looks]
    rows += [Row(what, ("Crew", says)) for what, says in crew]
    return Table("Who notices what", ("Sign", "Who", "Now"), tuple(rows))


def _lights(volts: float) -> str:
    if volts < OFF_BELOW_VOLTS:
        return "off"
    return "dim" if volts < DIM_BELOW_VOLTS else "bright" if volts > _HIGH else "normal"


def _loop_judged(ohm: float | None) -> str:
    if ohm is None:
        return "tester refuses"
    return "usual" if ohm <= _LOOP else "raised" if ohm < _ZE_HIGH else "far too high"


def _yes(answer: bool) -> str:
    return "yes" if answer else "no"


def _kept(answer: bool) -> str:
    return "within the band" if answer else "outside the band"


def _warnings(now: At) -> Iterator[str]:
    live = max(now.metalwork_volts)
    if live > _TOUCH:
        yield f"Metalwork at {figure(live, 0, 'V')} to true earth can kill. Keep everyone off it."
    if max(now.heat_w) >= HOT_FROM_WATTS:
        yield f"{figure(max(now.heat_w), 0, 'W')} in one joint can set fire to what is round it."
    if max(*now.home_volts, *now.next_volts) > _HIGH:
        yield "Volts above the permitted band can start a fire in appliances."


# The drawing

_WIDTH, _LEFT, _SPAN, _OPEN_X, _HIGH_PX = 360.0, 46.0, 250.0, 336.0, 62.0
_DECADES = (-3, -2, -1, 0, 1, 2, 3)
_SWEEP = tuple(10 ** (-3 + 6 * step / 48) for step in range(49))


def _x(ohm: float) -> float:
    return _OPEN_X if math.isinf(ohm) else _LEFT + _SPAN * (math.log10(ohm) + 3) / 6


@dataclass(frozen=True, slots=True)
class _Panel:
    """One curve or two over the resistance: solid at rest, dashed with the load on."""

    title: str
    unit: str
    digits: int
    curves: tuple[tuple[float | None, ...], ...]  # at _SWEEP, then open
    points: tuple[float | None, ...]
    least_top: float


def _drawing(joint: Joint, ohm: float, now: At) -> str:
    sweep = [joint.at(each) for each in (*_SWEEP, math.inf)]

    def panel(title: str, unit: str, digits: int, least_top: float, *of: Any) -> _Panel:
        curves = tuple(tuple(pick(at) for at in sweep) for pick in of)
        return _Panel(title, unit, digits, curves, tuple(pick(now) for pick in of), least_top)

    panels = (
        panel("Volts of the home", "V", 1, 260, lambda a: a.home_volts[0], lambda a: a.home_volts[1]),
        panel("Heat in the joint", "W", 1, 1, lambda a: a.heat_w[0], lambda a: a.heat_w[1]),
        panel("Loop to earth", "ohm", 2, 0.5, lambda a: a.loop_ohm[0]),
        panel("Share that goes another way", "%", 0, 100, lambda a: 100 * a.diverted),
        panel(
            "Metalwork to true earth",
            "V",
            1,
            60,
            lambda a: a.metalwork_volts[0],
            lambda a: a.metalwork_volts[1],
        ),
    )
    drawn = [text(10, 18, "Solid: at rest. Dashed, and after →: with the load on.", fill=QUIET)]
    top = 34.0
    for each in panels:
        drawn += list(_panel(each, top, ohm))
        top += _HIGH_PX + 36
    for decade in _DECADES[::2]:
        words = {-3: "1 mΩ", -1: "0.1 Ω", 1: "10 Ω", 3: "1 kΩ"}[decade]
        drawn.append(text(_x(10.0**decade), top + 4, words, fill=QUIET, anchor="middle"))
    drawn.append(text(_OPEN_X, top + 4, "open", fill=QUIET, anchor="middle"))
    drawn.append(text(_LEFT, top + 22, "Resistance of the joint"))
    about = "; ".join(f"{p.title}: {_values(p)}" for p in panels)
    title = f"Five curves over the resistance of the joint, marked at {_ohms(ohm)}"
    return sheet("joint", _WIDTH, top + 32, title, f"{about}.", *drawn)


def _values(panel: _Panel) -> str:
    return " at rest, ".join(_shown(panel)) + (" with load" if len(panel.points) > 1 else "")


def _shown(panel: _Panel) -> list[str]:
    return ["no test" if v is None else figure(v, panel.digits, panel.unit) for v in panel.points]


def _panel(panel: _Panel, top: float, ohm: float) -> Iterator[str]:
    values = [value for curve in panel.curves for value in curve if value is not None]
    ceiling = max([panel.least_top, *values])
    floor = top + 18 + _HIGH_PX

    def y(value: float) -> float:
        return floor - _HIGH_PX * value / ceiling

    yield text(10, top + 10, f"{panel.title}: {' → '.join(_shown(panel))}", weight=700, halo=True)
    yield line((_LEFT, floor), (_OPEN_X + 10, floor), stroke=EDGE, width=1)
    yield line((_LEFT, top + 18), (_LEFT, floor), stroke=EDGE, width=1)
    for value, height in ((0.0, floor), (ceiling, top + 26)):
        yield text(_LEFT - 4, height, figure(value, 0 if ceiling >= 10 else 1), fill=QUIET, anchor="end")
    for curve, dashes in zip(panel.curves, ("", "6 4"), strict=False):
        yield from _curve(curve, y, dashes)
    yield line((_x(ohm), top + 18), (_x(ohm), floor), stroke=DANGER, width=1, dashes="2 3")
    for point in panel.points:
        if point is not None:
            yield element(
                "circle", cx=_x(ohm), cy=y(point), r=4.5, fill=DANGER, stroke=PAPER, stroke_width=1.6
            )


def _curve(curve: Sequence[float | None], y: Any, dashes: str) -> Iterator[str]:
    points = [(_x(ohm), y(v)) for ohm, v in zip(_SWEEP, curve, strict=False) if v is not None]
    stroke = INK if dashes else ACCENT
    if len(points) > 1:
        yield line(*points, stroke=stroke, width=2, dashes=dashes)
    if curve[-1] is not None:
        yield line((_OPEN_X - 6, y(curve[-1])), (_OPEN_X + 6, y(curve[-1])), stroke=stroke, width=2)


_OUTPUTS = (
    Output("rest_v", "Volts of the home at rest", "V", 1, "volts-low", "at-least"),
    Output("loaded_v", "Volts of the home with the switched load on", "V", 1, "volts-low", "at-least"),
    Output(
        "dip", "Dip when it switches", "%", 1, help="From 3 % everyone sees it (common practice, no source)."
    ),
    Output("next_loaded_v", "Volts of next door with the load on", "V", 1, "volts-high", "at-most"),
    Output("heat_loaded", "Heat in the joint with the load on", "W", 2),
    Output(
        "loop_earth",
        "Loop reading, line to earth",
        "ohm",
        2,
        "ze-tn-c-s",
        "at-most",
        "A dash: the tester refuses below 195 V.",
    ),
    Output("loop_neutral", "Loop reading, line to neutral", "ohm", 2, "ze-tn-c-s", "at-most"),
    Output("diverted", "Share of the switched load that does not go through the joint", "%", 0),
    Output("pair", "Clamp, neutral tail and main earth together, load on", "A", 2),
    Output(
        "metalwork",
        "Metalwork to true earth, the higher of at rest and load on",
        "V",
        1,
        "touch-volts",
        help="Below the limit is no leave to touch.",
    ),
)

CALCULATOR = Calculator(
    id="joint-going-bad",
    title="A joint going bad",
    about="One joint of the PEN, from good to open: the volts and the dips of the home, the heat in the "
    "joint, the loop reading, and what goes home through pipes.",
    inputs=(
        Choice(
            "where",
            "Where the joint is",
            (
                ("service", "In this home's service PEN"),
                ("main", "In the main's PEN, before both homes"),
            ),
            "service",
        ),
        Number(
            "joint_ohm",
            "Resistance of the joint",
            "ohm",
            0.001,
            1000,
            0.3,
            0.001,
            "A good joint has a thousandth of an ohm or less.",
            slider=True,
        ),
        Tick("open", "The joint is open", False),
        Number("load_kw", "Load of the home at rest", "kW", 0, 18, 0.5, 0.1),
        Number("switched_kw", "Load that switches on", "kW", 0.1, 12, KNOWN_LOAD_KW, 0.1),
        Choice("next_phase", "Next door's phase", tuple((p, p) for p in ("L1", "L2", "L3")), "L2"),
        Number("next_kw", "Next door's load", "kW", 0, 18, 1.5, 0.1),
        Tick("pipe", "A metal pipe joins the two homes", True),
        Number("pipe_ohm", "Resistance of the pipe's joints", "ohm", 0, 1000, 0.5, 0.01),
        Tick("soil", "The pipe touches the soil", False),
        Number("soil_ohm", "Pipe to true earth, at each home", "ohm", 1, 10000, 40, 1),
        Number("electrode_ohm", "Electrode of the main, past its joint", "ohm", 1, 1000, 15, 1),
    ),
    outputs=_OUTPUTS,
    run=run,
    examples=(
        Example("A good joint", {"joint_ohm": "0.001"}),
        Example("1 ohm, no pipe", {"joint_ohm": "1", "pipe": "no"}),
        Example("Open, and a good pipe stands in", {"open": "yes", "pipe_ohm": "0"}),
        Example("Open, no pipe", {"open": "yes", "pipe": "no"}),
        Example("1 ohm in the main", {"where": "main", "joint_ohm": "1"}),
    ),
    sources=(
        "Every figure: nodal analysis of one invented street (315 kVA, 90 m of 185 mm² main, 14 m of 25 mm² "
        "services, 9 m of 22 mm copper pipe), checked against ngspice.",
        "The dip that everyone sees, 3 %, and the loop tester's 195 V: common practice, no source.",
        "The tingle from 25 V, the earth that moves from 10 V, the hot joint from 5 W: choices of this "
        "guide.",
    ),
    cautions=(
        "No figure here is leave to touch metalwork, to open an earth, or to close a job.",
        "A joint that opens and closes can arc; that heat is in no figure here.",
        "A real joint is not steady: its resistance jumps with heat and load, and it may be open tomorrow.",
        "Local rules come first.",
    ),
)
