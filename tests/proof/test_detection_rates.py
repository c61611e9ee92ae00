"""What each test can and cannot see: the table's counts, its limits, and three kinds of cell against ngspice.

Source of what is expected of a cell: ngspice, an open circuit simulator, run here on every street of the
cell. The errors of the meters and the limits are applied to its volts and amperes apart from the project.
"""

from __future__ import annotations

import math
import re
import shutil
from collections import Counter
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
import spice
from streets import by_the_book

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.pages.page import Book
from build_tools.pages.share_curve import STROKES, Line, curve_svg
from build_tools.pages.tests_table import sight_page, what_it_sees
from build_tools.pages.tree_page import tree_page
from build_tools.proof import evidence
from build_tools.proof.detection_rates import display, places, sight
from build_tools.proof.detection_table import CURVED, THRESHOLDS, WHERE, Seen, rows_of
from build_tools.proof.procedures import OTHER_LIMITS, PREPARED, How, procedures
from build_tools.proof.street_batch import batches
from calc.circuit import Branch
from calc.drawn_streets import Drawn
from calc.faults import Fault
from calc.readings import TESTS
from calc.street import load_ohm, network
from calc.work import ACTIONS, Condition, as_worked

GUIDE = Path(__file__).parents[2] / "guide_src"
SOME = range(120)
UNDER_LOAD = ("home-quiet", "known-load-on")


@pytest.fixture(scope="module")
def guide() -> Guide:
    """The shipped guide, over streets by the book."""
    shipped = load(GUIDE)
    assert shipped.sampling is not None
    return replace(shipped, sampling=by_the_book(shipped.sampling))


def test_counts_of_parts_are_the_count_of_the_whole(guide: Guide) -> None:
    kinds = ("healthy", "mains-pen-open")
    parts = (sight(guide, SOME[start::3], kinds) for start in range(3))
    whole = sight(guide, SOME, kinds)
    assert sum(parts, Counter()) == +whole
    assert all(type(number) is int for number in whole.values())


def test_every_cell_adds_up(guide: Guide) -> None:
    for row in rows_of(sight(guide, SOME, CURVED)):
        assert 0 <= row.low <= row.share <= row.high <= 1
        assert row.where in WHERE
        if row.test.startswith("clamp-"):
            assert len(row.by_amperes) == len(THRESHOLDS)
            assert sum(row.by_amperes) == row.asked


def test_limits_are_those_of_the_trees(guide: Guide) -> None:
    """As written in the tree for one home, where exits below 6 A, from 0.35 ohm and from 10 V stop."""
    known = procedures(guide)
    pair = known[How("clamp", ("neutral_tail", "main_earth"), UNDER_LOAD).id]
    assert pair.usual == ((6.0, math.inf),)
    assert ("test-one-home", "known-load-both") not in pair.nodes, "no job is closed in that tree alone"
    assert ("tingle-on-pipework", "here.known-load-both") in pair.nodes
    assert known["loop-line-earth"].usual == ((0.0, 0.35),)
    assert known["voltmeter-earth-independent-earth"].usual == ((0.0, 10.0),)
    assert known["voltmeter-line-neutral"].usual == ((216.2, 253.0),)
    assert known["contact-earth"].words == {"no"}
    assert known["eyes-main-earth"].words == {"yes"}


def test_a_limit_moved_in_a_tree_moves_here(tmp_path: Path) -> None:
    folder = tmp_path / "guide"
    shutil.copytree(GUIDE, folder)
    tree = folder / "trees/site/test-one-home.yaml"
    text = tree.read_text()
    assert "to: 6, label" in text
    tree.write_text(
        text.replace("to: 6, label", "to: 6.5, label").replace("from: 6, label", "from: 6.5, label")
    )
    moved = procedures(load(folder))
    assert moved[How("clamp", ("neutral_tail", "main_earth"), UNDER_LOAD).id].usual == ((6.5, math.inf),)


