"""Paths that cannot be raise no alarm: the search is held against walking all paths one by one."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
import yaml
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from build_tools.checks import path_facts, rules
from calc.street import network
from calc.symptoms import FACTS, fact
from calc.work import ACTIONS, as_worked, done

TREE = {"title": "x", "audience": "site", "about": "x", "review_by": "2099-01-01", "sources": ["crews"]}
OVER = {"outcome": "x", "priority": "soon"}


def reading(*ranges, same_as=None, instrument="clamp", **exits):
    """A reading; each range is (from, to, go), `to` None where it has no end."""
    spec = {"reading": "x", "instrument": instrument, "on": ["main_earth"], "unit": "A"}
    spec["ranges"] = [
        {"from": str(low), "label": f"{low}", "go": go} | ({} if high is None else {"to": str(high)})
        for low, high, go in ranges
    ]
    spec |= {kind: {"go": go} for kind, go in exits.items()}
    return spec | ({"same_as": same_as} if same_as else {})


def guide_with(small_guide, nodes, rule, name="drawn", **more):
    small_guide.write(f"trees/site/{name}.yaml", yaml.safe_dump({**TREE, **more, "nodes": nodes}))
    rule = {"id": "r", "title": "T", "because": "B", "sources": ["crews"], **rule}
    small_guide.write("rules.yaml", yaml.safe_dump([rule]))
    return small_guide.sound()


def broken(guide, tree="drawn"):
    return [[hop.what for hop in f.hops] for f in rules.check(guide, [guide.trees[tree]])]


NEVER_ABOVE = {
    "every": {"does": "open-main-switch"},
    "never_after": {"reading": {"instrument": "clamp", "at_least": 1}},
}


def twice(same_as="first", between=None):
    """Read; asked for again below a step, if any; then off when it was above 1 first and below 1 later."""
    after = "again" if between is None else "between"
    return {
        "first": reading((0, 1, "end"), (1, None, after)),
        "between": {"step": "x", "does": between or [], "go": "again"},
        "again": reading((0, 1, "off"), (1, None, "end"), same_as=same_as),
        "off": {"step": "x", "does": ["open-main-switch"], "go": "end"},
        "end": OVER,
    }


@pytest.mark.parametrize(
    ("same_as", "between", "alarms"),
    [
        ("first", None, 0),
        (None, None, 1),  # read anew: loads change and meters err
        ("first", [], 0),
        ("first", ["lift-main-earth"], 1),
        ("first", ["go-next-door"], 1),
    ],
)
def test_the_same_figure_is_not_both_above_and_below(small_guide, same_as, between, alarms):
    guide = guide_with(small_guide, twice(same_as, between), NEVER_ABOVE, start="first")
    assert len(broken(guide)) == alarms


def test_an_answer_without_a_figure_knows_nothing_and_is_always_open(small_guide):
    nodes = twice()
    nodes["first"] |= {"not_steady": {"go": "again"}}
    guide = guide_with(small_guide, nodes, NEVER_ABOVE, start="first")
    assert [way[0] for way in broken(guide)] == ['reading `first`: "the display is not steady"']
    nodes = twice()
    nodes["again"] |= {"not_taken": {"go": "off"}}
    guide = guide_with(small_guide, nodes, NEVER_ABOVE, start="first")
    assert [way[1] for way in broken(guide)] == ['reading `again`: "could not take it"']


@pytest.mark.parametrize("same_as", ["first", None])
def test_over_range_is_above_every_range(small_guide, same_as):
    nodes = twice(same_as)
    nodes["first"] = reading((0, None, "end"), over_range="again")
    nodes["again"] = reading((0, None, "off"), over_range="end", same_as=same_as)
    assert len(broken(guide_with(small_guide, nodes, NEVER_ABOVE, start="first"))) == (same_as is None)


def test_a_range_is_narrowed_to_what_is_known(small_guide):
    """First below 0.8, then in 0.5 and above: never 1 or more, though the second range alone may be."""
    nodes = twice()
    nodes["first"] = reading((0, 0.8, "again"), (0.8, None, "end"))
    nodes["again"] = reading((0, 0.5, "end"), (0.5, None, "off"), same_as="first")
    assert broken(guide_with(small_guide, nodes, NEVER_ABOVE, start="first")) == []
    del nodes["again"]["same_as"]
    assert len(broken(guide_with(small_guide, nodes, NEVER_ABOVE, start="first"))) == 1


def test_what_is_known_goes_through_called_trees_and_round_loops(small_guide):
    nodes = twice()
    nodes["end"] = {**OVER, "returns": "back"}
    guide_with(small_guide, nodes, NEVER_ABOVE, start="first", name="called")
    calling = {
        "once": {"call": "called", "back": {"back": "more"}},
        "more": {"question": "x", "answers": [{"answer": "y", "go": "once"}, {"answer": "n", "go": "over"}]},
        "over": OVER,
    }
    loops = [{"through": "more", "at_most": "2"}]
    guide = guide_with(small_guide, calling, NEVER_ABOVE, start="once", loops=loops, name="calling")
    assert len(guide.trees["calling"].nodes) == 6
    # Read above 1 the first time round, below the second: another figure, and still no way to `off`.
    assert broken(guide, "calling") == []
    nodes["again"].pop("same_as")
    guide_with(small_guide, nodes, NEVER_ABOVE, start="first", name="called")
    guide = guide_with(small_guide, calling, NEVER_ABOVE, start="once", loops=loops, name="calling")
    assert len(broken(guide, "calling")) == 1


@pytest.mark.parametrize(
    ("asked", "between", "alarms"),
    [
        ("earthing", [], 0),
        ("earthing", ["lift-main-earth"], 0),
        ("earthing", ["go-next-door"], 1),
        ("neighbour-off", [], 1),  # not of the records: it can change
    ],
)
def test_a_recorded_fact_keeps_its_word_at_one_home(small_guide, asked, between, alarms):
    def ask(**goes):
        answers = [{"answer": word, "is": word, "go": go} for word, go in goes.items()]
        return {"question": "x", "fact": asked, "answers": answers}

    nodes = {
        "first": ask(tt="between", tns="end"),
        "between": {"step": "x", "does": between, "go": "again"},
        "again": ask(tt="end", tns="off"),
        "off": {"step": "x", "does": ["open-main-switch"], "go": "end"},
        "end": OVER,
    }
    rule = {"every": {"does": "open-main-switch"}, "needs_earlier": {"does": "come-back"}}
    assert len(broken(guide_with(small_guide, nodes, rule, start="first"))) == alarms


@pytest.mark.parametrize("name", path_facts.RECORDED)
def test_nothing_that_is_done_changes_a_recorded_fact(name, small_guide):
    assert name in FACTS
    for street in small_guide.load().streets.values():
        whole = network(street)
        for home in street.premises:
            said = fact(name, whole, home)
            for action in ACTIONS:
                assert fact(name, as_worked(whole, done(frozenset(), action, home)), home) == said


@pytest.mark.parametrize(
    ("same_as", "change", "what"),
    [
        ("frist", {}, "no reading of this tree is called `frist` - did you mean `first`?"),
        ("off", {}, "no reading of this tree is called `off`"),
        ("again", {}, "`again` is not read anew: it is itself the figure of `again`"),
        ("first", {"on": ["neutral_tail"]}, "`first` is another reading than `again`"),
        ("first", {"unit": "mA"}, "`first` is another reading than `again`"),
    ],
)
def test_same_as_names_the_same_reading(small_guide, same_as, change, what):
    nodes = twice(same_as)
    nodes["again"] |= change
    guide = guide_with(small_guide, nodes, NEVER_ABOVE, start="first")
    (finding,) = path_facts.check(guide, ())
    assert finding.what.startswith(what)
    assert finding.path == ("nodes", "again", "same_as")


@st.composite
def reading_trees(draw):
    """Readings, some asked for again, with steps between; they lead onward by one to three nodes."""
    count = draw(st.integers(3, 8))
    kinds = [draw(st.sampled_from(["new", "again", "again", "step"])) for _ in range(count)]
    kinds[0] = "new"
    nodes = {}
    for n, kind in enumerate(kinds):
        gos = st.sampled_from([f"n{m}" if m < count else "off" for m in range(n + 1, n + 4)] + ["end"])
        if kind == "step":
            does = draw(st.sampled_from([[], [], ["lift-main-earth"]]))
            nodes[f"n{n}"] = {"step": "x", "does": does, "go": draw(gos)}
            continue
        edges = [0, *draw(st.lists(st.integers(1, 4), max_size=2, unique=True).map(sorted)), None]
        same_as = (
            draw(st.sampled_from([m for m in range(n) if kinds[m] == "new"])) if kind == "again" else None
        )
        spans = [(low, high, draw(gos)) for low, high in pairwise(edges)]
        exits = {one: draw(gos) for one in ("not_taken", "over_range") if draw(st.booleans())}
        nodes[f"n{n}"] = reading(*spans, same_as=None if same_as is None else f"n{same_as}", **exits)
    off = {"step": "x", "does": ["open-main-switch"], "go": "end"}
    return {**nodes, "off": off, "end": OVER}


@given(reading_trees(), st.integers(1, 4), st.sampled_from(["needs_earlier", "never_after"]))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=200, deadline=None)
def test_the_search_finds_what_every_path_with_every_figure_finds(small_guide, nodes, bound, demand):
    """Every figure a meter can show is tried on every path: 0.5, 1.5 ... stand for the ranges between whole
    numbers, infinity for over range."""
    limit = {"at_least": bound} if demand == "never_after" else {"below": bound}
    rule = {"every": {"does": "open-main-switch"}, demand: {"reading": {"instrument": "clamp", **limit}}}
    guide = guide_with(small_guide, nodes, rule, start="n0")
    ways = [len(way) for way in broken(guide)]
    assert ways == _walked(nodes, bound, demand)


def _walked(nodes, bound, demand):
    """Length of the shortest way to `off` on which the rule breaks. A way is a list of nodes with the set of
    figures that each reading may still have shown."""
    every = frozenset([0.5, 1.5, 2.5, 3.5, 4.5, math.inf])
    lengths = []

    def walk(name, length, figures, taken):
        if name == "off":
            sure = any(max(shown) < bound for shown in taken)
            maybe = any(max(shown) >= bound for shown in taken)
            if maybe if demand == "never_after" else not sure:
                lengths.append(length)
        if "outcome" in nodes[name]:
            return
        spec = nodes[name]
        if "step" in spec:
            walk(spec["go"], length + 1, {} if spec["does"] else figures, taken)
            return
        origin = spec.get("same_as", name)
        before = figures.get(origin) if "same_as" in spec else None
        exits = [
            (frozenset(f for f in every if float(r["from"]) <= f < float(r.get("to", "inf"))), r["go"])
            for r in spec["ranges"]
        ]
        exits += [(frozenset([math.inf]), spec["over_range"]["go"])] if "over_range" in spec else []
        fits = [one for one in exits if before is None or one[0] & before]
        if not fits and "not_taken" not in spec:
            fits, before = exits, None
        for shown, go in fits:
            left = shown & before if before else shown
            walk(go, length + 1, {**figures, origin: left}, [*taken, left])
        if "not_taken" in spec:
            kept = {key: value for key, value in figures.items() if key != origin or "same_as" in spec}
            walk(spec["not_taken"]["go"], length + 1, kept, taken)

    walk("n0", 1, {}, [])
    return [min(lengths)] if lengths else []


def test_many_readings_asked_for_again_do_not_blow_up(small_guide):
    """Twenty readings of two ranges, all asked for again at the end: 2 to the 20 ways to know them."""
    nodes = {}
    for n in range(20):
        after = f"n{n + 1}" if n < 19 else "a0"
        nodes[f"n{n}"] = reading((0, 1, after), (1, None, after))
        last = f"a{n + 1}" if n < 19 else "off"
        nodes[f"a{n}"] = reading((0, 1, last), (1, None, last), same_as=f"n{n}")
    nodes |= {"off": {"step": "x", "does": ["open-main-switch"], "go": "end"}, "end": OVER}
    rule = {"every": {"does": "open-main-switch"}, "never_after": {"does": "lift-main-earth"}}
    guide = guide_with(small_guide, nodes, rule, start="n0")
    tree = guide.trees["drawn"]
    memory = path_facts.Memory(tree)
    seen = [came for came, _, _ in rules._arrivals(rules._Turns(guide.rules[0]), tree, memory)]
    assert len(seen[-1]) < 4 * rules.STATES_A_NODE * len(tree.nodes)
