"""A street of the guide, or one of the reader's, with its faults: every test at every home.

Beside the healthy street and the band of sampled streets, and with what lifting each main earth would do.
"""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Any

from calc.calculator import Answer, Calculator, Choice, Example, Output, Row, Table
from calc.compared import beside_bands, hurts, ordinary, shown
from calc.danger import METALWORK_LIVE, SUPPLY_LOST, VOLTS_TOO_HIGH, Harm, measured, standing_harms
from calc.drawing import Frame, Picture, picture, story_html
from calc.faults import Fault, after_fuses, parse_one
from calc.figures import figure
from calc.instruments import Display, clamped
from calc.limits import LIMITS
from calc.readings import TESTS
from calc.results import cited, results
from calc.shaped import shaped
from calc.street import Network, Street, network
from calc.whole_street import Lift, WholeStreet

__all__ = ["CALCULATOR"]

_BESIDES = "healthy"


def run(values: Mapping[str, Any], data: Mapping[str, Any]) -> Answer:
    """See CALCULATOR."""
    healthy = _healthy(json.dumps(data["streets"][values["street"]], sort_keys=False))
    street, home = healthy.network.street, values["home"]
    written = [values["fault"]] + ([values["besides"]] if values["besides"] != _BESIDES else [])
    faults = [parse_one(fault) for fault in written]
    broken: Network = healthy.network
    for fault in faults:
        broken = fault.changed(broken)
    now = WholeStreet(after_fuses(broken) if broken is not healthy.network else broken)
    bands = data.get("bands", {}) if street.premises[home].earthing == "tn-c-s" else {}
    harms = standing_harms(now.network)
    return Answer(
        tuple(_summary(now, faults, home, harms)),
        (
            results(_OUTPUTS, _figures(now.network, home)),
            beside_bands(f"Tests at {home}", healthy.everywhere[home], now.everywhere[home], bands),
            _lifting(now.lifts),
            _everywhere(healthy, now),
            *_standing(harms),
        ),
        story_html(tuple(_frames(healthy, now, faults, home))),
        tuple(_warnings(street, faults, home)),
    )


def _figures(now: Network, home: str) -> dict[str, float | None]:
    """Exact figures, whatever an instrument would show of them."""
    of_homes = measured(now).values()
    return {
        "most_volts": max(one[VOLTS_TOO_HIGH] for one in of_homes),
        "least_volts": min(one[SUPPLY_LOST] for one in of_homes),
        "most_metalwork": max(one[METALWORK_LIVE] for one in of_homes),
        "main_earth": clamped(now, home, ("main_earth",)),
    }


@lru_cache(maxsize=4)
def _healthy(written: str) -> WholeStreet:
    """The street with nothing wrong, once for all the faults that a reader tries on it."""
    return WholeStreet(network(shaped(Street, json.loads(written))))


def _titles(faults: Sequence[Fault]) -> str:
    return " and ".join(fault.title for fault in faults)


def _summary(now: WholeStreet, faults: Sequence[Fault], home: str, harms: tuple[Harm, ...]) -> Iterator[str]:
    yield f"{_titles(faults)}, tested at {home}."
    yield ordinary(home, now.network.street.premises[home].earthing, now.everywhere[home])
    yield f"As it stands: {hurts(harms) or 'nothing hurts anyone today, which is no proof of safety'}."
    yield from _here(next(lift for lift in now.lifts if lift.home == home), now.everywhere[home])
    worst = now.lifts[0]
    if worst.harms and worst.home != home:
        yield f"Counterexample would be to lift the main earth of {worst.home}: {hurts(worst.harms)}."


def _here(lift: Lift, shows: Mapping[str, Display]) -> Iterator[str]:
    lamp, touch = shows["lifted-line-to-loose-earth"], LIMITS["touch-volts"].value
    falls = max(lift.gap_volts, lift.probe_volts, lift.end_volts) > touch > lift.felt_volts
    body = f" ({figure(lift.felt_volts, 0, 'V')} once a person touches it)" if falls else ""
    brings = f"It would bring: {hurts(lift.harms)}" if lift.harms else "It would bring no new harm here today"
    yield (
        f"With {lift.home}'s main earth lifted, worked out here so that nobody has to try it: "
        f"{figure(lift.gap_volts, 1, 'V')} across the gap, the loose earth at "
        f"{figure(lift.probe_volts, 1, 'V')} and the end that it was lifted from at "
        f"{figure(lift.end_volts, 1, 'V')} to an independent earth{body}, and a two-pole indicator from "
        f"the line to the loose earth shows {shown(lamp)}. {brings}."
    )
    if lift.felt_volts > touch and not lamp.value:
        yield "An indicator that shows nothing there is no proof: only an independent earth tells."


