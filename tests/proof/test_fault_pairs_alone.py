"""Pairs of faults walked together come to what each pair comes to alone."""

from __future__ import annotations

import itertools
from collections.abc import Iterable
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.proof import fault_pairs
from build_tools.proof.fault_pairs import AnyFault, FaultBatch, as_text, hurting, pairs_on
from build_tools.proof.pairs_row import PairsRow
from build_tools.setup import result_cache
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Oracle
from build_tools.walks.walk import HURTS
from calc.faults import HEALTHY, Faults, catalogue, parse
from calc.instruments import reading
from calc.street import network
from calc.work import KNOWN_LOAD_KW

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


def test_pairs_are_walked_alike_in_batches_of_any_size(guide: Guide, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each pair is told with the first home from which somebody is hurt."""
    trees = [guide.trees["visit"], replace(guide.trees["visit"], id="closes", start="nothing-found")]
    pairs = possible(3)
    whole = hurting(STREET, trees, pairs)
    assert 0 < len(whole[0]["visit"]) < len(whole[0]["closes"]) < len(pairs)
    monkeypatch.setattr(fault_pairs, "_AT_ONCE", len(pairs) // 3)
    assert hurting(STREET, trees, pairs) == whole
    for pair, told in list(whole[0]["closes"].items())[::20]:
        homes = FaultBatch((pair,), [pair.changed(network(STREET))])
        first = next(home for home in STREET.premises if homes.endangered(home))
        assert told.startswith(f"visiting {first}: the job is closed beside")


def test_a_row_is_of_pairs_that_hurt_though_neither_fault_does_alone(
    guide: Guide, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The two kinds with most pairs first, each with the first of its pairs; of the healthy street nothing is
    asked, nor of a pair that cannot be."""
    monkeypatch.setattr(result_cache, "FOLDER", tmp_path)
    lost, leak = "main-earth-lost@12", "earth-leak@14"
    few, many = ["service-pen-open@12+high-volts"], [f"{leak}+line-open@{home}" for home in ("12", "14")]
    harmless = ["service-pen-open@14+high-volts"]
    asked: list[AnyFault] = [parse(each) for each in (*few, f"{lost}+high-volts", *many, *harmless)]
    hurt: dict[AnyFault, str] = {pair: f"visiting {number}" for number, pair in enumerate(asked[:-1])}
    alone: dict[AnyFault, str] = {parse(lost): "visiting 12"}

    def walked(
        _: object, __: object, faults: Iterable[AnyFault]
    ) -> tuple[dict[str, dict[AnyFault, str]], list[AnyFault]]:
        given = list(faults)
        assert HEALTHY not in given
        return ({"visit": alone}, given) if given == ONES else ({"visit": hurt}, asked)

    monkeypatch.setattr(fault_pairs, "hurting", walked)
    (row,) = pairs_on("pair", STREET, [guide.trees["visit"]])
    kinds = (("earth-leak+line-open", 2), ("service-pen-open+high-volts", 1))
    examples = (f"{many[0]}, visiting 2", f"{few[0]}, visiting 0")
    assert row == PairsRow("visit", "pair", 5, 1, 3, kinds, examples)


def test_rows_as_lines_for_a_terminal() -> None:
    rows = [
        PairsRow("visit", "pair", 1234, 1056, 12, (("one+two", 11), ("one+three", 1)), ("this", "that")),
        PairsRow("other", "pair", 9, 0, 0, (), ()),
    ]
    assert as_text(rows).splitlines() == [
        "visit on pair: 12 of 1,234 pairs hurt, 1,056 more with a fault that hurts alone",
        "     11  one+two",
        "         this",
        "      1  one+three",
        "         that",
        "other on pair: 0 of 9 pairs hurt",
    ]
    assert PairsRow.of(["a", "b", 9, 3, 2, [["one+two", 2]], ["this"]]) == PairsRow(
        "a", "b", 9, 3, 2, (("one+two", 2),), ("this",)
    )


def test_meters_do_not_err_and_loads_stay_beside_two_faults() -> None:
    pairs = possible(40)
    batch = FaultBatch(tuple(pairs), [pair.changed(network(STREET)) for pair in pairs])
    assert batch.later is batch.base and batch.size == len(pairs)
    (drawn,) = {id(each): each for each in batch.drawn}.values()
    assert set(drawn.meters.values()) == {0.0}
    assert drawn.known_load_kw == KNOWN_LOAD_KW
    assert drawn.later_kw == {home: each.load_kw for home, each in STREET.premises.items()}
    assert batch.by_record(lambda street: street.title) == [STREET.title] * len(pairs)
    assert list(batch.of_bits(0b101)) == [pairs[0], pairs[2]]
