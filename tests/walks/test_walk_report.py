"""A walk told step by step says what the circuit says, and where it comes from."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from changed_trees import asking, with_last_exit, with_spec

from build_tools.cli import command_line
from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk_report import WalkReport, as_json, as_text, retell, told_by
from calc import faults
from calc.danger import SUPPLY_LOST, measured, new_harms, standing_harms
from calc.instruments import read
from calc.street import network
from calc.work import as_worked, done

PAIR = Path(__file__).parents[1] / "guides" / "pair"
SHIPPED = Path(__file__).parents[2] / "guide_src"


@pytest.fixture(scope="module")
def guide() -> Guide:
    return load(PAIR)


@pytest.fixture(scope="module")
def neighbour(guide: Guide) -> WalkReport:
    """Next door's PEN is open; every ordinary test here passes."""
    return retell(guide, "visit", "pair", "service-pen-open@2", "4")


def test_every_outcome_is_told_the_nearest_of_each_sort_first(neighbour: WalkReport) -> None:
    assert [(way.outcome, way.willing) for way in neighbour.ways] == [("danger", True), ("not-proven", False)]
    assert neighbour.endangered == ("2", "4")


def test_the_readings_are_the_instruments_own(neighbour: WalkReport, guide: Guide) -> None:
    """Held against `calc.instruments` on a network made here, without the walk."""
    faulty = faults.parse("service-pen-open@2").applied_to(network(guide.streets["pair"]))
    danger = neighbour.ways[0]
    assert danger.stages[0].shown.endswith(
        read(faulty, "4", "voltmeter", ("earth", "independent_earth")).text
    )
    loaded = as_worked(faulty, done(frozenset(), "switch-on-known-load", "2"))
    last = danger.stages[-1]
    assert (last.node, last.home) == ("both", "2")
    assert last.shown.endswith(read(loaded, "2", "clamp", ("neutral_tail", "main_earth")).text)
    assert last.answer == "next to nothing (below 2 A)"


def test_the_place_of_each_answer_is_where_it_is_written(neighbour: WalkReport) -> None:
    file, line, _ = neighbour.ways[0].stages[-1].place.split(":")
    assert "label: next to nothing" in Path(file).read_text("utf-8").splitlines()[int(line) - 1]


def test_a_harm_on_the_way_is_marked(pair_with: Callable[..., Path]) -> None:
    """A tree that lifts the earth first: with this home's PEN open the loose earth is held up next door."""
    guide = load(pair_with(("start: probe", "start: lift")))
    told = retell(guide, "visit", "pair", "service-pen-open@2", "4")
    wrong = told.ways[0].stages[0].wrong
    assert wrong and all("this step can hurt" in one for one in wrong)
    assert f"      ! {wrong[0]}" in as_text(told)
    assert told.ways[0].closes and "closed beside a fault" in told.ways[0].wrong[0]


def test_what_hurts_before_anything_is_done_is_told(guide: Guide) -> None:
    fault = faults.parse("reversed-polarity-earth-live@4")
    told = retell(guide, "visit", "pair", str(fault), "4")
    assert told.standing == tuple(map(str, standing_harms(fault.applied_to(network(guide.streets["pair"])))))
    assert told.standing


def test_a_line_that_the_home_does_not_have_is_told_not_raised(pair_with: Callable[..., Path]) -> None:
    guide = load(pair_with(("start: probe", "start: polarity"), ("on: [line, earth]", "on: [line3, earth]")))
    told = retell(guide, "visit", "pair", "healthy", "4")
    stages = [stage for way in told.ways for stage in way.stages if stage.node == "polarity"]
    assert stages and all("line3" in stage.wrong[0] and stage.shown == "" for stage in stages)


def test_json_holds_the_same(neighbour: WalkReport) -> None:
    data = json.loads(as_json(neighbour))
    assert data["fault"] == "service-pen-open@2"
    assert [way["outcome"] for way in data["ways"]] == [way.outcome for way in neighbour.ways]
    assert data["ways"][0]["stages"][-1]["shown"] == neighbour.ways[0].stages[-1].shown