def _lifting(lifts: Sequence[Lift]) -> Table:
    rows = (
        Row(
            lift.home,
            (
                figure(lift.gap_volts, 1, "V"),
                figure(lift.probe_volts, 1, "V"),
                figure(lift.end_volts, 1, "V"),
                figure(lift.felt_volts, 0, "V"),
                hurts(lift.elsewhere) or "nothing more",
                ", ".join(lift.goes_off) or "nobody",
            ),
        )
        for lift in lifts
    )
    return Table(
        "If a main earth were lifted, the worst first",
        (
            "Lifted at",
            "Across the gap",
            "Loose earth to true earth",
            "Its other end to true earth",
            "The largest, once touched",
            "What else it brings",
            "Who goes off",
        ),
        tuple(rows),
    )


def _everywhere(healthy: WholeStreet, now: WholeStreet) -> Table:
    """Each cell is the reading now, with the healthy one before it where the two differ."""
    homes = tuple(now.everywhere)

    def cell(test: str, home: str) -> str:
        before, after = (shown(street.everywhere[home][test]) for street in (healthy, now))
        return after if before == after else f"{before} → {after}"

    rows = (Row(test.title, tuple(cell(test.id, home) for home in homes)) for test in TESTS)
    return Table("Every test at every home: healthy → now", ("Test", *homes), tuple(rows))


def _standing(harms: Sequence[Harm]) -> Iterator[Table]:
    if harms:
        rows = tuple(Row(harm.home, (harm.what, figure(harm.volts, 0, "V"))) for harm in harms)
        yield Table("What hurts as it stands", ("Home", "What", "Volts"), rows)


def _frames(healthy: WholeStreet, now: WholeStreet, faults: Sequence[Fault], home: str) -> Iterator[Frame]:
    """Intact, then the faults if there are any, then the main earth of the tested home lifted."""
    clamp, sound = "clamp-main-earth", healthy.network
    before, after = (shown(street.everywhere[home][clamp]) for street in (healthy, now))
    broken = [fault for fault in faults if fault.kind != _BESIDES]
    yield Frame("Intact", f"The main earth of {home} carries {before}.", _intact(healthy, home), not broken)
    if broken:
        words = f"The main earth of {home} now carries {after}."
        drawn = picture(now.network, sound, home, name="one-street-faulty")
        yield Frame(_titles(broken), words, drawn, told=True)
    lift = next(lift for lift in now.lifts if lift.home == home)
    yield Frame(
        f"Main earth of {home} lifted",
        f"{figure(lift.gap_volts, 1, 'V')} across the gap; the loose earth stands at "
        f"{figure(lift.probe_volts, 1, 'V')} to true earth. Nobody tries this.",
        picture(now.lifted(home), sound, home, (home,), "one-street-lifted"),
    )


@lru_cache(maxsize=8)
def _intact(healthy: WholeStreet, home: str) -> Picture:
    return picture(healthy.network, healthy.network, home, name="one-street-intact")


def _warnings(street: Street, faults: Sequence[Fault], home: str) -> Iterator[str]:
    if any(fault.endangers for fault in faults):
        yield "This fault can kill or burn, whether or not a test shows it today."
    others = street.sharing_metalwork(home)
    if others:
        yield f"{home} shares metalwork with {', '.join(others)}: what is done here is done to them too."


_OUTPUTS = (
    Output("most_volts", "Highest supply of a home, line to neutral", "V", 1, "volts-high", "at-most"),
    Output("least_volts", "Lowest supply of a home, line to neutral", "V", 1, "volts-low", "at-least"),
    Output(
        "most_metalwork", "Highest metalwork to true earth, once touched", "V", 1, "touch-volts", "at-most"
    ),
    Output("main_earth", "In the main earth of the home that is tested", "A", 2),
)

CALCULATOR = Calculator(
    id="one-street",
    title="One street, any fault",
    about="Choose a street of this guide, or change it to be like yours, and say what is wrong: what each "
    "test shows at every home, beside what it shows while the street is healthy, and what lifting each main "
    "earth would do.",
    inputs=(
        Choice("street", "Street", (), "", options_from="streets"),
        Choice("home", "Home that is tested", (), "", options_from="homes"),
        Choice("fault", "Fault", (), "service-pen-open", options_from="faults"),
        Choice(
            "besides",
            "A second fault",
            (),
            _BESIDES,
            "Healthy street: no second fault.",
            options_from="faults",
        ),
    ),
    run=run,
    outputs=_OUTPUTS,
    examples=(
        Example("The same street healthy", {"fault": "healthy"}),
        Example("A service PEN that is going bad", {"fault": "service-pen-high"}),
        Example("The PEN of the main open", {"fault": "mains-pen-open"}),
    ),
    sources=(
        *(cited(LIMITS[name]) for name in ("volts-high", "volts-low", "touch-volts")),
        "Every figure: nodal analysis of the street as its page, or the reader, describes it.",
        "Bands: the middle nine tenths of what the test shows on healthy streets drawn at random as the "
        "guide's sampling states, combined services only, meter errors left out. A reading inside proves "
        "nothing, and one outside is no proof of a fault.",
    ),
    cautions=(
        "Nobody lifts a main earth to find out. An earth that carries current is somebody's neutral.",
        "The figures are of an invented street. They show what can happen, not what a meter must read.",
    ),
)
