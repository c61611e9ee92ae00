"""Where each instrument begins to show, lights or refuses, and what it loads."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import streets

from calc.circuit import EARTH
from calc.faults import parse
from calc.instruments import INSTRUMENTS, across, as_display, lacking, loop_volts, measured, read, reading
from calc.street import Network, network


def supplied_with(volts: float) -> Network:
    """Home 12 without a load, and so many volts from its line to true earth."""
    whole = network(streets.pair(kw=(0.0, 0.0)))
    supply = replace(whole.branches["substation/L1"], emf=complex(volts))
    dark = whole.changed(supply)
    filters = [name for name in dark.branches if "/filter." in name]
    return dark.opened(*filters)


LAMPS = (12, 24, 50, 120, 230, 400, 690)
"""Of a two-pole indicator to IEC 61243-3 (from memory); each lights from 0.85 of its figure (from memory)."""


@pytest.mark.parametrize("lamp", LAMPS)
def test_a_lamp_lights_from_0_85_of_its_volts(lamp: int) -> None:
    below = LAMPS[LAMPS.index(lamp) - 1] if lamp > 12 else 0
    for share, shown in ((0.845, below), (0.855, lamp)):
        assert reading(supplied_with(share * lamp), "12", "two-pole", ("line", "neutral")) == shown


@pytest.mark.parametrize(("instrument", "volts"), [("contact", 100), ("non-contact", 80)])
def test_a_single_pole_indicator_lights_from_so_many_volts(instrument: str, volts: float) -> None:
    """100 and 80 V to true earth: common practice, no source."""
    for share, text in ((0.99, "dark"), (1.01, "lit")):
        assert read(supplied_with(share * volts), "12", instrument, ("line",)).text == text


@pytest.mark.parametrize(("instrument", "ohm"), [("voltmeter", 1e6), ("two-pole", 200e3)])
def test_a_meter_divides_with_what_it_measures(instrument: str, ohm: float) -> None:
    """1 megohm and 200 kilohm (engineering judgement), in series with what the open circuit is."""
    loose = network(streets.pair()).opened("12/main_earth", "12-14/water")
    open_volts = loose.solution.volts("12.MET", EARTH)
    own = loose.solution.impedance_between("12.MET", EARTH)
    expected = abs(open_volts * ohm / (ohm + own))
    assert expected < 0.9999 * abs(open_volts)
    assert measured(loose, "12", instrument, ("earth", "independent_earth")) == pytest.approx(expected)


def test_a_loop_tester_loads_with_ten_ohms() -> None:
    """Some 23 A (common practice, no source): the drop that this draws, over that current."""
    bad = network(streets.pair()).with_added_ohm("12/main_earth", 3.0).opened("12/bond.water")
    own = bad.solution.impedance_between("12.L1", "12.MET")
    whole = across(bad, "12.L1", "12.MET", math.inf)
    under = whole * abs(10 / (10 + own))
    shown = measured(bad, "12", "loop", ("line", "earth"))
    assert shown == pytest.approx((whole - under) / (under / 10))
    assert loop_volts(bad, "12", ("line", "earth")) == whole


def test_a_loop_is_never_below_nothing() -> None:
    """Where the load raises the volts (another source feeds the metalwork), the display says 0."""
    for fault in ("healthy", "service-pen-open@14", "reversed-polarity@12"):
        faulty = parse(fault).applied_to(network(streets.pair(pipe_earth_ohm=40)))
        for on in (("line", "earth"), ("line", "neutral"), ("neutral", "earth")):
            assert measured(faulty, "12", "loop", on) >= 0


@pytest.mark.parametrize(("volts", "state"), [(194, "no-test"), (196, "shown")])
def test_a_loop_tester_wants_195_volts(volts: float, state: str) -> None:
    """Common practice, no source."""
    assert read(supplied_with(volts), "12", "loop", ("line", "neutral")).state == state


def test_in_a_batch_only_those_without_supply_are_refused() -> None:
    whole = supplied_with(240)
    supply = whole.branches["substation/L1"]
    many = whole.changed(replace(supply, emf=np.array([240, 100, 230]) + 0j))
    shown = reading(many, "12", "loop", ("line", "neutral"))
    assert np.isnan(shown).tolist() == [False, True, False]
    none = whole.changed(replace(supply, emf=np.array([100, 90]) + 0j))
    assert np.isnan(reading(none, "12", "loop", ("line", "neutral"))).all()


def test_what_errs_is_the_value_and_not_the_display() -> None:
    healthy = network(streets.pair())
    for instrument, on in (
        ("clamp", ("line_tail",)),
        ("voltmeter", ("line", "neutral")),
        ("loop", ("line", "earth")),
    ):
        true = measured(healthy, "12", instrument, on)
        shown = reading(healthy, "12", instrument, on, lambda value: 1.1 * value)
        assert shown == INSTRUMENTS[instrument].figure(1.1 * true)
    assert reading(healthy, "12", "two-pole", ("line", "neutral"), lambda value: value / 2) == 120


SHOWN = {  # instrument: highest, step and least that it shows, as ordinary ones have (engineering judgement)
    "clamp": (200, 0.01, 0.03),
    "voltmeter": (1000, 0.1, 0.1),
    "two-pole": (690, 1, 1),
    "loop": (200, 0.01, 0.01),
}


@pytest.mark.parametrize("instrument", SHOWN)
def test_a_range_and_its_steps(instrument: str) -> None:
    high, step, least = SHOWN[instrument]
    tester = INSTRUMENTS[instrument]
    assert tester.shown(high).value == high and tester.shown(high + 0.51 * step).state == "over-range"
    assert tester.shown(least).value == pytest.approx(least)
    assert tester.shown(0.49 * least).value == 0
    assert tester.shown(7 * step + least).value == pytest.approx(7 * step + least)
    assert tester.decimals == {1: 0, 0.1: 1, 0.01: 2}[step]


def test_figures_come_back_as_displays() -> None:
    assert as_display("contact", 1000.0).text == as_display("non-contact", 1000.0).text == "lit"
    assert as_display("contact", 0.0).text == "dark"
    assert as_display("two-pole", 0.0).text == "no lamp"
    assert as_display("two-pole", 230.0).text == "230 V lamp"
    assert as_display("clamp", math.inf).state == "over-range"
    assert as_display("loop", math.nan).state == "no-test"
    assert as_display("loop", 0.35).text == "0.35 ohm"


def test_lines_that_a_home_lacks() -> None:
    street = streets.mixed()
    assert lacking(street, "9", ("line", "earth")) == ""
    assert lacking(street, "9", ("line2", "earth")) == "line2"
    assert lacking(street, "9", ("earth", "line3")) == "line3"
    assert lacking(street, "7", ("line2", "line3")) == ""
