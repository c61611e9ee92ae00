"""Laws of the calculators over all that they can be asked: figures that can be, words that agree with them.

A law of physics is named where it is tested; the figures are read as a reader sees them.
"""

from __future__ import annotations

import math
import random
import re
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from questions import any_raw, any_values, figures
from streets import overhead, terrace

from calc.calculators import CALCULATORS, Answer, Calculator, Choice, parse
from calc.calculators.clamp_readings import Band, Clamped, fits, judged
from calc.calculators.joint_going_bad import EARTH_MOVES_FROM_VOLTS, HOT_FROM_WATTS, joint_of
from calc.calculators.touch_voltage import felt_volts, shock
from calc.limits import LIMITS

WITHOUT_STREETS = {
    name: calculator
    for name, calculator in CALCULATORS.items()
    if not any(isinstance(shape, Choice) and shape.options_from for shape in calculator.inputs)
    and name not in ("explain", "trial")
}
MAY_BE_BELOW_0 = {
    "clamp-readings": {"rise", "change", "share"},
    "joint-going-bad": {"dip"},
    "loop-and-disconnection": {"extra"},
    "volts-within-limits": {"percent", "to_low", "to_high", "joint"},
}
"""Differences, which have a side; every other figure is a size."""

COMMON = settings(max_examples=60, deadline=None)


def asked(name: str, values: dict[str, Any]) -> tuple[Answer, dict[str, float | None]]:
    calculator = CALCULATORS[name]
    answer = calculator.run(values, {})
    return answer, figures(calculator, answer)


def known(shown: dict[str, float | None], name: str) -> float:
    value = shown[name]
    assert value is not None, name
    return value


@pytest.mark.parametrize("calculator", WITHOUT_STREETS.values(), ids=WITHOUT_STREETS)
@COMMON
@given(drawn=st.data())
def test_every_figure_can_be(calculator: Calculator, drawn: st.DataObject) -> None:
    """A number, not below 0 but for differences, and kept where the limit beside it is kept."""
    values = drawn.draw(any_values(calculator))
    answer = calculator.run(values, {})
    for output, row in zip(calculator.outputs, answer.tables[0].rows, strict=True):
        shown = figures(calculator, answer)[output.name]
        if shown is None:
            continue
        assert math.isfinite(shown)
        assert shown >= 0 or output.name in MAY_BE_BELOW_0.get(calculator.id, ()), output.name
        if len(row.cells) > 2 and row.cells[-1] in ("yes", "no"):
            limit = float(row.cells[-2].split()[-2])
            near = abs(shown - limit) <= 10.0**-output.digits
            within = shown <= limit if "at most" in row.cells[-2] else shown >= limit
            assert near or within == (row.cells[-1] == "yes"), output.name
    told = " ".join((*answer.summary, *answer.warnings))
    assert not re.search(r"\b(nan|inf|None)\b", told)
    assert not re.search(r"−0(\.0+)? ", told)


# Electrodes


@COMMON
@given(values=any_values(CALCULATORS["electrodes"]), times=st.floats(1, 3))
def test_electrodes_help_each_other_and_follow_the_soil(values: dict[str, Any], times: float) -> None:
    """Resistances in parallel come to less than any of them; ohms go with the soil's resistivity."""
    answer, shown = asked("electrodes", values)
    assert known(shown, "overall_ohm") <= known(shown, "ohm") + 0.005 <= known(shown, "one_ohm") + 0.015
    dry = values["soil_ohm_m"] * times
    if values["soil_from"] == "resistivity" and dry <= 10_000:
        assert known(asked("electrodes", values | {"soil_ohm_m": dry})[1], "ohm") >= known(shown, "ohm")
    kept = known(shown, "overall_ohm") <= LIMITS["pme-neutral-ohm"].value
    if abs(known(shown, "overall_ohm") - LIMITS["pme-neutral-ohm"].value) > 0.01:
        assert (": within the" in answer.summary[1]) == kept


