"""The shipped guide is clean; each way of breaking its tree about a tingle is refused where it is broken."""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import networkx as nx
import pytest

from build_tools.checks import CHECKS, check_guide, physics
from build_tools.guide.findings import Finding, text_report
from build_tools.guide.loading import load
from build_tools.guide.models import Outcome
from build_tools.guide.trees import Guide, Tree
from build_tools.pages.page import Book
from build_tools.pages.sections import guide_data
from build_tools.setup import result_cache
from build_tools.walks.oracle import Oracle
from build_tools.walks.ways import Ways
from calc.faults import catalogue, parse

SHIPPED = Path(__file__).parents[2] / "guide_src"
TINGLE = "trees/site/tingle-on-pipework.yaml"
HOME = "trees/site/test-one-home.yaml"
CALLS = sorted(path.stem for path in (SHIPPED / "trees/call").glob("*.yaml"))
OVERDUE = date(2020, 1, 1)


@dataclass(frozen=True)
class Change:
    """One piece of text in one node of a tree (in the whole file, where no node is named) becomes another."""

    file: str
    node: str
    old: str
    new: str

    def make(self, folder: Path) -> None:
        text = (folder / self.file).read_text("utf-8")
        start, end = _span(text, self.node)
        assert text[start:end].count(self.old) == 1, self
        (folder / self.file).write_text(
            text[:start] + text[start:end].replace(self.old, self.new) + text[end:]
        )


@dataclass(frozen=True)
class Break:
    """What is done to the guide, and the finding that has to come of it.

    The finding stands in `file`, in `node`, at the text `at`. `way` is a word of each hop that it must
    tell, in order; empty for a finding that is not about a path.
    """

    changes: tuple[Change, ...]
    check: str
    file: str
    node: str
    at: str
    way: tuple[str, ...] = ()


def _span(text: str, node: str) -> tuple[int, int]:
    """Where a node stands in the text of its file, its name included."""
    if not node:
        return 0, len(text)
    found = re.search(rf"^  {node}:\n(?:   .*\n)*", text, re.MULTILINE)
    assert found, node
    return found.span()


def _place(folder: Path, broken: Break) -> tuple[int, int]:
    """Line and column of the text that the finding has to stand at."""
    text = (folder / broken.file).read_text("utf-8")
    start, end = _span(text, broken.node)
    at = text.index(broken.at, start, end)
    return text.count("\n", 0, at) + 1, at - text.rfind("\n", 0, at)


def broken(check: str, node: str, old: str, new: str, at: str, *way: str, file: str = TINGLE) -> Break:
    """One change in a node, and a finding in that same node."""
    return Break((Change(file, node, old, new),), check, file, node, at, way)


def breach(rule: str, node: str, changes: tuple[Change, ...], *way: str, file: str = TINGLE) -> Break:
    """Changes that let a way reach `node`, which a rule of the guide forbids."""
    return Break(changes, f"rule-{rule}", file, node, node, (*way, f"{node}`: here"))


LIVE = "- {from: 25, label: the loose earth is live, go: lifted-live}"
CARRIES = "{from: 6, label: this home's PEN carries, go: known-load-earth}"
OPEN = "{from: 0.5, to: 3, label: this home's PEN does not carry the load, go: load-off-open}"

