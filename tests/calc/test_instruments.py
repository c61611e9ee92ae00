"""What a tester shows: steps, threshold and range, what it loads, and what it refuses."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import streets
from hypothesis import given
from hypothesis import strategies as st

from calc.circuit import EARTH, Branch, CircuitError
from calc.faults import parse
from calc.instruments import (
    INSTRUMENTS,
    LIGHTS_FROM,
    LOOP_LOAD_OHM,
    LOOP_NEEDS_VOLTS,
    TWO_POLE_STEPS,
    across,
    clamped,
    points_of,
    read,
)
from calc.street import Network, network

SHOWN = [
    ("clamp", 1.2345, 1.23, "1.23 A"),
    ("clamp", 0.0299, 0, "0.00 A"),  # below the threshold
    ("clamp", 0.0301, 0.03, "0.03 A"),
    ("clamp", 200, 200, "200.00 A"),
    ("clamp", 200.1, None, "over range (above 200 A)"),
    ("voltmeter", 239.96, 240, "240.0 V"),
    ("voltmeter", 1000.1, None, "over range (above 1000 V)"),
    ("voltmeter", math.inf, None, "over range (above 1000 V)"),
    ("loop", 0.174, 0.17, "0.17 ohm"),
    ("loop", 200.01, None, "over range (above 200 ohm)"),
]


@pytest.mark.parametrize(("instrument", "true", "value", "text"), SHOWN)
def test_a_display_has_steps_a_threshold_and_a_range(
    instrument: str, true: float, value: float | None, text: str
) -> None:
    display = INSTRUMENTS[instrument].shown(true)
    assert (display.value, display.text) == (value, text)
    assert display.state == ("shown" if value is not None else "over-range")


@given(st.sampled_from(list(INSTRUMENTS.values())), st.floats(0, 2000))
def test_a_display_is_never_off_by_more_than_half_a_step(instrument: object, true: float) -> None:
    display = instrument.shown(true)
    assert (display.value is None) == (true > instrument.high)
    if display.value is not None and true >= instrument.threshold:
        assert abs(display.value - true) <= 0.5001 * instrument.resolution
        assert float(display.text.split()[0]) == display.value


def two_homes(fault: str = "healthy") -> Network:
    return parse(fault).applied_to(network(streets.pair()))


def loose_earth() -> Network:
    """No pipe, our main earth lifted: metalwork that only filters and a dry building tie to anything."""
    return two_homes().opened("12/main_earth", "12-14/water")


def test_a_voltmeter_loads_what_it_measures() -> None:
    """A loose earth stands at a third of the mains to a perfect meter, and lower to a real one."""
    perfect = across(loose_earth(), "12.MET", EARTH, math.inf)
    assert perfect > 80
    shown = [across(loose_earth(), "12.MET", EARTH, ohm) for ohm in (1e9, 1e6, 200e3, 2e3)]
    assert shown == sorted(shown, reverse=True)
    assert shown[0] == pytest.approx(perfect, rel=1e-3)
    assert shown[3] < 5
    assert read(loose_earth(), "12", "voltmeter", ("earth", "independent_earth")).value == pytest.approx(
        shown[1], abs=0.05
    )


@given(st.floats(0.1, 1e9))
def test_a_load_across_two_points_is_a_branch_between_them(ohm: float) -> None:
    """`across` is worked from one solution; putting the load into the circuit must say the same."""
    loaded = loose_earth().changed(Branch("meter", "12.MET", EARTH, ohm)).solution
    assert across(loose_earth(), "12.MET", EARTH, ohm) == pytest.approx(
        abs(loaded.potential("12.MET")), rel=1e-9
    )


def test_a_meter_on_metal_that_nothing_joins_shows_nothing() -> None:
    floating = two_homes().opened("12/bond.water", "12-14/water")
    assert across(floating, "12.L1", "12.water", 1e6) == 0
    with pytest.raises(CircuitError, match=r"no point is called '12\.watre'"):
        across(floating, "12.L1", "12.watre", 1e6)


def test_a_clamp_adds_conductors_with_their_signs() -> None:
    network_ = two_homes("service-pen-open@14")
    ampere = network_.solution.current
    for on, parts in {
        ("main_earth",): ["12/main_earth"],
        ("neutral_tail", "main_earth"): ["12/tail.N", "12/main_earth"],
        ("line_tail", "neutral_tail"): ["12/tail.L1", "12/tail.N"],
        ("service",): ["12/service.L1", "12/service.PEN"],
        ("bond",): ["12/bond.water"],
        ("known_load",): [],
    }.items():
        assert clamped(network_, "12", on) == pytest.approx(abs(sum(map(ampere, parts))))
    tails = (abs(ampere("12/tail.L1")), abs(ampere("12/tail.N")))
    assert clamped(network_, "12", ("line_tail", "neutral_tail")) < 0.01 * min(tails)  # there and back
    with pytest.raises(KeyError):
        clamped(network_, "12", ("tail",))


def test_a_clamp_on_a_whole_three_phase_service_sees_what_leaves_by_another_way() -> None:
    mixed = network(streets.mixed())
    leaving = mixed.solution.current("7/bond.water") + mixed.solution.current("7/bond.gas")
    assert clamped(mixed, "7", ("service",)) == pytest.approx(abs(leaving), abs=0.01)


def test_words_mean_points() -> None:
    mixed = network(streets.mixed())
    assert points_of(mixed, "7", "line3") == "7.L3"
    assert points_of(mixed, "9", "line") == "9.L2"
    assert points_of(mixed, "5", "supply_earth") == "5.electrode"
    assert points_of(mixed, "3", "supply_earth") == "3.cutout.E"
    assert points_of(mixed, "11", "pipe") == "11.gas"
    assert points_of(mixed, "11", "independent_earth") == EARTH
    assert points_of(network(streets.overhead()), "Mill", "pipe") == "Mill.MET"
    for word in ("line2", "lion", "earthy"):
        with pytest.raises(KeyError):
            points_of(mixed, "9", word)


LAMPS = [(0, "no lamp"), (10.1, "no lamp"), (10.3, "12 V lamp"), (196, "230 V lamp"), (341, "400 V lamp")]


@pytest.mark.parametrize(("volts", "text"), LAMPS)
def test_a_two_pole_indicator_lights_the_highest_lamp_reached(volts: float, text: str) -> None:
    supply = two_homes().branches["substation/L1"]
    steady = two_homes().opened("12/load.L1").changed(replace(supply, emf=complex(volts)))
    shown = read(steady, "12", "two-pole", ("line", "neutral"))
    assert shown.text == text
    assert shown.value in (0, *TWO_POLE_STEPS)


def test_single_pole_indicators_answer_to_true_earth_only() -> None:
    apart = two_homes().opened("12-14/water")
    live = parse("reversed-polarity-earth-live@12").applied_to(apart)
    for instrument in LIGHTS_FROM:
        assert read(two_homes(), "12", instrument, ("earth",)).text == "dark"
        assert read(two_homes(), "12", instrument, ("line",)).text == "lit"
        assert read(live, "12", instrument, ("earth",)).text == "lit"


def test_the_supply_s_earth_is_what_the_main_earth_was_lifted_from() -> None:
    """With the earth on the line at the cut-out, that is the line: the gap is at mains voltage."""
    apart = network(streets.pair(pipe_earth_ohm=40)).opened("12-14/water")  # too poor an earth for a fuse
    live = parse("reversed-polarity-earth-live@12").applied_to(apart).opened("12/main_earth")
    gap = read(live, "12", "voltmeter", ("earth", "supply_earth")).value
    end = read(live, "12", "voltmeter", ("supply_earth", "independent_earth")).value
    assert gap == pytest.approx(240, abs=15)
    assert end == pytest.approx(240, abs=15)
    sound = two_homes().opened("12/main_earth")
    assert read(sound, "12", "voltmeter", ("supply_earth", "independent_earth")).value < 5


def test_a_loop_tester_shows_the_loop() -> None:
    """A load of 10 ohm against the loop's own impedance: near |Z|, since Z is small and mostly resistance."""
    healthy = two_homes()
    shown = read(healthy, "12", "loop", ("line", "earth"))
    assert shown.value == pytest.approx(abs(healthy.solution.impedance_between("12.L1", "12.MET")), abs=0.02)
    worse = read(healthy.with_added_ohm("12/tail.L1", 1), "12", "loop", ("line", "earth"))
    assert worse.value == pytest.approx(shown.value + 1, abs=0.05)


