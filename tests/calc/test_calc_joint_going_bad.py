"""A joint of the PEN from good to open: against ngspice, by hand, and as it must move."""

from __future__ import annotations

import math
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
import spice
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.calculators import CALCULATORS, default_raw, parse
from calc.calculators.joint_going_bad import EARTH_MOVES_FROM_VOLTS, HOME, NEXT, joint_of, sound_street
from calc.circuit import Branch
from calc.instruments import read
from calc.street import load_ohm

CALCULATOR = CALCULATORS["joint-going-bad"]
OHMS = (0.001, 0.03, 0.3, 1.0, 10.0, 1000.0)


def values(**typed: str) -> dict[str, Any]:
    found, problems = parse(CALCULATOR, default_raw(CALCULATOR, {}) | typed, {})
    assert problems == {}
    return found


WAYS = {
    "service, pipe": {},
    "service, good pipe": {"pipe_ohm": "0"},
    "service, no pipe": {"pipe": "no"},
    "service, pipe in soil, same phase": {"soil": "yes", "next_phase": "L1"},
    "main, pipe": {"where": "main"},
    "main, pipe in soil, no load": {"where": "main", "soil": "yes", "load_kw": "0"},
}


@pytest.mark.outside
@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("ohm", [0.03, 1.0, 100.0, math.inf])
def test_agrees_with_ngspice(way: str, ohm: float, tmp_path: Path) -> None:
    """Source: ngspice, which solves the whole street with the joint in it. Within 1e-6 of the supply."""
    asked = values(**WAYS[way])
    joint, sound = joint_of(asked), sound_street(asked)
    bad = sound.opened(joint.conductor) if math.isinf(ohm) else sound.with_added_ohm(joint.conductor, ohm)
    loaded = bad.changed(Branch("switched load", f"{HOME}.L1", f"{HOME}.N", load_ohm(asked["switched_kw"])))
    ours, near, live, pairs, heat = [], [], [], [], []
    for name, network in (("rest", bad), ("loaded", loaded)):
        folder = tmp_path / name
        folder.mkdir()
        outside = spice.simulate(network.branches.values(), folder)
        ours.append(abs(outside.volts[f"{HOME}.L1"] - outside.volts[f"{HOME}.N"]))
        near.append(abs(outside.volts[f"{NEXT}.{asked['next_phase']}"] - outside.volts[f"{NEXT}.N"]))
        live.append(abs(outside.volts[f"{HOME}.MET"]))
        pairs.append(abs(outside.amperes[f"{HOME}/tail.N"] + outside.amperes[f"{HOME}/main_earth"]))
        heat.append(0.0 if math.isinf(ohm) else abs(outside.amperes[joint.conductor]) ** 2 * ohm)
    at = joint.at(ohm)
    assert at.home_volts == pytest.approx(ours, abs=2.4e-4)
    assert at.next_volts == pytest.approx(near, abs=2.4e-4)
    assert at.metalwork_volts == pytest.approx(live, abs=2.4e-4)
    assert at.heat_w == pytest.approx(heat, rel=1e-5, abs=1e-6)
    assert at.pair_a == pytest.approx(pairs, abs=1e-5)


@pytest.mark.parametrize("way", WAYS)
def test_the_loop_is_the_loop_testers(way: str) -> None:
    """The curves take two solutions; calc.instruments solves the street anew for each reading."""
    asked = values(**WAYS[way])
    joint = joint_of(asked)
    for ohm in OHMS:
        network = sound_street(asked).with_added_ohm(joint.conductor, ohm)
        shown = [read(network, HOME, "loop", ("line", point)).value for point in ("earth", "neutral")]
        rounded = [None if loop is None else round(loop, 2) for loop in joint.at(ohm).loop_ohm]
        assert rounded == pytest.approx(shown, abs=0.011), ohm


def test_heat_by_hand() -> None:
    """1 ohm and no pipe: 240 V across 22.04 ohm of heater, 105.8 ohm of home, 1 ohm: about 12.5 A, 156 W."""
    load = 1 / (2.4e3 / 230**2 + 0.5e3 / 230**2)
    amps = 240 / (load + 1)
    assert joint_of(values(pipe="no")).at(1.0).heat_w[1] == pytest.approx(amps**2, rel=0.02)


@settings(max_examples=25)
@given(st.floats(0.1, 18), st.floats(0.1, 12), st.booleans(), st.floats(1, 1000))
def test_worse_is_never_better(load: float, switched: float, pipe: bool, electrode: float) -> None:
    asked = values() | {"load_kw": load, "switched_kw": switched, "pipe": pipe, "electrode_ohm": electrode}
    sweep = [joint_of(asked).at(ohm) for ohm in (*OHMS, math.inf)]
    for good, bad in pairwise(sweep):
        assert bad.diverted >= good.diverted - 1e-9
        if not pipe:
            assert bad.home_volts[0] <= good.home_volts[0] + 1e-6
            assert bad.metalwork_volts[1] >= good.metalwork_volts[1] - 0.1


@settings(max_examples=25)
@given(st.floats(0.1, 18), st.booleans())
def test_an_open_service_carries_nothing(load: float, pipe: bool) -> None:
    at = joint_of(values() | {"load_kw": load, "pipe": pipe}).at(math.inf)
    assert at.pair_a == pytest.approx((0, 0), abs=1e-6)
    assert at.heat_w == (0, 0)
    if pipe:
        assert at.diverted == pytest.approx(1)


def test_no_pipe_past_the_break_is_live_metal() -> None:
    answer = CALCULATOR.run(values(open="yes", pipe="no"), {})
    assert any("can kill" in warning for warning in answer.warnings)


def test_a_pipe_hides_the_open_joint_and_the_answer_says_so() -> None:
    answer = CALCULATOR.run(values(open="yes", pipe_ohm="0"), {})
    assert "other metal carries the load" in " ".join(answer.summary)


def test_never_says_that_it_is_safe() -> None:
    for example in CALCULATOR.examples:
        answer = CALCULATOR.run(values(**example.values), {})
        assert " safe" not in " ".join((*answer.summary, *answer.warnings, answer.drawing))


def test_the_earth_moves_from_where_the_tree_has_it() -> None:
    tree = Path(__file__).parents[2] / "guide_src/trees/site/test-one-home.yaml"
    probe = yaml.safe_load(tree.read_text("utf-8"))["nodes"]["probe"]["ranges"]
    assert float(probe[0]["to"]) == EARTH_MOVES_FROM_VOLTS
    answer = CALCULATOR.run(values(joint_ohm="1", pipe="no"), {})
    assert "the earth moves" in " ".join(answer.summary)
    assert "the earth moves" not in " ".join(CALCULATOR.run(values(joint_ohm="0.3", pipe="no"), {}).summary)
