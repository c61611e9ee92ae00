"""Every pair of faults on a street: a batch answers as each pair alone, and what the shipped trees meet."""

from __future__ import annotations

import itertools
import re
import shutil
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
import streets

from build_tools.cli import command_line
from build_tools.guide.loading import load
from build_tools.guide.trees import Tree
from build_tools.proof import evidence
from build_tools.proof.fault_pairs import FaultBatch, hurting, pairs_on
from build_tools.setup.environment import WrongUse
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk import HURTS
from calc.danger import measured
from calc.faults import Fault, Faults, catalogue, parse
from calc.instruments import read
from calc.street import Street, network
from calc.symptoms import FACTS, fact
from calc.work import Condition, as_worked

TESTS = Path(__file__).parents[1]
GUIDE = TESTS.parent / "guide_src"


@pytest.fixture(scope="module")
def trees() -> list[Tree]:
    return [tree for tree in load(GUIDE).trees.values() if tree.audience == "site"]


def pairs_of(street: Street) -> Iterator[Faults]:
    """The pairs that can be on a street."""
    for pair in map(Faults, itertools.combinations(catalogue(street)[1:], 2)):
        try:
            pair.changed(network(street))
        except ValueError:
            continue
        yield pair


def one_of_each_two_kinds(street: Street) -> list[Faults]:
    """The last pair of each two kinds."""
    return list({frozenset(fault.kind for fault in pair.each): pair for pair in pairs_of(street)}.values())


DISPLAYS = [
    ("clamp", ("main_earth",)),
    ("clamp", ("line_tail", "neutral_tail")),
    ("clamp", ("service",)),
    ("voltmeter", ("line", "neutral")),
    ("voltmeter", ("earth", "supply_earth")),
    ("voltmeter", ("earth", "independent_earth")),
    ("loop", ("line", "earth")),
]


@pytest.mark.parametrize("done", ["", "main-earth-lifted", "main-switch-open", "fuse-withdrawn"])
def test_a_pair_among_many_is_as_it_is_alone(done: str) -> None:
    """Every kind with every other on the mixed street: displays, harms and the word of every fact."""
    street = streets.mixed()
    pairs = one_of_each_two_kinds(street)
    assert len(pairs) > 300
    batch = FaultBatch(tuple(pairs), [pair.changed(network(street)) for pair in pairs])
    among = {}
    for number, pair in list(enumerate(pairs))[::5]:
        home = list(street.premises)[number % len(street.premises)]
        work = frozenset({Condition(done, home)}) if done else frozenset()
        alone = as_worked(pair.applied_to(network(street)), work)
        if (home, "harms") not in among:
            among[home, "harms"] = batch.measured(work, False)
        for name, harms in measured(alone).items():
            for what, volts in harms.items():
                of_all = np.broadcast_to(among[home, "harms"][name][what], (batch.size,))
                assert of_all[number] == pytest.approx(volts, rel=1e-6, abs=0.1), (str(pair), name, what)
        for instrument, on in DISPLAYS:
            display = read(alone, home, instrument, on)
            figure = batch.readings(home, work, instrument, on)[number]
            if display.state == "shown":
                step = 1.001 * display.instrument.resolution
                assert figure == pytest.approx(display.value, abs=step), str(pair)
            else:
                assert not np.isfinite(figure), str(pair)
        for name in FACTS:
            assert batch.words(name, home, work)[number] == fact(name, alone, home), (str(pair), name)


SOME = (
    "service-pen-open",
    "crossed-neutrals",
    "borrowed-neutral",
    "reversed-polarity-earth-live",
    "earth-leak",
)


def test_walks_of_many_pairs_are_those_of_each_alone(trees: list[Tree]) -> None:
    """By the oracles, one for each pair, which solve in plain numbers."""
    street = streets.SHIPPED["high-fold-lane"]
    pairs = [pair for pair in pairs_of(street) if all(fault.kind in SOME for fault in pair.each)]
    found, asked = hurting(street, trees, pairs)
    assert asked == pairs
    faults = ManyFaults([Oracle(street, pair) for pair in pairs])
    for tree in trees:
        expected = set()
        for home in street.premises:
            for (_, kind, _), with_these in faults.walk(tree, home, willing=False).wrong.items():
                if kind in HURTS:
                    expected |= {pair for bit, pair in enumerate(pairs) if with_these >> bit & 1}
        assert set(found[tree.id]) == expected, tree.id
    assert any(found.values())


def test_two_that_cannot_be_together_are_no_pair(trees: list[Tree]) -> None:
    street = streets.pair()
    both = [parse("service-pen-open@12+service-pen-high@12"), parse("service-pen-open@12+high-volts")]
    _, asked = hurting(street, trees[:1], both)
    assert asked == both[1:]


