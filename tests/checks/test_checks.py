"""All checks together."""

from __future__ import annotations

import pytest

from build_tools.checks import CHECKS, check_guide


def test_the_small_guide_has_no_findings(small_guide):
    assert check_guide(small_guide.load()) == []


def test_findings_of_every_kind_come_together_in_order_of_place(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", "not_taken: {go: leave}", "not_taken: {go: lift}")
    small_guide.edit("trees/site/main-earth.yaml", "- {to: 0.5", "- {to: 0.4")
    small_guide.edit("trees/call/tingle-told.yaml", "2099-01-01", "2020-01-01")
    small_guide.edit("streets/short-row.yaml", "metres: 90", "metres: ninety")
    findings = check_guide(small_guide.load())
    assert [f.check for f in findings if f.check != "unreadable"] == [
        "shape",
        "review-past",
        "range-gap",
        "no-figure-leads-on",
        "rule-clamp-before-disconnect",
    ]
    assert [f.place for f in findings] == sorted(f.place for f in findings)


def test_only_the_named_trees_are_followed(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", "not_taken: {go: leave}", "not_taken: {go: lift}")
    guide = small_guide.load()
    assert [f.check for f in check_guide(guide, ["main-earth"])] == [
        "no-figure-leads-on",
        "rule-clamp-before-disconnect",
    ]
    assert check_guide(guide, ["tingle-told"]) == []


@pytest.mark.parametrize("check", CHECKS, ids=lambda check: check.__module__)
def test_every_check_says_what_it_demands(check):
    module = __import__(check.__module__, fromlist=["check"])
    assert module.__doc__
    assert len(module.__doc__.splitlines()[0]) > 40