def test_json_can_be_read_by_people_too(neighbour: WalkReport) -> None:
    told = as_json(neighbour)
    assert told.startswith('{\n  "tree": "visit",\n') and '\n      "outcome": "danger",\n' in told
    assert '"answer": "as expected (below 0.8 Ω)"' in told


def test_the_text_says_whom_it_endangers_and_how_each_way_ends(guide: Guide, neighbour: WalkReport) -> None:
    told = as_text(neighbour)
    assert told.startswith(
        "A visit to one of two homes (visit)\n"
        "Service PEN open at 2 (service-pen-open@2) on pair, visiting 4\n"
        "endangered: 2, 4\nhurts before anything is done: nothing\n"
    )
    assert "\n\n1. Danger (danger; emergency; the job stays open)\n" in told
    assert "\n\n2. Not proven (not-proven; urgent; the job stays open)\n" in told
    assert "   only where something was not taken or not known; steps: 1\n" in told
    assert "wrong on longer ways" not in told
    assert [line for line in told.split("\n") if line.startswith("   at ")] == [
        "   at 4",
        "   at 2",
        "   at 4",
    ]
    stages = neighbour.ways[0].stages
    assert (
        f"   {len(stages):>3}  {stages[-1].words}\n        {stages[-1].shown} -> {stages[-1].answer}\n"
        in told
    )
    assert f"{stages[5].words}\n     7  " in told and not (stages[5].shown or stages[5].answer)  # a step
    noted = as_text(replace(neighbour, notes=("Drawn street 4.", "It breaks a promise.")))
    assert "done: nothing\nDrawn street 4.\nIt breaks a promise.\n\n1. " in noted
    sound = as_text(retell(guide, "visit", "pair", "healthy", "4"))
    assert "\nendangered: nobody\n" in sound
    assert "1. Nothing found (nothing-found; routine; the job may be closed)\n" in sound


def told_of(tree: Tree, guide: Guide, fault: str) -> WalkReport:
    return told_by(tree, "pair", Oracle(guide.streets["pair"], faults.parse(fault)), "4")


def test_it_says_how_much_the_model_leaves_open(guide: Guide) -> None:
    hurt = asking(guide.trees["visit"], "hurt", "not-proven", "probe")
    none, some = told_of(hurt, guide, "healthy").ways
    assert (none.outcome, none.left_open, none.found) == ("not-proven", ("hurt",), False)
    assert (some.outcome, some.left_open, some.found) == ("nothing-found", ("hurt",), True)
    assert some.stages[0].shown == "the model leaves this open"
    assert "where 1 answer on the way is as told" in as_text(told_of(hurt, guide, "healthy"))
    smoke = told_of(asking(hurt, "smoke", "danger", "hurt"), guide, "healthy")
    assert smoke.ways[-1].left_open == ("smoke", "hurt")
    assert "where 2 answers on the way are as told" in as_text(smoke)
    no_matter = told_of(asking(guide.trees["visit"], "hurt", "probe", "probe"), guide, "healthy")
    assert not any(way.left_open for way in no_matter.ways)


def test_harm_on_a_longer_way_than_any_that_is_told_is_told_too(guide: Guide) -> None:
    """Nobody who is led by the shortest way to the end would lift the earth."""
    tree = with_spec(
        with_last_exit(guide.trees["visit"], "lift", go="danger"), "lift", does=("lift-main-earth",)
    )
    told = told_of(asking(tree, "hurt", "danger", "lift"), guide, "service-pen-open@4")
    assert [len(way.stages) for way in told.ways] == [1]
    there = faults.parse("service-pen-open@4").applied_to(network(guide.streets["pair"]))
    lifted = as_worked(there, done(frozenset(), "lift-main-earth", "4"))
    new = new_harms(measured(there), measured(lifted))
    harms = [harm for harm in new if (harm.home, harm.what) != ("4", SUPPLY_LOST)]  # taken for meant
    assert len(harms) > 1
    assert sorted(told.elsewhere) == sorted(
        f"lift: this step can hurt: {harm.what}: {harm}" for harm in harms
    )
    assert as_text(told).endswith(
        "\n\nwrong on longer ways:\n" + "\n".join(f"  ! {one}" for one in told.elsewhere)
    )


