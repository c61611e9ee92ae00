"""How a form opens, what an example puts into it, and how what was typed is shown again."""

from __future__ import annotations

import pytest
import streets

from calc.calculator import Answer, Calculator, Choice, Example, Number, Tick
from calc.form import default_raw, example_raw, options, parse, shown

DATA = {"streets": {"pair": streets.pair().to_data(), "terrace": streets.terrace(30).to_data()}}
STREET = Choice("street", "Street", (), "", options_from="streets")
HOME = Choice("home", "Home", (), "1", options_from="homes", after=1)
FAULT = Choice("fault", "Fault", (), "service-pen-open", options_from="faults")
CABLE = Choice("cable", "Cable", (("thin", "A thin one"), ("thick", "A thick one")), "thick")
LOAD = Number("load", "Load", "kW", 0, 18, 2.5, 0.1)
FURTHER = Number("further", "Further load", "kW", 0, 18, 1, 0.1, optional=True)
PIPE, TUBE = Tick("pipe", "Pipe", True), Tick("tube", "Tube", False)
FORM = Calculator(
    "form",
    "A form",
    "Every kind of input.",
    (STREET, HOME, FAULT, CABLE, LOAD, FURTHER, PIPE, TUBE),
    lambda *_: Answer((), (), ""),
)
OPENS = {
    "street": "pair",
    "home": "14",  # the one after the first that begins with 1
    "fault": "service-pen-open@12",
    "cable": "thick",
    "load": "2.5",
    "further": "",
    "pipe": "yes",
    "tube": "no",
}


def test_a_form_opens_on_the_first_street_that_has_what_it_asks() -> None:
    assert default_raw(FORM, DATA) == OPENS
    there = default_raw(FORM, DATA, {"street": "terrace"})
    assert there["fault"].startswith("service-pen-open@") and there["home"] in ("10", "12", "14")
    assert default_raw(FORM, {"streets": {}}) == OPENS | {"street": "", "home": "", "fault": ""}


@pytest.mark.parametrize(("after", "home"), [(0, "12"), (1, "14"), (5, "14")])
def test_a_choice_opens_so_many_after_the_first_as_far_as_there_are(after: int, home: str) -> None:
    form = Calculator(
        "f", "", "", (STREET, Choice("home", "", (), "1", options_from="homes", after=after)), FORM.run
    )
    assert default_raw(form, DATA)["home"] == home
    nothing = Calculator("f", "", "", (STREET, Choice("home", "", (), "9", options_from="homes")), FORM.run)
    assert default_raw(nothing, DATA)["home"] == "12"


def test_an_example_names_how_an_option_begins() -> None:
    example = Example("", {"fault": "main-earth-lost", "load": "3", "cable": "thin", "tube": "yes"})
    raw = example_raw(FORM, example, DATA)
    assert raw == OPENS | {"fault": "main-earth-lost@12", "load": "3", "cable": "thin", "tube": "yes"}
    assert example_raw(FORM, Example("", {"home": "14"}), DATA) == OPENS
    assert example_raw(FORM, Example("", {"fault": "riser"}), DATA) is None


def test_each_input_is_read_as_what_it_is() -> None:
    values, problems = parse(FORM, OPENS, DATA)
    assert not problems
    assert values == {
        "street": "pair", "home": "14", "fault": "service-pen-open@12", "cable": "thick",
        "load": 2.5, "further": None, "pipe": True, "tube": False,
    }  # fmt: skip
    values, problems = parse(FORM, OPENS | {"pipe": "OFF", "tube": "perhaps", "cable": "thickest"}, DATA)
    assert values["pipe"] is False and values["further"] is None
    assert problems == {"tube": "Tick it or leave it.", "cable": "Choose one of these: thin, thick."}
    assert parse(FORM, OPENS | {"street": "x"}, DATA)[1]["street"] == "Choose one of these: pair, terrace."


