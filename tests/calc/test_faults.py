"""Every fault applies wherever it can be, is written and read back, and blows the fuses that it must."""

from __future__ import annotations

import re

import pytest
import streets
from hypothesis import given
from hypothesis import strategies as st

from calc.circuit import EARTH, OPEN, Branch
from calc.faults import (
    HEALTHY,
    JOINED_OHM,
    KINDS,
    ONE_FILTER_FARAD,
    Fault,
    Faults,
    after_fuses,
    catalogue,
    parse,
    parse_one,
    together,
)
from calc.street import INSULATION_OHM, Street, capacitor_ohm, network

STREETS = {
    "pair": streets.pair(),
    "terrace": streets.terrace(),
    "mixed": streets.mixed(),
    "overhead": streets.overhead(),
    **streets.SHIPPED,
}
EVERYWHERE = [
    pytest.param(street, fault, id=f"{name}: {fault}")
    for name, street in STREETS.items()
    for fault in catalogue(street)
]


@pytest.mark.parametrize(("street", "fault"), EVERYWHERE)
def test_applies_and_solves(street: Street, fault: Fault) -> None:
    healthy = network(street)
    faulty = fault.applied_to(healthy)
    assert (faulty.branches == healthy.branches) == (fault == HEALTHY)
    for home, premises in street.premises.items():
        for point in (*premises.phases, "N", "MET"):
            assert abs(faulty.solution.potential(f"{home}.{point}")) < 2 * street.supply.volts


@pytest.mark.parametrize(("street", "fault"), EVERYWHERE)
def test_is_read_back_as_written(street: Street, fault: Fault) -> None:
    assert parse(str(fault)) == fault
    assert set(fault.homes(street)) <= set(street.premises)


@given(st.floats(min_value=0, exclude_min=True, allow_infinity=False))
def test_an_added_ohm_is_read_back_to_the_last_digit(ohm: float) -> None:
    fault = Fault("service-pen-high", "12", ohm)
    assert parse(str(fault)) == fault


def test_the_streets_between_them_have_every_kind() -> None:
    named = {fault.kind for street in STREETS.values() for fault in catalogue(street)}
    assert named == set(KINDS)
    assert all(catalogue(street)[0] == HEALTHY for street in STREETS.values())


REFUSED = {
    "service-pen-opne@12": "no fault is called 'service-pen-opne'; did you mean service-pen-open",
    "service-pen-high@12=0": "ohm must be above 0 and finite, got 0.0",
    "service-pen-high@12=nan": "ohm must be above 0 and finite, got nan",
    "service-pen-high@12=inf": "ohm must be above 0 and finite, got inf",
    "service-pen-high@12=": "write a number of ohms after `=`",
    "service-pen-high@12=half": "write a number of ohms after `=`",
    "service-pen-open@12=3": "service-pen-open has no resistance of its own, got 3 ohm",
    # several at once
    "service-pen-open@12+service-pen-open@12": "service-pen-open@12 stands there 2 times; once is enough",
    "service-pen-high@12=2+service-pen-high@12": "service-pen-high@12 stands there 2 times; once is enough",
    "high-volts+healthy": "a healthy street has no fault besides",
    "high-volts+bond-lots@12.water": "no fault is called 'bond-lots'; did you mean bond-lost",
}


@pytest.mark.parametrize("text", REFUSED)
def test_nonsense_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match=re.escape(REFUSED[text])) as refused:
        parse(text)
    assert str(refused.value).startswith(text)


MISPLACED = {
    "service-pen-open@21": "it can be at 12, 14",
    "service-pen-open@": "it can be at 12, 14",
    "mains-pen-open@J1": "it can be at substation-J1",
    "bond-lost@12": "it can be at 12.water, 14.water",
    "line-open@12.L2": "it can be at 14.L2, 12.L1",
    "healthy@12": "cannot be at '12'",
}


@pytest.mark.parametrize("text", MISPLACED)
def test_a_wrong_place_is_refused_with_the_right_ones(text: str) -> None:
    with pytest.raises(ValueError, match=re.escape(MISPLACED[text])):
        parse(text).applied_to(network(streets.pair()))