@COMMON
@given(values=any_values(CALCULATORS["electrodes"], kind="strip"), more=st.floats(0.1, 20))
def test_a_longer_deeper_or_wider_strip_has_fewer_ohms(values: dict[str, Any], more: float) -> None:
    one = known(asked("electrodes", values)[1], "one_ohm")
    for name, high in (("strip_m", 200), ("strip_mm", 100), ("depth_m", 2)):
        larger = min(values[name] + more, high)
        assert known(asked("electrodes", values | {name: larger})[1], "one_ohm") <= one


# A main without its PEN


@COMMON
@given(values=any_values(CALCULATORS["lost-neutral"]))
def test_a_lost_neutral_moves_by_the_loads_and_never_past_a_line(values: dict[str, Any]) -> None:
    """Millman: the neutral lies within the triangle of the lines. So no home has more than the volts between
    lines, metalwork no more than a line; the lightest loaded line is highest, the heaviest lowest."""
    answer, shown = asked("lost-neutral", values)
    supply, loads = values["supply_volts"], [values[f"load_l{n}"] for n in (1, 2, 3)]
    assert known(shown, "most_volts") <= math.sqrt(3) * supply + 0.051
    assert known(shown, "metalwork_volts") <= supply + 0.051
    volts = [float(row.cells[2].split()[0]) for row in answer.tables[1].rows]
    for (light, high), (heavy, low) in pairwise(sorted(zip(loads, volts, strict=True))):
        assert high >= low - 0.11 or light == heavy
    if answer.summary[0].startswith("The loads balance"):
        assert max(loads) - min(loads) <= 0.05 * max(loads) + 1e-9
    elif "rises, the most loaded falls" in answer.summary[0]:
        assert max(volts) >= supply - 0.051 and min(volts) <= supply + 0.051


@COMMON
@given(values=any_values(CALCULATORS["lost-neutral"], electrode=True), times=st.floats(1, 10))
def test_a_better_electrode_lowers_the_metalwork(values: dict[str, Any], times: float) -> None:
    """The divider of electrode and star point: more ohms past the break, more volts there."""
    worse = min(values["electrode_ohm"] * times, 1000)
    ohms = (values["electrode_ohm"], worse)
    better, poorer = (
        known(asked("lost-neutral", values | {"electrode_ohm": ohm})[1], "metalwork_volts") for ohm in ohms
    )
    assert better <= poorer + 0.051


def test_electrodes_that_hold_the_neutral_are_not_called_balance() -> None:
    loads = {"load_l1": 0.6, "load_l2": 0.3, "load_l3": 0.0}
    rest = {"electrode": True, "electrode_ohm": 0.1, "star_point_ohm": 0.0, "supply_volts": 240.0}
    assert asked("lost-neutral", loads | rest)[0].summary[0].startswith("The electrodes hold it")


# A joint going bad


@COMMON
@given(values=any_values(CALCULATORS["joint-going-bad"]), more=st.floats(1, 100))
def test_a_worse_joint_sends_more_another_way(values: dict[str, Any], more: float) -> None:
    """Compensation theorem: what a branch carries of a load falls as its ohms grow."""
    joint = joint_of(values)
    shares = [joint.at(ohm).diverted for ohm in (values["joint_ohm"], values["joint_ohm"] * more, math.inf)]
    assert all(less <= further + 1e-6 for less, further in pairwise(shares))
    assert shares[0] >= 0 and shares[-1] <= 1 + 1e-6


@settings(max_examples=200, deadline=None)
@given(values=any_values(CALCULATORS["joint-going-bad"]), exponent=st.floats(-3, 3))
def test_nobody_is_said_to_see_nothing_where_a_sign_is_listed(
    values: dict[str, Any], exponent: float
) -> None:
    answer, _ = asked("joint-going-bad", values | {"joint_ohm": 10**exponent})
    signs = [row for row in answer.tables[2].rows if row.cells == ("Call handler", "yes")]
    lights = next(row.cells[1] for row in answer.tables[2].rows if row.label.startswith("Lights at rest"))
    quiet = any("ordinary test" in each and "It shows" not in each for each in answer.summary)
    assert not quiet or (not signs and lights == "normal, normal"), answer.summary
    hot = any("set fire" in warning for warning in answer.warnings)
    at = joint_of(values).at(math.inf if values["open"] else 10**exponent)
    assert hot == (max(at.heat_w) >= HOT_FROM_WATTS)