def test_every_test_is_in_the_table_and_only_what_no_tree_uses_has_a_limit_of_its_own(guide: Guide) -> None:
    used, declared = set(), set()
    for one in procedures(guide).values():
        how = (one.how.instrument, one.how.on, frozenset(one.how.conditions) - PREPARED)
        (used if one.nodes else declared).add(how)
    ways = {
        test.id: (test.instrument, test.on, frozenset(ACTIONS[action][0] for action in test.after))
        for test in TESTS
    }
    assert set(ways.values()) <= used | declared
    assert {ways[id_] for id_ in OTHER_LIMITS} == declared
    assert not used & declared


def test_what_is_known_of_the_tests_comes_out(guide: Guide) -> None:
    """Known without the model: with the PEN open no current runs in it; the loop goes home by a good pipe;
    a main earth that is gone is seen by looking at it. Common practice, no source."""
    shares = {
        (row.test, row.fault, row.where): row.share
        for row in rows_of(sight(guide, range(300), ("healthy", "service-pen-open", "main-earth-lost")))
    }
    pair = How("clamp", ("neutral_tail", "main_earth"), UNDER_LOAD).id
    assert shares[pair, "service-pen-open", "sharing"] == shares[pair, "service-pen-open", "alone"] == 1
    assert shares[pair, "healthy", "alone"] == 0
    assert shares[pair, "healthy", "sharing"] < 0.1
    assert shares["loop-line-earth", "service-pen-open", "alone"] > 0.95
    assert shares["loop-line-earth", "service-pen-open", "sharing"] < 0.25
    assert shares["loop-line-earth", "service-pen-open", "next-door"] < 0.02
    assert shares["eyes-main-earth", "main-earth-lost", "sharing"] == 1
    assert shares["eyes-main-earth", "service-pen-open", "sharing"] == 0


@dataclass(frozen=True)
class Visit:
    """One street of a cell as drawn: the home of the test, the street's conductors then, and what the project
    has its display show."""

    drawn: Drawn
    home: str
    branches: tuple[Branch, ...]
    shown: float
    alarms: bool

    @property
    def line(self) -> str:
        (phase,) = self.drawn.street.premises[self.home].phases
        return f"{self.home}.{phase}"


def visits(guide: Guide, how: How, kind: str, where: str) -> Iterator[Visit]:
    """The streets of a cell, 200 of them."""
    assert guide.sampling is not None
    test = procedures(guide)[how.id]
    left = 200
    for whole in batches(guide.sampling, range(500)):
        (batch,) = whole.with_fault(kind)
        homes = list(batch.street.premises)
        at = places(batch)[where]
        displays = {place: display(test, batch, homes[place]) for place in np.unique(at[at >= 0])}
        for number in np.flatnonzero(at >= 0)[:left]:
            left -= 1
            home, drawn = homes[at[number]], batch.drawn[number]
            fault = batch.fault(int(number))
            shown, alarms = displays[at[number]]
            branches = tuple(as_found(drawn, fault, home, how))
            yield Visit(drawn, home, branches, float(shown[number]), bool(alarms[number]))
    assert left == 0


def as_found(drawn: Drawn, fault: Fault, home: str, how: How) -> Iterator[Branch]:
    """The conductors of a drawn street with a fault, as the person at a home has made them."""
    street, on = drawn.street, "known-load-on" in how.conditions
    faulty = fault.applied_to(network(street))
    if on:  # by then other loads may have changed; what has blown stays blown
        for name, premises in street.premises.items():
            load = faulty.branches[f"{name}/load.{premises.phases[0]}"]
            ohm = load_ohm(drawn.later_kw[name][0], premises.power_factor)
            faulty = faulty.changed(replace(load, impedance=ohm))
    worked = as_worked(faulty, frozenset(Condition(name, home) for name in how.conditions))
    for branch in worked.branches.values():
        known = on and branch.name == f"{home}/known_load"
        yield replace(branch, impedance=load_ohm(drawn.known_load_kw)) if known else branch


AT_ONCE = 20
"""Streets in one run of ngspice, which takes more than twice as long over twice as many."""


