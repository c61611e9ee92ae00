"""The worst corner of each promise, from figures by hand, and the streets that are counted there."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from made_trees import made_trees

from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import corners
from build_tools.proof import procedures as tests_of_trees
from build_tools.proof.cases import ANY, Case
from build_tools.proof.corners import count_corners, streets_of, worst_corners
from build_tools.proof.counting import cases, is_about
from build_tools.proof.detection_rates import see_batch
from build_tools.proof.detection_table import AtCorners, Seen, SeenAt
from build_tools.proof.doubts import End, put
from build_tools.proof.evidence import Evidence, Part, Row
from build_tools.proof.moved import Moved
from build_tools.proof.procedures import procedures
from build_tools.proof.street_batch import Mask, faulty_batches

LOOK = """
  look: {question: Whole?, fact: main-earth-looks-whole, answers: [
    {answer: It is, is: "yes", go: closed}, {answer: It is not, is: "no", go: emergency}]}
"""
LIGHTS = """
  lights: {question: Lights?, caller: lights, answers: [
    {answer: Bright, is: bright, go: emergency}, {answer: Dim, is: dim, go: urgent},
    {answer: Steady, is: steady, go: routine}]}
"""
KINDS = ("healthy", "main-earth-lost", "service-pen-high")


def promise(id_: str, kind: str, tree: str, **more: Any) -> Promise:
    bound = "at_most" if kind in ("no-harm", "calm") else "at_least"
    given = {"id": id_, "kind": kind, "title": "It is kept", "words": "It is.", "trees": (tree,), bound: 0.5}
    return Promise.model_validate({**given, **more})


PROMISES = (
    promise("found", "found", "look"),
    promise("found-too", "found", "look", faults=("main-earth-lost",)),
    promise("useful", "useful", "look"),
    promise("no-harm", "no-harm", "look"),
    promise("heard", "heard", "lights", noticed="dim", priority="urgent"),
    promise("calm", "calm", "lights", priority="urgent"),
)
ENDS = tuple(End(spread, at) for spread in "abcde" for at in ("low", "high"))


@pytest.fixture(scope="module")
def guide(tmp_path_factory: pytest.TempPathFactory) -> Guide:
    trees = made_trees(tmp_path_factory.mktemp("site"), "site", look=LOOK)
    trees |= made_trees(tmp_path_factory.mktemp("call"), "call", lights=LIGHTS)
    shipped = load(Path(__file__).parents[2] / "guide_src")
    assert shipped.sampling is not None
    small = tuple(each for each in shipped.sampling.layouts if each.id in ("three-and-three", "looped-pairs"))
    return replace(shipped, trees=trees, promises=PROMISES, sampling=replace(shipped.sampling, layouts=small))


def row(promise: str, share: float, fault: str = "healthy", **ends: float) -> Row:
    """A row whose share so often happens, and how often at some ends, such as `a_low`."""
    places = [(ENDS.index(End(*end.split("_"))), there) for end, there in ends.items()]
    return Row(promise, "tree", fault, "", 1000, round(1000 * share), 0.0, 1.0, Moved(tuple(places)))


def worst(guide: Guide, *rows: Row) -> dict[str, list[str]]:
    found = worst_corners(guide, Evidence("", 1, 1000, "", rows, (), ENDS))
    return {promise: [f"{end.spread}_{end.at}" for end in ends] for promise, ends in found.items()}


def test_a_corner_has_the_three_spreads_that_make_it_worst_each_at_its_worse_end(guide: Guide) -> None:
    """Worse is less often for what is to happen, more often for what is not."""
    least = row("useful", 0.8, a_low=0.7, b_high=0.5, c_low=0.6, d_low=0.75, b_low=0.4, e_low=0.9)
    most = row("no-harm", 0.2, a_low=0.1, b_high=0.5, c_low=0.3, d_high=0.201)
    found = worst(guide, least, most, row("found", 0.5, e_high=0.5))
    assert found["useful"] == ["b_low", "c_low", "a_low"]
    assert found["no-harm"] == ["b_high", "c_low", "d_high"]
    assert found["found"] == found["found-too"] == found["useful"], "moved by nothing: as what moves most"
    assert "heard" not in found and "calm" not in found, "calls have corners of their own"


def test_the_worst_of_several_rows_counts_and_of_calls_all_faults_together(guide: Guide) -> None:
    rows = (
        row("found", 0.9, "main-earth-lost", a_low=0.8, b_low=0.6),
        row("found", 0.5, "service-pen-high", a_low=0.1, b_low=0.4),
        row("heard", 0.9, ANY, c_high=0.89),
        row("heard", 0.9, "service-pen-high", a_low=0.1),
        row("calm", 0.1, ANY, d_low=0.3),
    )
    found = worst(guide, *rows)
    assert found["found"] == ["a_low", "b_low"]
    assert (found["heard"], found["calm"]) == (["c_high"], ["d_low"])
    assert worst(guide, row("calm", 0.1, "healthy", a_low=0.9)) == {}
    assert worst(guide, row("found", 0.5, a_low=0.5, b_low=0.7)) == {}, "nothing makes it worse"


def test_no_more_streets_are_drawn_at_a_corner_than_in_the_proof(guide: Guide) -> None:
    assert guide.sampling is not None
    few = replace(guide, sampling=replace(guide.sampling, streets=7))
    many = replace(guide, sampling=replace(guide.sampling, streets=10_000))
    assert (streets_of(few), streets_of(many)) == (7, 300)


class Shown:
    """Counts the cells of batches, all streets together."""

    def __init__(self, ends: tuple[End, ...], counts: AtCorners) -> None:
        self.ends, self.counts = ends, counts

    def add(self, cell: Seen, asked: Mask, happened: Mask) -> None:
        self.counts[SeenAt(cell, self.ends), "asked"] += int(asked.sum())
        self.counts[SeenAt(cell, self.ends), "happened"] += int((asked & happened).sum())


@pytest.mark.parametrize("of", [1, 2])
def test_each_promise_is_counted_over_streets_drawn_at_its_corner(
    guide: Guide, monkeypatch: pytest.MonkeyPatch, of: int
) -> None:
    """As if the sampling were so, with every kind of fault that something there is promised of."""
    monkeypatch.setattr(tests_of_trees, "TESTS", ())  # those that no tree makes have no limits here
    monkeypatch.setattr(corners, "KINDS", KINDS)
    monkeypatch.setattr(corners, "CORNER_STREETS", 10)
    assert guide.sampling is not None
    one, two = (End("layout", "three-and-three"),), (End("layout", "looped-pairs"), End("load-kw", "high"))
    three = (End("layout", "three-and-three"), End("caller-errs", "high"), End("load-kw", "high"))
    at = {"found": one, "useful": one, "found-too": two, "heard": three, "calm": two}
    counts: AtCorners = Counter()
    for part in Part.all(of):
        for _, some in count_corners(guide, at, part):
            counts.update(some)
    expected: AtCorners = Counter()
    for ends in (one, two, three):
        promises = tuple(each for each in PROMISES if at.get(each.id) == ends)
        there = replace(guide, sampling=put(guide.sampling, ends), promises=promises)
        assert there.sampling is not None
        kinds = [kind for kind in KINDS if any(is_about(each, kind) for each in promises)]
        for batch in faulty_batches(there.sampling, range(10), kinds):
            for case, asked, happened in cases(there, batch):
                expected[case, "asked"] += int(asked.sum())
                expected[case, "happened"] += int((asked & happened).sum())
            see_batch(procedures(guide), batch, Counter(), Shown(ends, expected))  # type: ignore[arg-type]
    assert +counts == +expected
    assert counts[Case("found", "look", "main-earth-lost"), "asked"] > 0
    assert counts[Case("heard", "lights", ANY), "asked"] > 0
    assert np.all([isinstance(n, int) for n in counts.values()])