# A charging point


@COMMON
@given(values=any_values(CALCULATORS["charging-point"], electrode=True), times=st.floats(1, 10))
def test_a_poorer_electrode_leaves_a_vehicle_higher(values: dict[str, Any], times: float) -> None:
    """Millman; and the largest electrode is the one at which the metalwork stands at 70 V."""
    answer, shown = asked("charging-point", values)
    worse = asked("charging-point", values | {"electrode_ohm": min(values["electrode_ohm"] * times, 1000.0)})[
        1
    ]
    touch = known(shown, "touch_volts")
    assert touch <= known(worse, "touch_volts") + 0.051
    assert touch <= known(shown, "bare_volts") + 0.051
    limit, largest = LIMITS["open-pen-touch-volts"].value, shown["largest_ohm"]
    if largest is None:
        assert known(shown, "bare_volts") <= limit + 0.051 and "even none" in answer.summary[0]
    elif abs(largest - values["electrode_ohm"]) > 0.02 * largest + 0.01:
        assert (values["electrode_ohm"] <= largest) == (touch <= limit)
    if abs(touch - limit) > 0.051:
        assert any("can kill" in warning for warning in answer.warnings) == (touch > limit)


# Bonding


@COMMON
@given(values=any_values(CALCULATORS["bonding"]), more=st.floats(0, 10))
def test_a_bond_across_a_cut_never_adds_volts(values: dict[str, Any], more: float) -> None:
    """Rayleigh's law: one conductor more between two points lowers what stands between them."""
    answer, shown = asked("bonding", values)
    assert known(shown, "open_bonded") <= known(shown, "open_cut") + 0.051
    assert known(shown, "share") <= 100
    heavier = min(values["load_kw"] + more, 50)
    assert known(asked("bonding", values | {"load_kw": heavier})[1], "open_cut") >= known(shown, "open_cut")
    open_whole = next(row for row in answer.tables[1].rows if row.label == "The PEN is open: pipe whole")
    said, live = " ".join(answer.summary), float(open_whole.cells[2].split()[0])
    if "nothing showed it" in said:
        assert live <= EARTH_MOVES_FROM_VOLTS
    larger = asked("bonding", values | {"pen_mm2": min(values["pen_mm2"] + 10 * more, 400)})[1]
    assert known(larger, "least") >= known(shown, "least")
    enough = float(values["bond_mm2"]) >= known(shown, "least")
    assert ("large enough" in answer.summary[0]) == enough
    assert any("smaller than the table" in each for each in answer.warnings) == (not enough)


# Clamp readings


@settings(max_examples=300, deadline=None)
@given(
    values=any_values(CALCULATORS["clamp-readings"], earth_taken=True),
    off=st.tuples(*[st.floats(-1, 1)] * 6),
)
def test_whatever_the_readings_stand_for_is_among_the_states_told(
    values: dict[str, Any], off: tuple[float, ...]
) -> None:
    """Currents anywhere within the meter's error, not at its ends alone."""
    band = Band(values["error_percent"], values["error_a"])
    names = ("tail_before", "both_before", "tail_after", "both_after", "earth_before", "earth_after")
    near = [values["tail_before"] % 12, values["both_before"], values["tail_after"] % 30]
    near += [values["both_after"] % 8, values["earth_before"], values["earth_after"] % 10]
    shown = Clamped(**dict(zip(names, near, strict=True)))
    true = [max(amps + share * band.of(amps), 0.0) for amps, share in zip(near, off, strict=True)]
    assert judged(Clamped(**dict(zip(names, true, strict=True)))) in fits(shown, band)


@COMMON
@given(tail=st.floats(8, 24), earth=st.floats(0, 24), turned=st.booleans())
def test_a_pair_held_wrongly_does_not_hide_what_it_really_is(tail: float, earth: float, turned: bool) -> None:
    """The tail alone in the jaw, or one of the two turned round, while the main earth takes part of its own
    load home: both together are then tail less earth."""
    assume(earth <= tail)
    shown = Clamped(0.0, 0.0, tail, tail + earth if turned else tail, 0.0, earth)
    true = Clamped(0.0, 0.0, tail, tail - earth, 0.0, earth)
    assert judged(true) in fits(shown, Band(2, 0.05))


