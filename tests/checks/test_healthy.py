"""A street with nothing wrong raises no alarm, and a job that can be closed is closed there."""

from __future__ import annotations

from pathlib import Path

import pytest

from build_tools.checks import healthy
from build_tools.guide.loading import load
from build_tools.setup import result_cache

PAIR = Path(__file__).parent.parent / "guides" / "pair"


@pytest.fixture
def found(pair_with, tmp_path, monkeypatch):
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path / "kept")

    def run(old="title:", new="title:"):
        guide = load(pair_with((old, new)))
        return [(f.check, f.path[1]) for f in healthy.check(guide, guide.trees.values())]

    return run


def test_a_sound_tree_raises_no_alarm(found):
    assert found() == []


@pytest.mark.parametrize(
    ("old", "new", "node"),
    [
        ("{from: 207, to: 253, label: within limits, go: loop-earth}",
         "{from: 207, to: 253, label: within limits, go: danger}", "polarity"),
        ('It is, is: "yes", go: polarity}\n      - {answer: It is not, is: "no", go: danger}',
         'It is, is: "yes", go: danger}\n      - {answer: It is not, is: "no", go: polarity}', "look"),
    ],
)  # fmt: skip
def test_an_alarm_where_nothing_is_wrong_is_told(found, old, new, node):
    assert found(old, new) == [("cries-wolf", node), ("never-closes", "nothing-found")]


def test_a_guide_that_always_says_stop_is_refused(found):
    always = (
        '{answer: There is none, is: "no", go: back}',
        '{answer: There is none, is: "no", go: not-proven}',
    )
    assert found(*always) == [("never-closes", "nothing-found")]
