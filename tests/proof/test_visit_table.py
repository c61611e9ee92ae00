"""What is counted of visits and of waits comes out in minutes, with shares of whom they speak of."""

from __future__ import annotations

import json
import random
import statistics
from collections import Counter
from dataclasses import asdict
from itertools import pairwise

import pytest

from build_tools.proof.binomial import bounds
from build_tools.proof.visit_table import ENDS, LOST, MEASURES, TOUCH, VisitCase, VisitRow, mean_of, rows_of
from build_tools.proof.waiting import WaitCase, wait_rows

CASE = VisitCase("tree", "service-pen-open", "always", "perfect")


def counted(values: dict[str, list[int]]) -> Counter[str]:
    """The sums that make means: of each value and of its square."""
    sums: Counter[str] = Counter()
    for what, each in values.items():
        sums[what], sums[f"{what} squared"] = sum(each), sum(value * value for value in each)
    return sums


@pytest.mark.parametrize("unit", [1, 60])
@pytest.mark.parametrize("many", [2, 9])
def test_a_mean_has_the_interval_of_its_standard_error(many: int, unit: int) -> None:
    lot = random.Random(many)
    values = [lot.randrange(600, 900) for _ in range(many)]
    sums = counted({"x": values})
    mean = statistics.mean(values) / unit
    error = 1.96 * statistics.stdev(values) / unit / many**0.5
    made = mean_of(many, sums["x"], sums["x squared"], unit)
    assert made == pytest.approx((mean, mean - error, mean + error))


def test_of_one_visit_nothing_is_known_but_itself() -> None:
    assert mean_of(1, 90, 8100, 60) == (1.5, 1.5, 1.5)


def visits() -> VisitRow:
    """Ten visits: seven closed, two of them beside the danger that was at four, one lost, two handed over."""
    counts = Counter(
        {"visits": 10, "closed": 7, LOST: 1, ENDS[1]: 2, "endangered": 4, "closed-beside-danger": 2}
    )
    measured = counted({what: [60 * place, 120 * place] * 5 for place, what in enumerate(MEASURES, 1)})
    (row,) = rows_of(Counter({(CASE, what): n for what, n in (counts + measured).items()}))
    return row


def test_a_row_tells_shares_of_all_visits_and_of_those_in_danger() -> None:
    row = visits()
    assert (row.case, row.visits) == (CASE, 10)
    for end, happened in (("closed", 7), (LOST, 1), (ENDS[1], 2), (ENDS[2], 0)):
        assert row.ends[end] == (happened, 10, *bounds(10, happened, 0.025))
    assert row.closed_beside_danger == (2, 4, *bounds(4, 2, 0.025))
    assert row.hurt == (0, 10, *bounds(10, 0, 0.025))


def test_seconds_come_out_as_minutes_and_screens_as_screens() -> None:
    row = visits()
    for place, what in enumerate(MEASURES, 1):
        assert row.means[what].mean == pytest.approx(90 * place / (1 if what == "screens" else 60))
    both = [row.means[f"{TOUCH} {when}"].mean for when in ("during", "after")]
    assert row.touch == pytest.approx(sum(both)) and min(both) > 0


def test_of_a_healthy_street_no_share_in_danger_is_known() -> None:
    (row,) = rows_of(Counter({(CASE, "visits"): 3, (CASE, "closed"): 3}))
    assert row.closed_beside_danger == (0, 0, 0.0, 1.0)


def test_a_row_comes_back_from_where_it_is_kept() -> None:
    row = visits()
    assert VisitRow.of(json.loads(json.dumps(asdict(row)))) == row


def test_every_case_has_its_row_in_order() -> None:
    cases = [VisitCase(tree, fault, "always", "perfect") for tree in "ba" for fault in ("y", "x")]
    rows = list(rows_of(Counter({(case, "visits"): 1 for case in cases})))
    assert [row.case for row in rows] == sorted(cases)
    assert all(one.case < other.case for one, other in pairwise(rows))


def test_a_wait_is_told_in_person_minutes() -> None:
    live, off = WaitCase("live", "mains-pen-open"), WaitCase("main-switch-open", "mains-pen-open")
    counts = {(case, "streets"): 4 for case in (live, off)} | {(off, "harms-others"): 3}
    sums = counted({TOUCH: [60, 120, 180, 240]})
    rows = list(wait_rows(Counter({**counts, **{(live, what): n for what, n in sums.items()}})))
    assert [row.case for row in rows] == [live, off]
    assert rows[0].harms_others == (0, 4, *bounds(4, 0, 0.025))
    assert rows[1].harms_others == (3, 4, *bounds(4, 3, 0.025))
    assert rows[0].means[TOUCH] == pytest.approx(mean_of(4, 600, sums[f"{TOUCH} squared"], 60))
    assert (rows[0].streets, rows[0].means[TOUCH].mean, rows[1].means[TOUCH].mean) == (4, 2.5, 0)