@dataclass(frozen=True)
class Solved:
    """One street as ngspice solved it, among others in its run."""

    result: spice.Result
    number: int

    def volts(self, one: str, other: str) -> float:
        """Volts between two points."""
        either = (0j if p == "earth" else self.result.volts[f"{self.number}:{p}"] for p in (one, other))
        return abs(next(either) - next(either))

    def amperes(self, *names: str) -> float:
        """Amperes through conductors together; none in one that is open."""
        return abs(sum(self.result.amperes.get(f"{self.number}:{name}", 0j) for name in names))


def solved(
    visited: list[Visit], folder: Path, meter: Callable[[Visit], tuple[Branch, ...]] = lambda _: ()
) -> list[Solved]:
    """Each street in ngspice with a meter in it. Those of one run have only the earth in common."""
    if len(visited) > AT_ONCE:
        first, rest = visited[:AT_ONCE], visited[AT_ONCE:]
        return solved(first, folder, meter) + solved(rest, folder, meter)
    together = []
    for number, visit in enumerate(visited):
        for branch in (*visit.branches, *meter(visit)):
            ends = [end if end == "earth" else f"{number}:{end}" for end in (branch.start, branch.end)]
            together.append(Branch(f"{number}:{branch.name}", *ends, branch.impedance, branch.emf))
    result = spice.simulate(together, folder)
    return [Solved(result, number) for number in range(len(visited))]


def clamped(visit: Visit, amperes: float) -> float:
    """What the clamp of that visit shows: 0.01 A steps, nothing below 0.03 A."""
    meters = visit.drawn.meters
    value = max(0.0, amperes * (1 + meters["clamp-error"]) + meters["clamp-stray-a"])
    return 0.0 if value < 0.03 else round(value, 2)


def agree(guide: Guide, visited: list[Visit], cell: Seen, shown: list[float], alarms: list[bool]) -> None:
    """The cell as ngspice has it, street by street and in the table's own count."""
    assert len(visited) == len(shown) == 200
    assert [visit.alarms for visit in visited] == alarms
    assert [visit.shown for visit in visited] == pytest.approx(shown, abs=1e-9)
    counts = sight(guide, [visit.drawn.number for visit in visited], [cell.fault])
    assert (counts[cell, "asked"], counts[cell, "shows"]) == (200, sum(alarms))
    if cell.test.startswith("clamp"):
        expected = [
            sum(low <= one < high for one in shown) for low, high in pairwise([*THRESHOLDS, math.inf])
        ]
        assert [counts[cell, f"from {low:g}"] for low in THRESHOLDS] == expected


def test_clamp_round_the_main_earth_beside_an_open_pen(guide: Guide, tmp_path: Path) -> None:
    """The trees stop at no figure of it, so its curve is what is compared."""
    how = How("clamp", ("main_earth",))
    visited = list(visits(guide, how, "service-pen-open", "next-door"))
    found = zip(visited, solved(visited, tmp_path), strict=True)
    shown = [clamped(visit, street.amperes(f"{visit.home}/main_earth")) for visit, street in found]
    assert max(shown) > 5, "or nothing is told apart"
    agree(guide, visited, Seen(how.id, "service-pen-open", "next-door"), shown, [False] * 200)


def test_earth_to_a_probe_beyond_a_broken_main(guide: Guide, tmp_path: Path) -> None:
    """A voltmeter of 1 megohm, 0.1 V steps; from 10 V the job is stopped."""
    how = How("voltmeter", ("earth", "independent_earth"))
    visited = list(visits(guide, how, "mains-pen-open", "sharing"))
    streets = solved(visited, tmp_path, lambda visit: (Branch("meter", f"{visit.home}.MET", "earth", 1e6),))
    shown = [
        round(street.volts(f"{visit.home}.MET", "earth") * (1 + visit.drawn.meters["voltmeter-error"]), 1)
        for visit, street in zip(visited, streets, strict=True)
    ]
    alarms = [value >= 10 for value in shown]
    assert 20 < sum(alarms) < 200
    agree(guide, visited, Seen(how.id, "mains-pen-open", "sharing"), shown, alarms)