BREAKS = {
    "a range is dropped": broken("range-gap", "loose-earth", LIVE, "", "25, label: near"),
    "two ranges overlap": broken(
        "range-overlap", "supply-loop", "from: 0.8, label", "from: 0.6, label", "0.6, label"
    ),
    "two answers are swapped": breach(
        "no-closing-without-next-door",
        "sound",
        (
            Change(TINGLE, "another", 'is: "yes", go: go-next-door', 'is: "yes", go: come-back'),
            Change(TINGLE, "another", 'is: "no", go: metal-again', 'is: "no", go: go-next-door'),
        ),
        'another`: "Yes, there is one"',
    ),
    "the ways of the two ranges of the pair are swapped": breach(
        "no-closing-without-the-pair",
        "sound",
        (
            Change(HOME, "known-load-both", OPEN, OPEN.replace("load-off-open", "known-load-earth")),
            Change(HOME, "known-load-both", CARRIES, CARRIES.replace("known-load-earth", "load-off-open")),
        ),
        'known-load-both`: "this home\'s PEN does not carry the load"',
    ),
    "the earth is lifted before the clamp": breach(
        "clamp-before-opening", "lift", (Change(TINGLE, "", "start: danger-now", "start: lift"),)
    ),
    "an answer leads nowhere": broken(
        "unknown-node", "another-more", "go: come-back", "go: come-bak", "come-bak"
    ),
    "a clamp reading of a healthy home counts as safe": breach(
        "no-closing-without-the-pair",
        "sound",
        (
            Change(
                HOME,
                "clamp-main-earth",
                '(this proves nothing)", go: look-main-earth',
                '(safe)", go: carries',
            ),
        ),
        'clamp-main-earth`: "little or none (safe)"',
    ),
    "next door is not asked for": breach(
        "no-closing-without-next-door",
        "sound",
        (Change(TINGLE, "another", 'is: "yes", go: go-next-door', 'is: "yes", go: come-back'),),
        'another`: "Yes, there is one"',
    ),
    "next door is gone to and not tested": Break(
        (Change(TINGLE, "go-next-door", "go: next-door\n", "go: another\n"),),
        "closed-beside-danger",
        TINGLE,
        "sound",
        "sound",
        ("go-next-door: done", "another: answered 'No"),
    ),
    "the independent earth is left out": breach(
        "independent-earth-before-load",
        "known-load-on",
        (Change(HOME, "look-main-earth", 'is: "yes", go: probe', 'is: "yes", go: volts'),),
        'look-main-earth`: "Yes"',
        file=HOME,
    ),
    "a probe that was not placed goes on": breach(
        "independent-earth-before-load",
        "known-load-on",
        (Change(HOME, "probe", "not_taken: {go: not-proven,", "not_taken: {go: volts,"),),
        'probe`: "there is no place for a probe"',
        file=HOME,
    ),
    "a loop that was not tested goes on": breach(
        "loop-before-load",
        "known-load-on",
        (Change(HOME, "loop-to-earth", "not_taken: {go: not-proven}", "not_taken: {go: loop-to-neutral}"),),
        'loop-to-earth`: "could not take it"',
        file=HOME,
    ),
    "the loop tests are left out": breach(
        "loop-before-load",
        "known-load-on",
        (Change(HOME, "neutral-to-earth", "go: earthing", "go: phases"),),
        'neutral-to-earth`: "usual"',
        file=HOME,
    ),
    "the known load is not proved on": breach(
        "load-proven-before-judging",
        "sound",
        (Change(HOME, "probe-under-load", "go: known-load-tail", "go: known-load-both"),),
        "known-load-on`: done",
    ),
    "a hazard loses its tag": broken(
        "untagged-action",
        "lift",
        "hazards: [opens-earth-path, touches-metalwork, works-live]",
        "hazards: [touches-metalwork, works-live]",
        "lift-main-earth]",
    ),
    "a live earth is routine": breach(
        "live-metalwork-is-an-emergency",
        "lifted-live",
        (Change(TINGLE, "lifted-live", "priority: emergency", "priority: routine"),),
        "loose-earth`:",
    ),
    "live metalwork is urgent only": breach(
        "live-metalwork-is-an-emergency",
        "metal-live",
        (Change(HOME, "metal-live", "priority: emergency", "priority: urgent"),),
        'indicator`: "It lights"',
        file=HOME,
    ),
    "a broken PEN waits for planned work": broken(
        "danger-put-off", "own-pen-open", "priority: emergency", "priority: soon", "soon"
    ),
    "a pipe past a joint of the main closes the job": breach(
        "no-closing-past-a-joint",
        "sound",
        (Change(TINGLE, "past-a-joint", "record, go: main-not-proven", "record, go: prove-supply-earth"),),
        'past-a-joint`: "I have no record"',
    ),
    "the home is switched on before the loose earth is measured": breach(
        "loose-earth-before-other-tests",
        "restore",
        (Change(TINGLE, "lift", "go: loose-earth", "go: restore"),),
        "lift`: done",
    ),
    "a loop has no bound": Break(
        (Change(TINGLE, "", "loops:\n  - {through: go-next-door, at_most: 12}\n", ""),),
        "loop",
        TINGLE,
        "go-next-door",
        "go-next-door",
        ("go-next-door`: done", 'another-more`: "Yes, there is one"'),
    ),
    "an answer to what is found is missing": Break(
        (Change(HOME, "look-main-earth", '      - {answer: "No", is: "no", go: earth-broken}\n', ""),),
        "no-answer",
        HOME,
        "look-main-earth",
        "look-main-earth",
        ("clamp-main-earth: clamp on main_earth shows",),
    ),
    "a unit slips": broken("unit", "metal-again", "unit: A", "unit: mA", "mA"),
    "the review is overdue": broken(
        "review-past", "", "review_by: 2027-06-01", f"review_by: {OVERDUE}", str(OVERDUE)
    ),
    "a way back from a call is misspelt": broken(
        "unknown-return", "next-door", "back: {carries:", "back: {carrys:", "carrys"
    ),
    "a word is not in the glossary": broken(
        "unknown-term", "another", "[[PEN]]", "[[PNE]]", ">-\n      A test"
    ),
}


