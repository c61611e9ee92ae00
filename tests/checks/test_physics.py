"""The circuit walks every branch: a sound tree passes, and each way of breaking it is refused."""

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from build_tools.checks import physics
from build_tools.guide.findings import Finding
from build_tools.guide.loading import load
from build_tools.setup import result_cache
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Oracle
from build_tools.walks.ways import Ways
from calc.faults import catalogue, parse

PAIR = Path(__file__).parents[1] / "guides" / "pair"


@pytest.fixture(autouse=True)
def _kept_apart(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path / "kept")


@pytest.fixture
def refused_after(pair_with: Callable[..., Path]) -> Callable[..., list[Finding]]:
    def run(*changes: tuple[str, str]) -> list[Finding]:
        guide = load(pair_with(*changes))
        return list(physics.check(guide, guide.trees.values()))

    return run


def test_a_sound_tree_passes(refused_after: Callable[..., list[Finding]]) -> None:
    assert refused_after() == []


BREAKS = {
    "the clamp round both conductors always counts as good": (
        [("{to: 2, label: next to nothing, go: danger}", "{to: 2, label: next to nothing, go: load-off}")],
        {"closed-beside-danger", "harm"},
    ),
    "next door is not visited": (
        [('is: "yes", go: next-door}', 'is: "yes", go: back}')],
        {"closed-beside-danger", "harm"},
    ),
    "the earth is lifted before anything is known": ([("start: probe", "start: lift")], {"harm"}),
    "a reading that was not taken goes on": (
        [("not_taken: {go: not-proven}", "not_taken: {go: load-off}")],
        {"closed-beside-danger", "harm"},
    ),
    "a high loop passes": (
        [("label: too high, go: danger", "label: too high, go: load")],
        {"closed-beside-danger"},
    ),
    "nobody looks at the main earth": ([("go: look}", "go: polarity}")], {"closed-beside-danger"}),
    "a range is missing": ([("      - {from: 2, label: current, go: load-off}\n", "")], {"no-answer"}),
    "an answer is missing": ([('      - {answer: It is not, is: "no", go: danger}\n', "")], {"no-answer"}),
    "the known load goes on first": ([("start: probe", "start: load")], {"harm"}),
    "any volts to an independent earth pass": (
        [("away from true earth, go: danger", "away, go: look")],
        {"closed-beside-danger"},
    ),
    "an end beside a danger tells nobody": (
        [
            (
                "    outcome: Danger\n    priority: emergency\n    hand_over: The control room.\n",
                "    outcome: Danger\n    priority: emergency\n",
            )
        ],
        {"kept-beside-danger"},
    ),
    "a line is asked for that no home has": ([("on: [line, earth]", "on: [line3, earth]")], {"no-such-line"}),
}


@pytest.mark.parametrize("name", BREAKS)
def test_the_faults_walked_at_once_are_those_that_meet_trouble_alone(name: str, tmp_path: Path) -> None:
    folder = shutil.copytree(PAIR, tmp_path / "guide")
    file = folder / "trees/site/visit.yaml"
    for old, new in BREAKS[name][0]:
        file.write_text(file.read_text().replace(old, new))
    guide = load(folder)
    for street in guide.streets.values():
        faults = ManyFaults([Oracle(street, fault) for fault in catalogue(street)])
        for home in street.premises:
            alone = [
                each for each in faults.oracles if any(Ways(guide.trees["visit"], each, home).troubles())
            ]
            assert faults.troubled(guide.trees["visit"], home) == alone


@pytest.mark.parametrize("name", BREAKS)
def test_a_broken_tree_is_refused(name: str, refused_after: Callable[..., list[Finding]]) -> None:
    changes, expected = BREAKS[name]
    found = refused_after(*changes)
    assert expected & {finding.check for finding in found}, found
    for finding in found:
        assert finding.what and finding.expected and finding.mend
        assert finding.place.line > 1


@pytest.mark.parametrize("on", ["[line, erth]", "[line]", "[line, earth, neutral]"])
def test_a_reading_that_cannot_be_taken_is_left_to_the_check_of_ranges(
    on: str, refused_after: Callable[..., list[Finding]]
) -> None:
    assert refused_after(("on: [line, earth]", f"on: {on}")) == []


def test_the_way_there_is_told_with_its_readings(refused_after: Callable[..., list[Finding]]) -> None:
    found = refused_after(*BREAKS["the clamp round both conductors always counts as good"][0])
    closed = next(finding for finding in found if finding.check == "closed-beside-danger")
    assert any(hop.what.startswith("both: clamp on neutral_tail, main_earth shows") for hop in closed.hops)
    assert "service-pen-open 4" in closed.what  # the PEN of either home of the pair, visited from either


def test_a_neighbours_open_pen_is_found_next_door() -> None:
    guide = load(PAIR)
    tree, street = guide.trees["visit"], guide.streets["pair"]
    reached = {
        ending.node: ending
        for ending in Ways(tree, Oracle(street, parse("service-pen-open@2")), "4").endings()
    }
    assert set(reached) == {"danger", "not-proven"}
    assert any("next-door" in hop.what for hop in reached["danger"].hops)


def test_a_healthy_street_ends_with_nothing_found() -> None:
    guide = load(PAIR)
    for home in guide.streets["pair"].premises:
        oracle = Oracle(guide.streets["pair"], parse("healthy"))
        assert "nothing-found" in {
            ending.node for ending in Ways(guide.trees["visit"], oracle, home).endings()
        }


def test_what_was_kept_gives_the_same_findings_without_a_new_solve(
    refused_after: Callable[..., list[Finding]], monkeypatch: pytest.MonkeyPatch
) -> None:
    changes = BREAKS["a high loop passes"][0]
    first = refused_after(*changes)
    monkeypatch.setattr(Oracle, "_worked", lambda *_: pytest.fail("solved again"))
    assert refused_after(*changes) == first


def test_every_fault_of_the_street_is_walked() -> None:
    street = load(PAIR).streets["pair"]
    kinds = {fault.kind for fault in catalogue(street)}
    assert {"service-pen-open", "mains-pen-open", "main-earth-lost", "reversed-polarity-earth-live"} <= kinds
