"""A better order: by hand, and against every order that there is."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given
from hypothesis import strategies as st

from build_tools.plan.better_order import Timed, greedy, mean_minutes, spare, turns

PROBE = frozenset({"probe"})
LONG = Timed("long", 0b1111, 8)
SHORT = Timed("short", 0b0011, 1)
SAME = Timed("same", 0b0011, 2)


def names(order: list[Timed]) -> list[str]:
    return [test.name for test in order]


def test_what_finds_most_a_minute_comes_first() -> None:
    order = greedy([LONG, SAME, SHORT], {})
    assert [(turn.test.name, turn.minutes, turn.new) for turn in order] == [("short", 1, 2), ("long", 8, 2)]
    assert mean_minutes(order) == (1 * 2 + 9 * 2) / 4


def test_what_is_done_before_is_paid_once() -> None:
    tests = [Timed("first", 0b01, 1, PROBE), Timed("second", 0b10, 1, PROBE)]
    assert [turn.minutes for turn in turns(tests, {"probe": 6})] == [7, 1]
    assert mean_minutes(turns(tests, {"probe": 6})) == 7.5


def test_a_test_that_needs_much_done_waits_for_one_that_needs_nothing() -> None:
    tests = [Timed("probed", 0b111, 1, PROBE), Timed("plain", 0b1000, 1)]
    assert [turn.test.name for turn in greedy(tests, {"probe": 6})] == ["plain", "probed"]


def test_nothing_found_takes_no_time() -> None:
    assert greedy([Timed("useless", 0, 1)], {}) == []
    assert mean_minutes([]) == 0


def test_the_test_that_finds_least_is_the_first_to_be_spared() -> None:
    assert names(spare([LONG, SHORT, SAME])) == ["same", "short"]
    assert names(spare([SHORT, SAME])) == ["same"]  # of equals the longer one, and one of them stays
    assert spare([SHORT, Timed("other", 0b1100, 1)]) == []


TESTS = st.lists(
    st.tuples(st.integers(1, 255), st.integers(1, 9)).map(lambda one: Timed(str(one), *one)),
    min_size=1,
    max_size=5,
)


@given(TESTS)
def test_greedy_is_within_four_times_the_best_of_all_orders(tests: list[Timed]) -> None:
    """Feige, Lovasz and Tetali, Approximating min sum set cover, Algorithmica 40 (2004), for equal lengths;
    Munagala, Babu, Motwani and Widom, The pipelined set cover problem, ICDT 2005, for others: a factor of
    four. From memory."""
    best = min(mean_minutes(turns(order, {})) for order in itertools.permutations(tests))
    assert best <= mean_minutes(greedy(tests, {})) * (1 + 1e-9)
    assert mean_minutes(greedy(tests, {})) <= 4 * best * (1 + 1e-9)


@given(TESTS)
def test_what_is_spared_is_found_by_the_others(tests: list[Timed]) -> None:
    left = [test for test in tests if not any(test is other for other in spare(tests))]
    found = [0, 0]
    for place, some in enumerate((tests, left)):
        for test in some:
            found[place] |= test.found
    assert found[0] == found[1]
    for test in left:
        others = [other for other in left if other is not test]
        assert turns([*others, test], {})[-1].new > 0


def test_an_order_wants_to_know_what_is_done_before() -> None:
    with pytest.raises(KeyError):
        turns([Timed("probed", 1, 1, PROBE)], {})
