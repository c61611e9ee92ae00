"""A folder becomes a guide: trees whole, calls written out, mistakes collected."""

from __future__ import annotations

import math
from datetime import date

from build_tools.guide.loading import load

HEAD = """\
title: {title}
audience: site
about: For a test.
review_by: 2099-01-01
sources: [crews]
start: {start}
nodes:
"""
PROVE = (
    HEAD.format(title="Prove the tester", start="ask")
    + """\
  ask:
    question: Does the tester light on a known source?
    answers:
      - {answer: "Yes", go: good}
      - {answer: "No", go: bad}
      - {answer: No source, go: stop}
  good: {outcome: The tester is good, priority: soon, returns: good}
  bad: {outcome: The tester is bad, priority: soon, returns: bad}
  stop: {outcome: Stop here, priority: routine}
"""
)
TWICE = (
    HEAD.format(title="Prove it twice", start="before")
    + """\
  before: {call: prove, back: {good: work, bad: end}}
  work: {step: Do the work., go: after}
  after: {call: prove, back: {good: end, bad: before}}
  end: {outcome: The end, priority: routine, returns: over}
loops: [{through: before, at_most: 2}]
"""
)


def told(guide):
    return [f"{f.place}: {f.check}: {f.what}" for f in guide.findings]


def test_the_small_guide_is_read_whole(small_guide):
    guide = small_guide.sound()
    assert list(guide.trees) == ["tingle-told", "main-earth"]
    assert list(guide.streets) == ["short-row"]
    assert guide.operator and guide.operator.name == "Kelderbeck Networks"
    assert [rule.id for rule in guide.rules] == ["clamp-before-disconnect", "emergency-says-what-to-do"]
    assert guide.glossary["PEN"].caller_words == ("the earth wire",)
    assert guide.sources["flesch"].kind == "published"
    assert guide.today == date(2026, 7, 1)


def test_exits_of_a_reading_carry_bounds_and_places(small_guide):
    node = small_guide.sound().trees["main-earth"].nodes["clamp"]
    assert [(e.kind, e.label, e.go, e.low, e.high) for e in node.exits] == [
        ("range", "little or none", "lift", 0, 0.5),
        ("range", "current is flowing", "leave", 0.5, math.inf),
        ("not_taken", "could not take it", "leave", 0, math.inf),
        ("over_range", "over range", "leave", 0, math.inf),
        ("not_steady", "the display is not steady", "leave", 0, math.inf),
    ]
    lines = (small_guide.folder / "trees/site/main-earth.yaml").read_text().splitlines()
    assert [lines[e.place.line - 1].split()[0] for e in node.exits] == [
        "-",
        "-",
        "not_taken:",
        "over_range:",
        "not_steady:",
    ]


def test_a_called_tree_is_written_out_once_for_each_call(small_guide):
    small_guide.write("trees/site/prove.yaml", PROVE).write("trees/site/twice.yaml", TWICE)
    tree = small_guide.sound().trees["twice"]
    assert tree.start == "before.ask"
    assert set(tree.nodes) == {"before.ask", "before.stop", "work", "after.ask", "after.stop", "end"}
    assert [exit_.go for exit_ in tree.nodes["before.ask"].exits] == ["work", "end", "before.stop"]
    assert [exit_.go for exit_ in tree.nodes["after.ask"].exits] == ["end", "before.ask", "after.stop"]
    assert tree.loops == {"before.ask": 2}
    assert tree.nodes["after.ask"].place.file == "trees/site/prove.yaml"
    assert tree.nodes["after.ask"].name == "ask"
    assert {e.go for node in tree.nodes.values() for e in node.exits} <= tree.nodes.keys()


def test_calls_nest(small_guide):
    small_guide.write("trees/site/prove.yaml", PROVE).write("trees/site/twice.yaml", TWICE)
    outer = "  first: {call: twice, back: {over: end}}\n  end: {outcome: Done, priority: soon}\n"
    small_guide.write("trees/site/outer.yaml", HEAD.format(title="Outer", start="first") + outer)
    tree = small_guide.sound().trees["outer"]
    assert tree.start == "first.before.ask"
    assert tree.loops == {"first.before.ask": 2}
    assert [exit_.go for exit_ in tree.nodes["first.before.ask"].exits] == [
        "first.work",
        "end",
        "first.before.stop",
    ]


def test_a_return_goes_to_the_tree_that_calls_and_no_further(small_guide):
    """`twice` does not say where `stop` goes on: a walk ends there, even when the tree above takes `stop`."""
    small_guide.write("trees/site/prove.yaml", PROVE.replace("routine}", "routine, returns: stop}"))
    over = "  end: {outcome: The end, priority: routine, returns: over}\n"
    also = "  other: {outcome: Stopped, priority: routine, returns: stop}\n"
    small_guide.write("trees/site/twice.yaml", TWICE.replace(over, over + also))
    outer = "  first: {call: twice, back: {over: end, stop: end}}\n  end: {outcome: Done, priority: soon}\n"
    small_guide.write("trees/site/outer.yaml", HEAD.format(title="Outer", start="first") + outer)
    nodes = small_guide.sound().trees["outer"].nodes
    assert nodes["first.before.ask"].exits[2].go == "first.before.stop"
    assert "first.other" not in nodes