def test_a_fault_that_hurts_alone_is_no_finding_of_pairs(tmp_path: Path) -> None:
    """Where nobody looks at the main earth, a lost one is closed beside, with or without a second fault."""
    folder = shutil.copytree(TESTS / "guides" / "pair", tmp_path / "guide")
    file = folder / "trees/site/visit.yaml"
    text = file.read_text()
    assert "go: look}" in text
    file.write_text(text.replace("go: look}", "go: polarity}"))
    guide = load(folder)
    street = guide.streets["pair"]
    (row,) = pairs_on("pair", street, guide.trees.values())
    faults = ManyFaults([Oracle(street, fault) for fault in catalogue(street)])
    alone = {
        oracle.fault for home in street.premises for oracle in faults.troubled(guide.trees["visit"], home)
    }
    assert alone and {fault.kind for fault in alone if isinstance(fault, Fault)} == {"main-earth-lost"}
    pairs = list(pairs_of(street))
    assert row.asked == len(pairs)
    assert row.alone == sum(not alone.isdisjoint(pair.each) for pair in pairs)
    assert row.hurt and not any(
        f"{fault}+" in one or f"+{fault}," in one for fault in alone for one in row.examples
    )


def test_the_verb_tells_each_two_kinds_with_an_example(capsys: pytest.CaptureFixture[str]) -> None:
    folder = str(TESTS / "guides" / "pair")
    assert command_line.run(command_line.parse(["--guide", folder, "pairs", "pair"])) == 0
    told = capsys.readouterr().out
    assert re.match(r"visit on pair: \d+ of 1,\d{3} pairs hurt\n", told)
    assert (
        "service-pen-open+crossed-neutrals\n         service-pen-open@2+crossed-neutrals@2.4, visiting"
        in told
    )
    with pytest.raises(WrongUse, match="no street is called pairs"):
        command_line.run(command_line.parse(["--guide", folder, "pairs", "pairs"]))


ON_TANNERY_ROW = {"service-pen-open+crossed-neutrals": 9, "service-pen-high+crossed-neutrals": 9}
ON_ORCHARD_CLOSE = {
    "service-neutral-open+crossed-neutrals": 9,
    "service-neutral-high+crossed-neutrals": 9,
    "service-pen-high+crossed-neutrals": 8,
    "service-pen-open+crossed-neutrals": 7,
    "mains-sheath-open+neutral-earth-joined": 4,
    "mains-sheath-high+neutral-earth-joined": 4,
    "mains-neutral-open+crossed-neutrals": 3,
    "mains-neutral-open+neutral-earth-joined": 3,
    "mains-neutral-high+crossed-neutrals": 3,
    "mains-neutral-high+neutral-earth-joined": 3,
    "sheath-open+neutral-earth-joined": 3,
    "sheath-high+neutral-earth-joined": 3,
}
ON_HIGH_FOLD_LANE = {"service-pen-open+crossed-neutrals": 3, "service-pen-high+crossed-neutrals": 3}
AT_THE_SWITCH = {"service-pen-open+borrowed-neutral": 3}
"""To switch a home off takes the load away that held a neighbour's neutral down."""

THREE = ("bright-and-dim-lights", "neighbour-comes-and-goes", "tingle-on-pipework")
FOUND: dict[str, tuple[int, dict[str, dict[str, int]]]] = {
    "high-fold-lane": (
        9245,
        dict.fromkeys(THREE, ON_HIGH_FOLD_LANE) | {"tingle-on-pipework": ON_HIGH_FOLD_LANE | AT_THE_SWITCH},
    ),
    "orchard-close": (13279, dict.fromkeys(THREE, ON_ORCHARD_CLOSE)),
    "tannery-row": (24788, dict.fromkeys(THREE, ON_TANNERY_ROW)),
}
"""Pairs asked on each shipped street, and for each tree those that hurt though neither fault does alone.

A crossed tail brings a home's own load back by its neighbour's service: what its tails and main earth show
is the neighbour's PEN. A neutral joined to earth holds up a broken sheath, and passes for the earth. With no
other two kinds does any walk hurt anybody or close a job beside a danger.
"""


@pytest.mark.parametrize("name", FOUND)
def test_what_the_shipped_trees_meet(name: str) -> None:
    """As measured; the smallest street is walked anew."""
    guide = load(GUIDE)
    measured = evidence.read(guide)
    assert measured is not None
    rows = tuple(row for row in measured.pairs if row.street == name)
    if name == "high-fold-lane":
        assert rows == pairs_on(name, guide.streets[name], guide.trees.values())
    asked, hurt = FOUND[name]
    assert {row.tree: (row.asked, row.alone, dict(row.kinds)) for row in rows} == {
        row.tree: (asked, 0, hurt.get(row.tree, {})) for row in rows
    }
    assert {row.tree for row in rows} == {*THREE, "test-one-home"}
    for row in rows:
        assert row.hurt == sum(times for _, times in row.kinds)
        assert all("the job is closed beside" in one or "supply above 253 V" in one for one in row.examples)
