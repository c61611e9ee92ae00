"""What evidence stands on, how its parts are put together, and what is said of it: for two trees."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import evidence
from build_tools.proof.cases import Case
from build_tools.proof.detection_table import Seen
from build_tools.proof.evidence import Counted, Evidence, Part, Row
from build_tools.setup.result_cache import code_of

WALKED = Path(__file__).parents[1] / "guides" / "walked"
SHIPPED = Path(__file__).parents[2] / "guide_src"
VISIT, CALLED, STREET = "trees/site/tingle-visit.yaml", "trees/site/sum-in-jaw.yaml", "streets/short-row.yaml"
PROMISES = """
- {id: found, kind: found, title: Found, words: Is., trees: [tingle-visit, sum-in-jaw],
   at_least: 0.9, why: So.}
- {id: no-harm, kind: no-harm, title: No harm, words: None., trees: [tingle-visit], at_most: 0.1}
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """The walked guide with promises, and the streets and minutes of the shipped one."""
    folder = tmp_path / "guide"
    shutil.copytree(WALKED, folder)
    (folder / "promises.yaml").write_text(PROMISES.lstrip(), "utf-8")
    for name in ("sampling.yaml", "minutes.yaml"):
        shutil.copy(SHIPPED / name, folder)
    return folder


def grounds_with(folder: Path, file: str, old: str, new: str) -> str:
    """The grounds of the guide with one change; which is taken back."""
    path = folder / file
    text = path.read_text("utf-8")
    assert old in text, old
    path.write_text(text.replace(old, new, 1), "utf-8")
    found = evidence.grounds(load(folder))
    path.write_text(text, "utf-8")
    return found


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (VISIT, "title: Tingle reported", "title: A tingle told"),
        (VISIT, "step: Open the meter cupboard.", "step: Open it."),
        (VISIT, "  - Nothing is disconnected", "  - Nothing is taken"),
        (VISIT, "review_by: 2099-01-01", "review_by: 2098-01-01"),
        (CALLED, "reading: Clamp the neutral", "reading: Clamp both, the neutral"),
        ("promises.yaml", "title: Found", "title: It is found"),
        ("promises.yaml", "why: So.", "why: Because."),
        ("glossary.yaml", "", "# a note\n"),
        ("guide.yaml", "title: A guide", "title: Another guide"),
    ],
)  # fmt: skip
def test_what_is_only_read_may_change(folder: Path, file: str, old: str, new: str) -> None:
    assert grounds_with(folder, file, old, new) == evidence.grounds(load(folder))


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (VISIT, "{from: 0.5, to: 5, label", "{from: 0.6, to: 5, label"),
        (VISIT, "go: away", "go: leave"),
        (VISIT, "    help: Gloves on. Touch no metalwork with bare hands.\n", ""),
        (CALLED, "on: [neutral_tail, main_earth]", "on: [main_earth]"),
        (STREET, "metres: ", "metres: 1"),
        ("promises.yaml", "at_least: 0.9", "at_least: 0.8"),
        ("promises.yaml", ", why: So.", ""),
        ("sampling.yaml", "seed: 2026", "seed: 2027"),
        ("minutes.yaml", "question: {value: 0.5", "question: {value: 0.6"),
    ],
)
def test_what_is_walked_or_counted_may_not(folder: Path, file: str, old: str, new: str) -> None:
    """Words count by whether they are there."""
    assert grounds_with(folder, file, old, new) != evidence.grounds(load(folder))


def test_that_a_page_shows_a_danger_at_a_node_counts_for_nothing(folder: Path) -> None:
    guide = load(folder)
    file = guide.files[VISIT]
    nodes = {**file.data["nodes"]}
    nodes["open"] = {**nodes["open"], "dangers": "yes"}
    shown = replace(guide, files={**guide.files, VISIT: replace(file, data={**file.data, "nodes": nodes})})
    assert evidence.grounds(shown) == evidence.grounds(guide)
    nodes["open"] = {**nodes["open"], "other": "yes"}
    other = replace(guide, files={**guide.files, VISIT: replace(file, data={**file.data, "nodes": nodes})})
    assert evidence.grounds(other) != evidence.grounds(guide)


