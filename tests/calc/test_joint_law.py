"""Joints are bad as often and for as long as stated, forget their past, and are alike for arrays."""

from __future__ import annotations

import math
import random
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from scipy import stats

from calc.joint_law import JointLaw, Now

NOW_AND_THEN = JointLaw("by hand", "at-times", bad_share=0.2, bad_minutes=12)
SHAKEN = JointLaw("by hand", "after-disturbance", bad_share=0.3, opens=0.2, closes=0.5)
LONG = 200_000.0


def turns(law: JointLaw, seed: str = "1", until: float = LONG) -> tuple[float, ...]:
    return law.turns(random.Random(seed), until)


def stays(taken: tuple[float, ...], bad: bool) -> list[float]:
    """How long the joint stays bad, or good, between one turn and the next: the first turn is to bad."""
    return [later - earlier for earlier, later in pairwise(taken)][0 if bad else 1 :: 2]


def test_the_same_stream_gives_the_same_turns_and_another_other_ones() -> None:
    assert turns(NOW_AND_THEN) == turns(NOW_AND_THEN) != turns(NOW_AND_THEN, "2")
    assert turns(SHAKEN, until=50) == turns(SHAKEN, until=50) != turns(SHAKEN, "2", 50)


def test_it_is_bad_for_its_share_of_the_time_and_for_its_minutes() -> None:
    """The mean of n stays has a standard error of mean / sqrt(n) (exponential): four of them are allowed."""
    taken = turns(NOW_AND_THEN)
    for bad, mean in ((True, 12.0), (False, 48.0)):
        found = stays(taken, bad)
        assert len(found) > 3000
        assert abs(np.mean(found) - mean) < 4 * mean / math.sqrt(len(found))
    at = [NOW_AND_THEN.is_bad(taken, Now(minute)) for minute in np.arange(0, LONG, 120)]
    assert stats.binomtest(sum(map(bool, at)), len(at), 0.2).pvalue > 1e-4


def test_how_long_it_has_been_so_tells_nothing() -> None:
    """Stays are exponential (Kolmogorov-Smirnov, scipy), and what is left of those that have lasted 12
    minutes is spread as all are."""
    found = stays(turns(NOW_AND_THEN), bad=True)
    assert stats.kstest(found, stats.expon(scale=12).cdf).pvalue > 1e-3
    left = [stay - 12 for stay in found if stay > 12]
    assert len(left) > 1000 and stats.kstest(left, stats.expon(scale=12).cdf).pvalue > 1e-3


def test_the_start_is_no_special_time() -> None:
    starts = [NOW_AND_THEN.turns(random.Random(seed), 500.0) for seed in range(3000)]
    for minute in (0.0, 5.0, 400.0):
        bad = sum(bool(NOW_AND_THEN.is_bad(taken, Now(minute))) for taken in starts)
        assert stats.binomtest(bad, len(starts), 0.2).pvalue > 1e-4


@pytest.mark.parametrize("minutes", [3.0, 30.0, 600.0])
def test_minutes_to_come_are_the_mean_of_what_is_drawn(minutes: float) -> None:
    for bad_now in (True, False):
        lasted = []
        for seed in range(4000):
            taken = NOW_AND_THEN.turns(random.Random(seed), minutes)
            if bool(NOW_AND_THEN.is_bad(taken, Now(0.0))) == bad_now:
                ends = [0.0, *(turn for turn in taken if turn), minutes]
                lasted.append(sum(b - a for a, b in list(pairwise(ends))[0 if bad_now else 1 :: 2]))
        error = np.std(lasted) / math.sqrt(len(lasted))
        assert abs(np.mean(lasted) - NOW_AND_THEN.bad_minutes_of(bad_now, minutes)) < 4 * error


def test_a_disturbance_turns_it_by_its_chances() -> None:
    opened, closed = [], []
    for seed in range(3000):
        taken = SHAKEN.turns(random.Random(seed), 1)
        before, after = (bool(SHAKEN.is_bad(taken, Now(500.0, 60.0, count))) for count in (0, 1))
        (closed if before else opened).append(before != after)
    assert stats.binomtest(len(closed), 3000, 0.3).pvalue > 1e-4
    assert stats.binomtest(sum(opened), len(opened), 0.2).pvalue > 1e-4
    assert stats.binomtest(sum(closed), len(closed), 0.5).pvalue > 1e-4


def test_a_joint_that_nobody_disturbs_stays_as_it_is() -> None:
    taken = turns(SHAKEN, until=20)
    assert len({bool(SHAKEN.is_bad(taken, Now(minute, 0.0, 4))) for minute in (0.0, 60.0, 9999.0)}) == 1
    assert (SHAKEN.bad_minutes_of(True, 90.0), SHAKEN.bad_minutes_of(False, 90.0)) == (90, 0)


def test_load_alone_decides_where_it_is_stated_so() -> None:
    law = JointLaw("by hand", "with-load", above_a=15)
    assert law.turns(random.Random(1), LONG) == ()
    assert [bool(law.is_bad((), Now(0.0, amperes))) for amperes in (0, 15, 15.1, 80)] == [0, 0, 1, 1]


def test_always_is_always() -> None:
    law = JointLaw("by hand", "always")
    assert law.turns(random.Random(1), LONG) == () and law.is_bad((), Now(3.0))
    assert law.is_bad((), Now(np.arange(3.0))).tolist() == [True] * 3
    assert law.bad_minutes_of(True, 30.0) == 30


@pytest.mark.parametrize("law", [NOW_AND_THEN, SHAKEN, JointLaw("by hand", "with-load", above_a=15)])
def test_many_joints_at_once_are_as_each_alone(law: JointLaw) -> None:
    each = [law.turns(random.Random(seed), 60) for seed in range(40)]
    longest = max(map(len, each))
    columns = tuple(
        np.array([taken[place] if place < len(taken) else math.inf for taken in each])
        for place in range(longest)
    )
    chance = random.Random(5)
    nows = [Now(chance.uniform(0, 60), chance.uniform(0, 40), chance.randrange(12)) for _ in each]
    many = Now(*(np.array(column) for column in zip(*nows, strict=True)))
    alone = [bool(law.is_bad(taken, now)) for taken, now in zip(each, nows, strict=True)]
    bad = law.is_bad(columns, many)
    assert bad.tolist() == alone and 0 < sum(alone) < 40
    ahead = law.bad_minutes_of(bad, np.full(40, 25.0))
    assert ahead.tolist() == pytest.approx([law.bad_minutes_of(one, 25.0) for one in alone])


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"when": "at-times", "bad_share": 0.2}, "needs bad_minutes"),
        ({"when": "always", "above_a": 5}, "has no above_a"),
        ({"when": "at-times", "bad_share": 1.0, "bad_minutes": 5}, "between 0 and 1"),
        ({"when": "at-times", "bad_share": 0.5, "bad_minutes": 0}, "above 0"),
        ({"when": "after-disturbance", "bad_share": 0.5, "opens": 1.5, "closes": 0}, "from 0 to 1"),
        ({"when": "with-load", "above_a": -1}, "0 or more"),
        ({"when": "sometimes"}, "one of always"),
    ],
)
def test_a_law_that_cannot_be_is_refused(wrong: dict[str, Any], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        JointLaw("by hand", **wrong)
