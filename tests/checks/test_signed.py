"""Words that people act on in danger are those that somebody read, and rules bind what they bound."""

from __future__ import annotations

from datetime import date
from pathlib import Path

import pytest

from build_tools.checks import CHECKS, signed
from build_tools.cli import command_line
from build_tools.guide.loading import load
from build_tools.guide.signing import texts
from build_tools.guide.trees import Guide

WHO = "A. Marsh, earthing"
DAY = date(2026, 5, 4)


def found(guide: Guide) -> list[tuple[str, str]]:
    """Each finding of the check by its file and name."""
    return [(finding.place.file, finding.check) for finding in signed.check(guide, ())]


def sign(*words: str) -> int:
    return command_line.run(command_line.parse(["sign", "--guide", ".", "--day", str(DAY), *words]))


@pytest.fixture
def read_guide(small_guide):
    """The small guide, signed."""
    small_guide.edit(
        "rules.yaml",
        '  every: {outcome_closes: true}\n  never_after: {question: {fact: tingle, is: "yes"}}',
        "  every: {node: done}\n  never_after: {does: lift-main-earth}",
    )
    assert sign("--by", WHO) == 0
    return small_guide


def test_it_is_among_the_checks() -> None:
    assert signed.check in CHECKS


def test_a_guide_that_nobody_signs_is_not_held_to_it(small_guide) -> None:
    assert found(small_guide.sound()) == []


def test_a_signed_guide_is_as_it_was_read(read_guide) -> None:
    guide = read_guide.sound()
    assert found(guide) == []
    (signature,) = guide.signatures
    assert (signature.by, signature.day) == (WHO, DAY)
    assert signature.words["guide.yaml"].keys() == {"cautions"}
    assert signature.rules.keys() == {rule.id for rule in guide.rules} and min(signature.rules.values()) > 0


def test_the_shipped_guide_is_signed(guide: Guide) -> None:
    """With each danger, the opening and every emergency of every tree; and it says who has not read it."""
    assert guide.signatures and found(guide) == []
    places = {(text.file, text.place) for text in texts(guide)}
    assert guide.settings is not None
    for danger in guide.settings.dangers:
        assert {("guide.yaml", f"dangers.{danger}.{what}") for what in ("say", "do")} <= places
    assert ("guide.yaml", "opening") in places and ("guide.yaml", "danger_now.call") in places
    emergencies = {
        (f"trees/{file.spec.audience}/{name}.yaml", f"nodes.{id_}")
        for name, file in guide.tree_files.items()
        for id_, node in file.spec.nodes.items()
        if getattr(node, "priority", "") == "emergency"
    }
    assert len(emergencies) > 20 and emergencies <= places


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("guide.yaml", "trained and authorised", "any"),
        ("trees/call/tingle-told.yaml", "priority: emergency", "priority: urgent"),
        ("trees/call/tingle-told.yaml", "Do not touch them.", "Do touch them."),
        ("trees/site/main-earth.yaml", "hand_over: The control room.", "hand_over: The office."),
    ],
)
def test_other_words_are_read_again(read_guide, file: str, old: str, new: str) -> None:
    """Who has it next and how pressing it is count as words."""
    read_guide.edit(file, old, new)
    assert (file, "unsigned") in found(read_guide.load())
    (finding, *_) = signed.check(read_guide.load(), ())
    assert WHO in finding.what and "sign --by" in finding.mend
    assert sign() == 1 and sign("--by", "B. Lund, control room") == 0
    again = read_guide.load()
    assert found(again) == [] and [one.by for one in again.signatures] == [WHO, "B. Lund, control room"]


def test_help_may_be_put_better(read_guide) -> None:
    read_guide.edit("trees/call/tingle-told.yaml", "  send-now:\n", "  send-now:\n    help: Told better.\n")
    assert found(read_guide.load()) == []


def test_an_operator_puts_own_names_in(guide: Guide) -> None:
    """What is signed is what the guide says; the operator answers for the names that stand in it."""
    other = Path(__file__).parents[1] / "operators/harrowfen.yaml"
    theirs = load(guide.folder, guide.today, operator=other)
    assert theirs.operator != guide.operator and found(theirs) == []
    assert any("{services}" in line for text in texts(theirs) for line in text.says)


def test_what_was_signed_may_not_go_without_a_word(read_guide) -> None:
    cautions = "cautions:\n  - For trained and authorised people. Local safety rules come first.\n"
    read_guide.edit("guide.yaml", cautions, "")
    assert found(read_guide.load()) == [("signed.yaml", "signed-and-gone")]
    assert sign("--by", WHO) == 0
    assert found(read_guide.load()) == []


def test_a_rule_binds_no_less_than_when_it_was_signed(read_guide) -> None:
    (signature,) = read_guide.load().signatures
    for id_, nodes in signature.rules.items():
        text = Path("signed.yaml").read_text("utf-8")
        for more, expected in ((1, [("rules.yaml", "rule-binds-less")]), (-1 if nodes > 1 else 0, [])):
            read_guide.write("signed.yaml", text.replace(f"{id_}: {nodes}", f"{id_}: {nodes + more}"))
            assert found(read_guide.load()) == expected
        read_guide.write("signed.yaml", text)
    read_guide.edit("rules.yaml", "hazard: opens-earth-path", "hazard: works-live")
    assert ("rules.yaml", "rule-binds-less") in found(read_guide.load())


def test_a_rule_that_is_new_is_signed_and_one_that_is_gone_is_told(read_guide) -> None:
    read_guide.edit("rules.yaml", "- id: clamp-before-disconnect", "- id: clamp-first")
    assert found(read_guide.load()) == [("rules.yaml", "rule-binds-less"), ("signed.yaml", "signed-and-gone")]


def test_nobody_signs_tomorrow(read_guide) -> None:
    read_guide.edit("signed.yaml", str(DAY), "2099-01-01")
    assert found(read_guide.load()) == [("signed.yaml", "signed-in-future")]


def test_one_file_may_be_signed_by_itself(small_guide, capsys: pytest.CaptureFixture[str]) -> None:
    """What a person has not read stays to be signed; what is to be read is printed whole."""
    assert sign("guide.yaml", "--by", WHO) == 0
    assert "For trained and authorised people" in capsys.readouterr().out
    checks = {check for _, check in found(small_guide.load())}
    assert checks == {"unsigned", "rule-binds-less"}
    assert "guide.yaml" not in {file for file, _ in found(small_guide.load())}


def test_a_guide_that_cannot_be_read_is_not_signed(small_guide) -> None:
    small_guide.edit("rules.yaml", "audience: site", "audience: sight")
    assert sign("--by", WHO) == 1 and load(".").signatures is None
