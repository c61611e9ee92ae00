"""Bonding: sizes, resistances, and the volts across a cut pipe, the last by ngspice too."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import spice
from hypothesis import given
from hypothesis import strategies as st

from calc.cable_names import cable_name, pipe_name
from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.calculators.bonding import (
    CALCULATOR,
    across_cut,
    bond_ohm,
    copper_equivalent_mm2,
    cut_branches,
    not_pme_bond_mm2,
    pipe_run_ohm,
    pipe_share,
)
from calc.circuit import OPEN, solve
from calc.conductor import CABLES, PIPES
from calc.limits import main_bond_mm2


def asked(**typed: str) -> dict[str, Any]:
    data = json.dumps({"streets": {}})
    raw = default_raw(CALCULATORS[CALCULATOR.id], {"streets": {}}) | typed
    replied = json.loads(answer_json(CALCULATOR.id, json.dumps(raw), data))
    assert "ok" in replied, replied
    return replied["ok"]


STATES = {
    "PEN whole, pipe whole": (0j, 0.03 + 0.001j),
    "PEN whole, pipe cut": (OPEN, 0.03 + 0.001j),
    "PEN open, pipe cut": (OPEN, OPEN),
    "PEN open, temporary bond": (0.0035 + 0j, OPEN),
}


def branches(cut: complex, pen: complex, load_kw: float = 2.4) -> list[Any]:
    return cut_branches(cut, pen, 0.017, 0.017, load_kw, 230, 1)


@pytest.mark.outside
@pytest.mark.parametrize("state", STATES)
def test_the_cut_agrees_with_ngspice(state: str, tmp_path: Path) -> None:
    circuit = branches(*STATES[state])
    outside, ours = spice.simulate(circuit, tmp_path), across_cut(circuit)
    across = abs(outside.volts["cut.near"] - outside.volts["cut.far"])
    assert ours.volts == pytest.approx(across, abs=1e-7)
    assert ours.metalwork_volts == pytest.approx(abs(outside.volts["home"]), abs=1e-6)
    assert ours.pipe_a == pytest.approx(abs(outside.amperes["near"]), abs=1e-6)


def test_hand_worked_cuts() -> None:
    """2.4 kW at 230 V is 22.04 ohm. PEN whole: the cut has the PEN's own drop, 10.4 A x 0.03 ohm. PEN open:
    the whole 230 V behind the load and over the star point, less what the dry building's megohm takes. Bond:
    current times bond."""
    load = 230**2 / 2400
    whole = across_cut(branches(OPEN, 0.03))
    assert whole.volts == pytest.approx(230 / (load + 0.02 + 0.03) * 0.03, rel=1e-6)
    lost = across_cut(branches(OPEN, OPEN))
    assert lost.volts == pytest.approx(230 * (1e6 + 1) / (1e6 + load + 1.02), rel=1e-7)
    bonded = across_cut(branches(0.0035, OPEN))
    current = 230 / (load + 0.02 + 0.017 + 0.0035 + 0.017 + 0.02)
    assert bonded.volts == pytest.approx(current * 0.0035, rel=1e-4)
    assert bonded.pipe_a == pytest.approx(current, rel=1e-4)


@given(load=st.floats(0.1, 50), bond=st.floats(1e-4, 0.1))
def test_a_temporary_bond_takes_the_volts_away(load: float, bond: float) -> None:
    cut, bonded = across_cut(branches(OPEN, OPEN, load)), across_cut(branches(bond, OPEN, load))
    assert cut.volts > 200
    assert bonded.volts < 0.25 * cut.volts
    assert bonded.volts <= 230 * bond / (230**2 / (load * 1000))


@given(smaller=st.floats(1, 400), more=st.floats(0, 400))
def test_a_larger_pen_never_needs_a_smaller_bond(smaller: float, more: float) -> None:
    assert main_bond_mm2(smaller) <= main_bond_mm2(smaller + more)
    assert not_pme_bond_mm2(smaller) <= not_pme_bond_mm2(smaller + more)
    assert 6 <= not_pme_bond_mm2(smaller) <= 25


@given(size=st.floats(1, 400))
def test_aluminium_counts_for_less_than_its_size(size: float) -> None:
    assert copper_equivalent_mm2("copper", size) == size
    assert 0.6 * size < copper_equivalent_mm2("aluminium", size) < 0.62 * size


@given(pen=st.floats(1e-4, 10), pipe=st.floats(1e-4, 10))
def test_shares_of_pen_and_pipe_come_to_all(pen: float, pipe: float) -> None:
    assert pipe_share(pen, pipe) + pipe_share(pipe, pen) == pytest.approx(1)
    branches = cut_branches(0j, pen, pipe / 2, pipe / 2, 2.4, 230, 1)
    solution = solve(branches)
    through = abs(solution.current("near") / solution.current("load"))
    # The neighbour's own PEN, 0.02 ohm, is in the pipe's way there.
    assert through == pytest.approx(pipe_share(pen, pipe + 0.02), rel=1e-3)


def test_a_pipe_run_adds_up() -> None:
    assert pipe_run_ohm("copper-22", 0, 5, 0.1) == pytest.approx(0.5)
    assert pipe_run_ohm("copper-22", 20, 0, 0.1) == pytest.approx(2 * pipe_run_ohm("copper-22", 10, 0, 0.1))
    assert pipe_run_ohm("copper-15", 10, 0, 0) > pipe_run_ohm("copper-28", 10, 0, 0)
    with pytest.raises(ValueError, match="no pipe called"):
        pipe_run_ohm("hose", 1, 0, 0)
    with pytest.raises(ValueError, match="no copper conductor"):
        bond_ohm(11, 1)


def test_what_is_told() -> None:
    small = asked(pen_metal="aluminium", pen_mm2="185")
    assert "35 mm² of copper" in small["summary"][0] and "too small" in small["summary"][0]
    assert any("smaller than the table" in warning for warning in small["warnings"])
    assert any("can kill" in warning for warning in small["warnings"])
    assert "not PME" in asked(pme="no")["summary"][0]
    assert "until somebody switches something on" in asked(load_kw="0")["summary"][-1]


def test_no_sentence_calls_a_cut_safe() -> None:
    for typed in ({}, {"load_kw": "0"}, {"load_kw": "50"}, {"joint_mohm": "100000"}):
        said = " ".join(str(part) for part in asked(**typed).values())
        assert " safe" not in said


def test_every_cable_and_pipe_has_a_name_of_its_own() -> None:
    names = [cable_name(key) for key in CABLES] + [pipe_name(key) for key in PIPES]
    assert len(set(names)) == len(names)