@pytest.fixture(scope="module", autouse=True)
def _kept_apart(tmp_path_factory: pytest.TempPathFactory) -> Iterator[None]:
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(result_cache, "FOLDER", tmp_path_factory.mktemp("kept"))
        yield


def read(folder: Path) -> Guide:
    """The guide, on the day of its last review."""
    settings = load(SHIPPED).settings
    assert settings
    return load(folder, settings.reviewed)


def test_the_shipped_guide_is_clean() -> None:
    assert text_report(check_guide(read(SHIPPED))) == ""


def test_the_shipped_guide_serves_every_symptom() -> None:
    """A tree for the telephone and one for the visit, about a tingle, about lights, about a neighbour."""
    guide = read(SHIPPED)
    listed = guide_data(Book(guide, guide.settings, guide.operator))
    trees = {(tree["audience"], tree["id"]) for tree in listed["trees"]}
    for symptom in ("tingle", "lights", "neighbour"):
        for audience in ("call", "site"):
            assert [id_ for heard, id_ in trees if heard == audience and symptom in id_], (audience, symptom)
    assert len(trees) >= 6
    assert len(listed["calculators"]) == 14
    assert len(listed["streets"]) == 3
    assert all(tree["nodes"] == list(guide.trees[tree["id"]].nodes) for tree in listed["trees"])


def test_every_emergency_of_a_call_is_within_five_answers(guide: Guide) -> None:
    """Danger at once is two answers off: that there is some, and which. A tingle is told, told again, and
    then where people can stay; with work asked before it that makes five."""
    emergencies = []
    for tree in (guide.trees[id_] for id_ in CALLS):
        answers = nx.single_source_shortest_path_length(tree.graph, tree.start)
        ends = {name: node.spec for name, node in tree.nodes.items() if isinstance(node.spec, Outcome)}
        assert min(answers[name] for name, spec in ends.items() if spec.dangers) == 2
        emergencies += [answers[name] for name, spec in ends.items() if spec.priority == "emergency"]
    assert max(emergencies) == 5


def asked_on_the_way(tree: Tree) -> list[int]:
    """How many answers each way through a call takes to its end."""
    ends = [id_ for id_, node in tree.nodes.items() if node.kind == "outcome"]
    graph = nx.DiGraph(tree.graph)
    return [len(way) - 1 for end in ends for way in nx.all_simple_paths(graph, tree.start, end)]


def test_no_call_asks_more_than_eight_questions(guide: Guide) -> None:
    assert max(max(asked_on_the_way(guide.trees[id_])) for id_ in CALLS) == 8


