"""Two homes and a shared pipe: one conductor open, and every instrument at both homes."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Example, Number, Output, Tick
from calc.compared import beside_healthy, lifting, ordinary, shown, volts
from calc.danger import standing_harms, touch_volts
from calc.drawing import Frame, picture, story_html
from calc.figures import figure
from calc.instruments import Display, clamped, read
from calc.limits import LIMITS
from calc.readings import readings
from calc.results import cited, results
from calc.street import Electrode, Metalwork, Network, Premises, Service, Span, Street, Supply, network
from calc.work import Condition, as_worked

__all__ = ["CALCULATOR"]

OURS, NEXT = "Ours", "Next door"
PIPE = f"{OURS}-{NEXT}/water"

_NEARLY_ALL = 0.95
"""From this share of a current on, all of it is said to go one way. Project choice: as a clamp can tell."""

_OPEN = {
    "nothing": "",
    "next-service-pen": f"{NEXT}/service.PEN",
    "our-service-pen": f"{OURS}/service.PEN",
    "our-main-earth": f"{OURS}/main_earth",
    "mains-pen": "substation-J1/PEN",
}


def healthy_street(values: Mapping[str, Any]) -> Network:
    """The two homes with nothing broken, as the values say."""
    cable = Service(metres=14, cable="service-25-al-cne")
    street = Street(
        "Two homes and a shared pipe",
        Supply(rating_kva=315, impedance_percent=4.5, star_point_earth_ohm=1),
        (Span(("substation", "J1"), metres=90, cable="mains-185-al-cne"),),
        {
            OURS: Premises("J1", cable, (values["our_phase"],), (values["our_load"],)),
            NEXT: Premises("J1", cable, (values["next_phase"],), (values["next_load"],)),
        },
        (
            Metalwork(
                "water",
                "copper-22",
                (OURS, NEXT),
                metres=9,
                gaps=() if values["pipe_whole"] else ((OURS, NEXT),),
                earth_ohm_each=values["pipe_earth"] if values["pipe_in_soil"] else None,
            ),
        ),
        (Electrode("J1", 15),),
    )
    sound = network(street)
    return sound.with_added_ohm(PIPE, values["joint_ohm"]) if values["pipe_whole"] else sound


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    healthy = healthy_street(values)
    broken = healthy.opened(_OPEN[values["open"]]) if _OPEN[values["open"]] else healthy
    lifted = as_worked(broken, frozenset({Condition("main-earth-lifted", OURS)}))
    now = lifted if values["lifted"] else broken
    shows = {home: readings(now, home) for home in (OURS, NEXT)}
    return Answer(
        tuple(_summary(values, now, shows)),
        (
            results(_OUTPUTS, _figures(now)),
            *(beside_healthy(home, readings(healthy, home), shows[home]) for home in (OURS, NEXT)),
        ),
        story_html(tuple(_frames(values, healthy, broken, lifted))),
        tuple(f"{harm.home}: {harm.what}, {figure(harm.volts, 0, 'V')}." for harm in standing_harms(now)),
    )


def _figures(now: Network) -> dict[str, float | None]:
    """Exact figures, whatever an instrument would show of them."""
    figures: dict[str, float | None] = {}
    for name, home in (("our", OURS), ("next", NEXT)):
        phase = now.street.premises[home].phases[0]
        figures[f"{name}_volts"] = abs(now.solution.volts(f"{home}.{phase}", f"{home}.N"))
        figures[f"{name}_metalwork"] = touch_volts(now, home)
        figures[f"{name}_main_earth"] = clamped(now, home, ("main_earth",))
    return figures


def _frames(values: Mapping[str, Any], healthy: Network, broken: Network, lifted: Network) -> Iterator[Frame]:
    """Intact, then what is open, then our main earth lifted: those of the three that differ."""
    opened = values["open"]
    sound = f"Our main earth carries {_carried(healthy)}, next door's {_carried(healthy, NEXT)}."
    intact = picture(healthy, healthy, OURS, name="two-homes-intact")
    yield Frame("Intact", sound, intact, opened == "nothing" and not values["lifted"])
    if opened != "nothing":
        words = f"Our main earth now carries {_carried(broken)}, next door's {_carried(broken, NEXT)}."
        told = not values["lifted"] or opened == "our-main-earth"
        drawn = picture(broken, healthy, OURS, name="two-homes-open")
        yield Frame(f"{dict(_WHAT_IS_OPEN)[opened]}: open", words, drawn, told)
    if opened != "our-main-earth":
        probe, gap = (
            shown(read(lifted, OURS, "voltmeter", ("earth", to)))
            for to in ("independent_earth", "supply_earth")
        )
        words = f"{gap} across the gap; the loose earth stands at {probe} to true earth. Nobody tries this."
        drawn = picture(lifted, healthy, OURS, (OURS,), "two-homes-lifted")
        yield Frame("Our main earth lifted", words, drawn, values["lifted"])


def _carried(network: Network, home: str = OURS) -> str:
    return shown(read(network, home, "clamp", ("main_earth",)))


def _summary(
    values: Mapping[str, Any], now: Network, shows: Mapping[str, Mapping[str, Display]]
) -> Iterator[str]:
    yield _whose_current(values, now, shows)
    for home in (OURS, NEXT):
        yield ordinary(home, "tn-c-s", shows[home])
    yield from lifting(now, OURS, "our", shows[OURS])


def _whose_current(
    values: Mapping[str, Any], now: Network, shows: Mapping[str, Mapping[str, Display]]
) -> str:
    metal_way = values["pipe_whole"] and not values["lifted"]
    match values["open"]:
        case "next-service-pen":
            return _service_pen_open("Next door", "Ours", NEXT, OURS, metal_way, values, now, shows)
        case "our-service-pen":
            return _service_pen_open("Ours", "Next door", OURS, NEXT, metal_way, values, now, shows)
        case "mains-pen":
            ground = figure(abs(now.solution.current("substation/electrode")), 2, "A")
            alone = (
                values["our_phase"] == values["next_phase"] or not values["our_load"] * values["next_load"]
            )
            way = (
                f"so the current of both homes goes home through the ground, {ground}: from"
                if alone
                else "so current goes from one line through both homes to the other line, and what is over, "
                f"{ground}, through the ground: from"
            )
            return (
                f"The main has lost its PEN, {way} the electrode at J1 (and the pipe, where it touches soil) "
                f"to the substation's. Metalwork stands at {_metalwork(shows[OURS])} to true earth in ours "
                f"and at {_metalwork(shows[NEXT])} next door."
            )
        case "our-main-earth":
            return "Our main earth is open. Our current still goes home by our own PEN, " + (
                f"and our metalwork is earthed by the pipe and next door alone: loop {_loop(shows[OURS])}."
                if values["pipe_whole"]
                else "but nothing that would blow a fuse ties our metalwork to it: loop "
                f"{_loop(shows[OURS])}."
            )
    ours = shows[OURS]
    return (
        f"Nothing is broken. Our neutral tail carries {shown(ours['clamp-neutral-tail'])}, our service PEN "
        f"{shown(ours['clamp-neutral-and-earth'])} and our main earth {shown(ours['clamp-main-earth'])}"
        + (
            ": the pipe is a second way home, so a main earth carries current in a healthy street too."
            if metal_way
            else "."
        )
    )


def _service_pen_open(
    broken: str,
    whole: str,
    home: str,
    other: str,
    metal_way: bool,
    values: Mapping[str, Any],
    now: Network,
    shows: Mapping[str, Mapping[str, Display]],
) -> str:
    """Where the current of a home without its PEN goes; `broken` and `whole` name the homes."""
    tail = shown(shows[home]["clamp-neutral-tail"])
    if metal_way:
        carried = shown(shows[other]["clamp-main-earth"])
        by_pipe, all_of_it = (abs(now.solution.current(name)) for name in (PIPE, f"{home}/tail.N"))
        goes, whose = (
            (
                f"all its {tail} goes home by its main earth, the pipe and the other home",
                "which is the neighbour's current",
            )
            if by_pipe >= _NEARLY_ALL * all_of_it
            else (
                f"of its {tail} no more than {figure(by_pipe, 2, 'A')} goes home by the pipe and the other "
                "home, and the rest through the soil round the pipe",
                "which came by the pipe and through the soil",
            )
        )
        return (
            f"{broken}: the service PEN is open, and {goes}; it has {volts(now, home)} line to neutral. "
            f"{whole}: the main earth carries {carried}, {whose}."
        )
    soil = ", but the soil round its pipe" if values["pipe_in_soil"] else ""
    return (
        f"{broken}: the service PEN is open and no metal is left for its current to go home by{soil}. It has "
        f"{volts(now, home)} line to neutral, {tail} in its neutral, and metalwork at "
        f"{_metalwork(shows[home])} to true earth."
    )


def _metalwork(shows: Mapping[str, Display]) -> str:
    return shown(shows["volts-earth-probe"])


def _loop(shows: Mapping[str, Display]) -> str:
    return shown(shows["loop-line-earth"])


_WHAT_IS_OPEN = (
    ("nothing", "Nothing"),
    ("next-service-pen", "Next door's service PEN"),
    ("our-service-pen", "Our service PEN"),
    ("our-main-earth", "Our main earthing conductor"),
    ("mains-pen", "The main's PEN"),
)

_OUTPUTS = tuple(
    output
    for name, whose in (("our", "ours"), ("next", "next door"))
    for output in (
        Output(f"{name}_volts", f"Line to neutral, {whose}", "V", 1, "volts-high", "at-most"),
        Output(f"{name}_metalwork", f"Metalwork, once touched, {whose}", "V", 1, "touch-volts", "at-most"),
        Output(f"{name}_main_earth", f"In the main earth, {whose}", "A", 2),
    )
)

_PHASES = tuple((phase, phase) for phase in ("L1", "L2", "L3"))

CALCULATOR = Calculator(
    id="two-homes",
    title="Two homes and a shared pipe",
    about="One conductor of two neighbouring homes is open, and a metal pipe joins them: what every "
    "instrument shows in both homes, beside what it shows while nothing is broken.",
    inputs=(
        Choice(
            "open",
            "What is open",
            _WHAT_IS_OPEN,
            "next-service-pen",
        ),
        Tick(
            "lifted",
            "Our main earth is lifted from its terminal",
            False,
            "Shown so that nobody has to do it.",
        ),
        Choice("our_phase", "Our phase", _PHASES, "L1"),
        Choice("next_phase", "Next door's phase", _PHASES, "L2"),
        Number("our_load", "Our load", "kW", 0, 18, 1, 0.1),
        Number("next_load", "Next door's load", "kW", 0, 18, 2, 0.1),
        Tick("pipe_whole", "The pipe is metal all the way", True, "No plastic length, no missing joint."),
        Number("joint_ohm", "Resistance of the pipe's joints", "ohm", 0, 1000, 0, 0.01),
        Tick("pipe_in_soil", "The pipe touches the soil", False),
        Number("pipe_earth", "Pipe to true earth, at each home", "ohm", 1, 10000, 40, 1),
    ),
    run=run,
    outputs=_OUTPUTS,
    examples=(
        Example("Nothing is open", {"open": "nothing"}),
        Example("Both homes on one phase, our main earth lifted", {"next_phase": "L1", "lifted": "yes"}),
        Example("A plastic length in the pipe", {"pipe_whole": "no"}),
        Example("The main has lost its PEN", {"open": "mains-pen"}),
    ),
    sources=(
        *(cited(LIMITS[name]) for name in ("volts-high", "touch-volts")),
        "Every figure: nodal analysis of this street as built in, with instruments of ordinary classes.",
        "Street: 315 kVA transformer, 90 m of 185 mm² aluminium main, 14 m of 25 mm² services, 9 m of 22 mm "
        "copper pipe, 15 Ω electrode at the joint. Invented.",
    ),
    cautions=(
        "Nobody lifts a main earth to find out. An earth that carries current is somebody's neutral.",
        "The figures are of one invented street. They show what can happen, not what a meter must read.",
    ),
)
