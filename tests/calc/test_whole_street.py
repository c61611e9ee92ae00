"""The whole street at once says what home by home says, and what lifting does is ordered by harm."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from streets import mixed, overhead, pair, terrace

from calc.compared import beside_bands
from calc.danger import measured, new_harms
from calc.faults import catalogue, parse
from calc.readings import readings
from calc.street import Street, network
from calc.whole_street import WholeStreet
from calc.work import Condition, as_worked

STREETS: tuple[Street, ...] = (pair(pipe_earth_ohm=40), pair(), terrace(6), mixed(), overhead())
CASES = [(street, fault) for street in STREETS for fault in catalogue(street)]


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(CASES))
def test_every_reading_is_the_one_taken_home_by_home(case: tuple[Street, object]) -> None:
    street, fault = case
    faulty = parse(str(fault)).applied_to(network(street))
    everywhere = WholeStreet(faulty).everywhere
    assert set(everywhere) == set(street.premises)
    for home, shown in everywhere.items():
        alone = readings(faulty, home)
        assert {test: one.text for test, one in shown.items()} == {t: one.text for t, one in alone.items()}


@pytest.mark.parametrize("fault", ["healthy", "service-pen-open@4", "mains-pen-open@substation-J1"])
def test_lifts_are_what_lifting_does_and_the_worst_comes_first(fault: str) -> None:
    faulty = parse(fault).applied_to(network(terrace(6)))
    lifts = WholeStreet(faulty).lifts
    assert {lift.home for lift in lifts} == set(terrace(6).premises)
    for lift in lifts:
        lifted = as_worked(faulty, frozenset({Condition("main-earth-lifted", lift.home)}))
        assert lift.harms == new_harms(measured(faulty), measured(lifted))
        assert set(lift.goes_off) <= {harm.home for harm in lift.harms}
    harmed = [len({harm.home for harm in lift.harms}) for lift in lifts]
    assert harmed == sorted(harmed, reverse=True)


def test_two_homes_on_one_pipe_and_no_pen_next_door() -> None:
    # Common practice, no source: the neighbour's supply stands across a main earth that is his neutral.
    faulty = parse("service-pen-open@14").applied_to(network(pair()))
    ours = next(lift for lift in WholeStreet(faulty).lifts if lift.home == "12")
    assert ours.gap_volts == pytest.approx(240, rel=0.02)
    assert ours.goes_off == ("14",)
    healthy = next(lift for lift in WholeStreet(network(pair())).lifts if lift.home == "12")
    assert healthy.goes_off == () and healthy.gap_volts < 1


def test_a_reading_outside_its_band_says_so_in_words() -> None:
    shown = readings(network(pair()), "12")
    value = shown["loop-line-earth"].value
    assert value is not None
    where = {}
    for name, band in (("in", (0.0, value)), ("above", (0.0, value - 0.02)), ("below", (value + 0.02, 9.0))):
        table = beside_bands("Tests", shown, shown, {"loop-line-earth": band})
        (row,) = [row for row in table.rows if row.label == "Loop tester, line to earth"]
        where[name] = row.cells[-1]
        assert row.cells[-2].endswith("Ω")
    assert where == {"in": "inside", "above": "above it", "below": "below it"}
    assert all(row.cells[-1] == "–" for row in table.rows if row.label != "Loop tester, line to earth")
