"""Bounds of a share are Clopper and Pearson's: at each of them what was counted is as rare as is said."""

from __future__ import annotations

from math import comb

import pytest
from scipy.stats import binomtest

from build_tools.proof.binomial import bounds, is_beyond


def chance_of_at_most(happened: int, asked: int, share: float) -> float:
    """By the definition of the binomial distribution."""
    return sum(comb(asked, k) * share**k * (1 - share) ** (asked - k) for k in range(happened + 1))


@pytest.mark.parametrize(
    ("asked", "happened"), [(1, 0), (1, 1), (10, 1), (10, 5), (20, 19), (60, 3), (60, 57)]
)
@pytest.mark.parametrize("tail", [0.05, 0.025, 0.2])
def test_at_each_bound_what_was_counted_is_that_rare(asked: int, happened: int, tail: float) -> None:
    low, high = bounds(asked, happened, tail)
    assert low < happened / asked or happened == 0
    assert high > happened / asked or happened == asked
    if happened < asked:
        assert chance_of_at_most(happened, asked, high) == pytest.approx(tail)
    if happened:
        assert 1 - chance_of_at_most(happened - 1, asked, low) == pytest.approx(tail)


@pytest.mark.parametrize(("asked", "happened"), [(7, 0), (7, 7), (10, 1), (5000, 3), (5000, 4990)])
def test_agrees_with_scipy(asked: int, happened: int) -> None:
    published = binomtest(happened, asked).proportion_ci(0.95, "exact")
    assert bounds(asked, happened, 0.025) == pytest.approx((published.low, published.high))


def test_agrees_with_the_printed_table() -> None:
    """Exact 95 % limits of 5 in 10 and 0 in 10, as tables print them: 18.7 to 81.3 %, 0 to 30.8 %
    (from memory)."""
    assert bounds(10, 5, 0.025) == pytest.approx((0.187, 0.813), abs=5e-4)
    assert bounds(10, 0, 0.025) == pytest.approx((0, 0.308), abs=5e-4)


def test_nothing_and_everything_have_one_bound() -> None:
    """The rule of three (its exact form): none in n leaves up to 1 - 0.05^(1/n) open."""
    assert bounds(3000, 0, 0.05) == pytest.approx((0.0, 1 - 0.05 ** (1 / 3000)))
    assert bounds(3000, 3000, 0.05) == pytest.approx((0.05 ** (1 / 3000), 1.0))


@pytest.mark.parametrize(("asked", "happened"), [(1, 0), (1, 1), (10, 1), (10, 5), (60, 57)])
@pytest.mark.parametrize("tail", [0.05, 0.2])
def test_beyond_is_outside_of_either_bound(asked: int, happened: int, tail: float) -> None:
    """Nothing lies below a bound of 0, nor above one of 1."""
    low, high = bounds(asked, happened, tail)
    shares = (low * 0.999, low * 1.001, high * 0.999, min(high * 1.001, 1.0))
    told = [is_beyond(share, asked, happened, tail) for share in shares]
    assert told == [happened > 0, False, False, happened < asked]


def test_of_weighed_streets_a_half_one_counts() -> None:
    """One half of a street in one and a half: nearer to a share of a third than to all or nothing."""
    assert not is_beyond(1 / 3, 1.5, 0.5, 0.05)
    assert is_beyond(0.999, 1.5, 0.5, 0.05) and is_beyond(1e-5, 1.5, 0.5, 0.05)