def test_trees_that_call_in_a_ring_are_refused_with_every_hop(small_guide):
    for id_, other in (("one", "two"), ("two", "three"), ("three", "one")):
        call = f"  call-it: {{call: {other}, back: {{over: end}}}}\n"
        end = "  end: {outcome: x, priority: soon, returns: over}\n"
        small_guide.write(f"trees/site/{id_}.yaml", HEAD.format(title=id_, start="call-it") + call + end)
    guide = small_guide.load()
    ring = next(f for f in guide.findings if f.check == "call-ring")
    assert sorted(hop.what for hop in ring.hops) == [
        "one calls two in its node call-it",
        "three calls one in its node call-it",
        "two calls three in its node call-it",
    ]
    assert all(hop.place.line == 8 for hop in ring.hops)
    assert not guide.trees.keys() & {"one", "two", "three"}


def test_a_thousand_trees_that_double_each_other_are_bounded(small_guide):
    for n in range(40):
        calls = f"  a: {{call: t{n - 1}, back: {{over: b}}}}\n  b: {{call: t{n - 1}, back: {{over: end}}}}\n"
        nodes = calls if n else "  a: {step: x, go: b}\n  b: {step: y, go: end}\n"
        end = "  end: {outcome: x, priority: soon, returns: over}\n"
        small_guide.write(f"trees/site/t{n}.yaml", HEAD.format(title=n, start="a") + nodes + end)
    guide = small_guide.load()
    assert [f.check for f in guide.findings] == ["too-many-nodes"]
    assert max(len(tree.nodes) for tree in guide.trees.values()) <= 5_000


def test_a_tree_with_a_mistake_is_left_out_and_so_is_what_calls_it(small_guide):
    small_guide.write("trees/site/prove.yaml", PROVE.replace("go: stop", "go: stopp"))
    small_guide.write("trees/site/twice.yaml", TWICE)
    guide = small_guide.load()
    (finding,) = told(guide)
    assert finding.startswith(
        "trees/site/prove.yaml:13:33: unknown-node: no node is called `stopp` - did you"
    )
    assert list(guide.trees) == ["tingle-told", "main-earth"]
    assert "prove" in guide.tree_files


def test_a_call_stays_within_its_audience(small_guide):
    small_guide.write("trees/site/outer.yaml", TWICE.replace("call: prove", "call: tingle-told"))
    assert {f.check for f in small_guide.load().findings} == {"unknown-tree"}


def test_a_tree_may_not_start_with_its_end(small_guide):
    small_guide.edit("trees/site/main-earth.yaml", "start: clamp", "start: done")
    assert [f.check for f in small_guide.load().findings] == ["start"]


def test_files_that_nothing_would_read_are_told(small_guide):
    text = (small_guide.folder / "trees/site/main-earth.yaml").read_text()
    small_guide.write("trees/sites/other.yaml", text).write("streets/row.yml", "title: x")
    small_guide.write("trees/call/main-earth.yaml", text).write("trees/site/Big.yaml", text)
    small_guide.write("trees/call/wrong.yaml", text).write("pages/extra.yaml", "anything")
    assert told(small_guide.load()) == [
        "streets/row.yml:1:1: misplaced: nothing reads this file",
        "trees/call/main-earth.yaml:2:11: audience: this tree is for `site` and lies in trees/call",
        "trees/call/wrong.yaml:2:11: audience: this tree is for `site` and lies in trees/call",
        "trees/site/Big.yaml:1:1: name: the file name `Big.yaml` does not fit",
        "trees/sites/other.yaml:1:1: misplaced: nothing reads this file"
        " - did you mean `trees/site` or `streets`?",
    ]


def test_two_trees_of_one_name(small_guide):
    text = (small_guide.folder / "trees/call/tingle-told.yaml").read_text()
    small_guide.write("trees/site/tingle-told.yaml", text.replace("audience: call", "audience: site"))
    assert [f.check for f in small_guide.load().findings] == ["same-name"]


def test_an_empty_folder_lists_what_is_needed(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    guide = load(tmp_path)
    assert told(guide) == [
        f"{name}:1:1: missing-file: there is no such file"
        for name in ("glossary.yaml", "guide.yaml", "operator.yaml", "rules.yaml", "sources.yaml")
    ]
    assert (guide.trees, guide.streets, guide.rules, guide.settings) == ({}, {}, (), None)