CONDUCTORS = {
    "service-pen-open@7": ("7/service.PEN", OPEN),
    "service-pen-high@7=0.25": ("7/service.PEN", 0.25),
    "service-pen-high@7": ("7/service.PEN", 1),
    "mains-pen-open@J2-J3": ("J2-J3/PEN", OPEN),
    "mains-pen-high@J2-J3=0.1": ("J2-J3/PEN", 0.1),
    "mains-neutral-open@J1-J2": ("J1-J2/N", OPEN),
    "mains-sheath-open@J1-J2": ("J1-J2/E", OPEN),
    "service-neutral-open@3": ("3/service.N", OPEN),
    "sheath-open@3": ("3/service.E", OPEN),
    "line-open@7.L2": ("7/service.L2", OPEN),
    "mains-line-open@J1-J2.L3": ("J1-J2/L3", OPEN),
    "main-earth-lost@5": ("5/main_earth", OPEN),
    "bond-lost@9.gas": ("9/bond.gas", OPEN),
    "loose-neutral-tail@1=2": ("1/tail.N", 2),
    "loose-line-tail@7.L3": ("7/tail.L3", 1),
    "service-neutral-high@3=0.5": ("3/service.N", 0.5),
    "sheath-high@3": ("3/service.E", 1),
    "mains-neutral-high@J1-J2": ("J1-J2/N", 1),
    "mains-sheath-high@J1-J2=2": ("J1-J2/E", 2),
    "service-line-high@7.L2": ("7/service.L2", 1),
    "mains-line-high@J1-J2.L3=0.3": ("J1-J2/L3", 0.3),
}


@pytest.mark.parametrize("text", CONDUCTORS)
def test_changes_that_conductor_and_no_other(text: str) -> None:
    healthy = network(streets.mixed())
    faulty, (conductor, added) = parse(text).applied_to(healthy), CONDUCTORS[text]
    changed = [name for name, branch in faulty.branches.items() if branch != healthy.branches[name]]
    assert changed == [conductor]
    expected = OPEN if added == OPEN else healthy.branches[conductor].impedance + added
    assert faulty.branches[conductor].impedance == expected


ADDED = {
    "borrowed-neutral@9.7=50": {"9/circuit.borrowed.7": ("9.L2", "7.N", 50)},
    "neutral-earth-joined@5": {"5/circuit.joined": ("5.N", "5.MET", JOINED_OHM)},
    "earth-leak@7=300": {"7/circuit.leak": ("7.L1", "7.MET", 300)},
    "protective-conductor-lost@11=5000": {
        "11/circuit.case_filter_line": ("11.L1", "11.case", capacitor_ohm(ONE_FILTER_FARAD)),
        "11/circuit.case_filter_neutral": ("11.N", "11.case", capacitor_ohm(ONE_FILTER_FARAD)),
        "11/circuit.case_leak": ("11.L1", "11.case", 5000),
        "11/case_feet": ("11.case", EARTH, INSULATION_OHM),
    },
}


@pytest.mark.parametrize("text", ADDED)
def test_adds_these_branches_and_leaves_every_conductor(text: str) -> None:
    healthy = network(streets.mixed())
    faulty = parse(text).applied_to(healthy).branches
    assert {
        name: (b.start, b.end, b.impedance) for name, b in faulty.items() if name not in healthy.branches
    } == (ADDED[text])
    assert all(faulty[name] is branch for name, branch in healthy.branches.items())


def test_crossed_tails_come_from_each_others_cut_out() -> None:
    healthy = network(streets.mixed())
    faulty = parse("crossed-neutrals@5.7").applied_to(healthy).branches
    changed = {name: b.start for name, b in faulty.items() if b != healthy.branches[name]}
    assert changed == {"5/tail.N": "7.cutout.N", "7/tail.N": "5.cutout.N"}


def test_neutrals_cross_between_neighbours_and_at_one_junction() -> None:
    terrace = streets.terrace(9)  # three homes at each joint
    places = set(KINDS["crossed-neutrals"].places(terrace))
    assert {"2.4", "2.6", "6.8"} <= places
    assert places.isdisjoint({"4.2", "2.8", "4.8"})
    assert set(KINDS["borrowed-neutral"].places(terrace)) >= {"2.4", "4.2", "6.8", "8.6"}
    assert "2.6" not in KINDS["borrowed-neutral"].places(terrace)


SEVERAL = "service-pen-high@12=0.5+bond-lost@14.water+high-volts"


def test_several_at_once_have_the_face_of_one() -> None:
    pair = streets.pair()
    several = parse(SEVERAL)
    assert isinstance(several, Faults)
    assert str(several) == SEVERAL and parse(str(several)) == several
    assert several.title == (
        "Service PEN joint going bad at 12 and Main bond open at 14.water and Supply volts too high"
    )
    assert several.endangers and not parse("bond-lost@14.water+high-volts").endangers
    assert several.homes(pair) == ("12", "14")
    assert several.not_to_close(pair) == ("12",)
    faulty, healthy = several.applied_to(network(pair)), network(pair)
    changed = {name for name, b in faulty.branches.items() if b != healthy.branches[name]}
    assert changed == {"12/service.PEN", "14/bond.water", *(f"substation/{p}" for p in ("L1", "L2", "L3"))}


def test_the_order_of_several_makes_no_difference() -> None:
    healthy = network(streets.pair())
    one, other = "reversed-polarity@12", "loose-neutral-tail@12"
    assert parse(f"{one}+{other}").applied_to(healthy).branches == (
        parse(f"{other}+{one}").applied_to(healthy).branches
    )


