"""Every fault applies wherever it can be, is written and read back, and blows the fuses that it must."""

from __future__ import annotations

import re

import pytest
import streets
from hypothesis import given
from hypothesis import strategies as st

from calc.circuit import OPEN, Branch
from calc.faults import HEALTHY, KINDS, Fault, after_fuses, catalogue, parse
from calc.street import Street, network

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
}


@pytest.mark.parametrize("text", CONDUCTORS)
def test_changes_that_conductor_and_no_other(text: str) -> None:
    healthy = network(streets.mixed())
    faulty, (conductor, added) = parse(text).applied_to(healthy), CONDUCTORS[text]
    changed = [name for name, branch in faulty.branches.items() if branch != healthy.branches[name]]
    assert changed == [conductor]
    expected = OPEN if added == OPEN else healthy.branches[conductor].impedance + added
    assert faulty.branches[conductor].impedance == expected


def test_the_homes_a_fault_is_in() -> None:
    mixed = streets.mixed()
    assert parse("service-pen-open@7").homes(mixed) == ("7",)
    assert parse("bond-lost@9.gas").homes(mixed) == ("9",)
    assert parse("mains-line-open@J1-J2.L3").homes(mixed) == ("5", "7", "9", "11")
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
