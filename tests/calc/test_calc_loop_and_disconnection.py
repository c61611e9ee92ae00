"""Loop and disconnection: the map's loop against the whole circuit and ngspice, and what a breaker does."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
import spice
from hypothesis import given
from hypothesis import strategies as st
from questions import any_values, figures

from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.calculators.loop_and_disconnection import (
    CALCULATOR,
    extra_ohm,
    loop_parts,
    loop_shown,
    mapped_street,
    opens_within,
)
from calc.circuit import Branch
from calc.instruments import read
from calc.limits import max_loop_ohm
from calc.street import network

CASES = {
    "pen": {"service_cable": "service-25-al-cne", "earthing": "tn-c-s"},
    "sheath all the way": {
        "main_cable": "mains-185-cu-sne",
        "service_cable": "service-16-cu-sne",
        "earthing": "tn-s",
    },
    "sheath of the service alone": {"service_cable": "service-16-cu-sne", "earthing": "tn-s"},
    "pen from a main with a sheath": {
        "main_cable": "mains-95-cu-sne",
        "service_cable": "service-25-cu-cne",
        "earthing": "tn-c-s",
    },
    "overhead": {"main_cable": "overhead-open-35-cu", "main_m": 700.0, "earthing": "tn-c-s"},
    "electrode": {"earthing": "tt", "electrode_ohm": 20.0},
}


def defaults(**typed: Any) -> dict[str, Any]:
    return {shape.name: shape.default for shape in CALCULATOR.inputs} | typed


def asked(**typed: str) -> dict[str, Any]:
    data = json.dumps({"streets": {}})
    raw = default_raw(CALCULATORS[CALCULATOR.id], {"streets": {}}) | typed
    replied = json.loads(answer_json(CALCULATOR.id, json.dumps(raw), data))
    assert "ok" in replied, replied
    return replied["ok"]


@pytest.mark.parametrize("case", CASES)
def test_the_parts_come_to_the_loop_of_the_whole_circuit(case: str) -> None:
    """The circuit solved from end to end. Filters and the dry building differ."""
    street = mapped_street(defaults(**CASES[case]))
    solution = network(street).solution
    whole = solution.impedance_between("home.L1", "home.MET")
    assert abs(sum(loop_parts(street).values()) - whole) < 5e-4 * abs(whole)
    assert all(part.real > 0 for part in loop_parts(street).values())


@pytest.mark.parametrize("case", CASES)
def test_a_loop_tester_would_show_it(case: str) -> None:
    street = mapped_street(defaults(**CASES[case]))
    shown = read(network(street), "home", "loop", ("line", "earth")).value
    assert shown == pytest.approx(loop_shown(sum(loop_parts(street).values())), abs=0.0051, rel=5e-4)


@pytest.mark.outside
@pytest.mark.parametrize("case", CASES)
def test_the_fault_current_agrees_with_ngspice(case: str, tmp_path: Path) -> None:
    """A dead short from line to earth at the home, solved by ngspice: its current over the whole circuit."""
    street = mapped_street(defaults(**CASES[case]))
    short = Branch("short", "home.L1", "home.MET", 1e-9)
    outside = spice.simulate([*network(street).branches.values(), short], tmp_path)
    expected = street.supply.volts / abs(sum(loop_parts(street).values()))
    assert abs(outside.amperes["short"]) == pytest.approx(expected, rel=5e-4)


def test_a_hand_worked_loop() -> None:
    """By hand: 240 V and 500 kVA at 4.75 % is 16.4 mohm, R 4.64 and X 15.75; 100 m of main 0.328 + j0.089,
    20 m of service 2.40 + j0.08 ohm/km for both ways; tail 1.5 m x 0.727, main earth 3 m x 1.15 mohm/m."""
    values = defaults(rating_kva=500.0, impedance_percent=4.75, main_m=100.0, service_m=20.0)
    whole = sum(loop_parts(mapped_street(values)).values())
    assert whole.real == pytest.approx(0.00464 + 0.0328 + 0.048 + 0.00109 + 0.00345, abs=1e-5)
    assert whole.imag == pytest.approx(0.01575 + 0.0089 + 0.0016, abs=2e-5)


def test_a_tap_changes_the_volts_and_not_the_ohms() -> None:
    loops = [
        sum(loop_parts(mapped_street(defaults(volts=volts))).values()) for volts in (200.0, 240.0, 260.0)
    ]
    assert loops == pytest.approx([loops[0]] * 3)
    plate = mapped_street(defaults(volts=250.0, plate_volts=250.0))
    assert loop_parts(plate)["Transformer"].imag == pytest.approx(
        loop_parts(mapped_street(defaults()))["Transformer"].imag * (250 / 240) ** 2
    )


anything = any_values(CALCULATOR)


@given(values=anything, volts=st.floats(200, 260))
def test_fault_currents_never_fall_when_the_no_load_volts_rise(values: dict[str, Any], volts: float) -> None:
    """The law of the circuit: the same ohms, more volts."""
    low, high = sorted((values["volts"], volts))
    lower, higher = (
        figures(CALCULATOR, CALCULATOR.run(values | {"volts": each}, {})) for each in (low, high)
    )
    for name in ("origin_a", "whole_a"):
        if lower[name] is not None and higher[name] is not None:
            assert higher[name] >= lower[name], name
    if higher["seconds"] is None:
        assert lower["seconds"] is None


@given(values=anything)
def test_at_once_is_said_only_where_every_limit_is_met(values: dict[str, Any]) -> None:
    answer = CALCULATOR.run(values, {})
    figures_, said = figures(CALCULATOR, answer), " ".join(answer.summary)
    if figures_["whole"] is None:
        assert said.startswith("This home cannot be")
        return
    whole, warm, cold, largest = (figures_[name] or 0.0 for name in ("whole", "warm", "cold", "largest"))
    kept = whole <= cold + 1e-3 and warm <= largest + 1e-3
    broken = whole >= cold - 1e-3 and warm >= largest - 1e-3
    assert kept if "opens at once" in said else broken
    assert ("opens at once" in said) == (figures_["seconds"] == 0.1)
    assert ("opens at once" in said) != any("need not open in time" in each for each in answer.warnings)


def test_a_loop_between_cold_and_warm_limits_is_not_called_quick() -> None:
    """By hand: 0.95 x 230/160 = 1.366 ohm warm, 1.093 cold; the far end has 0.195 + 0.95 = 1.145 ohm cold."""
    answer = asked(circuit_ohm="0.95")
    assert "need not open in time" in answer["summary"][2] and "1.431 Ω warm" in answer["summary"][2]
    assert "at once" not in answer["summary"][2]


def test_longer_cable_never_lowers_the_loop() -> None:
    loops = [
        abs(sum(loop_parts(mapped_street(defaults(main_m=metres))).values()))
        for metres in (1, 50, 400, 3000.0)
    ]
    assert loops == sorted(loops) and loops[0] < loops[-1]


@given(
    joint=st.floats(0, 10),
    resistance=st.floats(0.01, 2),
    reactance=st.floats(0, 1),
)
def test_a_joint_put_in_is_found(joint: float, resistance: float, reactance: float) -> None:
    loop = complex(resistance, reactance)
    assert extra_ohm(loop_shown(loop + joint), loop) == pytest.approx(joint, abs=1e-6)


def test_less_than_expected_is_below_nothing() -> None:
    assert extra_ohm(0.05, 0.11 + 0.04j) < 0
    assert extra_ohm(0.05, 30j) == pytest.approx(-10)  # far less than the reactance lets it show


@given(
    curve=st.sampled_from(("B", "C", "D")),
    rating=st.sampled_from((6.0, 10.0, 16.0, 32.0, 40.0, 63.0)),
    low=st.floats(0.1, 5000),
    more=st.floats(0, 5000),
)
def test_more_current_never_opens_a_breaker_later(curve: Any, rating: float, low: float, more: float) -> None:
    first, second = opens_within(curve, rating, low), opens_within(curve, rating, low + more)
    assert (second if second is not None else 1e9) <= (first if first is not None else 1e9)


@pytest.mark.parametrize("curve", ("B", "C", "D"))
@pytest.mark.parametrize("rating", (6.0, 32.0, 63.0))
def test_the_table_and_the_breaker_are_one(curve: Any, rating: float) -> None:
    """At the largest loop of the table the breaker just opens at once; a hundredth more, and it need not."""
    largest = max_loop_ohm(curve, rating)
    assert opens_within(curve, rating, 0.95 * 230 / largest) == 0.1
    assert opens_within(curve, rating, 0.95 * 230 / (1.01 * largest)) != 0.1


def test_what_is_told() -> None:
    agrees, joint = asked(measured_ohm="0.13"), asked(measured_ohm="0.65")
    assert "the map gives as much" in agrees["summary"][1]
    assert "more than the map" in joint["summary"][1] and "control room" in joint["summary"][1]
    assert "less than the map" in asked(main_m="1000", measured_ohm="0.1")["summary"][1]
    assert any("distributor" in warning for warning in joint["warnings"])
    assert agrees["warnings"] == []


def test_a_breaker_that_need_not_open_is_a_warning() -> None:
    slow = asked(curve="D", rating="63")
    assert "need not open in time" in slow["warnings"][0]
    assert "residual current" in " ".join(asked(earthing="tt", measured="no")["summary"])


def test_a_sheath_that_the_service_lacks_is_told() -> None:
    told = asked(earthing="tn-s")
    assert "service-25-al-cne has none" in told["summary"][0]
    assert told["drawing"].startswith("<svg")


def test_no_row_is_for_fuses() -> None:
    assert "fuses are left out" in " ".join(CALCULATOR.sources)
    [curve] = [shape for shape in CALCULATOR.inputs if shape.name == "curve"]
    assert [value for value, _ in curve.options] == ["B", "C", "D"]


def test_limits_are_those_of_the_earthing() -> None:
    def allowed(**typed: str) -> str:
        rows = asked(measured="no", **typed)["tables"][0]["rows"]
        return next(row["cells"][1] for row in rows if row["label"].startswith("Longest time"))

    assert allowed() == "at most 0.4 s"
    assert allowed(distribution="yes") == "at most 5.0 s"
    assert allowed(earthing="tt") == "at most 0.2 s"
    assert allowed(earthing="tt", distribution="yes") == "at most 1.0 s"


def test_main_and_return_are_apart() -> None:
    """With a smaller neutral the return is the larger part, though both run in one cable."""
    parts = loop_parts(mapped_street(defaults(main_cable="mains-300-al-cne")))
    assert parts["Main, PEN"].real > parts["Main, line"].real
