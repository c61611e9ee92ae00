"""The neutral of three lines: phasors by hand and in time, triplens, and the rating of the cable."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.balance import needed_rating, neutral_with_thirds, triplen_neutral_ratio
from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.calculators.neutral_current import CALCULATOR, fundamental, third_of_line

amps = st.floats(0, 500)
shares = st.floats(0, 1)
factors = st.floats(0, 1)


def asked(**typed: str) -> dict[str, Any]:
    data = json.dumps({"streets": {}})
    raw = default_raw(CALCULATORS[CALCULATOR.id], {"streets": {}}) | typed
    replied = json.loads(answer_json(CALCULATOR.id, json.dumps(raw), data))
    assert "ok" in replied, replied
    return replied["ok"]


def told(**typed: str) -> dict[str, str]:
    return {row["label"]: row["cells"][0] for row in asked(**typed)["tables"][0]["rows"]}


@given(currents=st.tuples(amps, amps, amps), pfs=st.tuples(factors, factors, factors), third=shares)
def test_the_neutral_is_the_sum_of_three_waves(
    currents: tuple[float, ...], pfs: tuple[float, ...], third: float
) -> None:
    """numpy: three currents with their third harmonic drawn in time, added, and their r.m.s. taken."""
    time = np.arange(720) * 2 * math.pi / 720
    waves, lines = np.zeros(720), []
    for number, (rms, pf) in enumerate(zip(currents, pfs, strict=True)):
        line = fundamental(rms, pf, False, third)
        turn = -2 * math.pi * number / 3
        waves += math.sqrt(2) * abs(line) * np.cos(time - math.acos(pf) + turn)
        waves += math.sqrt(2) * abs(line) * third * np.cos(3 * (time + turn))
        lines.append(line)
    neutral = neutral_with_thirds(lines, [third] * 3)
    assert neutral.rms_a == pytest.approx(float(np.sqrt(np.mean(waves**2))), abs=1e-6)


@given(rms=st.floats(0.1, 500), third=shares)
def test_equal_loads_have_triplens_alone(rms: float, third: float) -> None:
    lines = [fundamental(rms, 1, False, third)] * 3
    neutral = neutral_with_thirds(lines, [third] * 3)
    assert abs(neutral.fundamental_a) < 1e-9 * rms
    assert neutral.rms_a == pytest.approx(rms * triplen_neutral_ratio(third), abs=1e-9 * rms)


@given(line=st.floats(0, 500), third=shares, more=st.floats(0, 0.5))
def test_a_clamp_sees_what_was_put_in(line: float, third: float, more: float) -> None:
    current = fundamental(line, 0.7, True, third)
    assert math.hypot(abs(current), abs(current) * third) == pytest.approx(line)
    assert current.imag >= 0
    assert third_of_line(third + more) >= third_of_line(third)
    assert third_of_line(third) <= third


@given(line=st.floats(1, 500), third=st.floats(0, 1))
def test_the_cable_is_never_less_than_its_loads(line: float, third: float) -> None:
    needed, factor, decides = needed_rating(line, third)
    assert needed >= line * 0.999 and needed >= 3 * third * line * (0.999 if decides == "neutral" else 0)
    assert factor in (0.86, 1.0)


@pytest.mark.parametrize("bad", ((-1, 0.2), (10, -0.1), (math.inf, 0), (math.nan, 0)))
def test_what_cannot_be_is_refused(bad: tuple[float, float]) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        needed_rating(*bad)
    with pytest.raises(ValueError, match="0 or more"):
        neutral_with_thirds([1, 1, 1], [0, 0, -0.1])


def test_the_page_agrees_with_the_handbooks() -> None:
    """BSRIA AG 2/2000: 70 % is 172 %. Circuit forum: 4.55 A. BS 7671 A722.1: 80, 20, 20 A is 60 A."""
    even = {f"{what}_{n}": size for n in (1, 2, 3) for what, size in (("current", "100"), ("third", "70"))}
    assert told(**even)["Current in the neutral, r.m.s."] == "172.0 A"
    plain = {f"third_{n}": "0" for n in (1, 2, 3)}
    forum = {"current_1": "10", "current_2": "9", "current_3": "8", "pf_2": "0.9", "pf_3": "0.8"}
    assert told(**plain, **forum)["Current in the neutral, r.m.s."] == "4.5 A"
    charging = {"current_1": "80", "current_2": "20", "current_3": "20"}
    assert told(**plain, **charging)["Current in the neutral, r.m.s."] == "60.0 A"


def test_an_overloaded_neutral_is_a_warning() -> None:
    even = {f"{what}_{n}": size for n in (1, 2, 3) for what, size in (("current", "40"), ("third", "70"))}
    assert "rated 63.0 A" in asked(**even)["warnings"][0]
    assert asked()["warnings"] == []
    third = {f"{what}_{n}": size for n in (1, 2, 3) for what, size in (("current", "60"), ("third", "25"))}
    assert "for three" in asked(**third)["warnings"][0]


def test_nothing_on_is_told() -> None:
    off = {f"current_{n}": "0" for n in (1, 2, 3)}
    assert asked(**off)["summary"] == ["Nothing is switched on, and the neutral carries nothing."]


def test_leading_and_lagging_are_not_one() -> None:
    lag = {"pf_2": "0.8", "third_1": "0", "third_2": "0", "third_3": "0"}
    assert told(**lag)["Of it at 50 Hz"] != told(**lag, way_2="leads")["Of it at 50 Hz"]
