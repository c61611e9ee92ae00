"""Touch voltage: the body's table against scipy, the zones at their corners, and a tingle there and back."""

from __future__ import annotations

import json
import math
from typing import Any, Literal

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.optimize import brentq

from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.calculators.touch_voltage import CALCULATOR, felt_volts, shock
from calc.shock import BODY_OHM, HEART_FACTORS, PATH_FACTORS, line_ma, through_ma, zone

PATHS = ("left-hand-to-feet", "right-hand-to-feet", "both-hands-to-feet", "left-hand-to-right-hand")
ZONES = ("AC-1", "AC-2", "AC-3", "AC-4.1", "AC-4.2")

volts = st.floats(1, 500)
floors = st.one_of(st.just(0.0), st.floats(0, 1e5))
times = st.floats(0.01, 10)
paths, skins = st.sampled_from(PATHS), st.sampled_from(("dry", "wet"))
percents, editions = st.sampled_from((5, 50, 95)), st.sampled_from(("2016", "2005"))


def asked(**typed: str) -> dict[str, Any]:
    raw = default_raw(CALCULATORS[CALCULATOR.id], {}) | typed
    replied = json.loads(answer_json(CALCULATOR.id, json.dumps(raw), "{}"))
    assert "ok" in replied, replied
    return replied["ok"]


def told(**typed: str) -> dict[str, str]:
    return {row["label"]: row["cells"][0] for row in asked(**typed)["tables"][0]["rows"]}


@given(over=volts, floor=floors, path=st.sampled_from(sorted(PATH_FACTORS)), percent=percents)
def test_a_floor_in_series_agrees_with_scipy(over: float, floor: float, path: str, percent: int) -> None:
    """numpy reads the table and scipy's brentq finds the voltage that the body keeps."""
    table = BODY_OHM["2005"][percent]

    def missing(body: float) -> float:
        ohm = PATH_FACTORS[path] * float(np.interp(body, list(table), list(table.values())))
        return body + floor * body / ohm - over

    body = brentq(missing, 0, over, xtol=1e-12)
    ohm = PATH_FACTORS[path] * float(np.interp(body, list(table), list(table.values())))
    assert through_ma(over, floor, percent, "2005", path) == pytest.approx(1000 * body / ohm, rel=1e-6)


@given(over=volts, more=st.floats(0, 200), floor=floors, path=paths, skin=skins, percent=percents)
def test_more_volts_more_current(
    over: float, more: float, floor: float, path: str, skin: str, percent: int
) -> None:
    less = shock(over, floor, 1, path, skin, percent, "2016")
    then = shock(over + more, floor, 1, path, skin, percent, "2016")
    assert then.body_ma >= less.body_ma * (1 - 1e-12)
    assert ZONES.index(then.zone) >= ZONES.index(less.zone)
    assert 0 <= less.body_volts <= over
    assert less.heart_ma == less.body_ma * HEART_FACTORS[path]


@given(over=volts, floor=floors, seconds=times, path=paths, percent=percents, edition=editions)
def test_wet_few_ohms_and_long_are_never_milder(
    over: float, floor: float, seconds: float, path: str, percent: int, edition: Literal["2016", "2005"]
) -> None:
    now = shock(over, floor, seconds, path, "dry", percent, edition)
    assert shock(over, floor, seconds, path, "wet", percent, edition).body_ma >= now.body_ma * (1 - 1e-12)
    assert shock(over, floor, seconds, path, "dry", 5, edition).body_ma >= now.body_ma * (1 - 1e-12)
    later = shock(over, floor, 2 * seconds, path, "dry", percent, edition)
    assert ZONES.index(later.zone) >= ZONES.index(now.zone)


@given(felt=st.floats(0.1, 50), floor=floors, path=paths, skin=skins, percent=percents)
def test_a_tingle_there_and_back(felt: float, floor: float, path: str, skin: str, percent: int) -> None:
    behind = felt_volts(felt, floor, path, skin, percent)
    low = "hand-to-hand" if path == "left-hand-to-right-hand" else "hand-to-feet"
    way = "hands-to-feet" if path == "both-hands-to-feet" else low
    table: Literal["2005", "2005 water-wet"] = "2005" if skin == "dry" else "2005 water-wet"
    # A floor of many ohms asks for more volts than the table has: the body's share is what is checked there.
    if behind <= 700:
        assert through_ma(behind, floor, percent, table, way) == pytest.approx(felt, rel=1e-9)
    assert felt_volts(felt, floor, path, skin, 5) <= behind <= felt_volts(felt, floor, path, skin, 95)


