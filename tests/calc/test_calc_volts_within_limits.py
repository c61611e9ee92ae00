"""Volts against the permitted band: held to the site tree, and what each side says."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import pytest
import spice
import yaml
from hypothesis import given
from hypothesis import strategies as st

from calc.calculators import CALCULATORS, default_raw, parse
from calc.calculators.lost_neutral import lost
from calc.calculators.volts_within_limits import band, joint_adds, judge, side_of
from calc.circuit import EARTH, Branch, solve
from calc.limits import LIMITS

TREE = Path(__file__).parents[2] / "guide_src/trees/site/test-one-home.yaml"
CALCULATOR = CALCULATORS["volts-within-limits"]
SIDES = ("dead", "low", "within", "high", "beyond")
HOMES, MOVES, FLOWS = (tuple(value for value, _ in CALCULATOR.inputs[place].options) for place in (1, 2, 3))


def answered(**typed: str) -> Any:
    values, problems = parse(CALCULATOR, default_raw(CALCULATOR, {}) | typed, {})
    assert problems == {}
    return CALCULATOR.run(values, {})


def test_the_limits_are_those_of_the_tree() -> None:
    ranges = yaml.safe_load(TREE.read_text("utf-8"))["nodes"]["volts"]["ranges"]
    dead, low, high = (float(each["from"]) for each in ranges[1:])
    assert [side_of(dead - 0.1), side_of(dead)] == ["dead", "low"]
    assert [side_of(low - 0.1), side_of(low)] == ["low", "within"]
    assert [side_of(high - 0.1), side_of(high + 0.1)] == ["within", "high"]


def test_the_band_is_the_declared_volts_less_6_and_plus_10_percent() -> None:
    """Source: the regulations quoted in calc.limits."""
    ends = [LIMITS[name].value for name in ("volts-low", "volts-high")]
    assert band(LIMITS["declared-volts"].value, 6, 10) == pytest.approx(ends)


@given(st.floats(0, 1000), st.floats(0, 1000))
def test_sides_follow_each_other(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert SIDES.index(side_of(low)) <= SIDES.index(side_of(high))


@given(st.floats(0, 30), st.floats(0, 30), st.floats(0, 30))
def test_no_lost_neutral_is_called_beyond(one: float, two: float, three: float) -> None:
    """At the highest permitted volts, whatever the loads."""
    now = lost(LIMITS["volts-high"].value, (one, two, three), None, 1)
    assert "beyond" not in [side_of(volts - 1e-6) for volts in now.volts]


def test_every_case_has_its_words_and_someone_to_tell() -> None:
    for case in itertools.product(SIDES, HOMES, MOVES, FLOWS):
        judgement = judge(*case)
        assert judgement.meaning.endswith(".") and judgement.homes.endswith("."), case
        assert judgement.tell, case


def test_outside_the_band_is_told_now_whatever_else_is_said() -> None:
    for case in itertools.product(("dead", "low", "high", "beyond"), HOMES, MOVES, FLOWS):
        assert judge(*case).soon == "now"
    for side, moves, flow in itertools.product(SIDES, MOVES, FLOWS):
        assert judge(side, "opposite", moves, flow).soon == "now"


def test_usual_volts_never_clear_a_home() -> None:
    for homes in ("one", "same", "unknown"):
        for moves in ("steady", "unknown"):
            judgement = judge("within", homes, moves)
            assert "nothing of the PEN" in judgement.meaning and "No home is cleared" in judgement.homes
        for moves in ("own", "others"):
            assert judge("within", homes, moves).soon != "not for this"


@pytest.mark.parametrize("volts", ["253.5", "252", "215.9", "217"])
def test_near_a_limit_the_worse_side_is_taken(volts: str) -> None:
    answer = answered(volts=volts)
    assert "does not tell" in answer.summary[1]
    assert "The control room, now" in answer.summary[-2]


def test_a_sharp_meter_tells() -> None:
    assert "does not tell" not in " ".join(answered(volts="252", error_percent="0", error_v="0").summary)


@pytest.mark.parametrize("volts", ["0", "1000"])
def test_the_point_stays_on_the_scale(volts: str) -> None:
    assert "NaN" not in answered(volts=volts).drawing


def test_no_volts_is_never_called_dead_metal() -> None:
    assert any("not dead" in warning for warning in answered(volts="0").warnings)


# A home that feeds in


def fed(amps: float, joint_ohm: float) -> list[Branch]:
    """A home on 240 V behind 0.1 ohm and a joint, and what it feeds in (draws, below 0) as a source."""
    return [
        Branch("supply", EARTH, "main", 0.1, 240),
        Branch("joint", "main", "home", joint_ohm),
        Branch("inverter", EARTH, "home", 1e7, amps * 1e7),
    ]


@pytest.mark.outside
@pytest.mark.parametrize(("way", "amps"), [("feeds", 16.0), ("draws", 16.0)])
def test_what_a_joint_adds_agrees_with_ngspice(way: Any, amps: float, tmp_path: Path) -> None:
    """240 V behind 0.1 ohm, 16 A and a joint of 1 ohm: 257.6 V fed in, 222.4 V drawn."""
    signed = amps if way == "feeds" else -amps
    outside = abs(spice.simulate(fed(signed, 1.0), tmp_path).volts["home"])
    sound = abs(solve(fed(signed, 1e-6)).potential("home"))
    assert outside == pytest.approx(240 + 1.1 * signed, abs=0.01)
    assert outside - sound == pytest.approx(joint_adds(way, amps, 1.0), abs=0.01)


@given(amps=st.floats(0, 100), joint=st.floats(0.001, 10))
def test_feeding_in_raises_and_drawing_lowers(amps: float, joint: float) -> None:
    """The law of the circuit, against the circuit itself."""
    for way, signed in (("feeds", amps), ("draws", -amps)):
        with_it, without = (abs(solve(fed(signed, ohm)).potential("home")) for ohm in (joint, 1e-9))
        if signed > -240 / (joint + 0.1):  # a home cannot draw more than there is
            assert with_it - without == pytest.approx(joint_adds(way, amps, joint), abs=0.02)  # type: ignore[arg-type]


def test_16_a_fed_in_over_1_ohm_is_told_as_its_own_joint() -> None:
    answer = answered(volts="257.6", homes="one", moves="own", flow="feeds")
    said = " ".join(answer.summary)
    assert "257.6 V is too high" in said and "raises its own volts" in said and "not ruled out" in said
    assert "add 16.0 V; without that joint there would be 241.6 V" in said
    assert "cannot raise" not in said and "feed-in on and off" in said
    assert any("let go by itself above 253 V" in warning for warning in answer.warnings)


def test_no_words_deny_that_a_home_that_may_feed_in_raises_its_volts() -> None:
    for homes, moves, flow in itertools.product(HOMES, MOVES, FLOWS):
        meaning = judge("high", homes, moves, flow).meaning
        denied = "not up" in meaning or "cannot" in meaning
        assert not denied or (flow == "draws" and moves == "own"), (homes, moves, flow)
        if flow == "feeds" and homes != "opposite":
            assert "feeds in" in meaning


def test_low_volts_where_the_home_feeds_in_are_not_put_down_to_its_own_joint() -> None:
    judgement = judge("low", "one", "own", "feeds")
    assert "Look past the home" in judgement.meaning and judgement.soon == "now"


@given(volts=st.floats(0, 1000), amps=st.floats(0, 100), joint=st.floats(0, 10), flow=st.sampled_from(FLOWS))
def test_the_joint_and_the_volts_without_it_add_up(
    volts: float, amps: float, joint: float, flow: str
) -> None:
    answer = answered(volts=repr(volts), current_a=repr(amps), joint_ohm=repr(joint), flow=flow)
    rows = {row.label: row.cells[0] for row in answer.tables[0].rows}
    adds, without = rows["A joint as bad as asked adds (or takes)"], rows["Volts without such a joint"]
    assert (adds == "–") == (flow == "unknown")
    if without != "–":
        sizes = [float(shown.split()[0].replace("−", "-")) for shown in (adds, without)]
        assert sum(sizes) == pytest.approx(volts, abs=0.11) and sizes[1] >= 0
