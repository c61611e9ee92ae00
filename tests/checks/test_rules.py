"""Rules hold along every path; the search is held against walking all paths one by one."""

from __future__ import annotations

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from build_tools.checks import rules

SITE = "trees/site/main-earth.yaml"
RULES = "rules.yaml"


def found(guide):
    followed = list(guide.trees.values())
    return [(f.check, f.path[-1], [hop.what for hop in f.hops]) for f in rules.check(guide, followed)]


def one_rule(small_guide, **demands):
    rule = {"id": "r", "title": "T", "because": "B", "sources": ["crews"], "audience": "site", **demands}
    return small_guide.write(RULES, yaml.safe_dump([rule]))


def test_the_small_guide_keeps_its_rules(small_guide):
    assert found(small_guide.sound()) == []


def test_a_broken_rule_shows_the_shortest_way(small_guide):
    small_guide.edit(SITE, "not_taken: {go: leave}", "not_taken: {go: lift}")
    (finding,) = rules.check(small_guide.sound(), list(small_guide.load().trees.values()))
    assert str(finding.place) == "trees/site/main-earth.yaml:20:3"
    assert [(str(hop.place), hop.what) for hop in finding.hops] == [
        ("trees/site/main-earth.yaml:17:5", 'reading `clamp`: "could not take it"'),
        ("trees/site/main-earth.yaml:20:3", "step `lift`: here"),
    ]
    assert "An earth that carries current is somebody's neutral." in finding.expected
    assert "rules.yaml:1:3" in finding.mend


LIFT = {"hazard": "opens-earth-path"}


@pytest.mark.parametrize(
    ("edits", "reading", "broken"),
    [
        ((), {}, False),
        ((), {"on": ["main_earth"]}, False),
        ((), {"on": ["neutral_tail"]}, True),
        ((), {"answered": "little or none"}, False),
        ((), {"answered": "current is flowing"}, True),
        ((), {"not_answered": "current is flowing"}, False),
        ((), {"not_answered": "little or none"}, True),
        ((), {"below": 0.5}, False),
        ((), {"below": 0.4}, True),  # 0.45 A would come by
        ((), {"at_least": 0.1}, True),
        ((("over_range: {go: leave}", "over_range: {go: lift}"),), {}, False),
        ((("over_range: {go: leave}", "over_range: {go: lift}"),), {"below": 0.5}, True),
        ((("not_steady: {go: leave}", "not_steady: {go: lift}"),), {}, True),
        ((("not_taken: {go: leave}", "not_taken: {go: lift}"),), {}, True),
    ],
)
def test_a_need_is_met_only_by_an_answer_that_surely_meets_it(small_guide, edits, reading, broken):
    for old, new in edits:
        small_guide.edit(SITE, old, new)
    one_rule(small_guide, every=LIFT, needs_earlier={"reading": {"instrument": "clamp", **reading}})
    assert bool(found(small_guide.load())) is broken


@pytest.mark.parametrize(
    ("edits", "reading", "broken"),
    [
        ((), {"at_least": 0.5}, False),
        ((), {"at_least": 0.4}, True),  # the range up to 0.5 may hold 0.45
        ((), {"answered": "current is flowing"}, False),
        ((), {}, True),
        ((("not_taken: {go: leave}", "not_taken: {go: lift}"),), {"at_least": 0.5}, False),
        ((("not_steady: {go: leave}", "not_steady: {go: lift}"),), {"at_least": 0.5}, True),
        ((("over_range: {go: leave}", "over_range: {go: lift}"),), {"at_least": 0.5}, True),
        ((("label: current is flowing, go: leave", "label: flowing, go: lift"),), {"at_least": 60}, True),
    ],
)
def test_a_ban_begins_when_it_may_have_begun(small_guide, edits, reading, broken):
    for old, new in edits:
        small_guide.edit(SITE, old, new)
    one_rule(small_guide, every=LIFT, never_after={"reading": {"instrument": "clamp", **reading}})
    assert bool(found(small_guide.load())) is broken


