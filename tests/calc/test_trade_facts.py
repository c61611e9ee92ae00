"""What the trade knows of broken PEN conductors, said of the model.

Source of every fact in this file: common practice, no source. They are what jointers, testers and earthing
engineers tell each other, and no published document was read that gives them. Limits of an ordinary test are
published ones, from `calc.limits`.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import pytest
import streets

from calc.circuit import EARTH
from calc.danger import standing_harms
from calc.faults import HEALTHY, catalogue, parse
from calc.instruments import across, clamped, read
from calc.limits import LIMITS
from calc.readings import readings
from calc.street import Conductor, Network, Street, network
from calc.symptoms import fact
from calc.work import as_worked, done

SOURCE = "common practice, no source"

LOW, HIGH = LIMITS["volts-low"].value, LIMITS["volts-high"].value
LOOP = LIMITS["ze-tn-c-s"].value


@dataclass(frozen=True)
class Shows:
    """An instrument at a home shows a figure from `low` to `high`, in its unit."""

    home: str
    instrument: str
    on: tuple[str, ...]
    low: float
    high: float


@dataclass(frozen=True)
class Moment:
    """A street with a fault, after some actions (`lift-main-earth@12`), and what is shown then."""

    street: Street
    fault: str
    actions: tuple[str, ...]
    shows: tuple[Shows, ...]

    @property
    def network(self) -> Network:
        conditions = frozenset()
        for action in self.actions:
            conditions = done(conditions, *action.split("@"))
        return as_worked(parse(self.fault).applied_to(network(self.street)), conditions)


def ordinary(*homes: str) -> tuple[Shows, ...]:
    """Every ordinary test of a visit passes at these homes."""
    return tuple(
        shows
        for home in homes
        for shows in (
            Shows(home, "voltmeter", ("line", "neutral"), LOW, HIGH),
            Shows(home, "voltmeter", ("line", "earth"), LOW, HIGH),
            Shows(home, "voltmeter", ("neutral", "earth"), 0, 5),
            Shows(home, "voltmeter", ("earth", "independent_earth"), 0, 5),
            Shows(home, "two-pole", ("line", "earth"), 230, 230),
            Shows(home, "two-pole", ("neutral", "earth"), 0, 0),
            Shows(home, "contact", ("earth",), 0, 0),
            Shows(home, "non-contact", ("earth",), 0, 0),
            Shows(home, "loop", ("line", "earth"), 0, LOOP),
            Shows(home, "loop", ("line", "neutral"), 0, LOOP),
        )
    )


MAIN_EARTH = ("main_earth",)
TAILS = ("line_tail", "neutral_tail")
LINE = ("line", "neutral")
LOOSE = ("line", "earth")
PROBE = ("earth", "independent_earth")

OTHER, SAME = streets.pair(kw=(0, 2)), streets.pair(("L1", "L1"), kw=(0, 2))
EARTHED = streets.pair(kw=(0, 2), pipe_earth_ohm=40)
BALANCED = streets.terrace(6, (1.5, 1.5, 1.5), pipe=None)
THIN = Conductor(metres=20, size_mm2=1)
RIG = replace(OTHER, metalwork=(replace(OTHER.metalwork[0], pipe="copper-15", bond=THIN),))
NEXT_DOOR = "service-pen-open@14"
MAIN = "mains-pen-open@substation-J1"

FACTS: dict[str, tuple[Moment, ...]] = {
    "ordinary tests pass beside a neighbour's open PEN, and at the neighbour's too": (
        Moment(OTHER, NEXT_DOOR, (), ordinary("12", "14")),
        Moment(SAME, NEXT_DOOR, (), ordinary("12", "14")),
        Moment(streets.terrace(), "service-pen-open@6", (), ordinary("2", "4", "6", "8")),
    ),
    "a clamp round our main earth shows the neighbour's current, and moves with his load": (
        Moment(OTHER, NEXT_DOOR, ("open-main-switch@14",), (Shows("12", "clamp", MAIN_EARTH, 0, 0.05),)),
        Moment(OTHER, NEXT_DOOR, (), (Shows("12", "clamp", MAIN_EARTH, 8, 9.5),)),
        Moment(OTHER, NEXT_DOOR, ("switch-on-known-load@14",), (Shows("12", "clamp", MAIN_EARTH, 18, 20),)),
    ),
    "with our own main switch open the clamp still shows it": (
        Moment(OTHER, NEXT_DOOR, ("open-main-switch@12",), (Shows("12", "clamp", MAIN_EARTH, 8, 9.5),)),
    ),
    "lifting our main earth puts the neighbour off and shows phase-to-phase, on different phases": (
        Moment(
            OTHER,
            NEXT_DOOR,
            ("lift-main-earth@12",),
            (
                Shows("14", "voltmeter", LINE, 0, 5),
                Shows("12", "two-pole", LOOSE, 400, 400),
                Shows("12", "voltmeter", LOOSE, 0.99 * math.sqrt(3) * 240, 1.01 * math.sqrt(3) * 240),
                Shows("12", "voltmeter", ("earth", "supply_earth"), 235, 242),
            ),
        ),
    ),
    "on the same phase nothing is shown, while the loose earth stands at mains voltage": (
        Moment(
            SAME,
            NEXT_DOOR,
            ("lift-main-earth@12",),
            (
                Shows("14", "voltmeter", LINE, 0, 5),
                Shows("12", "two-pole", LOOSE, 0, 0),
                Shows("12", "voltmeter", LOOSE, 0, 5),
                Shows("12", "voltmeter", PROBE, 235, 242),
                Shows("12", "contact", ("earth",), 1000, 1000),
            ),
        ),
    ),
    "an earthed pipe holds the loose earth below the neighbour's phase": (
        Moment(
            EARTHED,
            NEXT_DOOR,
            ("lift-main-earth@12",),
            (
                Shows("12", "two-pole", LOOSE, 230, 230),
                Shows("12", "voltmeter", PROBE, 50, 235),
                Shows("14", "voltmeter", LINE, 60, 200),
            ),
        ),
    ),
    "putting the earth back makes everything look normal again": (
        Moment(OTHER, NEXT_DOOR, ("lift-main-earth@12", "restore-main-earth@12"), ordinary("12", "14")),
    ),
    "balanced loads hide a broken main PEN from a voltmeter": (
        Moment(
            BALANCED,
            MAIN,
            (),
            tuple(Shows(home, "voltmeter", LINE, LOW, HIGH) for home in BALANCED.premises)
            + tuple(Shows(home, "voltmeter", PROBE, 0, 5) for home in BALANCED.premises),
        ),
    ),
    "a loop test is not hidden by balance": (
        Moment(BALANCED, MAIN, (), (Shows("2", "loop", ("line", "earth"), 2, 20),)),
        Moment(BALANCED, "healthy", (), (Shows("2", "loop", ("line", "earth"), 0, LOOP),)),
    ),
    "a heater on one phase pulls that one down and raises the others": (
        Moment(
            BALANCED,
            MAIN,
            ("switch-on-known-load@2",),
            (
                Shows("2", "voltmeter", LINE, 100, LOW),
                Shows("8", "voltmeter", LINE, 100, LOW),
                Shows("4", "voltmeter", LINE, HIGH, 400),
                Shows("6", "voltmeter", LINE, HIGH, 400),
            ),
        ),
    ),
    "about 0.8 ohm of loop at a rig is slightly high and nothing else is wrong": (
        Moment(
            RIG,
            NEXT_DOOR,
            (),
            (
                Shows("14", "loop", ("line", "earth"), 0.7, 0.9),
                Shows("14", "voltmeter", LINE, LOW, HIGH),
                Shows("14", "voltmeter", LOOSE, LOW, HIGH),
                Shows("14", "voltmeter", PROBE, 0, 10),
                Shows("14", "contact", ("earth",), 0, 0),
                *ordinary("12"),
            ),
        ),
    ),
    "a borrowed neutral: line and neutral in one jaw do not cancel, at either home, by what is borrowed": (
        Moment(
            streets.terrace(pipe=None),
            "borrowed-neutral@4.6=48",
            (),
            tuple(Shows(home, "clamp", TAILS, 4.6, 5.1) for home in ("4", "6")),
        ),
        Moment(streets.terrace(pipe=None), "healthy", (), (Shows("4", "clamp", TAILS, 0, 0),)),
    ),
    "who switches the second home off interrupts the first one's circuit, and its tails cancel again": (
        Moment(
            streets.terrace(pipe=None),
            "borrowed-neutral@4.6=48",
            ("open-main-switch@6",),
            tuple(Shows(home, "clamp", TAILS, 0, 0) for home in ("4", "6")),
        ),
    ),
    "crossed neutral tails: each home's tails cancel, and its service does not": (
        Moment(
            streets.terrace(pipe=None),
            "crossed-neutrals@4.6",
            (),
            (
                Shows("4", "clamp", TAILS, 0, 0),
                Shows("6", "clamp", TAILS, 0, 0),
                Shows("4", "clamp", ("service",), 1, 20),
                Shows("6", "clamp", ("service",), 1, 20),
                *ordinary("4", "6"),
            ),
        ),
        Moment(streets.terrace(pipe=None), "healthy", (), (Shows("4", "clamp", ("service",), 0, 0),)),
    ),
    "neutral joined to earth: neutral current in the main earth of a sound home, little from a PEN and much "
    "from a sheath, and more than trips a 30 mA RCD in either": (
        Moment(
            streets.terrace(pipe=None),
            "neutral-earth-joined@4",
            (),
            (
                Shows("4", "clamp", MAIN_EARTH, 0.03, 0.2),
                Shows("4", "clamp", TAILS, 0.03, 0.2),
                *ordinary("4"),
            ),
        ),
        Moment(
            streets.mixed(),
            "neutral-earth-joined@1",
            (),
            (Shows("1", "clamp", MAIN_EARTH, 0.5, 5), Shows("1", "clamp", TAILS, 0.5, 5)),
        ),
        Moment(streets.terrace(pipe=None), "healthy", (), (Shows("4", "clamp", MAIN_EARTH, 0, 0),)),
        Moment(streets.mixed(), "healthy", (), (Shows("1", "clamp", MAIN_EARTH, 0, 0.03),)),
    ),
    "a leak to earth of 1000 ohm: a quarter of an ampere in the tails together and in the main earth, which "
    "trips an RCD and no fuse": (
        Moment(
            streets.terrace(pipe=None),
            "earth-leak@4",
            (),
            (
                Shows("4", "clamp", TAILS, 0.23, 0.25),
                Shows("4", "clamp", MAIN_EARTH, 0.23, 0.25),
                *ordinary("4"),
            ),
        ),
    ),
    "an appliance's case that lost its earth is seen by no test at the cut-out": (
        Moment(streets.terrace(pipe=None), "protective-conductor-lost@4=2000", (), ordinary("4")),
    ),
    "a pipe past a broken main PEN makes every ordinary test beyond it pass": (
        Moment(streets.terrace(9), "mains-pen-open@J1-J2", (), ordinary("8", "10", "12", "14", "16", "18")),
    ),
}

EVERY = [
    pytest.param(moment, shows, id=f"{says} [{shows.home}, {shows.instrument} on {'-'.join(shows.on)}]")
    for says, moments in FACTS.items()
    for moment in moments
    for shows in moment.shows
]


@pytest.mark.parametrize(("moment", "shows"), EVERY)
def test_the_model_shows_what_the_trade_knows(moment: Moment, shows: Shows) -> None:
    display = read(moment.network, shows.home, shows.instrument, shows.on)
    assert display.value is not None, (SOURCE, display.text)
    assert shows.low <= display.value <= shows.high, (SOURCE, display.text)


def test_a_filter_holds_a_loose_case_at_half_the_mains() -> None:
    """Common practice, no source: a meter shows about half the mains, and a body next to nothing."""
    faulty = parse("protective-conductor-lost@4").applied_to(network(streets.terrace(pipe=None)))
    assert across(faulty, "4.case", EARTH, 10e6) == pytest.approx(115, abs=8)
    milliamps = across(faulty, "4.case", EARTH, 1000.0)
    assert 0.1 < milliamps < 0.25  # what 2.2 nF lets through at 240 V: 0.166 mA
    assert not standing_harms(faulty)


def test_a_bad_line_joint_dims_one_home_and_no_other() -> None:
    """Common practice, no source: a kettle makes the lights dip where the joint is, and next door nothing."""
    street = streets.terrace(pipe=None)
    faulty = parse("service-line-high@4.L2").applied_to(network(street))
    assert [fact("lights-dip", faulty, home) for home in ("2", "4", "6")] == ["no", "yes", "no"]
    assert not standing_harms(faulty)


def test_lifting_and_putting_back_leaves_no_trace() -> None:
    before = Moment(OTHER, NEXT_DOOR, (), ()).network
    after = Moment(OTHER, NEXT_DOOR, ("lift-main-earth@12", "restore-main-earth@12"), ()).network
    for home in ("12", "14"):
        assert readings(before, home) == readings(after, home)


HANDFUL = {
    "pair": streets.pair(),
    "pair, one phase": streets.pair(("L1", "L1")),
    "pair, little on": streets.pair(kw=(0.3, 0.4)),
    "terrace": streets.terrace(),
    "long terrace": streets.terrace(12, (0.5, 3.0, 0.2, 1.2)),
    **streets.SHIPPED,
}


def main_earth_amperes(broken: bool) -> list[float]:
    """The clamp round the main earth at every TN-C-S home that shares metal with another: on a sound street,
    or where the service PEN of this home or of one of the two nearest that share its metal is open."""
    shown = []
    for street in HANDFUL.values():
        for home, premises in street.premises.items():
            near = street.sharing_metalwork(home)[:2]
            if near and premises.earthing == "tn-c-s":
                faults = [
                    f for f in catalogue(street) if f.kind == "service-pen-open" and f.at in (home, *near)
                ]
                for fault in faults if broken else [HEALTHY]:
                    shown.append(clamped(fault.applied_to(network(street)), home, MAIN_EARTH))
    return sorted(shown)


def test_a_healthy_street_with_a_good_pipe_has_current_in_its_main_earths() -> None:
    healthy = [clamped(network(streets.terrace()), home, MAIN_EARTH) for home in streets.terrace().premises]
    assert max(healthy) > 1


def test_no_clamp_value_separates_healthy_from_broken() -> None:
    """From 0.1 to 10 A, every value passes a home beside an open PEN or accuses one on a sound street. The
    sound streets here reach 6.8 A and the broken ones begin at 0.9 A."""
    healthy, broken = main_earth_amperes(broken=False), main_earth_amperes(broken=True)
    assert broken[0] < 1 < 6 < healthy[-1]
    for threshold in (0.1 * 10 ** (step / 20) for step in range(41)):
        assert broken[0] < threshold or healthy[-1] >= threshold, f"{threshold:.2f} A separates them"


@pytest.mark.parametrize(
    "fault", ["healthy", "service-pen-open@6", "service-pen-high@8=0.5", "mains-pen-open@J1-J2"]
)
def test_neutral_tail_and_main_earth_together_are_the_service_pen(fault: str) -> None:
    faulty = parse(fault).applied_to(network(streets.terrace()))
    for home in faulty.street.premises:
        together = clamped(faulty, home, ("neutral_tail", "main_earth"))
        assert together == pytest.approx(abs(faulty.solution.current(f"{home}/service.PEN")), abs=1e-9)


def test_and_so_they_show_nothing_whatever_is_on_where_that_pen_is_open() -> None:
    for action in ("switch-on-known-load@6", "open-main-switch@6", "switch-on-known-load@8"):
        broken = Moment(streets.terrace(), "service-pen-open@6", (action,), ()).network
        assert read(broken, "6", "clamp", ("neutral_tail", "main_earth")).value == 0
        assert read(broken, "4", "clamp", ("neutral_tail", "main_earth")).value > 0.3