# Neutral current


@COMMON
@given(values=any_values(CALCULATORS["neutral-current"]), more=st.floats(0, 50))
def test_a_neutral_is_no_less_than_its_parts_and_its_cable_no_less_than_it(
    values: dict[str, Any], more: float
) -> None:
    """Parseval: parts of unlike frequency add as squares. Kirchhoff: no more at 50 Hz than the lines' sum."""
    answer, shown = asked("neutral-current", values)
    neutral, fundamental, third = (known(shown, name) for name in ("neutral", "fundamental", "third"))
    assert neutral == pytest.approx(math.hypot(fundamental, third), abs=0.15)
    assert fundamental <= sum(values[f"current_{n}"] for n in (1, 2, 3)) + 0.051
    assert known(shown, "needed") >= max(neutral, known(shown, "largest")) - 0.051
    over = any("overheats" in warning for warning in answer.warnings)
    largest = known(shown, "largest")
    if over and abs(largest - values["rating_a"]) > 0.06:
        unseen = any("no fuse or breaker" in warning for warning in answer.warnings)
        assert unseen == (largest < values["rating_a"])
    if neutral < 0.015 * largest:
        assert "this current goes home" not in " ".join(answer.summary)
    if abs(neutral - values["rating_a"]) > 0.06:
        assert over == (neutral > values["rating_a"])
    harmonics = {f"third_{n}": min(values[f"third_{n}"] + more, 100) for n in (1, 2, 3)}
    assert known(asked("neutral-current", values | harmonics)[1], "third") >= third - 0.051
    if third > fundamental + 0.11:
        assert "Most of it is third harmonic" in answer.summary[1]


# Touch voltage

touches = any_values(CALCULATORS["touch-voltage"])
ZONES = ("AC-1", "AC-2", "AC-3", "AC-4.1", "AC-4.2")


@COMMON
@given(values=touches, volts=st.floats(1, 500), ohms=st.floats(0, 100_000), seconds=st.floats(0.01, 10))
def test_more_volts_less_floor_and_longer_contact_are_never_milder(
    values: dict[str, Any], volts: float, ohms: float, seconds: float
) -> None:
    """Ohm's law, with a body whose ohms fall as its volts rise; and IEC 60479-1's lines fall with time."""

    def now(**changed: float) -> Any:
        all_ = values | changed
        return shock(
            all_["volts"], all_["floor_ohm"], all_["seconds"], all_["path"], all_["skin"],
            int(all_["percent"]), all_["edition"],
        )  # fmt: skip

    here = now()
    assert now(volts=max(volts, values["volts"])).body_ma >= here.body_ma * (1 - 1e-9)
    assert now(floor_ohm=min(ohms, values["floor_ohm"])).body_ma >= here.body_ma * (1 - 1e-9)
    longer = now(seconds=max(seconds, values["seconds"]))
    assert ZONES.index(longer.zone) >= ZONES.index(here.zone)
    assert 0 < here.body_volts <= values["volts"] * (1 + 1e-9)
    felt = [
        felt_volts(values["felt_ma"], values["floor_ohm"], values["path"], values["skin"], percent)
        for percent in (5, 50, 95)
    ]
    assert felt == sorted(felt)


@COMMON
@given(values=touches)
def test_the_words_of_a_shock_are_of_its_zone(values: dict[str, Any]) -> None:
    answer, _ = asked("touch-voltage", values)
    zone = re.search(r"zone (AC-[0-9.]+[0-9]|AC-[0-9])", answer.summary[0])
    assert zone is not None
    deadly = any("can kill" in warning for warning in answer.warnings)
    assert deadly == zone.group(1).startswith("AC-4")
    passed = {row.label[-2]: row.cells[2] == "passed" for row in answer.tables[2].rows}
    assert deadly == any(passed[line] for line in "12")
    if zone.group(1) == "AC-1":
        assert not any(passed.values())


# Two homes