@pytest.mark.parametrize("call", CALLS)
def test_a_danger_that_is_told_once_ends_today_and_told_twice_at_once(guide: Guide, call: str) -> None:
    """Where a question asks for a tingle or bright lights: a yes leads to a question that says to keep off
    metal; two of them to an emergency; and after the first no way on waits."""
    tree = guide.trees[call]
    priorities = {id_: node.spec.priority for id_, node in tree.nodes.items() if node.kind == "outcome"}
    told = 0
    for node in tree.nodes.values():
        for exit_ in node.exits:
            if exit_.is_ not in ("tingle", "bright", "felt", "yes") or node.name in ("beside", "now"):
                continue
            told += 1
            after = {exit_.go} | nx.descendants(tree.graph, exit_.go)
            ends = {priorities[id_] for id_ in after if id_ in priorities}
            said = (node.id, exit_.label)
            if node.name in ("felt", "bright", "odd", "work-odd"):
                assert ends == {"emergency"}, said
            else:
                assert ends == {"emergency", "urgent"}, said
                assert "eep off all taps, pipes and metal" in tree.nodes[exit_.go].words, said
    assert told > 8


@pytest.mark.parametrize("call", CALLS)
def test_a_dip_that_several_homes_see_is_a_crew_today(guide: Guide, call: str) -> None:
    """Unless somebody tells of a danger besides."""
    tree = guide.trees[call]
    for node in (node for node in tree.nodes.values() if node.name == "beside"):
        (way,) = (exit_.go for exit_ in node.exits if exit_.is_ == "yes")
        (calm,) = (exit_.go for exit_ in tree.nodes[way].exits if exit_.is_ == "steady")
        assert getattr(tree.nodes[calm].spec, "priority", "") == "urgent"


DOORS = {
    "a wire down": ("strip: Yes", "which: A wire is down or low, or a cable was hit", "wire"),
    "a smell of gas": ("strip: Yes", "which: A smell of gas", "gas"),
    "a digger that hit something": (
        "strip: No",
        "work: Yes, they dig or drill in the ground",
        "hit: Yes, or not sure",
        "wire",
    ),
    "a digger": (
        "strip: No",
        "work: Yes, they dig or drill in the ground",
        "hit: No, nothing was hit",
        "work-odd: No, none of that",
        "work-waits",
    ),
    "a pipe that is cut": (
        "strip: No",
        "work: Yes, and something is cut, open or off",
        "open-now: Yes, or not sure",
        "stop-work",
    ),
    "an alarm for high volts, and bright lamps": (
        "strip: No",
        "work: No",
        "noticed: A meter that shows an alarm, or volts too high or low",
        "alarm: Volts too high",
        "bright: Yes, lamps are far too bright",
        "lights-emergency",
    ),
    "an alarm for low volts": (
        "strip: No",
        "work: No",
        "noticed: A meter that shows an alarm, or volts too high or low",
        "alarm: Volts too low",
        "once-more: None of these",
        "today",
    ),
    "a dead socket": (
        "strip: No",
        "work: No",
        "noticed: Only one socket, one room or one board is off",
        "rest: Yes, all of it",
        "once-more-board: None of these",
        "own-electrician",
    ),
    "a dead socket and a tingle": (
        "strip: No",
        "work: No",
        "noticed: Only one socket, one room or one board is off",
        "rest: Yes, all of it",
        "once-more-board: A pull, a buzz or a prickle from metal or water",
        "felt: Yes, a pull, a buzz or a prickle",
        "where: No",
        "emergency-move",
    ),
    "a snap from a jumper": (
        "strip: No",
        "work: No",
        "noticed: A tingle, a buzz or a shock from metal or water, or a tester that lit up",
        "felt: No, one dry snap and no more",
        "odd: No, none of that",
        "keep-off-today",
    ),
}
"""What somebody rings about: the answers in the intake, and where they end."""