@pytest.mark.parametrize("kind", ["service-pen-open", "healthy"])
def test_neutral_tail_and_main_earth_under_the_known_load(guide: Guide, tmp_path: Path, kind: str) -> None:
    """Below 6 A the job is stopped."""
    how = How("clamp", ("neutral_tail", "main_earth"), UNDER_LOAD)
    visited = list(visits(guide, how, kind, "sharing"))
    shown = [
        clamped(visit, street.amperes(f"{visit.home}/tail.N", f"{visit.home}/main_earth"))
        for visit, street in zip(visited, solved(visited, tmp_path), strict=True)
    ]
    alarms = [value < 6 for value in shown]
    assert sum(alarms) == 200 if kind == "service-pen-open" else sum(alarms) < 20
    agree(guide, visited, Seen(how.id, kind, "sharing"), shown, alarms)


def test_loop_at_a_home_with_its_pen_open(guide: Guide, tmp_path: Path) -> None:
    """The tester's 10 ohm held from line to earth; below 195 V no test; from 0.35 ohm the job is stopped."""
    how = How("loop", ("line", "earth"))
    visited = list(visits(guide, how, "service-pen-open", "sharing"))
    idle = solved(visited, tmp_path)
    loaded = solved(visited, tmp_path, lambda visit: (Branch("meter", visit.line, f"{visit.home}.MET", 10),))
    shown, alarms = [], []
    for visit, before, under in zip(visited, idle, loaded, strict=True):
        ends, meters = (visit.line, f"{visit.home}.MET"), visit.drawn.meters
        volts, fallen = before.volts(*ends), under.volts(*ends)
        ohm = (
            max(0.0, volts - fallen) / (fallen / 10) * (1 + meters["loop-error"]) + meters["loop-offset-ohm"]
        )
        shown.append(round(max(0.0, ohm), 2))
        alarms.append(volts < 195 or shown[-1] >= 0.35)
    assert 0 < sum(alarms) < 60, "a pipe hides it"
    agree(guide, visited, Seen(how.id, "service-pen-open", "sharing"), shown, alarms)


def test_the_page_and_the_links_to_it(guide: Guide, tmp_path: Path) -> None:
    """Every test of a tree leads to its own rows; before a measurement there is no page and no link."""
    kept = evidence.read(guide)
    assert kept is not None and guide.settings is not None
    folder = tmp_path / "guide"
    shutil.copytree(GUIDE, folder)
    copy = load(folder)
    evidence.write(copy, replace(kept, seen=()))
    assert sight_page(Book(copy, guide.settings, guide.operator)) is None
    assert what_it_sees(copy) == {}
    evidence.write(copy, replace(kept, seen=rows_of(sight(guide, SOME, (*CURVED, "main-earth-lost")))))
    page = sight_page(Book(copy, guide.settings, guide.operator))
    assert page is not None
    ids = set(re.findall(r'id="([^"]+)"', page.html))
    links = what_it_sees(copy)
    assert {link.partition("#")[2] for link in links.values()} <= ids
    assert "is-the-loop-enough" in ids
    tree = copy.trees["test-one-home"]
    readings = {node.place for node in tree.nodes.values() if node.kind == "reading"}
    found_first, changes = ("dead-line", "clamp-home-off"), ("known-load-tail",)
    assert readings - links.keys() == {tree.nodes[name].place for name in (*found_first, *changes)}
    html = tree_page(Book(copy, guide.settings, guide.operator), tree).html
    assert '../../proof-tests.html#loop-line-earth"' in html


def test_curves_are_told_apart_and_told_in_words() -> None:
    steps = (0, 1, 2, 5)
    lines = [Line(f"line {n}", (1.0, 0.5, 0.25 * n, 0.0)) for n in range(4)]
    drawn = ElementTree.fromstring(curve_svg("one", "A clamp", steps, lines, [3]))
    said = drawn.findtext("{*}desc") or ""
    assert all(f"{line.of}: 100% from 0 A, 50% from 1 A" in said for line in lines)
    assert len({dashes for _, _, dashes in STROKES}) == len(STROKES), "in black print too"
    words = [each.text for each in drawn.iter("{http://www.w3.org/2000/svg}text")]
    assert {*(line.of for line in lines), "limit 3 A"} <= set(words)
