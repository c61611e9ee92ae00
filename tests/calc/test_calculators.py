"""The calculators: their figures against the outside, and whatever a person may type."""

from __future__ import annotations

import json
import math
import random
import re
import sys
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st
from questions import any_raw, limits
from streets import overhead, terrace

import calc.calculators
from calc.balance import phase_emfs, star
from calc.calculators import (
    CALCULATORS,
    Answer,
    Calculator,
    Choice,
    Number,
    answer_json,
    default_answer,
    default_raw,
    example_raw,
    figure,
    found,
    options,
    parse,
)
from calc.calculators.lost_neutral import lost
from calc.faults import parse as parse_fault
from calc.readings import TESTS, readings
from calc.results import RESULTS
from calc.street import FLOOR_OHM, load_ohm, network

DATA = {"streets": {"terrace": terrace().to_data(), "overhead": overhead().to_data()}}
NUMBERS = [
    (calculator, shape)
    for calculator in CALCULATORS.values()
    for shape in calculator.inputs
    if isinstance(shape, Number)
]


def asked(calculator: str, **typed: str) -> dict[str, Any]:
    """The reply to the form as it opens, with some inputs typed anew."""
    raw = default_raw(CALCULATORS[calculator], DATA) | typed
    return json.loads(answer_json(calculator, json.dumps(raw), json.dumps(DATA)))


def problem(shape: Number, typed: str) -> str:
    """The sentence for what was typed, or "" where it is taken."""
    calculator = Calculator("one", "", "", (shape,), lambda values, data: Answer((), (), ""))
    return parse(calculator, {shape.name: typed}, {})[1].get(shape.name, "")


def value(typed: str, unit: str = "ohm", low: float = 0, high: float = 1e6) -> float:
    calculator = Calculator(
        "one", "", "", (Number("n", "N", unit, low, high, low, 1),), lambda *_: Answer((), (), "")
    )
    values, problems = parse(calculator, {"n": typed}, {})
    assert problems == {}
    return values["n"]


# Figures against the outside

LOST = {
    "three homes, no electrode": (
        # Hand-worked from Millman's theorem, 230 V: Vn 66.4.
        (230, (6, 4, 2), None, 0),
        {"volts": (175.7, 239.4, 289.4), "metalwork_volts": 66.4},
    ),
    "three homes, 20 ohm": (
        # Hand-worked from Millman's theorem, 230 V.
        (230, (6, 4, 2), 20, 0),
        {"volts": (184.9, 236.3, 278.4), "metalwork_volts": 54.4, "electrode_a": 2.72},
    ),
    "one home, the source's electrode too": (
        # Hand-worked series circuit, 230 V: 17.633 + 20 + 5 ohm; the metalwork has the 20 ohm's share.
        (230, (3, 0, 0), 20, 5),
        {"metalwork_volts": 107.90, "electrode_a": 5.395},
    ),
    "two loads in series": (
        # A trade forum's worked case (380 V, 55 and 110 ohm across two phases): 126.5 and 253 V.
        (380 / math.sqrt(3), (230**2 / 55e3, 230**2 / 110e3, 0), None, 0),
        {"volts": (126.67, 253.33)},
    ),
    "a public example": (
        # 400 V, loads as 4:1:0, no neutral; the code was seen, its figures worked here by hand.
        (400 / math.sqrt(3), (0.4, 0.1, 0), None, 0),
        {"volts": (80.0, 320.0, 366.6), "metalwork_volts": 166.533},
    ),
}


@pytest.mark.parametrize("case", LOST)
def test_a_lost_neutral_as_worked_by_hand(case: str) -> None:
    asked_for, expected = LOST[case]
    found_ = lost(*asked_for)
    for name, wanted in expected.items():
        shown = getattr(found_, name)
        pairs = zip(shown, wanted, strict=False) if isinstance(wanted, tuple) else [(shown, wanted)]
        for one, other in pairs:
            assert one == pytest.approx(other, rel=1e-3), name


