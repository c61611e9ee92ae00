"""What evidence stands on, how its parts are put together, and what is said of it: for two trees."""

from __future__ import annotations

import json
import shutil
from collections import Counter
from dataclasses import replace
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from build_tools.guide.findings import Place
from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import evidence
from build_tools.proof.cases import Case
from build_tools.proof.detection_table import AtCorners, Seen, SeenAt, SeenRow
from build_tools.proof.doubts import End
from build_tools.proof.evidence import Corner, Counted, Evidence, Part, Row
from build_tools.setup.environment import ROOT
from build_tools.setup.result_cache import code_of, source_key

WALKED = Path(__file__).parents[1] / "guides" / "walked"
SHIPPED = Path(__file__).parents[2] / "guide_src"
VISIT, CALLED, STREET = "trees/site/tingle-visit.yaml", "trees/site/sum-in-jaw.yaml", "streets/short-row.yaml"
_code_of, _source_key = cache(code_of), cache(source_key)
PROMISES = """
- {id: found, kind: found, title: Found, words: Is., trees: [tingle-visit, sum-in-jaw],
   at_least: 0.9, why: So.}
- {id: no-harm, kind: no-harm, title: No harm, words: None., trees: [tingle-visit], at_most: 0.1}
"""


@pytest.fixture(autouse=True)
def _code_is_read_once(monkeypatch: pytest.MonkeyPatch) -> None:
    for name, read in (("code_of", _code_of), ("source_key", _source_key)):
        monkeypatch.setattr(f"build_tools.proof.evidence.{name}", read)


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
        (VISIT, "    help: Gloves on. Touch no metalwork with bare hands.\n", ""),
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
        (CALLED, "on: [neutral_tail, main_earth]", "on: [main_earth]"),
        (STREET, "metres: ", "metres: 1"),
        ("promises.yaml", "at_least: 0.9", "at_least: 0.8"),
        ("promises.yaml", ", why: So.", ""),
        ("sampling.yaml", "seed: 2026", "seed: 2027"),
        ("minutes.yaml", "question: {value: 0.5", "question: {value: 0.6"),
    ],
)
def test_what_is_walked_or_counted_may_not(folder: Path, file: str, old: str, new: str) -> None:
    """Words count by whether they are there, but for what only helps."""
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
        monkeypatch.setattr(
            evidence, "code_of", lambda path: "other" if path.stem == name else _code_of(path)
        )
        return evidence.grounds(guide) != grounds

    assert all(moves(name) for name in ("circuit", "faults", "joint_law", "symptoms", "work"))
    assert not any(moves(name) for name in ("drawing", "calculator", "address"))