@pytest.mark.parametrize(
    ("answer", "broken"),
    [('{answer: "No", is: "no", ', False), ('{answer: "No", ', True), ("{answer: Not sure, ", True)],
)
def test_an_answer_without_a_word_may_be_any(small_guide, answer, broken):
    small_guide.edit("trees/call/tingle-told.yaml", '{answer: "No", is: "no", ', answer)
    small_guide.edit("trees/call/tingle-told.yaml", "priority: urgent", "priority: urgent\n    closes: true")
    assert [check for check, *_ in found(small_guide.sound())] == ["rule-emergency-says-what-to-do"] * broken


@pytest.mark.parametrize(
    ("every", "nodes"),
    [
        ({"node_kind": "step"}, ["lift"]),
        ({"node_kind": "outcome"}, ["leave", "done"]),
        ({"priority": "urgent"}, ["leave"]),
        ({"outcome_closes": False}, ["leave", "done"]),
        ({"outcome_closes": True}, []),
        ({"node_kind": "outcome", "priority": "emergency"}, []),
        ({"any_of": [{"priority": "urgent"}, {"hazard": "opens-earth-path"}]}, ["lift", "leave"]),
        ({"reading": {"instrument": "clamp"}}, ["clamp"]),
        ({"reading": {"instrument": "loop"}}, []),
    ],
)
def test_every_names_nodes(small_guide, every, nodes):
    one_rule(small_guide, every=every, needs_earlier={"does": "come-back"})
    assert sorted(node for _, node, _ in found(small_guide.load())) == sorted(nodes)


def test_a_rule_for_one_audience_leaves_the_other_alone(small_guide):
    one_rule(small_guide, audience="call", every=LIFT, needs_earlier={"does": "come-back"})
    assert found(small_guide.load()) == []


def test_called_trees_are_searched_with_what_was_done_before(small_guide):
    lifting = (small_guide.folder / SITE).read_text().replace("start: clamp", "start: lift")
    small_guide.write("trees/site/lifting.yaml", lifting.replace("routine\n", "routine\n    returns: done\n"))
    small_guide.edit(SITE, "label: little or none, go: lift", "label: little or none, go: by-call")
    small_guide.edit(SITE, "  lift:\n", "  by-call: {call: lifting, back: {done: done}}\n  lift:\n")
    assert found(small_guide.sound()) == [("rule-clamp-before-disconnect", "lift", ["step `lift`: here"])]
    small_guide.edit(SITE, "not_taken: {go: leave}", "not_taken: {go: by-call}")
    ways = [hops for _, _, hops in found(small_guide.sound())]
    assert ['reading `clamp`: "could not take it"', "step `lift`: here"] in ways


DOES = ["lift-main-earth", "restore-main-earth", "go-next-door", "open-main-switch"]


@st.composite
def small_trees(draw):
    """A tree of up to ten nodes that only leads onward, mostly by short steps and with forks between."""
    count = draw(st.integers(3, 9))
    nodes = {"end": {"outcome": "x", "priority": "soon"}}

    def onward(n):
        return f"n{n + skip}" if n + (skip := draw(st.sampled_from([1, 1, 2, 3]))) < count else "end"

    for n in range(count):
        if n % 2:
            nodes[f"n{n}"] = {"step": "x", "does": [draw(st.sampled_from(DOES))], "go": onward(n)}
        else:
            answers = [{"answer": str(i), "go": onward(n)} for i in range(draw(st.integers(1, 3)))]
            nodes[f"n{n}"] = {"question": "x", "answers": answers}
    last = {"step": "x", "does": ["open-main-switch"], "go": "over"}
    return {**nodes, "end": last, "over": {"outcome": "x", "priority": "soon"}}


NEED, BAN = {"needs_earlier": {"does": "go-next-door"}}, {"never_after": {"does": "lift-main-earth"}}