def test_a_lost_neutral_as_millman_has_it() -> None:
    chance = random.Random(7)
    for _ in range(200):
        loads = [chance.choice((0.0, chance.uniform(0.1, 30))) for _ in range(3)]
        electrode, source, volts = chance.uniform(0.5, 500), chance.uniform(0, 10), chance.uniform(200, 260)
        now = lost(volts, loads, electrode, source)
        earth = 1 / (1 / electrode + 1 / FLOOR_OHM)
        expected = star(phase_emfs(volts), [load_ohm(kw) for kw in loads], earth + source)
        assert now.shift == pytest.approx(expected.shift_v, abs=1e-3)
        assert now.volts == pytest.approx([abs(v) for v in expected.load_v], abs=1e-3)
        assert now.metalwork_volts == pytest.approx(
            abs(expected.shift_v) * earth / (earth + source), abs=1e-3
        )


def test_ordinary_tests_pass_beside_a_neighbours_open_pen_and_lifting_shows_it() -> None:
    # Common practice, no source: what crews report of an open PEN next door.
    said = "\n".join(asked("two-homes")["ok"]["summary"])
    assert said.count("every ordinary test passes") == 2
    assert "400 V lamp" in said
    assert "supply lost or far too low at Next door" in said


def test_homes_on_one_phase_leave_the_indicator_dark_over_a_live_earth() -> None:
    # Worked by hand: our line and the loose earth are then on one phase, so nothing stands between them.
    said = "\n".join(asked("two-homes", next_phase="L1")["ok"]["summary"])
    assert "shows no lamp; the loose earth stands at 239." in said
    assert "only an independent earth tells" in said


def test_a_healthy_main_earth_carries_current_where_there_is_a_pipe() -> None:
    # Common practice, no source: some current on the earths of a PME street is normal.
    table = asked("two-homes", open="nothing")["ok"]["tables"][1]
    shown = {row["label"]: row["cells"] for row in table["rows"]}
    healthy, now = shown["Clamp round the main earthing conductor"]
    assert healthy == now and float(now.split()[0]) > 1


def test_one_street_shows_what_the_instruments_show() -> None:
    table = asked("one-street", street="terrace", fault="service-pen-open@4", home="6")["ok"]["tables"][1]
    faulty = readings(parse_fault("service-pen-open@4").applied_to(network(terrace())), "6")
    assert table["columns"] == ["Test", "Healthy", "Now"]
    assert [row["cells"][1] for row in table["rows"]] == [
        faulty[test.id].text.replace("ohm", "Ω") for test in TESTS
    ]


# The form


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_the_form_opens_with_an_answer(calculator: Calculator) -> None:
    answer = default_answer(calculator, DATA)
    assert answer.summary and answer.tables and answer.drawing
    assert calculator.sources and calculator.cautions and calculator.about
    assert json.loads(json.dumps(asked(calculator.id)["ok"]["summary"])) == list(answer.summary)


@pytest.mark.parametrize(("calculator", "shape"), NUMBERS, ids=lambda x: getattr(x, "name", ""))
def test_limits_are_taken_and_past_them_is_refused_with_their_figures(
    calculator: Calculator, shape: Number
) -> None:
    raw = default_raw(calculator, DATA)
    for typed in (shape.low, shape.high):
        assert "ok" in asked(calculator.id, **{shape.name: f"{typed:g}"})
    for typed in (shape.low - shape.step, shape.high + shape.step, -1e300, 1e300):
        _, problems = parse(calculator, raw | {shape.name: repr(typed)}, DATA)
        assert list(problems) == [shape.name]
        assert f"{shape.low:g} to {shape.high:g}" in problems[shape.name]


TYPED = {
    "0,8 Ω": 0.8,
    "0.8": 0.8,
    ".5": 0.5,
    " 12 ": 12,
    "1e-1": 0.1,
    "1,5E2ohm": 150,
    "20 mΩ": 0.02,
    "1 kΩ": 1000,
    "0.001 MOHM": 1000,
    "+3": 3,
    "0.5 \N{OHM SIGN}": 0.5,
}


@pytest.mark.parametrize("typed", TYPED)
def test_figures_as_people_write_them(typed: str) -> None:
    assert value(typed) == pytest.approx(TYPED[typed])


