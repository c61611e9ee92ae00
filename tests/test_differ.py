"""A change to a guide is told by what it does: which walks end elsewhere, close a job, or hurt."""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import pytest

from build_tools import command_line, evidence, kept
from build_tools.differ import Difference, differ
from build_tools.guide import load
from build_tools.review import markdown
from calc.faults import catalogue, parse

PAIR = Path(__file__).parent / "guides" / "pair"
TREE = "trees/site/visit.yaml"
DECEIVED = ("{to: 2, label: next to nothing, go: danger}", "{to: 2, label: next to nothing, go: load-off}")


@pytest.fixture(autouse=True, scope="module")
def _kept_apart(tmp_path_factory: pytest.TempPathFactory) -> object:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(kept, "FOLDER", tmp_path_factory.mktemp("kept"))
        yield


@pytest.fixture
def changed(tmp_path: Path) -> Callable[..., Path]:
    """The pair's guide with text replaced in its tree."""

    def make(*changes: tuple[str, str], file: str = TREE) -> Path:
        folder = tmp_path / "new"
        shutil.copytree(PAIR, folder, dirs_exist_ok=True)
        for old, new in changes:
            text = (folder / file).read_text("utf-8")
            assert old in text, old
            (folder / file).write_text(text.replace(old, new), "utf-8")
        return folder

    return make


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
    changed: Callable[..., Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    from build_tools.witness import Witness

    new = changed(
        ("step: Go next door.", "step: Ask to come in next door."), ("label: too high", "label: high")
    )
    monkeypatch.setattr(Witness, "_kept", lambda *_: pytest.fail("walked"))
    told = difference(new)
    assert told.reworded == {"nodes": ["visit: loop-earth", "visit: loop-neutral", "visit: next-door"]}
    assert not told.changed and not told.trees[0].moved
    assert "words only" in markdown(told, "a", "b")


def test_a_deceived_clamp_newly_closes_beside_the_danger(changed: Callable[..., Path]) -> None:
    """An open service PEN shows as nothing in the jaw; with the answer turned round the job is closed."""
    told = difference(changed(DECEIVED))
    moved = told.trees[0].moved
    closing = {(one.fault, one.home) for one in moved if one.closes and one.in_danger}
    assert {("service-pen-open@2", "2"), ("service-pen-open@2", "4"), ("service-pen-open@4", "4")} <= closing
    assert all("nothing-found" in one.come for one in moved if one.closes)
    kinds = {kind for one in moved for kind, *_ in one.new_wrong}
    assert {"harm", "closed-beside-danger"} <= kinds
    assert not {one for one in moved if parse(one.fault).kind == "healthy"}
    text = markdown(told, "a", "b")
    assert "beside a danger" in text
    assert "| Service PEN open |" in text and "Newly go wrong" in text
    assert told.changed == {"nodes": ["visit: both"]}


def test_a_change_and_its_undoing_mirror_each_other(changed: Callable[..., Path]) -> None:
    new = load(changed(DECEIVED))
    there, back = differ(load(PAIR), new).trees[0].moved, differ(new, load(PAIR)).trees[0].moved
    assert [(m.fault, m.home, m.gone, m.come, m.new_wrong) for m in there] == [
        (m.fault, m.home, m.come, m.gone, m.mended) for m in back
    ]
    assert all(
        m.closes is (None if n.closes is None else not n.closes) for m, n in zip(there, back, strict=True)
    )


def test_an_outcome_with_a_new_name_is_the_same_outcome(changed: Callable[..., Path]) -> None:
    told = difference(changed(("go: danger", "go: peril"), ("\n  danger:", "\n  peril:")))
    assert told.trees[0].moved == ()
    assert told.added["nodes"] == ["visit: peril"]


def test_a_priority_is_not_a_matter_of_words(changed: Callable[..., Path]) -> None:
    told = difference(changed(("priority: emergency", "priority: routine")))
    assert told.meaning == ("`visit: danger`: priority emergency -> routine",)
    assert "mean something else" in markdown(told, "a", "b")


def test_what_is_added_and_removed_is_named(changed: Callable[..., Path]) -> None:
    new = changed()
    (new / "streets/pair.yaml").rename(new / "streets/two-homes.yaml")
    shutil.copy(new / TREE, new / "trees/site/again.yaml")
    told = difference(new)
    assert told.added == {"trees": ["again"], "streets": ["two-homes"]}
    assert told.removed == {"streets": ["pair"]}


def test_a_street_that_changed_moves_walks(changed: Callable[..., Path]) -> None:
    """Without the shared pipe nobody is deceived, and next door is not endangered."""
    metalwork = '  - {name: water, pipe: copper-22, joins: ["2", "4"], metres: 9}\n'
    new = changed(("metalwork:\n" + metalwork, ""), file="streets/pair.yaml")
    told = difference(new)
    assert told.changed == {"streets": ["pair"]}
    assert ("service-pen-open@2", "4") in {(one.fault, one.home) for one in told.trees[0].moved if one.closes}


def test_a_tree_that_cannot_be_read_is_said_not_counted_as_removed(changed: Callable[..., Path]) -> None:
    new = changed(("go: load-off}", "go: lod-off}"))
    told = difference(new)
    assert told.unread == ("visit (new)",)
    assert not told.removed
    assert command_line.main(["diff", str(PAIR), str(new)]) == 1


def test_a_promise_whose_evidence_moved_is_told(changed: Callable[..., Path], tmp_path: Path) -> None:
    old, new = load(Path(shutil.copytree(PAIR, tmp_path / "old"))), load(changed())
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
    changed: Callable[..., Path], capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    guide = changed()

    def git(*words: str) -> None:
        who = ("-c", "user.name=a", "-c", "user.email=a@b", "-c", "commit.gpgsign=false")
        subprocess.run(["git", "-C", tmp_path, *who, *words], check=True, capture_output=True)

    git("init", "-q")
    git("add", "new")
    git("commit", "-q", "-m", "first")
    changed(DECEIVED)
    assert command_line.main(["diff", "--guide", str(guide)]) == 0
    assert "beside a danger" in capsys.readouterr().out
    assert command_line.main(["diff", "--guide", str(guide), "HEAD", "HEAD"]) == 0
    assert "No walk ends elsewhere" in capsys.readouterr().out
    assert command_line.main(["diff", "--guide", str(guide), "HAED"]) == 2
    assert "did you mean `HEAD`" in capsys.readouterr().err


def test_the_shipped_guide_against_itself_is_no_change(capsys: pytest.CaptureFixture[str]) -> None:
    shipped = str(Path(__file__).parent.parent / "guide_src")
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
    assert "- settings: `emergency`" in markdown(told, "a", "b")
