"""Electrodes: against handbooks and by hand, as soil and length must move them, and the main together."""

from __future__ import annotations

import json
import math
import re
from itertools import pairwise
from typing import Any, Literal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.calculators.electrodes import CALCULATOR, Buried

soils = st.floats(1, 10_000)
kinds = st.sampled_from(("rod", "rods", "strip"))


def asked(**typed: str) -> dict[str, Any]:
    raw = default_raw(CALCULATORS[CALCULATOR.id], {}) | typed
    replied = json.loads(answer_json(CALCULATOR.id, json.dumps(raw), "{}"))
    assert "ok" in replied, replied
    return replied["ok"]


def told(**typed: str) -> dict[str, str]:
    return {row["label"]: row["cells"][0] for row in asked(**typed)["tables"][0]["rows"]}


def buried(kind: Literal["rod", "rods", "strip"], soil: float = 100) -> Buried:
    if kind == "strip":
        return Buried("strip", soil, 20, 0.025)
    return Buried(kind, soil, 2.4, 0.016, 3, 2.4)


def test_the_page_agrees_with_the_handbook() -> None:
    """MIL-HDBK-419A: 10 ft of 3/4 in in 100 ohm.m is 32 ohm; probes 6.1 m apart with 2 ohm are 76.6 ohm.m."""
    # The page takes a tenth of a metre: 3.0 m by hand, 100/(2 pi 3) (ln(24/0.0191) - 1) = 32.55.
    shown = told(rod_m="3", rod_mm="19.1", other_1="0", other_2="0")
    assert shown["This electrode"] == "32.55 Ω" == shown["Neutral to earth, all electrodes together"]
    assert told(soil_from="wenner", spacing_m="6.1", reading_ohm="2")["Soil"] == "76.7 Ω·m"


def test_the_page_agrees_by_hand() -> None:
    """By hand from BS 7430: three 2.4 m rods 17.13 ohm, beside 60 and 60 ohm; 20 m of strip 7.87, and
    Dwight's first term for its depth, 100/(2 pi 20) (2 x 0.6/20), makes it 7.91."""
    three = told(kind="rods")
    assert three["This electrode"] == "17.13 Ω"
    assert three["Neutral to earth, all electrodes together"] == "10.90 Ω"  # 1/(1/17.13 + 2/60)
    assert told(kind="strip")["This electrode"] == "7.91 Ω"


@given(kind=kinds, soil=soils, times=st.floats(1, 10))
def test_ohms_follow_the_soil(kind: Literal["rod", "rods", "strip"], soil: float, times: float) -> None:
    assert buried(kind, soil * times).ohm == pytest.approx(times * buried(kind, soil).ohm)


@given(soil=soils, length=st.floats(0.5, 29), more=st.floats(0.01, 1), mm=st.floats(8, 50))
def test_a_longer_rod_has_fewer_ohms(soil: float, length: float, more: float, mm: float) -> None:
    one, longer = (Buried("rod", soil, metres, mm / 1000) for metres in (length, length + more))
    assert longer.ohm < one.ohm


@given(soil=soils, length=st.floats(0.5, 30), mm=st.floats(8, 50), apart=st.floats(0.5, 50))
def test_rods_joined_lie_between_one_and_its_share(
    soil: float, length: float, mm: float, apart: float
) -> None:
    """Rods together have no more than one alone, no less than its n-th part, and each one more helps."""
    rods = [Buried("rods", soil, length, mm / 1000, count, apart) for count in range(1, 11)]
    one = rods[0].ohm
    for count, these in enumerate(rods, 1):
        assert one / count * (1 - 1e-12) <= these.ohm <= one
    assert all(more.ohm <= fewer.ohm for fewer, more in pairwise(rods))


def test_crowded_rods_count_as_one() -> None:
    assert Buried("rods", 100, 2.4, 0.016, 3, 2.3).ohm == Buried("rod", 100, 2.4, 0.016).ohm
    answer = asked(kind="rods", apart_m="2.3")
    assert "counted as one rod" in answer["warnings"][0]
    assert asked(kind="rods")["warnings"] == []


@settings(max_examples=30)
@given(ohms=st.lists(st.floats(0.1, 10_000), min_size=4, max_size=4))
def test_the_main_is_less_than_any_of_its_electrodes(ohms: list[float]) -> None:
    typed = {f"other_{n}": f"{ohm:.3f}" for n, ohm in enumerate(ohms, 1)}
    shown = told(**typed)
    overall = float(shown["Neutral to earth, all electrodes together"].removesuffix(" Ω"))
    rod = 100 / (2 * math.pi * 2.4) * (math.log(8 * 2.4 / 0.016) - 1)
    assert overall <= min(rod, *(round(ohm, 3) for ohm in ohms)) + 0.005
    by_hand = 1 / sum(1 / ohm for ohm in (rod, *(float(text) for text in typed.values())))
    assert overall == pytest.approx(by_hand, abs=0.0051)


def test_the_limit_is_told_with_its_doubt() -> None:
    few, many = asked(other_1="0", other_2="0"), asked(other_1="10")
    assert few["tables"][0]["rows"][3]["cells"][-1] == "no" and " over the 20 Ω" in few["summary"][1]
    assert many["tables"][0]["rows"][3]["cells"][-1] == "yes" and "within the 20 Ω" in many["summary"][1]
    assert "from memory" in few["summary"][1]


def test_an_electrode_is_no_pen() -> None:
    """By hand: 3 kW at 230 V is 17.633 ohm; beside 20 ohm past a break the metalwork stands at 122 V."""
    alone = asked(soil_ohm_m="50", rod_m="2.4", other_1="0", other_2="0")
    ohm = 40.3905 / 2
    assert f"at {230 * ohm / (ohm + 17.6333):.0f} V" in alone["summary"][2]


def test_shallow_probes_and_dry_soil_are_warned_of() -> None:
    assert "did not feel" in asked(soil_from="wenner", spacing_m="1")["warnings"][0]
    assert "tenfold" in asked(soil_ohm_m="900")["warnings"][0]


@pytest.mark.parametrize("kind", ["rod", "rods", "strip"])
def test_the_picture_tells_its_figure(kind: str) -> None:
    answer = asked(kind=kind)
    ohm = float(told(kind=kind)["This electrode"].removesuffix(" Ω"))
    assert f"{ohm:.1f} Ω" in answer["drawing"] and math.isfinite(ohm)


@pytest.mark.parametrize(
    ("kind", "name", "ends"), [("rod", "rod_m", "0.5 30"), ("strip", "strip_m", "5 200")]
)
def test_the_point_lies_on_its_curve_at_both_ends(kind: str, name: str, ends: str) -> None:
    """The dot of the shortest and of the longest stands where the drawn curve begins and ends."""
    for place, metres in zip((0, -1), ends.split(), strict=True):
        drawing = asked(kind=kind, **{name: metres})["drawing"]
        curve = max(re.findall(r'd="M([-0-9. L]+)"', drawing), key=len).split("L")[place].split()
        assert f'cx="{curve[0]}" cy="{curve[1]}"' in drawing