@pytest.mark.parametrize("typed", ["5e-324", "1e-320", "0.0000000000001"])
@pytest.mark.parametrize(("calculator", "shape"), NUMBERS, ids=lambda x: getattr(x, "name", ""))
def test_next_to_nothing_is_nothing(calculator: Calculator, shape: Number, typed: str) -> None:
    """One over the least number that a machine has is no number."""
    replied = asked(calculator.id, **{shape.name: typed})
    assert ("ok" in replied) == (shape.low <= 0)


def test_watts_are_kilowatts() -> None:
    assert value("800 W", "kW") == pytest.approx(0.8)
    assert value("2.4kw", "kW") == pytest.approx(2.4)


BAD = {
    "": "Type a number from 0 to 18 kW.",
    "lots": "“lots” is not a number. Type one such as 1, from 0 to 18 kW.",
    "nan": "“nan” is not a number. Type one such as 1, from 0 to 18 kW.",
    "inf": "“inf” is not a number. Type one such as 1, from 0 to 18 kW.",
    "1.234,5": "1.234,5 has more than one point or comma. Type it with one at most.",
    "5,000": "5,000 can mean 5.000 or 5000. Type it as one of these.",
    "1_000": "“1_000” is not a number. Type one such as 1, from 0 to 18 kW.",
    "-1": "This cannot be below zero. Type a number from 0 to 18 kW.",
    "−1": "This cannot be below zero. Type a number from 0 to 18 kW.",
    "18.1": "That is too high. Type a number from 0 to 18 kW.",
    "1e999": "That is too high. Type a number from 0 to 18 kW.",
    "3 V": "“V” is not the unit here. Type the number in kW.",
    "3 parsecs": "“parsecs” is not the unit here. Type the number in kW.",
    "<script>x</script>": "“<script>x</script>” is not a number. Type one such as 1, from 0 to 18 kW.",
}


@pytest.mark.parametrize("typed", BAD)
def test_what_cannot_be_used_gets_a_kind_sentence(typed: str) -> None:
    assert problem(Number("load", "Load", "kW", 0, 18, 1, 0.1), typed) == BAD[typed]


def test_a_home_or_fault_of_another_street_is_named_with_those_that_belong() -> None:
    replied = asked("one-street", street="overhead", home="6", fault="service-pen-open@6")
    assert replied["problems"]["home"] == "Home 6 is not on An overhead line. It has Farm, Mill, Cot."
    assert replied["problems"]["fault"].startswith(
        "Fault service-pen-open@6 is not on An overhead line. It can"
    )
    assert "service-pen-open@Mill" in replied["problems"]["fault"]
    assert [value for value, _ in replied["options"]["home"]] == ["Farm", "Mill", "Cot"]


def test_options_follow_the_street() -> None:
    home, fault = CALCULATORS["one-street"].inputs[1:3]
    assert isinstance(home, Choice) and isinstance(fault, Choice)
    assert dict(options(home, DATA, {"street": "terrace"})).keys() == terrace().premises.keys()
    assert ("healthy", "Healthy street") in options(fault, DATA, {"street": "terrace"})
    assert options(home, DATA, {"street": "nowhere"}) == ()
    assert "Choose a street first." in asked("one-street", street="nowhere")["problems"].values()


NOT_FORMS = [
    "",
    "null",
    "[]",
    "7",
    '"x"',
    "{",
    '{"a":',
    "[" * 100_000,
    '{"our_load": {"a": [1]}}',
    '{"our_load": null}',
]


@pytest.mark.parametrize("raw", NOT_FORMS)
@pytest.mark.parametrize("calculator", CALCULATORS)
def test_a_form_that_is_none_gets_problems(calculator: str, raw: str) -> None:
    replied = json.loads(answer_json(calculator, raw, json.dumps(DATA)))
    assert replied["problems"] and "ok" not in replied
    assert all(sentence.endswith(".") for sentence in replied["problems"].values())