def test_of_many_homes_those_that_are_spelt_alike_are_named() -> None:
    """Of few all are; where nothing is alike, the first."""
    raw = OPENS | {"street": "terrace"}
    _, problems = parse(FORM, raw | {"home": "66"}, DATA)
    named = problems["home"].removeprefix("Home 66 is not on A terrace. It has ").removesuffix(" and others.")
    assert len(named.split(", ")) == 6 and all("6" in home for home in named.split(", "))
    _, problems = parse(FORM, raw | {"home": "Farm"}, DATA)
    assert problems["home"] == "Home Farm is not on A terrace. It has 2, 4, 6, 8, 10, 12 and others."
    _, problems = parse(FORM, OPENS | {"home": "Farm"}, DATA)
    assert problems["home"] == "Home Farm is not on Two homes and a pipe. It has 12, 14."
    _, problems = parse(FORM, OPENS | {"home": ""}, DATA)
    assert problems["home"] == "Choose a home. Two homes and a pipe has 12, 14."
    _, problems = parse(FORM, OPENS | {"fault": "x" * 30}, DATA)
    assert problems["fault"].startswith(f"Fault {'x' * 23}… is not on Two homes and a pipe. It can have ")


@pytest.mark.parametrize(("homes", "is_many"), [(24, False), (25, True)])
def test_from_25_on_homes_are_many(homes: int, is_many: bool) -> None:
    street = streets.terrace(homes)
    data = {"streets": {"row": street.to_data()}}
    _, problems = parse(FORM, OPENS | {"street": "row", "home": "1"}, data)
    first = ", ".join(list(street.premises)[:6])
    alike = first not in problems["home"]
    assert alike == is_many and (" and others" in problems["home"]) == is_many


def test_what_was_typed_is_shown_with_its_unit_or_its_words() -> None:
    assert shown(LOAD, "3", DATA, OPENS) == "3 kW" and shown(FURTHER, "", DATA, OPENS) == "not given"
    assert shown(Number("n", "", "ohm", 0, 1, 1, 1), "0.5", DATA, OPENS) == "0.5 Ω"
    assert shown(Number("n", "", "", 0, 1, 1, 1), "0.5", DATA, OPENS) == "0.5"
    assert shown(CABLE, "thin", DATA, OPENS) == "A thin one"
    assert shown(STREET, "pair", DATA, OPENS) == "Two homes and a pipe"
    assert shown(HOME, "99", DATA, OPENS) == "99" and shown(PIPE, "yes", DATA, OPENS) == "yes"


def test_options_of_a_street_are_its_own() -> None:
    assert options(CABLE, {}, {}) == CABLE.options
    assert options(STREET, {"streets": {"here": {}}}, {}) == (("here", "here"),)
    assert options(HOME, DATA, OPENS) == (("12", "12"), ("14", "14"))
    assert options(FAULT, DATA, OPENS)[0] == ("healthy", "Healthy street")
    assert options(HOME, DATA, {}) == options(FAULT, DATA, {"street": "x"}) == ()


@pytest.mark.parametrize(
    ("low", "typed", "says"),
    [
        (0, "-3", "This cannot be below zero. Type a number from 0 to 9 kW."),
        (1, "-3", "This cannot be below zero. Type a number from 1 to 9 kW."),
        (1, "0.5", "That is too low. Type a number from 1 to 9 kW."),
        (-1, "-3", "That is too low. Type a number from -1 to 9 kW."),
        (-1, "9.1", "That is too high. Type a number from -1 to 9 kW."),
        (-1, "9 mV", "“mV” is not the unit here. Type the number in kW."),
    ],
)
def test_a_figure_past_its_limits_is_told_on_which_side(low: float, typed: str, says: str) -> None:
    form = Calculator("f", "", "", (Number("n", "", "kW", low, 9, 5, 1),), FORM.run)
    assert parse(form, {"n": typed}, {}) == ({}, {"n": says})
