"""A reading that is judged by its change: what it may name, the ways to it, rules and edges of a change."""

from __future__ import annotations

from typing import Any

import pytest
import yaml

from build_tools.checks import changes, edges, rules

TREE = {"title": "x", "audience": "site", "about": "x", "review_by": "2099-01-01", "sources": ["crews"]}
OVER = {"outcome": "x", "priority": "soon"}


def reading(*ranges: tuple[float, float | None, str], **more: Any) -> dict[str, Any]:
    """A clamp on the main earth; each range is (from, to, go)."""
    written = [
        {"from": str(low), "label": f"{low}", "go": go} | ({} if high is None else {"to": str(high)})
        for low, high, go in ranges
    ]
    node: dict[str, Any] = {"reading": "x", "instrument": "clamp", "on": ["main_earth"], "unit": "A"}
    return node | {"ranges": written} | more


def nodes(**more: Any) -> dict[str, Any]:
    """Read at rest; the load on; read again and judged by the change: 8 A or more leads to `loaded`."""
    return {
        "rest": reading((0, None, "load"), not_taken={"go": "end"}),
        "load": {"step": "x", "does": ["switch-on-known-load"], "go": "again"},
        "again": reading((0, 8, "end"), (8, None, "loaded"), change_from="rest"),
        "loaded": {"step": "x", "does": ["open-main-switch"], "go": "end"},
        "end": OVER,
        **more,
    }


def guide_with(small_guide: Any, written: dict[str, Any], rule: dict[str, Any] | None = None) -> Any:
    tree = {**TREE, "start": next(iter(written)), "nodes": written}
    small_guide.write("trees/site/drawn.yaml", yaml.safe_dump(tree, sort_keys=False))
    if rule:
        rule = {"id": "r", "title": "T", "because": "B", "sources": ["crews"], **rule}
        small_guide.write("rules.yaml", yaml.safe_dump([rule]))
    return small_guide.sound()


def found(guide: Any) -> list[str]:
    return [one.check for one in changes.check(guide, [guide.trees["drawn"]])]


def test_a_figure_that_every_way_has_read_can_be_judged_by(small_guide: Any) -> None:
    assert found(guide_with(small_guide, nodes())) == []


@pytest.mark.parametrize(
    "spoilt",
    [
        {"rest": reading((0, None, "load"), not_taken={"go": "load"})},  # and is judged all the same
        {"load": {"step": "x", "does": ["go-next-door"], "go": "again"}},  # it was read at another home
    ],
)
def test_a_way_that_has_not_read_it_is_refused(small_guide: Any, spoilt: dict[str, Any]) -> None:
    assert found(guide_with(small_guide, nodes(**spoilt))) == ["change-from-nothing"]


def test_a_way_past_the_first_reading_is_refused(small_guide: Any) -> None:
    answers = [{"answer": "a", "go": "rest"}, {"answer": "b", "go": "again"}]
    written = {"ask": {"question": "x", "answers": answers}} | nodes()
    assert found(guide_with(small_guide, written)) == ["change-from-nothing"]


def test_what_was_read_before_and_read_again_elsewhere_counts(small_guide: Any) -> None:
    there = nodes(load={"step": "x", "does": ["go-next-door"], "go": "rest-there"})
    there["rest-there"] = reading((0, None, "again"), not_taken={"go": "end"})
    there["again"] = reading((0, 8, "end"), (8, None, "loaded"), change_from="rest-there")
    assert found(guide_with(small_guide, there)) == []


@pytest.mark.parametrize(
    "again",
    [
        reading((0, None, "end"), change_from="rset"),
        reading((0, None, "end"), change_from="again"),
        reading((0, None, "end"), change_from="load"),
        reading((0, None, "end"), change_from="rest", on=["neutral_tail"]),
        reading((0, None, "end"), change_from="rest", same_as="rest"),
    ],
)
def test_it_names_a_reading_like_itself(small_guide: Any, again: dict[str, Any]) -> None:
    assert "change-of-another" in found(guide_with(small_guide, nodes(again=again)))


@pytest.mark.parametrize(("change", "alarms"), [(True, 0), (False, 1)])
def test_a_rule_on_a_change_is_not_kept_by_the_figure_itself(
    small_guide: Any, change: bool, alarms: int
) -> None:
    """The first reading has a range from 0 up: `8 A or more` of it is never sure."""
    wanted = {"instrument": "clamp", "on": ["main_earth"], "at_least": 8, "change": change}
    rule = {"every": {"does": "open-main-switch"}, "needs_earlier": {"reading": wanted}}
    guide = guide_with(small_guide, nodes(), rule)
    assert len(list(rules.check(guide, [guide.trees["drawn"]]))) == alarms


def test_a_figure_quoted_for_the_display_speaks_for_no_change(small_guide: Any) -> None:
    def unsaid(written: dict[str, Any]) -> set[str]:
        found = edges.check(guide_with(small_guide, written), [])
        return {one.path[1] for one in found if one.check == "edge-unsaid"}

    written = nodes()
    written["rest"]["help"] = "The 8 A is a choice."
    assert "again" in unsaid(written)
    written["again"]["help"] = "The 8 A is a choice."
    assert "again" not in unsaid(written)