@given(small_trees(), st.sampled_from([NEED, BAN, {**NEED, **BAN}]), st.booleans())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=150, deadline=None)
def test_the_search_finds_what_walking_every_path_finds(small_guide, nodes, demands, with_unless):
    """Switch off only after going next door, and never with the earth lifted; `restore` starts afresh."""
    tree = {"title": "x", "audience": "site", "about": "x", "review_by": "2099-01-01", "sources": ["crews"]}
    small_guide.write("trees/site/drawn.yaml", yaml.safe_dump({**tree, "start": "n0", "nodes": nodes}))
    one_rule(
        small_guide,
        every={"does": "open-main-switch"},
        **demands,
        **({"unless": {"does": "restore-main-earth"}} if with_unless else {}),
    )
    guide = small_guide.load()
    told = {f.path[-1]: len(f.hops) for f in rules.check(guide, [guide.trees["drawn"]])}
    assert told == _walked(nodes, demands, with_unless)


def _walked(nodes, demands, with_unless):
    """Node where the rule breaks -> nodes on the shortest way there; by taking every path."""
    shortest: dict[str, int] = {}
    ways = [["n0"]]
    while ways:
        way = ways.pop()
        node = nodes[way[-1]]
        done = [action for name in way[:-1] for action in nodes[name].get("does", [])]
        if with_unless and "restore-main-earth" in done:
            done = done[len(done) - done[::-1].index("restore-main-earth") :]
        missing = "needs_earlier" in demands and "go-next-door" not in done
        banned = "never_after" in demands and "lift-main-earth" in done
        if "open-main-switch" in node.get("does", []) and (missing or banned):
            shortest[way[-1]] = min(len(way), shortest.get(way[-1], 99))
        gos = [node["go"]] if "go" in node else [answer["go"] for answer in node.get("answers", [])]
        ways += [[*way, go] for go in gos]
    return shortest


@pytest.mark.parametrize(
    ("demands", "answer", "broken"),
    [
        # A need lapses when it may have lapsed, and a ban ends only when it surely has.
        (NEED, "{answer: Not sure, go: off}", True),
        (NEED, '{answer: "No", is: "no", go: off}', False),
        (BAN, "{answer: Not sure, go: off}", True),
        (BAN, '{answer: "Yes", is: "yes", go: off}', False),
    ],
)
def test_in_doubt_against_the_path(small_guide, demands, answer, broken):
    small_guide.edit(SITE, "start: clamp", "start: both")
    small_guide.edit(
        SITE,
        "  clamp:\n",
        "  both: {step: x, does: [go-next-door, lift-main-earth], go: moved}\n"
        f"  moved: {{question: x, fact: neighbour-off, answers: [{answer}, {{answer: b, go: clamp}}]}}\n"
        "  off: {step: x, does: [open-main-switch], go: done}\n"
        "  clamp:\n",
    )
    unless = {"question": {"fact": "neighbour-off", "is": "yes"}}
    one_rule(small_guide, every={"does": "open-main-switch"}, **demands, unless=unless)
    assert bool(found(small_guide.load())) is broken


def test_the_path_that_keeps_a_rule_is_the_shortest_to_where_it_looks_back(small_guide):
    guide = small_guide.sound()
    rule, tree = guide.rules[0], guide.trees["main-earth"]
    way = rules.kept(rule, tree)
    assert [(id_, exit_ and exit_.label) for id_, exit_ in way] == [
        ("clamp", "little or none"),
        ("lift", None),
    ]
    assert [rules.needed_at(rule, tree.nodes[id_], exit_) for id_, exit_ in way] == [True, False]
    assert rules.kept(rule, guide.trees["tingle-told"]) is None  # for the other audience
    small_guide.edit(SITE, "not_taken: {go: leave}", "not_taken: {go: lift}")
    assert rules.kept(rule, small_guide.sound().trees["main-earth"]) == way  # not the way that breaks it