def test_a_loop_tester_switches_a_load_while_the_others_stay_on() -> None:
    broken = parse("mains-pen-open@J1-J2").applied_to(network(streets.terrace(pipe=None)))
    under_test = broken.changed(Branch("tester", "8.L1", "8.MET", LOOP_LOAD_OHM)).solution
    before = abs(broken.solution.volts("8.L1", "8.MET"))
    under = abs(under_test.volts("8.L1", "8.MET"))
    expected = (before - under) / (under / LOOP_LOAD_OHM)
    assert read(broken, "8", "loop", ("line", "earth")).value == pytest.approx(expected, abs=0.005)
    assert expected > 2  # several ohms: the loop sees a lost PEN that a balance of loads may hide


def test_a_loop_tester_refuses_without_a_supply() -> None:
    for network_ in (
        two_homes("line-open@12.L1"),
        two_homes().opened("12/main_earth", "12/bond.water"),
    ):
        shown = read(network_, "12", "loop", ("line", "earth"))
        assert (shown.value, shown.state, shown.text) == (None, "no-test", "no test: supply too low")
    for volts, state in ((LOOP_NEEDS_VOLTS - 1, "no-test"), (LOOP_NEEDS_VOLTS + 2, "shown")):
        supply = network(streets.pair(kw=(0, 0), volts=volts))
        assert read(supply, "12", "loop", ("line", "neutral")).state == state


def test_a_loop_tester_goes_over_range() -> None:
    """What it cannot show must not be taken for a figure."""
    apart = two_homes().opened("12/bond.water")
    for ohm, state in ((10, "shown"), (2 * INSTRUMENTS["loop"].high, "over-range")):
        shown = read(apart.with_added_ohm("12/main_earth", ohm), "12", "loop", ("line", "earth"))
        assert shown.state == state