@pytest.mark.parametrize("door", DOORS)
def test_the_intake_has_a_door_for(guide: Guide, door: str) -> None:
    tree = guide.trees["caller-intake"]
    *said, end = DOORS[door]
    at = tree.start
    for each in said:
        name, _, answer = each.partition(": ")
        assert at == name
        (at,) = (exit_.go for exit_ in tree.nodes[at].exits if exit_.label == answer)
    assert at == end


def test_a_sound_home_is_closed_and_a_broken_pen_next_door_is_found() -> None:
    """The guide does not keep its promise by refusing everybody."""
    guide = read(SHIPPED)
    tree, row = guide.trees["tingle-on-pipework"], guide.streets["tannery-row"]
    closing = {id_ for id_, node in tree.nodes.items() if getattr(node.spec, "closes", False)}
    healthy = {ending.node for ending in Ways(tree, Oracle(row, parse("healthy")), "2").endings()}
    assert closing <= healthy
    beside = {ending.node for ending in Ways(tree, Oracle(row, parse("service-pen-open@4")), "2").endings()}
    assert "next-door-pen-open" in beside
    assert not closing & beside


def test_a_lost_line_ends_as_one_and_says_to_replace_no_fuse() -> None:
    """In every tree that can meet it, whichever tree calls the tests."""
    guide = read(SHIPPED)
    trees = [tree for tree in guide.trees.values() if tree.audience == "site"]
    visits = [
        (street, fault, home)
        for street in guide.streets.values()
        for fault in catalogue(street)
        if fault.kind in ("line-open", "mains-line-open")
        for home in fault.homes(street)
        if fault.at.rpartition(".")[2] in street.premises[home].phases
    ]
    assert len(visits) > 50
    for tree in trees:
        for street, fault, home in visits:
            ends = {one.node for one in Ways(tree, Oracle(street, fault), home).endings() if one.willing}
            told = [tree.nodes[end].spec for end in ends if tree.nodes[end].name == "no-supply"]
            assert told, (tree.id, street.title, str(fault), home)
            assert any("Replace no fuse until its cause is known" in words for words in told[0].advice)
            assert not [end for end in ends if "not-proven" in end]


WALKS_TELL = {"closed-beside-danger", "harm", "no-answer"}
"""Findings of the walks with simulated faults. They take seconds; the others are found without them."""


def found(guide: Guide, *, walked: bool) -> list[Finding]:
    """Everything found wrong with the guide and with the paths of its tree about a tingle."""
    trees = [tree for id_, tree in guide.trees.items() if id_ == "tingle-on-pipework"]
    wanted = [check for check in CHECKS if walked or check is not physics.check]
    return [*guide.findings, *(finding for check in wanted for finding in check(guide, trees))]


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_guide_is_refused(name: str, tmp_path: Path) -> None:
    case, folder = BREAKS[name], tmp_path / "guide_src"
    shutil.copytree(SHIPPED, folder)
    for change in case.changes:
        change.make(folder)
    findings = found(read(folder), walked=case.check in WALKS_TELL)
    assert all(finding.what and finding.expected and finding.mend for finding in findings)
    finding = _wanted(findings, case, folder)
    assert _told_in_order([hop.what for hop in finding.hops], case.way), finding.hops
    assert all(Path(hop.place.file).is_relative_to(folder) and hop.place.line > 1 for hop in finding.hops)
    assert f"mend: {finding.mend}" in text_report([finding])


def _wanted(findings: list[Finding], case: Break, folder: Path) -> Finding:
    """The finding of the right check at the right place: with others beside it, or alone."""
    where = (folder / case.file, *_place(folder, case))
    found = {(f.check, Path(f.place.file), f.place.line, f.place.column): f for f in findings}
    assert (case.check, *where) in found, text_report(findings)
    return found[case.check, *where]


def _told_in_order(hops: list[str], words: tuple[str, ...]) -> bool:
    """Whether the words are told by hops that follow each other; where none are wanted there is no path."""
    rest = iter(hops)
    return all(any(word in hop for hop in rest) for word in words) and bool(hops) == bool(words)
