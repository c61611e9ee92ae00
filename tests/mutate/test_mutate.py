"""Damage to the shipped guide is refused; what is made is what is said, and the same however it is split."""

from __future__ import annotations

from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.mutate import run
from build_tools.mutate.slips import KINDS, mutants
from build_tools.mutate.trial import judge

SHIPPED = Path(__file__).parents[2] / "guide_src"


def test_every_kind_of_damage_is_done_somewhere() -> None:
    assert {mutant.kind for mutant in mutants(load(SHIPPED))} == set(KINDS)


def test_a_mutant_is_one_file_changed_without_a_line_moved() -> None:
    for mutant in mutants(load(SHIPPED)):
        text = (SHIPPED / mutant.file).read_text("utf-8")
        spoilt = mutant.applied_to(text)
        assert spoilt != text, mutant
        added = spoilt.count("\n") - text.count("\n")
        assert added == (mutant.kind == "outcome-closes"), mutant


@pytest.fixture(scope="module")
def sampled():
    return run(SHIPPED, sample=40, seed=1)


def test_a_sample_is_refused(sampled) -> None:
    assert len(sampled.verdicts) == 40
    assert sampled.refused / 40 >= 0.95, sampled.as_text()
    assert not sampled.unexplained, sampled.as_text()


@pytest.mark.parametrize("seed", [3])
def test_the_split_changes_nothing(small_guide, seed: int) -> None:
    alone = run(small_guide.folder, sample=6, seed=seed, processes=1)
    split = run(small_guide.folder, sample=6, seed=seed, processes=2)
    assert alone.as_json() == split.as_json()


def test_a_survivor_is_listed_with_its_place(small_guide) -> None:
    """The small guide does not say a second time what it stands on, so its rules can be lost."""
    report = run(small_guide.folder, processes=1)
    lost = [one.mutant for one in report.survivors if one.mutant.kind == "rule-removed"]
    assert lost
    assert all(str(mutant) in report.as_text() for mutant in lost)


def test_what_is_refused_is_counted_by_kind_and_check(small_guide) -> None:
    report = run(small_guide.folder, sample=12, seed=2, processes=1)
    assert sum(refused for _, refused, _ in report.by_kind) == report.refused
    assert sum(made for _, _, made in report.by_kind) == 12
    assert all(one.survived == (one.finding == "") for one in report.verdicts)


def test_a_node_left_out_leads_where_all_is_well() -> None:
    """A reading that gives no figure goes on as a usual figure does, not as the first range that leads on."""
    made = [m for m in mutants(load(SHIPPED)) if m.kind == "no-figure-leads-on" and m.node == "volts"]
    assert {m.what.rpartition(" ")[2] for m in made} == {"neutral-to-earth"}


KINDS_OF_WORDS = ("readings-swapped", "opposite-verb", "answers-relabelled", "denial-lost")


@pytest.mark.parametrize("kind", KINDS_OF_WORDS)
def test_words_that_say_something_else_are_refused(kind: str, tmp_path: Path) -> None:
    """A handful from all over the guide; what is done and where it leads stays what it was."""
    made = [mutant for mutant in mutants(load(SHIPPED)) if mutant.kind == kind]
    for mutant in made[:: len(made) // 4]:
        assert judge(str(SHIPPED), str(tmp_path), mutant).refused_by in ("words", "callers"), mutant
