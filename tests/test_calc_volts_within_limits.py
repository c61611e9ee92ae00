"""Volts against the permitted band: held to the site tree, and what each side says."""

from __future__ import annotations

import itertools
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st

from calc.calculators import CALCULATORS, default_raw, parse
from calc.calculators.lost_neutral import lost
from calc.calculators.volts_within_limits import band, judge, side_of
from calc.limits import LIMITS

TREE = Path(__file__).parents[1] / "guide_src/trees/site/test-one-home.yaml"
CALCULATOR = CALCULATORS["volts-within-limits"]
SIDES = ("dead", "low", "within", "high", "beyond")
HOMES, MOVES = (tuple(value for value, _ in CALCULATOR.inputs[place].options) for place in (1, 2))


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
    for case in itertools.product(SIDES, HOMES, MOVES):
        judgement = judge(*case)
        assert judgement.meaning.endswith(".") and judgement.homes.endswith("."), case
        assert judgement.tell, case


def test_outside_the_band_is_told_now_whatever_else_is_said() -> None:
    for side, homes, moves in itertools.product(("dead", "low", "high", "beyond"), HOMES, MOVES):
        assert judge(side, homes, moves).soon == "now"
    for side, moves in itertools.product(SIDES, MOVES):
        assert judge(side, "opposite", moves).soon == "now"


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
    assert "The control room, now" in answer.summary[-1]


def test_a_sharp_meter_tells() -> None:
    assert "does not tell" not in " ".join(answered(volts="252", error_percent="0", error_v="0").summary)


@pytest.mark.parametrize("volts", ["0", "1000"])
def test_the_point_stays_on_the_scale(volts: str) -> None:
    assert "NaN" not in answered(volts=volts).drawing


def test_no_volts_is_never_called_dead_metal() -> None:
    assert any("not dead" in warning for warning in answered(volts="0").warnings)