@given(seconds=times, edition=editions)
def test_the_lines_keep_their_order_and_fall(seconds: float, edition: Literal["2016", "2005"]) -> None:
    a, b, c1, c2 = (line_ma(which, seconds, edition) for which in ("a", "b", "c1", "c2"))
    assert a < b < c1 < c2
    for which, now in (("b", b), ("c1", c1), ("c2", c2)):
        assert line_ma(which, seconds * 1.1, edition) <= now  # type: ignore[arg-type]


def test_a_line_belongs_to_the_zone_beyond_it() -> None:
    for which, name in (("a", "AC-2"), ("b", "AC-3"), ("c1", "AC-4.1"), ("c2", "AC-4.2")):
        at = line_ma(which, 1)  # type: ignore[arg-type]
        assert zone(at, at, 1) == name
        assert ZONES.index(zone(math.nextafter(at, 0), math.nextafter(at, 0), 1)) == ZONES.index(name) - 1


def test_editions_are_not_mixed() -> None:
    """IEC 60479-1, second-hand: the long end of line b is 5 mA from 2016 and 10 mA before."""
    assert line_ma("b", 1e6, "2016") == pytest.approx(5, abs=0.01)
    assert line_ma("b", 1e6, "2005") == pytest.approx(10, abs=0.01)
    assert zone(8, 8, 10, "2016") == "AC-3" and zone(8, 8, 10, "2005") == "AC-2"
    with pytest.raises(ValueError, match="edition"):
        line_ma("b", 1, "1994")  # type: ignore[arg-type]


@pytest.mark.parametrize("bad", [0, -1, math.nan, math.inf])
def test_what_cannot_be_is_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="above 0"):
        line_ma("c1", bad)
    with pytest.raises(ValueError, match="begins above 0"):
        through_ma(bad, 0)
    with pytest.raises(ValueError, match="a line is"):
        line_ma("c3", 1)  # type: ignore[arg-type]


@pytest.mark.parametrize("bad", [-1, math.nan, math.inf])
def test_currents_and_floors_that_cannot_be_are_refused(bad: float) -> None:
    with pytest.raises(ValueError, match="0 or more"):
        zone(bad, 1, 1)
    with pytest.raises(ValueError, match="0 or more"):
        through_ma(50, bad)


def test_the_page_agrees_with_the_table() -> None:
    """IEC 60479-1:2005 by hand: half of people, hand to hand, 100 V over 1725 ohm is 58.0 mA; times 0.4."""
    hands = {"volts": "100", "percent": "50", "path": "left-hand-to-right-hand"}
    shown = told(**hands)
    assert shown["Current through the body"] == "58.0 mA"
    assert shown["The same as the heart counts it, left hand to feet"] == "23.2 mA"
    # 230 V by hand: 1225 - 275 x 5/175 = 1217 ohm, halved for both hands to feet: 377.9 mA.
    assert (
        told(volts="230", percent="50", path="both-hands-to-feet")["Current through the body"] == "377.9 mA"
    )


def test_what_the_page_says_of_danger() -> None:
    assert "can kill" in asked()["warnings"][0]
    assert any("from memory" in warning for warning in asked(skin="wet")["warnings"])
    assert any("nearer 1" in warning for warning in asked(path="left-hand-to-right-hand")["warnings"])
    assert any("begins at 25 V" in warning for warning in asked(volts="10")["warnings"])
    assert any("unable to let go" in warning for warning in asked(volts="25")["warnings"])


def test_no_figure_is_called_safe() -> None:
    for typed in ({"volts": "1", "floor_ohm": "100000"}, {"volts": "500"}, {"felt_ma": "0.1"}):
        assert "safe" not in json.dumps(asked(**typed)).lower()


def test_the_picture_says_its_zone() -> None:
    assert "zone AC-4.2" in asked()["drawing"] and 'role="img"' in asked()["drawing"]
    assert "as the heart counts it" in asked(path="right-hand-to-feet")["drawing"]