def test_fuses_blow_after_all_of_them() -> None:
    """A dead leak takes the fuse of a home; beside an open PEN and no bond no current finds a way back."""
    healthy = network(streets.pair())
    alone = parse("earth-leak@12=0.1").applied_to(healthy)
    both = parse("earth-leak@12=0.1+service-pen-open@12+bond-lost@12.water").applied_to(healthy)
    assert alone.branches["12/tail.L1"].impedance == OPEN
    assert both.branches["12/tail.L1"].impedance != OPEN
    assert abs(both.solution.potential("12.MET")) > 200


def test_an_exponent_is_no_second_fault() -> None:
    assert parse("earth-leak@12=1e+22") == Fault("earth-leak", "12", 1e22)
    assert parse("earth-leak@12=1e+22+high-volts").each[0] == Fault("earth-leak", "12", 1e22)


def test_together_leaves_out_what_is_no_fault() -> None:
    one, other = parse_one("high-volts"), parse_one("bond-lost@12.water")
    assert together() == together(HEALTHY) == HEALTHY
    assert together(one, HEALTHY) == one
    assert together(HEALTHY, one, other) == Faults((one, other))


ON_ONE_CONDUCTOR = {
    "service-pen-open@12+service-pen-high@12": "12/service.PEN",
    "line-open@12.L1+service-line-high@12.L1": "12/service.L1",
    "reversed-polarity@12+reversed-polarity-earth-live@12": "12/tail.L1",
    "crossed-neutrals@12.14+reversed-polarity@14": "14/tail.N",
}


@pytest.mark.parametrize("text", ON_ONE_CONDUCTOR)
def test_two_in_one_conductor_are_refused_on_the_street(text: str) -> None:
    one, other = text.split("+")
    expected = f"{one} and {other} cannot be together: both are in {ON_ONE_CONDUCTOR[text]}"
    with pytest.raises(ValueError, match=re.escape(expected)):
        parse(text).applied_to(network(streets.pair()))


def test_the_homes_a_fault_is_in() -> None:
    mixed = streets.mixed()
    assert parse("service-pen-open@7").homes(mixed) == ("7",)
    assert parse("bond-lost@9.gas").homes(mixed) == ("9",)
    assert parse("mains-line-open@J1-J2.L3").homes(mixed) == ("5", "7")
    assert parse("mains-line-high@J1-J2.L1").homes(mixed) == ("7", "11")
    assert parse("mains-sheath-high@J1-J2").homes(mixed) == parse("mains-sheath-open@J1-J2").homes(mixed)
    assert parse("crossed-neutrals@5.7").homes(mixed) == ("5", "7")
    assert parse("borrowed-neutral@9.7").homes(mixed) == ("9", "7")
    assert parse("mains-pen-open@J2-J3").homes(mixed) == ("9", "11")
    assert HEALTHY.homes(mixed) == ()


def test_reversed_polarity_swaps_what_the_tails_come_from() -> None:
    healthy = network(streets.pair())
    for kind, metal_volts in (("reversed-polarity", 0), ("reversed-polarity-earth-live", 240)):
        alone = healthy.opened("12-14/water", "12/load.L1")
        solution = parse(f"{kind}@12").applied_to(alone).solution
        assert abs(solution.potential("12.N")) == pytest.approx(240, abs=2)
        assert abs(solution.potential("12.L1")) == pytest.approx(0, abs=2)
        assert abs(solution.potential("12.MET")) == pytest.approx(metal_volts, abs=2)


def test_high_volts_are_eight_per_cent_up() -> None:
    healthy = network(streets.pair())
    high = parse("high-volts").applied_to(healthy).solution
    for point in ("12.L1", "14.MET", "J1.N"):
        assert high.potential(point) == pytest.approx(1.08 * healthy.solution.potential(point))


def test_fuses_blow_one_after_another_the_worst_first() -> None:
    """A dead short at home 12 takes its own fuse, and the neighbour keeps his supply."""
    dead_short = network(streets.pair()).changed(Branch("12/short", "12.L1", "12.N", 1e-3))
    after = after_fuses(dead_short)
    assert after.branches == dead_short.opened("12/tail.L1").branches
    assert abs(after.solution.volts("14.L2", "14.N")) > 230
    assert after_fuses(after).branches == after.branches


def test_live_earth_into_a_pipe_takes_the_substation_fuse() -> None:
    """The earth on the line and a copper pipe to a sound neighbour: a short that no fuse of the home sees."""
    after = parse("reversed-polarity-earth-live@12").applied_to(network(streets.pair()))
    blown = [name for name, b in after.branches.items() if b.impedance == OPEN]
    assert blown == ["substation/L1"]
    assert abs(after.solution.potential("14.MET")) < 2


def test_no_fuse_blows_in_a_healthy_street() -> None:
    for street in STREETS.values():
        assert after_fuses(network(street)).branches == network(street).branches
