"""A change to a guide is told by what it does: which walks end elsewhere, close a job, or hurt."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from build_tools.cli import command_line
from build_tools.guide.loading import load
from build_tools.proof import evidence
from build_tools.review import revisions
from build_tools.review.alterations import alterations
from build_tools.review.difference import Difference, differ, unreadable
from build_tools.review.markdown import markdown
from build_tools.setup import result_cache
from calc.faults import catalogue, parse

PAIR = Path(__file__).parents[1] / "guides" / "pair"
TREE = "trees/site/visit.yaml"
DECEIVED = ("{to: 2, label: next to nothing, go: danger}", "{to: 2, label: next to nothing, go: load-off}")


@pytest.fixture(autouse=True, scope="module")
def _kept_apart(tmp_path_factory: pytest.TempPathFactory) -> object:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(result_cache, "FOLDER", tmp_path_factory.mktemp("kept"))
        yield


def difference(new: Path) -> Difference:
    return differ(load(PAIR), load(new))


def test_the_same_guide_twice_is_no_change() -> None:
    told = difference(PAIR)
    street = load(PAIR).streets["pair"]
    assert [tree.walks for tree in told.trees] == [len(catalogue(street)) * len(street.premises)]
    text = markdown(told, "a", "b")
    assert "No walk ends elsewhere" in text
    assert len(text.splitlines()) == 3


def test_words_alone_move_no_walk_and_ask_the_circuit_nothing(
    pair_with: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    from build_tools.walks.oracle import Oracle

    new = pair_with(
        ("step: Go next door.", "step: Ask to come in next door."), ("label: too high", "label: high")
    )
    monkeypatch.setattr(Oracle, "_kept", lambda *_: pytest.fail("walked"))
    told = difference(new)
    assert told.reworded == {"nodes": ["visit: loop-earth", "visit: loop-neutral", "visit: next-door"]}
    assert not told.changed and not told.trees[0].moved
    assert "words only" in markdown(told, "a", "b")


def test_a_deceived_clamp_newly_closes_beside_the_danger(pair_with: Callable[..., Path]) -> None:
    """An open service PEN shows as nothing in the jaw; with the answer turned round the job is closed."""
    told = difference(pair_with(DECEIVED))
    moved = told.trees[0].moved
    closing = {(one.fault, one.home) for one in moved if one.closes and one.in_danger}
    assert {("service-pen-open@2", "2"), ("service-pen-open@2", "4"), ("service-pen-open@4", "4")} <= closing
    assert all("nothing-found" in one.come for one in moved if one.closes)
    kinds = {kind for one in moved for kind, *_ in one.new_wrong}
    assert {"harm", "closed-beside-danger"} <= kinds
    assert not {one for one in moved if parse(one.fault).kind == "healthy"}
    text = markdown(told, "a", "b")
    assert "beside a danger" in text
    assert "  - `visit: both`: `ranges > 1 > go`: `danger` -> `load-off`\n" in text
    assert "| Service PEN open |" in text and "Newly go wrong" in text
    assert told.changed == {"nodes": ["visit: both"]}


def test_a_change_and_its_undoing_mirror_each_other(pair_with: Callable[..., Path]) -> None:
    new = load(pair_with(DECEIVED))
    there, back = differ(load(PAIR), new).trees[0].moved, differ(new, load(PAIR)).trees[0].moved
    assert [(m.fault, m.home, m.gone, m.come, m.new_wrong) for m in there] == [
        (m.fault, m.home, m.come, m.gone, m.mended) for m in back
    ]
    assert all(
        m.closes is (None if n.closes is None else not n.closes) for m, n in zip(there, back, strict=True)
    )


def test_an_outcome_with_a_new_name_is_the_same_outcome(pair_with: Callable[..., Path]) -> None:
    told = difference(pair_with(("go: danger", "go: peril"), ("\n  danger:", "\n  peril:")))
    assert told.trees[0].moved == ()
    assert told.added["nodes"] == ["visit: peril"]


def test_a_priority_is_not_a_matter_of_words(pair_with: Callable[..., Path]) -> None:
    told = difference(pair_with(("priority: emergency", "priority: routine")))
    assert told.meaning == ("`visit: danger`: priority emergency -> routine",)
    assert "mean something else" in markdown(told, "a", "b")


def test_what_is_added_and_removed_is_named(pair_with: Callable[..., Path]) -> None:
    new = pair_with()
    (new / "streets/pair.yaml").rename(new / "streets/two-homes.yaml")
    shutil.copy(new / TREE, new / "trees/site/again.yaml")
    told = difference(new)
    assert told.added == {"trees": ["again"], "streets": ["two-homes"]}
    assert told.removed == {"streets": ["pair"]}


def test_a_street_that_changed_moves_walks(pair_with: Callable[..., Path]) -> None:
    """Without the shared pipe nobody is deceived, and next door is not endangered."""
    metalwork = '  - {name: water, pipe: copper-22, joins: ["2", "4"], metres: 9}\n'
    new = pair_with(("metalwork:\n" + metalwork, ""), file="streets/pair.yaml")
    told = difference(new)
    assert told.changed == {"streets": ["pair"]}
    (line,) = told.altered["streets", "pair"]
    assert line.startswith(
        "`metalwork > 1`: `name water, pipe copper-22, joins 2, 4, metres 9"
    ) and line.endswith("nothing")
    assert ("service-pen-open@2", "4") in {(one.fault, one.home) for one in told.trees[0].moved if one.closes}


def test_a_tree_that_cannot_be_read_is_said_not_counted_as_removed(pair_with: Callable[..., Path]) -> None:
    new = pair_with(("go: load-off}", "go: lod-off}"))
    told = difference(new)
    assert told.unread == ("visit (new)",)
    assert not told.removed
    assert command_line.main(["diff", str(PAIR), str(new)]) == 1


def test_a_promise_whose_evidence_moved_is_told(pair_with: Callable[..., Path], tmp_path: Path) -> None:
    old, new = load(Path(shutil.copytree(PAIR, tmp_path / "old"))), load(pair_with())
    bounds = {"low": 0.0, "high": 1.0}
    for guide, happened in ((old, 50), (new, 40)):
        rows = (
            evidence.Row("found", "visit", "service-pen-open", "", 50, happened, **bounds),
            evidence.Row("found", "visit", "main-earth-lost", "", 50, 50, **bounds),
        )
        evidence.write(guide, evidence.Evidence("grounds", 1, 50, "digest", rows))
    told = differ(old, new)
    assert told.promises == ("`found`, `visit`, service-pen-open: 50 of 50 -> 40 of 50",)
    assert told.promises[0] in markdown(told, "a", "b")


def test_a_revision_of_a_repository(
    pair_with: Callable[..., Path], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    guide = pair_with()

    def git(*words: str) -> None:
        who = ("-c", "user.name=a", "-c", "user.email=a@b", "-c", "commit.gpgsign=false")
        subprocess.run(["git", "-C", tmp_path, *who, *words], check=True, capture_output=True)

    git("init", "-q")
    git("add", "pair")
    git("commit", "-q", "-m", "first")
    pair_with(DECEIVED)
    assert command_line.main(["diff", "--guide", str(guide)]) == 0
    assert "beside a danger" in capsys.readouterr().out
    assert command_line.main(["diff", "--guide", str(guide), "HEAD", "HEAD"]) == 0
    assert "No walk ends elsewhere" in capsys.readouterr().out
    assert command_line.main(["diff", "--guide", str(guide), "HAED"]) == 2
    assert "did you mean `HEAD`" in capsys.readouterr().err


def test_the_shipped_guide_against_itself_is_no_change(capsys: pytest.CaptureFixture[str]) -> None:
    shipped = str(Path(__file__).parents[2] / "guide_src")
    assert command_line.main(["diff", shipped, shipped]) == 0
    assert "No walk ends elsewhere" in capsys.readouterr().out


def test_numbers_to_ring_and_cautions_are_told(tmp_path: Path) -> None:
    small = PAIR.with_name("small")
    new = Path(shutil.copytree(small, tmp_path / "new"))
    for name, old, now in (
        ("operator.yaml", 'number: "', 'number: "1'),
        ("guide.yaml", 'version: "', 'version: "9'),
    ):
        text = (new / name).read_text("utf-8")
        assert old in text
        (new / name).write_text(text.replace(old, now), "utf-8")
    told = differ(load(small), load(new))
    assert told.changed == {"settings": ["emergency"]}
    text = markdown(told, "a", "b")
    assert "- settings: `emergency`\n" in text
    assert "  - `emergency`: `1 > number`: `0700 900 461` -> `10700 900 461`\n" in text


def test_a_figure_that_changed_is_told_old_and_new(pair_with: Callable[..., Path]) -> None:
    """An edge of two ranges, here with the words that quote it; a line put in between moves no other."""
    new = pair_with(
        ("- {to: 2, label: next to nothing", "- {to: 2.5, label: next to nothing"),
        ("- {from: 2, label: current", "- {from: 2.5, label: current"),
        ("reading: Clamp neutral tail", "reading: Below 2.5 A is nothing. Clamp neutral tail"),
    )
    told = difference(new)
    assert told.altered["nodes", "visit: both"] == (
        "`reading`: figures none -> 2.5",
        "`ranges > 1 > to`: 2 -> 2.5",
        "`ranges > 2 > from`: 2 -> 2.5",
    )
    assert "  - `visit: both`: `ranges > 1 > to`: 2 -> 2.5\n" in markdown(told, "a", "b")


def test_a_figure_in_words_alone_is_told(pair_with: Callable[..., Path]) -> None:
    old = pair_with(("step: Go next door.", "step: Go next door within 5 minutes."))
    was = load(old)
    text = (old / TREE).read_text("utf-8")
    (old / TREE).write_text(text.replace("within 5 minutes", "within 15 minutes"), "utf-8")
    told = differ(was, load(old))
    assert told.reworded == {"nodes": ["visit: next-door"]} and not told.changed
    assert "  - `visit: next-door`: `step`: figures 5 -> 15\n" in markdown(told, "a", "b")


def test_an_entry_put_in_between_is_told_alone() -> None:
    one, two, three = ({"label": name, "to": place} for place, name in enumerate("abc"))
    assert list(alterations([one, three], [one, two, three], ())) == ["`2`: nothing -> `label b, to 1`"]
    assert list(alterations([one, two, three], [one, three], ())) == ["`2`: `label b, to 1` -> nothing"]
    assert list(alterations({"on": ("a", "b")}, {"on": ("a",)}, ())) == ["`on`: `a, b` -> `a`"]


def test_an_older_revision_is_read_with_the_names_of_today(tmp_path: Path) -> None:
    """Priority `unsettled` was called `none`, in trees, rules and in the operator's words."""
    guide = Path(shutil.copytree(PAIR.with_name("small"), tmp_path / "guide"))
    for name, now, once in (
        ("operator.yaml", "  unsettled: {label", "  none: {label"),
        ("trees/site/main-earth.yaml", "priority: routine", "priority: none"),
    ):
        text = (guide / name).read_text("utf-8")
        assert text.count(now) == 1
        (guide / name).write_text(text.replace(now, once), "utf-8")
    assert unreadable(load(guide)) == ["main-earth"]
    for words in (["init", "-q"], ["add", "."], ["commit", "-q", "-m", "once"]):
        who = ("-c", "user.name=a", "-c", "user.email=a@b", "-c", "commit.gpgsign=false")
        subprocess.run(["git", "-C", guide, *who, *words], check=True, capture_output=True)
    with revisions.guide_as_of("HEAD", guide) as folder:
        read = load(folder)
    assert unreadable(read) == [] and read.operator