@COMMON
@given(values=any_values(CALCULATORS["two-homes"], open="mains-pen", lifted=False))
def test_current_that_goes_by_the_other_line_is_not_said_to_go_through_the_ground(
    values: dict[str, Any],
) -> None:
    """Kirchhoff: what the ground carries is what the lines do not carry for each other."""
    said = asked("two-homes", values)[0].summary[0]
    both = values["our_load"] > 0 and values["next_load"] > 0
    crossed = both and values["our_phase"] != values["next_phase"]
    assert ("from one line through both homes" in said) == crossed


@COMMON
@given(values=any_values(CALCULATORS["two-homes"], open="next-service-pen", lifted=False, pipe_whole=True))
def test_all_is_said_of_a_pipe_only_where_the_pipe_has_it_all(values: dict[str, Any]) -> None:
    assume(values["next_load"] >= 0.5)
    answer, _ = asked("two-homes", values)
    said = answer.summary[0]
    tail = re.search(r"(?:all its|of its) ([0-9.]+) A", said)
    assert tail is not None
    if not values["pipe_in_soil"]:
        assert "all its" in said
    elif "all its" not in said:
        by_pipe = re.search(r"no more than ([0-9.]+) A", said)
        assert by_pipe is not None and float(by_pipe.group(1)) <= 0.97 * float(tail.group(1)) + 0.02


def test_a_pipe_of_many_ohms_in_wet_soil_is_no_way_home() -> None:
    """By Kirchhoff: of 8.57 A next door 0.01 A takes 1,000 ohm of pipe joints and the rest 1 ohm of soil."""
    given_ = {shape.name: shape.default for shape in CALCULATORS["two-homes"].inputs}
    wet = {"pipe_in_soil": True, "pipe_earth": 1.0, "joint_ohm": 1000.0}
    said = asked("two-homes", given_ | wet)[0].summary[0]
    assert "all its" not in said and "no more than 0.01 A" in said and "soil" in said


def test_a_pipe_of_poor_joints_does_show_an_open_pen() -> None:
    """By hand: 2.4 kW at 230 V is 22 ohm; 2.03 ohm of pipe past an open PEN: 9.5 A, 20 V on metalwork."""
    given_ = {shape.name: shape.default for shape in CALCULATORS["bonding"].inputs}
    said = " ".join(asked("bonding", given_ | {"joint_mohm": 500.0})[0].summary)
    assert "nothing showed it" not in said and "metalwork stood at 20 V" in said


def test_balanced_lines_are_not_said_to_send_current_home_by_pipes() -> None:
    level = {f"third_{n}": 0.0 for n in (1, 2, 3)} | {f"current_{n}": 40.0 for n in (1, 2, 3)}
    given_ = {shape.name: shape.default for shape in CALCULATORS["neutral-current"].inputs}
    said = asked("neutral-current", given_ | level)[0].summary[-1]
    assert "nothing shows it" in said


# Streets

STREETS = {"streets": {"terrace": terrace().to_data(), "overhead": overhead().to_data()}}


@settings(max_examples=25, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_what_is_said_of_harm_on_a_street_is_what_its_table_holds(seed: int) -> None:
    calculator = CALCULATORS["one-street"]
    values, problems = parse(calculator, any_raw(calculator, STREETS, random.Random(seed)), STREETS)
    assert not problems
    answer = calculator.run(values, STREETS)
    shown = figures(calculator, answer)
    assert all(value is not None and value >= 0 for value in shown.values())
    harmful = any(table.title == "What hurts as it stands" for table in answer.tables)
    assert any("nothing hurts anyone today" in said for said in answer.summary) != harmful
    if known(shown, "most_metalwork") > LIMITS["touch-volts"].value + 0.051:
        assert harmful


@settings(max_examples=15, deadline=None)
@given(seed=st.integers(0, 2**32))
def test_probabilities_of_places_are_shares_of_one_and_none_is_a_healthy_street(seed: int) -> None:
    calculator = CALCULATORS["locate"]
    values, problems = parse(calculator, any_raw(calculator, STREETS, random.Random(seed)), STREETS)
    assert not problems
    answer = calculator.run(values, STREETS)
    shares = [float(row.cells[0].split()[0]) for row in answer.tables[0].rows]
    assert shares == sorted(shares, reverse=True) and sum(shares) <= 100 + len(shares)
    assert not any("Healthy" in said for said in answer.summary)
