"""Two faults at once: every pair of the catalogue on one street, and which of them hurt somebody on a walk.

All the pairs of a street are a batch as drawn streets are, with one entry for each pair in every array.
Meters do not err there and loads stay as they are.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import cached_property
from typing import TypeVar

import numpy as np

from build_tools.guide.trees import Tree
from build_tools.proof.pairs_row import PairsRow
from build_tools.proof.street_batch import StreetBatch, bits_of, of_one_shape, stacked
from build_tools.setup.result_cache import keep, key_of, recall, source_key
from build_tools.walks.ends import acts
from build_tools.walks.walk import HURTS, Walk
from build_tools.walks.walkable import can_be_walked
from calc.danger import endangered_homes
from calc.drawn_streets import Drawn
from calc.faults import HEALTHY, Fault, Faults, after_fuses, catalogue
from calc.street import Network, Street, network
from calc.work import KNOWN_LOAD_KW

__all__ = ["FaultBatch", "as_text", "hurting", "pairs_on"]

AnyFault = Fault | Faults
_Answer = TypeVar("_Answer")

_AT_ONCE = 1024
"""Faults of one batch: their arrays fit where a processor finds them fast."""

_METERS = ("clamp-error", "clamp-stray-a", "voltmeter-error", "loop-error", "loop-offset-ohm")


def pairs_on(name: str, street: Street, trees: Iterable[Tree]) -> tuple[PairsRow, ...]:
    """A row for each site tree that can be walked. Kept between runs by what a tree does."""
    site = [tree for tree in trees if tree.audience == "site" and can_be_walked(tree)]
    key = key_of("pairs", source_key("calc", "build_tools"), [(t.id, acts(t)) for t in site], name, street)
    rows: tuple[PairsRow, ...] | None = recall(key)
    if rows is None:
        ones = [fault for fault in catalogue(street) if fault != HEALTHY]
        alone, _ = hurting(street, site, ones)
        found, asked = hurting(street, site, map(Faults, itertools.combinations(ones, 2)))
        rows = tuple(_row(tree.id, name, asked, alone[tree.id], found[tree.id]) for tree in site)
        keep(key, rows)
    return rows


def as_text(rows: Iterable[PairsRow]) -> str:
    """The rows as lines for a terminal: the counts of a tree on a street, then each two kinds that hurt."""
    return "\n".join(line for row in rows for line in _lines(row))


def _lines(row: PairsRow) -> Iterator[str]:
    alone = f", {row.alone:,} more with a fault that hurts alone" if row.alone else ""
    yield f"{row.tree} on {row.street}: {row.hurt:,} of {row.asked:,} pairs hurt{alone}"
    for (kinds, times), example in zip(row.kinds, row.examples, strict=True):
        yield f"  {times:>5}  {kinds}"
        yield f"         {example}"


def _row(
    tree: str,
    street: str,
    asked: Sequence[AnyFault],
    alone: Mapping[AnyFault, str],
    found: Mapping[AnyFault, str],
) -> PairsRow:
    pairs = [pair for pair in asked if isinstance(pair, Faults)]
    left = [pair for pair in pairs if alone.keys().isdisjoint(pair.each)]
    hurt: dict[str, list[Faults]] = defaultdict(list)
    for pair in left:
        if pair in found:
            hurt["+".join(fault.kind for fault in pair.each)].append(pair)
    ordered = sorted(hurt.items(), key=lambda one: -len(one[1]))
    return PairsRow(
        tree,
        street,
        len(pairs),
        len(pairs) - len(left),
        sum(map(len, hurt.values())),
        tuple((kinds, len(of_kinds)) for kinds, of_kinds in ordered),
        tuple(f"{of_kinds[0]}, {found[of_kinds[0]]}" for _, of_kinds in ordered),
    )


def hurting(
    street: Street, trees: Sequence[Tree], faults: Iterable[AnyFault]
) -> tuple[dict[str, dict[AnyFault, str]], list[AnyFault]]:
    """For each tree by id the faults with which some walk hurts or closes beside a danger, each with where;
    and the faults that were walked with: those that can be on the street."""
    found: dict[str, dict[AnyFault, str]] = {tree.id: {} for tree in trees}
    asked: list[AnyFault] = []
    for batch in _batches(street, faults):
        asked += batch.each
        for home in street.premises:
            for tree in trees:
                walk = Walk(tree, batch, willing=False)
                walk.from_home(home, (1 << batch.size) - 1)
                for (node, kind, what), with_these in walk.wrong.items():
                    if kind in HURTS:
                        for fault in batch.of_bits(with_these):
                            found[tree.id].setdefault(fault, f"visiting {home}: {what} ({node})")
            batch.forget()
    return found, asked


def _batches(street: Street, faults: Iterable[AnyFault]) -> Iterator[FaultBatch]:
    healthy = network(street)

    def possible() -> Iterator[tuple[AnyFault, Network]]:
        for fault in faults:
            try:
                yield fault, fault.changed(healthy)
            except ValueError:  # two that cannot be together
                continue

    left = possible()
    while some := list(itertools.islice(left, _AT_ONCE)):
        yield FaultBatch(tuple(fault for fault, _ in some), [changed for _, changed in some])


class FaultBatch(StreetBatch):
    """One street with each of many faults, of any kinds: what a batch answers for a street, this answers for
    each fault. `changed` is the street with each, before a fuse blows."""

    def __init__(self, faults: tuple[AnyFault, ...], changed: Sequence[Network]) -> None:
        street = changed[0].street
        load_kw = {home: premises.load_kw for home, premises in street.premises.items()}
        perfect = dict.fromkeys(_METERS, 0.0)
        first = next(iter(street.premises))
        one = Drawn(0, "", street, load_kw, perfect, KNOWN_LOAD_KW, first, (0.0, 0.0), 1.0, caller={})
        super().__init__((one,) * len(faults), after_fuses(stacked(list(of_one_shape(changed)))))
        self.each = faults

    def of_bits(self, bits: int) -> Iterator[AnyFault]:
        """The faults of these bits."""
        return (fault for place, fault in enumerate(self.each) if bits >> place & 1)

    def forget(self) -> None:
        """Let go of what was solved; answers in bits are kept."""
        for solved in (self._worked, self._measured, self._readings):
            solved.clear()

    def by_record(self, ask: Callable[[Street], _Answer]) -> list[_Answer]:
        """What the record of the street answers, for each fault."""
        return [ask(self.street)] * self.size

    @cached_property
    def later(self) -> Network:
        """The loads stay as they are."""
        return self.base

    @cached_property
    def _endangered(self) -> dict[str, int]:
        homes = [endangered_homes(self.street, fault.not_to_close(self.street)) for fault in self.each]
        return {home: bits_of(np.array([home in each for each in homes])) for home in self.street.premises}