def test_evidence_stands_on_each_module_that_reckons(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """And on no module that only asks and shows."""
    guide = load(folder)
    grounds = evidence.grounds(guide)

    def moves(name: str) -> bool:
        monkeypatch.setattr(evidence, "code_of", lambda path: "other" if path.stem == name else code_of(path))
        return evidence.grounds(guide) != grounds

    assert all(moves(name) for name in ("circuit", "faults", "joint_law", "symptoms", "work"))
    assert not any(moves(name) for name in ("drawing", "calculator", "address"))


CASES = [Case("found", "tingle-visit", kind) for kind in ("service-pen-open", "mains-pen-open")]
CELL = Seen("loop", "healthy", "alone")


def test_parts_are_kept_and_merged_whatever_their_order(folder: Path, tmp_path: Path) -> None:
    guide = load(folder)
    counted = [
        Counted(Counter({(CASES[n % 2], "asked"): n + 1, (CELL, "asked"): 1}), {CASES[0]: [[n], [1], [2]]})
        for n in range(3)
    ]
    files = [
        evidence.write_part(guide, part, some, tmp_path)
        for part, some in zip(Part.all(3), counted, strict=True)
    ]
    assert [file.name for file in files] == [f"part-{n}-of-3.json" for n in (1, 2, 3)]
    for order in (files, files[::-1]):
        whole = evidence.merge(guide, order)
        assert whole.counts == {(CASES[0], "asked"): 4, (CASES[1], "asked"): 2, (CELL, "asked"): 3}
        assert whole.sums == {CASES[0]: [[3], [3], [6]]}
    for some, says in (
        (files[:2], "missing: 3/3"),
        (files[1:2], "missing: 1/3, 3/3"),
        ([], "missing: 1/1"),
        ([*files, files[1]], "is part 2/3, and so is"),
        ([*files, evidence.write_part(guide, Part(2, 2), counted[0], tmp_path)], "another division"),
    ):
        with pytest.raises(ValueError, match=says):
            evidence.merge(guide, some)
    other = replace(guide, files={name: file for name, file in guide.files.items() if name != STREET})
    with pytest.raises(ValueError, match=r"count part 1/3 again"):
        evidence.merge(other, files)
    spoilt = json.loads(files[0].read_text("utf-8"))
    files[0].write_text(json.dumps({**spoilt, "counts": [[["Other", "a"], "asked", 1]]}), "utf-8")
    with pytest.raises(ValueError, match="is not the counts of a part"):
        evidence.merge(guide, files)


def kept(guide: Guide, *rows: Row) -> Evidence:
    """Evidence with these rows, kept with the guide."""
    assert guide.sampling is not None
    made = Evidence(evidence.grounds(guide), guide.sampling.seed, 9, "", rows)
    made = replace(made, digest=made.own_key)
    evidence.write(guide, made)
    return made


def row(promise: str, tree: str, low: float, high: float, **more: object) -> Row:
    return Row(promise, tree, "service-pen-open", "", 40, 38, low, high, **more)  # type: ignore[arg-type]


def test_evidence_is_asked_for_as_long_as_it_is_missing_altered_or_old(folder: Path) -> None:
    guide = load(folder)

    def told(of: Guide = guide) -> list[str]:
        return [finding.check for finding in evidence.findings_of(of)]

    assert told() == ["no-evidence"] and evidence.current(guide) is None
    made = kept(guide)
    assert told() == [] and evidence.current(guide) == made
    altered = replace(made, streets=made.streets, rows=(row("found", "tingle-visit", 0.1, 1.0),))
    evidence.write(guide, altered)
    assert told() == ["altered-evidence"]
    evidence.write(guide, replace(made, grounds="others"))
    assert told() == ["stale-evidence"] and evidence.current(guide) is None
    assert told(replace(guide, promises=())) == told(replace(guide, sampling=None)) == []


def test_each_promise_that_is_broken_is_told_once_with_its_worst_street(folder: Path) -> None:
    guide = load(folder)
    kept(
        guide,
        row("found", "tingle-visit", 0.85, 1.0),
        replace(row("found", "tingle-visit", 0.8, 1.0), fault="mains-pen-open"),
        row("found", "sum-in-jaw", 0.95, 1.0),
        row("no-harm", "tingle-visit", 0.0, 0.2),
    )
    asked: list[tuple[str, str, str]] = []

    def worst(promise: Promise, tree: str, fault: str) -> tuple[()]:
        asked.append((promise.id, tree, fault))
        return ()

    one, two, three = evidence.findings_of(guide, worst)
    assert asked == [
        ("found", "tingle-visit", "service-pen-open"),
        ("no-harm", "tingle-visit", "service-pen-open"),
    ]
    assert "38 of 40 streets, 95 % bound 0.85000" in one.what and "mains-pen-open" in two.what
    assert "no-harm is not kept" in three.what and "bound 0.20000" in three.what
    assert (one.expected, three.expected) == ("at least 0.9", "at most 0.1")
    assert one.place.line == 1 and three.place.line == 3 and one.place.file.endswith("promises.yaml")