def test_the_reply_has_the_shape_that_the_page_reads() -> None:
    replied = asked("lost-neutral")
    assert set(replied) == {"ok", "options"}
    assert set(replied["ok"]) == {"summary", "tables", "drawing", "warnings"}
    for table in replied["ok"]["tables"]:
        assert set(table) == {"title", "columns", "rows"}
        assert all(set(row) == {"label", "cells"} for row in table["rows"])


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_any_values_within_the_limits_have_a_finite_answer(calculator: Calculator) -> None:
    chance = random.Random(calculator.id)
    for _ in range(200):
        raw = any_raw(calculator, DATA, chance)
        replied = json.loads(answer_json(calculator.id, json.dumps(raw), json.dumps(DATA)))
        assert "ok" in replied, (raw, replied)
        text = json.dumps(replied["ok"])
        assert not re.search(r"\b(nan|inf|None)\b", text), raw
        ElementTree.fromstring(replied["ok"]["drawing"])


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_what_a_calculator_declares_is_what_it_answers(calculator: Calculator) -> None:
    raws = [default_raw(calculator, DATA), *limits(calculator, DATA)]
    raws += filter(None, (example_raw(calculator, one, DATA) for one in calculator.examples))
    for raw in raws:
        answer = asked(calculator.id, **raw)["ok"]
        first = answer["tables"][0]
        if calculator.outputs:
            assert first["title"] == RESULTS
            assert [row["label"] for row in first["rows"]] == [output.label for output in calculator.outputs]
        drawing = ElementTree.fromstring(answer["drawing"])
        assert any(said.strip() for said in _told(drawing)), "a drawing has words for those who do not see it"
    assert all(example.values.keys() <= raws[0].keys() for example in calculator.examples)


def _told(drawing: ElementTree.Element) -> list[str]:
    """The names and descriptions of the pictures in a drawing."""
    pictures = [one for one in drawing.iter() if one.get("role") == "img"]
    titles = [child for one in pictures for child in one if child.tag.rpartition("}")[2] in ("title", "desc")]
    return [one.get("aria-label", "") for one in pictures] + [child.text or "" for child in titles]


@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
@given(typed=st.data())
def test_whatever_is_typed_gets_a_value_or_a_sentence(calculator: Calculator, typed: st.DataObject) -> None:
    nearly = st.from_regex(r"[-+]?[0-9]{0,4}[.,]?[0-9]{0,3}([eE][-+]?[0-9]{1,4})? ?[a-zA-ZΩ%]{0,4}")
    raw = {shape.name: typed.draw(st.text(max_size=30) | nearly) for shape in calculator.inputs}
    values, problems = parse(calculator, raw, DATA)
    assert values.keys() | problems.keys() == raw.keys() and not values.keys() & problems.keys()
    assert all(len(sentence) > 10 and sentence.endswith(".") for sentence in problems.values())


def test_figures_are_written_in_one_way() -> None:
    assert figure(-0.04, 1, "V") == "0.0 V"
    with pytest.raises(ValueError, match="finite"):
        figure(math.nan, 1)


def test_one_more_calculator_costs_one_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "one_resistor.py").write_text(
        "from calc.calculator import Answer, Calculator, Number, Row, Table\n"
        "from calc.figures import figure\n"
        "def run(values, data):\n"
        "    shown = figure(values['volts'] / 10, 1, 'A')\n"
        "    table = Table('One', ('What', 'Now'), (Row('Current', (shown,)),))\n"
        "    return Answer((f'It takes {shown}.',), (table,), '')\n"
        "CALCULATOR = Calculator('one-resistor', 'One resistor', 'Ten ohms.',\n"
        "    (Number('volts', 'Volts', 'V', 0, 500, 230, 1),), run)\n"
    )
    monkeypatch.setattr(calc.calculators, "__path__", [*calc.calculators.__path__, str(tmp_path)])
    everything = found(calc.calculators.__path__, "calc.calculators")
    monkeypatch.delitem(sys.modules, "calc.calculators.one_resistor")
    assert set(everything) == {*CALCULATORS, "one-resistor"}
    monkeypatch.setitem(CALCULATORS, "one-resistor", everything["one-resistor"])
    assert asked("one-resistor", volts="115,5")["ok"]["summary"] == ["It takes 11.6 A."]