def test_every_harm_of_a_step_is_marked_where_it_stands(guide: Guide) -> None:
    tree = with_spec(guide.trees["visit"], "lift", does=("lift-main-earth",))
    told = told_of(replace(tree, start="lift"), guide, "service-pen-open@4")
    wrong = told.ways[0].stages[0].wrong
    assert len(wrong) > 1
    marked = "\n".join(f"      ! {one}" for one in wrong)
    assert f"     1  {tree.nodes['lift'].words}\n{marked}\n     2  " in as_text(told)


def test_a_tree_with_a_reading_that_cannot_be_taken_is_not_walked(guide: Guide) -> None:
    tree = with_spec(guide.trees["visit"], "probe", on=("earth",))
    with pytest.raises(ValueError, match="cannot be taken anywhere"):
        retell(replace(guide, trees={"visit": tree}), "visit", "pair", "healthy", "4")


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["vist", "pair", "healthy", "4"], "did you mean `visit`"),
        (["visit", "pear", "healthy", "4"], "did you mean `pair`"),
        (["visit", "pair", "service-pen-opn@2", "4"], "service-pen-open"),
        (["visit", "pair", "service-pen-open@8", "4"], "it can be at"),
        (["visit", "pair", "healthy", "8"], "there are: 2, 4, 6"),
    ],
)
def test_a_wrong_name_gets_its_neighbours(
    words: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    tree, street, fault, home = words
    command = ["walk", "--guide", str(PAIR), tree, "--street", street, "--fault", fault, "--at", home]
    assert command_line.main(command) == 2
    assert said in capsys.readouterr().err


def test_a_telephone_tree_is_not_walked() -> None:
    with pytest.raises(ValueError, match="for the telephone"):
        retell(load(SHIPPED), "caller-tingle", "tannery-row", "healthy", "2")


def test_the_shipped_guide_can_be_asked_from_a_terminal(capsys: pytest.CaptureFixture[str]) -> None:
    """An open PEN next door, seen from a home where every ordinary test passes."""
    words = "walk tingle-on-pipework --street tannery-row --fault service-pen-open@4 --at 2"
    assert command_line.main(words.split()) == 0
    told = capsys.readouterr().out
    assert "The PEN next door is broken (next-door-pen-open; emergency; the job stays open)" in told
    assert "   at 4\n" in told


def test_an_end_that_the_model_leaves_open_is_not_told_as_found(capsys: pytest.CaptureFixture[str]) -> None:
    """Nobody has to be hurt there, and nothing has to burn; that next door's PEN is broken is found. Whether
    somebody there depends on the supply, the model does not know."""
    words = "walk tingle-on-pipework --street tannery-row --fault service-pen-open@4 --at 2 --json"
    assert command_line.main(words.split()) == 0
    ways = {way["outcome"]: way for way in json.loads(capsys.readouterr().out)["ways"]}
    assert [way["outcome"] for way in ways.values() if way["willing"] and way["found"]] == [
        "next-door.pen-open-off"
    ]
    assert (ways["hurt"]["left_open"], ways["hurt"]["found"]) == (["danger-now"], False)
    assert ways["next-door-pen-open"]["left_open"][0] == "danger-now"
    assert command_line.main(words.split()[:-1]) == 0
    told = capsys.readouterr().out
    assert told.count("   what is found leads here") == 1
    assert "whether it comes to this: the answer at danger-now decides; steps: 1\n" in told


def test_an_end_without_an_open_answer_is_told_as_found(neighbour: WalkReport) -> None:
    assert "\n   what is found leads here; steps:" in as_text(neighbour)
    assert all(not way.left_open and way.found for way in neighbour.ways if way.willing)
