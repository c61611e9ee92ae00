"""Pairs of faults walked together come to what each pair comes to alone."""

from __future__ import annotations

import itertools
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.proof.fault_pairs import FaultBatch, hurting, pairs_on
from build_tools.setup import result_cache
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk import HURTS
from calc.faults import HEALTHY, Faults, catalogue
from calc.instruments import reading
from calc.street import network

PAIR = Path(__file__).parents[1] / "guides" / "pair"
STREET = streets.pair()
ONES = [fault for fault in catalogue(STREET) if fault != HEALTHY]


def possible(step: int) -> list[Faults]:
    """Every so many pair that can be on the street."""
    found = []
    for pair in list(map(Faults, itertools.combinations(ONES, 2)))[::step]:
        try:
            pair.changed(network(STREET))
        except ValueError:
            continue
        found.append(pair)
    return found


@pytest.fixture(scope="module")
def guide() -> Guide:
    return load(PAIR)


def test_a_pair_reads_among_others_as_it_reads_alone() -> None:
    healthy, pairs = network(STREET), possible(5)
    batch = FaultBatch(tuple(pairs), [pair.changed(healthy) for pair in pairs])
    tests = [
        ("voltmeter", ("line", "earth")),
        ("clamp", ("main_earth",)),
        ("voltmeter", ("earth", "independent_earth")),
    ]
    for home, (instrument, on) in itertools.product(STREET.premises, tests):
        among = batch.readings(home, frozenset(), instrument, on)
        alone = [reading(pair.applied_to(healthy), home, instrument, on) for pair in pairs]
        assert among == pytest.approx(np.array(alone), rel=1e-6, abs=0.11)


def test_each_pair_hurts_as_it_hurts_alone(guide: Guide) -> None:
    tree, pairs = guide.trees["visit"], possible(7)
    found, asked = hurting(STREET, [tree], pairs)
    assert asked == pairs
    for pair in pairs:
        alone = ManyFaults([Oracle(STREET, pair)])
        hurts = any(
            kind in HURTS for home in STREET.premises for _, kind, _ in alone.walk(tree, home, False).wrong
        )
        assert (pair in found["visit"]) == hurts, pair
    for pair, told in found["visit"].items():
        home = told.removeprefix("visiting ").partition(":")[0]
        wrong = ManyFaults([Oracle(STREET, pair)]).walk(tree, home, False).wrong
        assert any(told == f"visiting {home}: {what} ({node})" for node, _, what in wrong)


def test_a_closing_end_hurts_beside_either_fault_at_every_home(guide: Guide) -> None:
    tree = replace(guide.trees["visit"], start="nothing-found")
    pairs = possible(3)
    found, _ = hurting(STREET, [tree], pairs)
    for pair in pairs:
        kept_open = {home for fault in pair.each for home in fault.not_to_close(STREET)}
        near = kept_open.union(*(STREET.sharing_metalwork(home) for home in kept_open))
        assert (pair in found["visit"]) == bool(near)


def test_a_row_tells_apart_what_hurts_alone(
    guide: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    trees = [guide.trees["visit"]]
    (row,) = pairs_on("pair", STREET, trees)
    alone, _ = hurting(STREET, trees, ONES)
    found, asked = hurting(STREET, trees, map(Faults, itertools.combinations(ONES, 2)))
    by_one = [pair for pair in asked if any(fault in alone["visit"] for fault in pair.each)]
    together = [pair for pair in asked if pair in found["visit"] and pair not in by_one]
    assert (row.tree, row.street) == ("visit", "pair")
    assert (row.asked, row.alone, row.hurt) == (len(asked), len(by_one), len(together))
    assert sum(times for _, times in row.kinds) == row.hurt
    assert [times for _, times in row.kinds] == sorted((times for _, times in row.kinds), reverse=True)
    assert len(row.examples) == len(row.kinds)
    for (kinds, times), example in zip(row.kinds, row.examples, strict=True):
        of_kinds = [pair for pair in together if "+".join(fault.kind for fault in pair.each) == kinds]
        assert len(of_kinds) == times
        assert example == f"{of_kinds[0]}, {found['visit'][of_kinds[0]]}"
    assert pairs_on("pair", STREET, trees) == (row,)


def test_each_site_tree_has_its_row_and_another_step_in_any_is_walked_anew(
    guide: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Trees that end at once, so that no street has to be solved."""
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    closes = replace(guide.trees["visit"], start="nothing-found")
    hands_over = replace(closes, id="two", start="danger")
    call = replace(closes, id="call", audience="call")
    one, two = pairs_on("pair", STREET, [call, closes, hands_over])
    assert (one.tree, two.tree) == ("visit", "two")
    assert one.alone > 0 == two.alone == two.hurt and one.asked == two.asked
    other, changed = pairs_on("pair", STREET, [closes, replace(closes, id="two")])
    assert other == one and replace(changed, tree="visit") == one
