"""A shock told from volts to milliamps and back, and what is refused."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from calc.shock import (
    BODY_OHM,
    HEART_FACTORS,
    PATH_FACTORS,
    body_ma,
    body_ohm,
    heart_ma,
    line_ma,
    through_ma,
    touch_volts,
    zone,
)

EDITIONS = st.sampled_from(sorted(BODY_OHM))
PERCENTS = st.sampled_from([5, 50, 95])
PATHS = st.sampled_from(sorted(PATH_FACTORS))


@given(st.floats(1, 700), PERCENTS, EDITIONS, PATHS)
def test_ohms_law_and_back(volts: float, percent: int, edition: str, path: str) -> None:
    milliamps = body_ma(volts, percent, edition, path)  # type: ignore[arg-type]
    assert milliamps * body_ohm(volts, percent, edition, path) / 1000 == pytest.approx(volts)  # type: ignore[arg-type]
    assert touch_volts(milliamps, percent, edition, path) == pytest.approx(volts)  # type: ignore[arg-type]


@given(st.floats(1, 300), st.floats(0, 5000), PERCENTS)
def test_a_floor_in_series_takes_the_rest_of_the_volts(volts: float, floor_ohm: float, percent: int) -> None:
    milliamps = through_ma(volts, floor_ohm, percent)
    left = volts - floor_ohm * milliamps / 1000
    assert left == pytest.approx(touch_volts(milliamps, percent), rel=1e-6)
    assert (milliamps < body_ma(volts, percent)) or floor_ohm < 1e-6


@given(st.floats(1, 699), PERCENTS, EDITIONS)
def test_more_volts_drive_more_current_through_less_body(volts: float, percent: int, edition: str) -> None:
    more = min(700.0, volts * 1.2)
    assert body_ohm(more, percent, edition) <= body_ohm(volts, percent, edition)  # type: ignore[arg-type]
    assert body_ma(more, percent, edition) > body_ma(volts, percent, edition)  # type: ignore[arg-type]


def test_between_the_rows_of_the_table_it_runs_straight() -> None:
    for low, high in ((50, 75), (225, 400), (500, 700)):
        middle = (body_ohm(low) + body_ohm(high)) / 2
        assert body_ohm((low + high) / 2) == pytest.approx(middle)
    assert body_ohm(1) == body_ohm(24.9) == body_ohm(25) == 3250


@pytest.mark.parametrize(
    ("ask", "says"),
    [
        (lambda: body_ohm(0), "begins above 0 V"),
        (lambda: body_ohm(-5), "begins above 0 V"),
        (lambda: body_ohm(701), "ends at 700 V"),
        (lambda: body_ohm(1001, edition="1994"), "ends at 1000 V"),
        (lambda: body_ohm(50, percent=25), "5, 50 or 95"),
        (lambda: body_ohm(50, edition="2030"), "edition must be one of"),
        (lambda: body_ohm(50, path="nose-to-feet"), "path must be one of"),
        (lambda: touch_volts(0), "must lie above 0"),
        (lambda: touch_volts(-1), "must lie above 0"),
        (lambda: touch_volts(904), "and up to 903"),
        (lambda: heart_ma(-1, "foot-to-foot"), "0 or more"),
        (lambda: heart_ma(math.inf, "foot-to-foot"), "0 or more"),
        (lambda: heart_ma(1, "foot"), "path must be one of"),
        (lambda: through_ma(50, -1), "floor_ohm"),
        (lambda: through_ma(50, math.inf), "floor_ohm"),
        (lambda: through_ma(0, 10), "begins above 0 V"),
        (lambda: line_ma("c1", 0), "seconds"),
        (lambda: line_ma("c1", math.inf), "seconds"),
        (lambda: line_ma("c3", 1), "a line is"),
        (lambda: line_ma("a", 1, "1994"), "edition"),
        (lambda: zone(-1, 1, 1), "a current is 0 or more"),
        (lambda: zone(1, -1, 1), "a current is 0 or more"),
        (lambda: zone(math.inf, 1, 1), "a current is 0 or more"),
    ],
)
def test_what_is_in_no_table_is_refused(ask: object, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        ask()  # type: ignore[operator]


def test_the_ends_are_still_in_the_table() -> None:
    assert body_ohm(700) == 775 and body_ohm(1000, edition="1994") == 1050
    assert touch_volts(body_ma(700)) == 700
    assert heart_ma(0, "foot-to-foot") == 0
    assert through_ma(50, 0) == body_ma(50)
    assert zone(0, 0, 1) == "AC-1"


def test_lines_a_and_b_are_those_of_feeling_and_of_muscles() -> None:
    """0.5 mA whatever the time; 5 mA (10 before 2016) and 10 mA.s over the time, at most 200 mA (memory)."""
    assert {line_ma("a", seconds) for seconds in (0.01, 1, 100)} == {0.5}
    assert [line_ma("b", seconds) for seconds in (0.01, 0.1, 1, 10)] == pytest.approx([200, 105, 15, 6])
    assert line_ma("b", 1, "2005") == pytest.approx(20)


def test_between_its_points_a_line_is_straight_on_log_paper() -> None:
    for which, low, high in (("c1", 0.1, 1.0), ("c2", 0.2, 0.5), ("c2", 5.0, 10.0)):
        middle = math.sqrt(line_ma(which, low) * line_ma(which, high))  # type: ignore[arg-type]
        assert line_ma(which, math.sqrt(low * high)) == pytest.approx(middle)  # type: ignore[arg-type]
    assert line_ma("c1", 0.001) == 500 and line_ma("c1", 60) == 40
    assert line_ma("c2", 0.01) == 900 and line_ma("c2", 60) == 50


def test_a_current_on_a_line_is_beyond_it() -> None:
    assert [zone(ma, 0, 1) for ma in (0.49, 0.5, 14.9, 15)] == ["AC-1", "AC-2", "AC-2", "AC-3"]
    assert [zone(20, ma, 1) for ma in (49.9, 50, 79.9, 80)] == ["AC-3", "AC-4.1", "AC-4.1", "AC-4.2"]


def test_the_heart_is_worst_off_from_chest_to_left_hand() -> None:
    assert max(HEART_FACTORS, key=HEART_FACTORS.__getitem__) == "chest-to-left-hand"
    assert len(HEART_FACTORS) == 10


C1 = ((0.01, 500), (0.1, 400), (1, 50), (3, 40))
C2 = ((0.05, 900), (0.1, 800), (0.2, 600), (0.5, 200), (1, 80), (2, 60), (5, 51), (10, 50))
PUBLISHED = {  # IEC 60479-1, c1 from memory; c2 as EN 50522 Table B.1 prints it, of 2022 and of 2010
    ("c1", "2016"): C1,
    ("c1", "2005"): C1,
    ("c2", "2016"): C2,
    ("c2", "2005"): tuple((0.1, 750) if point == (0.1, 800) else point for point in C2),
}


@pytest.mark.parametrize(("which", "edition"), PUBLISHED)
def test_a_line_goes_through_its_published_points_and_straight_between(which: str, edition: str) -> None:
    points = PUBLISHED[which, edition]
    for seconds, milliamps in points:
        assert line_ma(which, seconds, edition) == pytest.approx(milliamps)  # type: ignore[arg-type]
    for (one, first), (other, second) in pairwise(points):
        middle = line_ma(which, math.sqrt(one * other), edition)  # type: ignore[arg-type]
        assert middle == pytest.approx(math.sqrt(first * second))
    assert line_ma(which, points[0][0] / 2, edition) == points[0][1]  # type: ignore[arg-type]
    assert line_ma(which, points[-1][0] * 2, edition) == points[-1][1]  # type: ignore[arg-type]