def test_evidence_stands_on_how_trees_are_walked(
    folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    guide, walks = load(folder), tmp_path / "build_tools" / "walks"
    shutil.copytree(ROOT / "build_tools" / "walks", walks)
    (tmp_path / "calc").symlink_to(ROOT / "calc")
    monkeypatch.setattr("build_tools.proof.evidence.ROOT", tmp_path)
    grounds = evidence.grounds(guide)
    for name, counts in (("walk", True), ("asked_exits", True), ("replays", False)):
        code = (walks / f"{name}.py").read_bytes()
        (walks / f"{name}.py").write_bytes(code + b"\npass\n")
        assert (evidence.grounds(guide) != grounds) == counts, name
        (walks / f"{name}.py").write_bytes(code)


TREE_WORDS = ("title", "about", "review_by", "sources", "heard_as", "cautions")
NODE_WORDS = (
    *("question", "reading", "step", "outcome", "help"),
    *("say", "advice", "next", "hand_over", "not_proven"),
)


def test_of_words_it_only_counts_whether_they_are_there(folder: Path) -> None:
    """Each that a tree, a node or a promise can have; anything else counts by what it says."""
    guide = load(folder)
    tree: Any = guide.files[VISIT].data
    promises: Any = guide.files["promises.yaml"].data

    def of_tree(**more: str) -> str:
        return grounds_of(VISIT, {**tree, **more})

    def of_node(**more: str) -> str:
        nodes = {**tree["nodes"], "open": {**tree["nodes"]["open"], **more}}
        return grounds_of(VISIT, {**tree, "nodes": nodes})

    def of_promise(**more: str) -> str:
        return grounds_of("promises.yaml", [promises[0], {**promises[1], **more}])

    def grounds_of(name: str, data: object) -> str:
        file = replace(guide.files[name], data=data)  # type: ignore[arg-type]
        return evidence.grounds(replace(guide, files={**guide.files, name: file}))

    for of, words in (
        (of_tree, TREE_WORDS),
        (of_node, NODE_WORDS),
        (of_promise, ("title", "words", "why")),
    ):
        for word in words:
            assert of(**{word: "one"}) == of(**{word: "other"}), word
        assert of(other="one") != of(other="other") != of()
    assert of_node(say="one") != of_node()
    assert of_node(help="one", why="one") == of_node()


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
    whole = json.loads(files[0].read_text("utf-8"))
    spoilt: tuple[Any, ...] = (
        {**whole, "counts": [[["Other", "a"], "asked", 1]]},
        {**whole, "counts": [[["Case", "a"], "asked", 1]]},
        {**whole, "part": "4/3"},
        {**whole, "part": 1},
        {key: each for key, each in whole.items() if key != "grounds"},
        [],
    )
    for text in (*map(json.dumps, spoilt), "{"):
        files[0].write_text(text, "utf-8")
        with pytest.raises(ValueError, match="is not the counts of a part"):
            evidence.merge(guide, files)
    with pytest.raises(ValueError, match="is not the counts of a part"):
        evidence.merge(guide, [tmp_path / "nowhere.json"])


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


def test_while_a_file_is_refused_nothing_is_old(folder: Path) -> None:
    """What is measured is known once the file is mended; what else is found is no matter."""
    guide = load(folder)
    evidence.write(guide, replace(kept(guide), grounds="others"))
    for file, told in ((guide.files[VISIT].file, []), ("other.yaml", ["stale-evidence"])):
        wrong = evidence.STALE.found(Place(file, 1, 1), "something is wrong")
        found = evidence.findings_of(replace(guide, findings=(wrong,)))
        assert [finding.check for finding in found] == told


def test_evidence_that_cannot_be_read_is_none(folder: Path) -> None:
    """That of an older program tells less."""
    guide = load(folder)
    made = kept(guide, row("found", "tingle-visit", 0.95, 1.0))
    file = folder / evidence.FILE
    whole = json.loads(file.read_text("utf-8"))
    wrong: tuple[Any, ...] = (
        {**whole, "rows": [{"promise": "found"}]},
        {**whole, "more": 1},
        {**whole, "ends": [["a"]]},
        [],
    )
    for spoilt in wrong:
        file.write_text(json.dumps(spoilt), "utf-8")
        assert evidence.read(guide) is None
    rows = [
        {key: each for key, each in one.items() if key not in ("moved", "corner", "by_joint")}
        for one in whole["rows"]
    ]
    older = {key: each for key, each in whole.items() if key in ("grounds", "seed", "streets", "digest")}
    file.write_text(json.dumps({**older, "rows": rows}), "utf-8")
    assert evidence.read(guide) == made
    file.write_text("{", "utf-8")
    assert evidence.read(guide) is None


def test_a_corner_breaks_a_promise_by_its_bound_on_the_other_side(folder: Path) -> None:
    """Where the least that could be is too much, or the most too little; and by nothing where none was
    tried."""
    found, harm = load(folder).promises
    one = row("found", "tingle-visit", 0.0, 1.0)
    assert one.share == 38 / 40
    assert not one.breaks(found) and not one.breaks(harm)
    for low, high, breaks in (
        (0.1, 0.9, [False, False]),
        (0.11, 0.95, [False, True]),
        (0.05, 0.89, [True, False]),
    ):
        there = replace(one, corner=Corner(9, 5, low, high))
        assert [there.breaks(found), there.breaks(harm)] == breaks


def test_rows_are_told_at_the_corner_of_their_promise(folder: Path) -> None:
    """Where any street was asked there; a test at a corner where fifty or more were, and in the end at the
    first of those where it does worst."""
    guide = load(folder)
    here, other = row("found", "tingle-visit", 0.9, 1.0), row("no-harm", "tingle-visit", 0.0, 0.1)
    ends = (End("supply-volts", "low"), End("supply-volts", "high"), End("load-kw", "low"))
    cells = [Seen("loop", "service-pen-open", where) for where in ("alone", "sharing")]
    seen = tuple(SeenRow(each.test, each.fault, each.where, 90, 60, 0.5, 0.8) for each in cells)
    made = replace(kept(guide, here, other), ends=ends, seen=seen)
    corners = {"found": ends[:1], "no-harm": ends[1:]}
    counts: AtCorners = Counter({(Case("found", here.tree, here.fault), "asked"): 1})
    for at, asked, happened in ((ends[:1], 50, 25), (ends[1:], 49, 0)):
        counts[SeenAt(cells[0], at), "asked"] = counts[SeenAt(cells[1], at), "asked"] = asked
        counts[SeenAt(cells[0], at), "happened"] = happened
    counts[SeenAt(cells[1], ends[1:]), "asked"] = counts[SeenAt(cells[1], ends[:1]), "asked"] = 49
    told = evidence.with_corners(made, corners, counts)
    assert told.corners == {"found": (0,), "no-harm": (1, 2)} and told.is_as_measured
    assert [each.corner for each in told.rows] == [Corner.of(1, 0), None]
    assert [(each.corner, each.corner_at) for each in told.seen] == [(Corner.of(50, 25), (0,)), (None, ())]
