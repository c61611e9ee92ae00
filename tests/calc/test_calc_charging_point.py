"""A charging point on PME: against ngspice, by hand, and as electrode and loads must move it."""

from __future__ import annotations

import json
import math
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
import spice
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from calc.balance import phase_emfs
from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.calculators.charging_point import CALCULATOR, open_pen
from calc.circuit import Branch

currents = st.one_of(st.lists(st.floats(1, 400), min_size=1, max_size=1), st.lists(
    st.one_of(st.just(0.0), st.floats(1, 400)), min_size=3, max_size=3))  # fmt: skip
electrodes = st.floats(0.1, 1000)
factors = st.floats(1, 1.1)


def asked(**typed: str) -> dict[str, Any]:
    raw = default_raw(CALCULATORS[CALCULATOR.id], {}) | typed
    replied = json.loads(answer_json(CALCULATOR.id, json.dumps(raw), "{}"))
    assert "ok" in replied, replied
    return replied["ok"]


def told(**typed: str) -> dict[str, list[str]]:
    return {row["label"]: row["cells"] for row in asked(**typed)["tables"][0]["rows"]}


@pytest.mark.outside
@pytest.mark.parametrize("loads", [(40,), (32, 0, 0), (80, 20, 20), (100, 75, 50), (0, 16, 32)])
@pytest.mark.parametrize("ohm", [0.5, 2.2, 20.0, 500.0])
def test_agrees_with_ngspice(loads: Sequence[float], ohm: float, tmp_path: Path) -> None:
    """Source: ngspice, which solves the loads, the broken PEN and the electrode as a circuit."""
    branches = [Branch("electrode", "metalwork", "earth", ohm)]
    for n, (emf, load) in enumerate(zip(phase_emfs(253), loads, strict=False), 1):
        branches.append(Branch(f"source {n}", "earth", f"L{n}", 1e-9, emf))
        if load:
            branches.append(Branch(f"load {n}", f"L{n}", "metalwork", 230 / load))
    solved, now = spice.simulate(branches, tmp_path), open_pen(loads, ohm, 1.1)
    assert now.touch_volts == pytest.approx(abs(solved.volts["metalwork"]), abs=1e-5)
    assert now.electrode_a == pytest.approx(abs(solved.amperes["electrode"]), abs=1e-5)
    lines = [abs(solved.volts[f"L{n}"] - solved.volts["metalwork"]) for n in range(1, len(loads) + 1)]
    assert now.line_volts == pytest.approx(lines, abs=1e-5)


@given(loads=currents, cmax=factors)
def test_the_largest_electrode_keeps_70_volts_and_no_larger_one_does(loads: list[float], cmax: float) -> None:
    assume(any(loads))
    largest = open_pen(loads, cmax=cmax).largest_ohm
    if math.isinf(largest):
        assert open_pen(loads, cmax=cmax).bare_volts <= 70 + 1e-9
    else:
        assert open_pen(loads, largest, cmax).touch_volts == pytest.approx(70)
        assert open_pen(loads, largest * 1.01, cmax).touch_volts > 70


@given(loads=currents, ohm=electrodes, more=st.floats(1, 10), cmax=factors)
def test_more_ohms_more_volts(loads: list[float], ohm: float, more: float, cmax: float) -> None:
    assume(any(loads))
    now, then = (open_pen(loads, each, cmax).touch_volts for each in (ohm, ohm * more))
    assert now <= then * (1 + 1e-9) + 1e-9
    assert then <= open_pen(loads, cmax=cmax).bare_volts * (1 + 1e-9) + 1e-9


@given(loads=st.lists(st.floats(1, 400), min_size=3, max_size=3), off=st.integers(1, 6), cmax=factors)
def test_the_fullest_phase_alone_asks_most(loads: list[float], off: int, cmax: float) -> None:
    """No set of phases that are on wants an electrode of fewer ohms than the fullest alone does."""
    some = [0.0 if off >> n & 1 else load for n, load in enumerate(loads)]
    assert open_pen([max(loads)], cmax=cmax).largest_ohm <= open_pen(some, cmax=cmax).largest_ohm * (1 + 1e-9)


def test_the_page_agrees_with_the_regulation() -> None:
    """BS 7671 A722 (from memory): 32 A, 70 x 230/(32 x (253 - 70)) = 2.75 ohm; In of 80, 20, 20 A is 60 A."""
    single = told(l1_a="32")
    assert single["Largest electrode for these loads (a dash: any)"][0] == "2.75 Ω"
    assert single["Metalwork, PEN open and no electrode"][0] == "253.0 V"
    three = told(phases="three", l1_a="80", l2_a="20", l3_a="20")
    assert three["Neutral current, PEN whole"][0] == "60.0 A"
    assert three["Largest electrode for these loads (a dash: any)"][0] == "2.37 Ω"
    assert three["Largest electrode, the fullest phase alone"][0] == "1.10 Ω"


def test_any_will_do_is_told_with_its_condition() -> None:
    answer = asked(phases="three", l1_a="100", l2_a="75", l3_a="50", electrode="no")
    assert "any electrode will do" in answer["summary"][0] and "these loads alone" in answer["summary"][0]
    assert "0.88 Ω" in answer["summary"][1]
    assert answer["tables"][0]["rows"][0]["cells"][0] == "–"
    assert answer["tables"][0]["rows"][2]["cells"][:1] == ["48.7 V"]  # 44.26 V by hand at 230 V, times 1.1


def test_single_phase_takes_no_notice_of_other_lines() -> None:
    assert asked(l2_a="0", l3_a="300") == asked()


def test_dangers_are_warned_of() -> None:
    assert "can kill" in asked()["warnings"][0]
    assert any("would not open" in warning for warning in asked(electrode_ohm="1")["warnings"])
    assert not any("can kill" in warning for warning in asked(electrode_ohm="1")["warnings"])


@settings(max_examples=30)
@given(ohm=electrodes)
def test_the_point_is_on_the_curve_and_told(ohm: float) -> None:
    typed = f"{ohm:.1f}"
    drawing = asked(electrode_ohm=typed)["drawing"]
    by_hand = 253 * float(typed) / (float(typed) + 230 / 40)
    assert f"the electrode there is: {typed} Ω, {by_hand:.0f} V" in drawing
