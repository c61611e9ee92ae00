"""The story of two homes in three pictures: their figures, their words, and how a page plays it."""

from __future__ import annotations

import json
import re
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest
from streets import mixed, pair, terrace

from calc.calculators import CALCULATORS, answer_json, default_raw
from calc.drawing import Frame, picture, story_html, street_text
from calc.faults import parse
from calc.street import network

SVG = "{http://www.w3.org/2000/svg}"
DATA = {"streets": {"terrace": terrace(6).to_data(), "mixed": mixed().to_data()}}


def answered(calculator: str, **typed: str) -> Element:
    raw = default_raw(CALCULATORS[calculator], DATA) | typed
    reply = json.loads(answer_json(calculator, json.dumps(raw), json.dumps(DATA)))
    return ElementTree.fromstring(reply["ok"]["drawing"])


def titles(story: Element) -> list[str]:
    return [bold.text or "" for bold in story.iter("b")]


def test_two_homes_are_told_in_three_frames() -> None:
    story = answered("two-homes")
    assert [title.split(". ")[1].rstrip(".") for title in titles(story)] == [
        "Intact",
        "Next door's service PEN: open",
        "Our main earth lifted",
    ]
    crosses = [len(re.findall('stroke-linecap="round"', ElementTree.tostring(f, "unicode"))) for f in story]
    assert crosses == [0, 1, 2]


@pytest.mark.parametrize("lifted", ["no", "yes"])
@pytest.mark.parametrize("open_", ["nothing", "our-main-earth", "next-service-pen", "mains-pen"])
def test_one_frame_is_the_one_that_the_figures_are_for(open_: str, lifted: str) -> None:
    told = [
        frame
        for frame in answered("two-homes", open=open_, lifted=lifted)
        if "are for this" in "".join(frame.itertext())
    ]
    assert len(told) == 1


def test_a_street_of_the_guide_is_told_too() -> None:
    story = answered("one-street", street="terrace", home="2", fault="service-pen-open@4")
    assert len(list(story)) == 3 and "lifted" in titles(story)[2]
    assert len(list(answered("one-street", street="mixed", home="3", fault="healthy"))) == 2


def test_each_frame_has_its_own_ids_and_its_figures_as_a_list() -> None:
    healthy = network(pair())
    broken = parse("service-pen-open@14").applied_to(healthy)
    pictures = [picture(one, healthy, name=name) for name, one in (("a", healthy), ("b", broken))]
    frames = (Frame("Intact", "Before.", pictures[0]), Frame("Broken <b>", "After.", pictures[1]))
    story = ElementTree.fromstring(story_html(frames))
    ids = [one.attrib["id"] for one in story.iter() if "id" in one.attrib]
    assert len(ids) == len(set(ids))
    for now, element in zip((healthy, broken), story, strict=True):
        listed = tuple(one.text for one in element.iter("li"))
        assert listed == street_text(now, healthy)
    assert titles(story)[1] == "2 of 2. Broken <b>."


def test_dashes_lie_on_what_carries_current_and_run_its_way_home() -> None:
    story = answered("two-homes")
    groups = {g.attrib["data-conductor"]: g for g in story[1].iter(f"{SVG}g") if "data-conductor" in g.attrib}
    for group in groups.values():
        moving = [path for path in group if "ln-flow" in path.attrib.get("class", "")]
        assert len(moving) == (float(group.attrib["data-amps"]) >= 0.05)
        assert all(path.attrib["opacity"] == "0" for path in moving)
    # From Next door, whose PEN is open, down its main earth, along the pipe to ours, and home by our PEN.
    ways = {name: group[1].attrib["class"] for name, group in groups.items() if len(group) > 1}
    assert ways["Next door/main_earth"] == "ln-flow"
    assert ways["Ours-Next door/water"] == "ln-flow ln-back"
    assert ways["Ours/main_earth"] == "ln-flow ln-back"
    assert ways["substation-J1/PEN"] == "ln-flow ln-back"
