"""What a branch is, and what it cannot be, whatever the angle of its figures."""

from __future__ import annotations

import cmath
import math

import numpy as np
import pytest

from calc.circuit import OPEN, OPENED_OHM, Branch, CircuitError, solve

ENDLESS = (math.inf, -math.inf, complex(0, math.inf), complex(0, -math.inf), complex(3, math.inf))
NOT_NUMBERS = (math.nan, complex(0, math.nan), complex(math.nan, 1))


@pytest.mark.parametrize("emf", ENDLESS)
def test_an_emf_without_end_is_refused(emf: complex) -> None:
    with pytest.raises(CircuitError, match="source: emf must be finite"):
        Branch("source", "earth", "line", 1, emf)


@pytest.mark.parametrize("value", NOT_NUMBERS)
def test_what_is_not_a_number_is_refused(value: complex) -> None:
    with pytest.raises(CircuitError, match="load: impedance is not a number"):
        Branch("load", "a", "b", value)
    with pytest.raises(CircuitError, match="load: emf is not a number"):
        Branch("load", "a", "b", 1, value)
    with pytest.raises(CircuitError, match="load: impedance is not a number"):
        Branch("load", "a", "b", np.array([1, value]))


@pytest.mark.parametrize("impedance", [-1, -1 + 5j, np.array([1, -1e-9])])
def test_a_resistance_below_zero_is_refused(impedance: object) -> None:
    with pytest.raises(CircuitError, match="load: resistance is below zero"):
        Branch("load", "a", "b", impedance)


@pytest.mark.parametrize("impedance", [np.array([1, 0]), np.array([1, np.inf])])
def test_a_batch_neither_joins_nor_opens_in_some(impedance: object) -> None:
    with pytest.raises(CircuitError, match="joins or is open in every circuit of a batch or in none"):
        Branch("tail", "a", "b", impedance)


@pytest.mark.parametrize("emf", [1, 1j, -1, np.array([0, 1])])
def test_an_ideal_join_drives_nothing(emf: object) -> None:
    with pytest.raises(CircuitError, match="a source needs an impedance above 0 ohm"):
        Branch("join", "a", "b", 0, emf)


@pytest.mark.parametrize("impedance", [OPEN, math.inf, complex(0, math.inf), complex(math.inf, -3)])
def test_whatever_is_endless_is_open(impedance: complex) -> None:
    branch = Branch("gap", "a", "b", impedance)
    assert branch.is_open and branch.admittance == 0
    circuit = solve([Branch("source", "earth", "a", 1, 10), Branch("load", "a", "earth", 4), branch,
                     Branch("far", "b", "earth", 5)])  # fmt: skip
    assert circuit.current("gap") == 0
    assert circuit.volts("a", "earth") == pytest.approx(8)


@pytest.mark.parametrize("degrees", [-89, -45, 0, 30, 89])
def test_admittance_is_what_is_left_of_one_volt(degrees: float) -> None:
    impedance = cmath.rect(7, math.radians(degrees))
    branch = Branch("load", "a", "b", impedance)
    assert branch.admittance * impedance == pytest.approx(1)
    assert branch.tie == ("a", "b", False) and Branch("join", "a", "b").tie == ("a", "b", True)


def test_far_insulation_is_no_gap() -> None:
    assert not Branch("insulation", "a", "b", 1e15).is_open
    assert Branch("gap", "a", "b", np.array([OPENED_OHM, 1e15])).is_open.tolist() == [True, False]


def test_branches_are_alike_by_what_they_are() -> None:
    assert Branch("load", "a", "b", 2, 1) == Branch("load", "a", "b", 2, 1)
    assert Branch("load", "a", "b", 2) != Branch("load", "a", "b", 3)
    assert "admittance" not in repr(Branch("load", "a", "b", 2))


def test_a_current_driven_alone_meets_silent_sources() -> None:
    """2 A into 1 ohm beside 4 ohm: 1.6 V, of which the source's branch takes 1.6 A and the load 0.4 A."""
    circuit = solve([Branch("source", "earth", "a", 1, 10), Branch("load", "a", "earth", 4)])
    alone = circuit.driven("earth", "a", 2)
    assert alone.potential("a") == pytest.approx(1.6)
    assert (alone.current("source"), alone.current("load")) == (pytest.approx(-1.6), pytest.approx(0.4))
    assert circuit.current("source") == pytest.approx(2)  # and the circuit itself is as it was
