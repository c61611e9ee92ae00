"""The same words for one number and for an array of many."""

from __future__ import annotations

import math

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from calc.circuit import OPEN, OPENED_OHM, Branch
from calc.instruments import INSTRUMENTS
from calc.many import every, is_many, rounded, some, where

FIGURES = st.lists(st.floats(0, 1500), min_size=1, max_size=20)


@given(FIGURES)
def test_many_are_rounded_and_parted_as_each_alone(figures: list[float]) -> None:
    array = np.array(figures)
    assert where(array > 50, array, -1.0).tolist() == [where(each > 50, each, -1.0) for each in figures]
    assert rounded(array).tolist() == [rounded(each) for each in figures]
    assert some(array > 50) == any(some(each > 50) for each in figures)
    assert every(array > 50) == all(every(each > 50) for each in figures)


@given(st.sampled_from(list(INSTRUMENTS.values())), FIGURES)
def test_an_instrument_shows_many_values_as_each_alone(instrument: object, figures: list[float]) -> None:
    assert instrument.figure(np.array(figures)).tolist() == [instrument.figure(each) for each in figures]


def test_words_are_parted_too() -> None:
    assert where(np.array([True, False]), "yes", "no").tolist() == ["yes", "no"]
    assert where(np.bool_(True), "yes", "no") == "yes"
    assert not is_many(np.float64(1)) and is_many(np.zeros(1))


def test_a_conductor_opens_in_one_circuit_or_in_some_of_a_batch() -> None:
    whole = Branch("tail", "a", "b", 2 + 1j)
    assert whole.opened().impedance == OPEN and whole.opened().is_open is True
    assert not whole.is_open and not Branch("join", "a", "b", 0j).is_open
    some_open = whole.opened(np.array([False, True]))
    assert some_open.impedance.tolist() == [2 + 1j, OPENED_OHM]
    assert some_open.is_open.tolist() == [False, True]
    assert math.isfinite(abs(some_open.impedance).max())
