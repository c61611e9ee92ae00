"""A tree walked over drawn streets as it is, and with each of its nodes left out.

Every test can be made and every record is there: only what is found decides; and once more with each single
wrong answer, as `proof/wrong_answers` has them. A batch keeps what was solved for it, so that a hundred more
walks of it cost little beside solving. Counts of parts add up.

Where people choose the way (a question without a fact), every way is gone, and a street closes if one of them
does. So what is found on a way that need not be gone, such as with the main earth lifted, counts as nothing.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import reduce
from operator import or_
from typing import NamedTuple

from build_tools.guide.trees import Guide, Tree
from build_tools.plan.leaving_out import ClosingWay, Written, closing_ends
from build_tools.plan.other_tests import OtherTest, Shown, other_tests, shown_in
from build_tools.proof.counting import endangered_streets, of_visits, visited_streets
from build_tools.proof.street_batch import StreetBatch, batches, bits_of
from build_tools.proof.wrong_answers import Mistake, harmful_mistakes
from build_tools.walks.walk import LOST, Visit, Walk
from calc.faults import HEALTHY

__all__ = ["Bought", "Counted", "Variants", "closing_way", "count", "count_batch"]


class Counted(NamedTuple):
    """One figure that is counted: of a node as written (None: of the tree as it is), for a kind of fault.

    `what`, of the tree: `streets`; `endangered`, of these `caught` (handed over) and `missed` (closed beside
    the danger); and `closed`, those that close without danger. Of a node: `passes`, streets that come to it,
    once for each home and state of the work; `first`, caught streets whose walk leaves the closing way there;
    `only`, caught streets that would close without it; `guards`, other caught streets that one wrong answer
    elsewhere would close, or hurt somebody in, without the node and not with it; `leaves`, streets without
    danger that leave there; `costs`, streets without danger that would close without it; `opens`, those that
    close only with it; `hurts`, streets where a step can hurt without it and none can with it; `alone`,
    caught streets that it finds with every other test left out.
    """

    node: Written | None
    fault: str
    what: str


@dataclass
class Bought:
    """What is counted over `size` streets. `found`: of each test, the dangers that it finds by itself, a bit
    a street. `shown`: what tests that the tree could make show where it closes."""

    counts: Counter[Counted] = field(default_factory=Counter)
    size: int = 0
    found: dict[Written, int] = field(default_factory=lambda: defaultdict(int))
    shown: Shown = field(default_factory=lambda: defaultdict(list))

    def __add__(self, other: Bought) -> Bought:
        """The counts of both, the other's streets after these."""
        both = Bought(self.counts + other.counts, self.size + other.size)
        for node in (*self.found, *other.found):
            both.found[node] = self.found.get(node, 0) | other.found.get(node, 0) << self.size
        for key in (*self.shown, *(other.shown.keys() - self.shown)):
            later = [one._replace(street=one.street + self.size) for one in other.shown.get(key, ())]
            both.shown[key] = [*self.shown.get(key, ()), *later]
        return both


def closing_way(guide: Guide, tree: Tree, numbers: Iterable[int]) -> ClosingWay:
    """The tree's closing way, as the healthy streets of these numbers go it. The guide has a sampling."""
    assert guide.sampling is not None
    taken: dict[str, Counter[int]] = defaultdict(Counter)
    for batch in of_visits(batches(guide.sampling, numbers), [HEALTHY.kind]):
        walk = Walk(tree, batch, willing=True)
        for visit, here in _reached(walk, _visits(batch)):
            for number, (_, streets) in enumerate(walk.certain(visit, here)):
                taken[visit.node][number] += streets.bit_count()
    return ClosingWay(tree, closing_ends(guide, tree), {node: dict(each) for node, each in taken.items()})


@dataclass(frozen=True)
class Variants:
    """A closing way with the trees that are walked besides: `without` each node; with each test `alone`,
    where every other test is left out at which no ways part; for wrong answers the tree as it is (`guarded`)
    and without each test. And the tests that the tree could make (`others`)."""

    way: ClosingWay
    without: Mapping[Written, Tree]
    guarded: Tree
    unguarded: Mapping[Written, Tree]
    alone: Mapping[Written, Tree]
    others: tuple[OtherTest, ...]

    @classmethod
    def of(cls, guide: Guide, way: ClosingWay) -> Variants:
        """All of them."""
        tests = [one for one in way.written if way.tests(one)]
        passed = {one for one in tests if not way.parts(one)}
        without = {one: way.without(one) for one in way.written}
        return cls(
            way,
            without,
            _closing(way.tree, way.ends),
            {one: _closing(without[one], way.ends) for one in tests},
            {one: way.without(*sorted(passed - {one})) for one in tests},
            other_tests(guide, way),
        )


def count(guide: Guide, way: ClosingWay, numbers: Iterable[int], kinds: Iterable[str]) -> Bought:
    """What each node buys over the drawn streets of these numbers, with each of these kinds of fault. The
    guide must have a sampling."""
    assert guide.sampling is not None
    bought, variants = Bought(), Variants.of(guide, way)
    for batch in of_visits(batches(guide.sampling, numbers), kinds):
        count_batch(variants, batch, bought)
    return bought


def count_batch(variants: Variants, batch: StreetBatch, bought: Bought) -> None:
    """Add what is counted over one batch."""
    way, start, add = variants.way, _visits(batch), _adding(batch, bought.counts)
    endangered, everywhere = bits_of(endangered_streets(batch)), (1 << batch.size) - 1
    today = _Today.walked(way, batch, start)
    safe, caught = everywhere & ~endangered, endangered & ~(today.closed | today.lost)
    missed, closed = endangered & today.closed, safe & today.closed
    add(None, "streets", everywhere)
    add(None, "endangered", endangered)
    add(None, "caught", caught)
    add(None, "missed", missed)
    add(None, "closed", closed)
    for written, here in today.passes:
        add(written, "passes", here)
    closed_without = {}
    for written, tree in variants.without.items():
        other = _Came.of(_walked(tree, batch, start), way.ends)
        left = today.left.get(written, 0)
        closed_without[written] = other.closed
        add(written, "first", caught & left)
        add(written, "only", caught & other.closed)
        add(written, "leaves", safe & ~today.closed & left)
        add(written, "costs", safe & ~today.closed & other.closed)
        add(written, "opens", closed & ~other.closed)
        add(written, "hurts", other.hurt & ~today.hurt)
    mistakes = _mistakes(variants.guarded, batch)
    for written, tree in variants.unguarded.items():
        now_harmful = _mistakes(tree, batch).items()
        harmed = reduce(or_, (streets & ~mistakes.get(one, 0) for one, streets in now_harmful), 0)
        add(written, "guards", caught & harmed & ~closed_without[written])
    for written, tree in variants.alone.items():
        other = _Came.of(_walked(tree, batch, start), way.ends)
        alone = caught & ~(other.closed | other.lost)
        add(written, "alone", alone)
        bought.found[written] |= alone << bought.size
    sound = closed & bits_of(batch.of_kind(HEALTHY.kind))
    shown_in(variants.others, batch, missed | sound, today.homes, bought.size, bought.shown)
    bought.size += batch.size


def _closing(tree: Tree, ends: frozenset[str]) -> Tree:
    """The tree in which these ends close the job: a called tree has none, and its caller goes on to one."""
    ended = {
        id_: replace(tree.nodes[id_], spec=tree.nodes[id_].spec.model_copy(update={"closes": True}))
        for id_ in ends
    }
    return replace(tree, nodes=tree.nodes | ended)


def _mistakes(tree: Tree, batch: StreetBatch) -> dict[Mistake, int]:
    """Each single wrong answer, and the streets in which it hurts somebody or closes beside a danger."""
    harmful = harmful_mistakes(tree, batch, visited_streets(batch))
    return {mistake: bits_of(streets) for mistake, streets in harmful.items()}


def _adding(batch: StreetBatch, counts: Counter[Counted]) -> Callable[[Written | None, str, int], None]:
    """What adds streets, kind by kind of their faults."""
    kinds = {kind: bits_of(batch.of_kind(kind)) for kind in batch.kinds}

    def add(node: Written | None, what: str, streets: int) -> None:
        for kind, of_it in kinds.items() if streets else ():
            counts[Counted(node, kind, what)] += (streets & of_it).bit_count()

    return add


def _visits(batch: StreetBatch) -> dict[str, int]:
    """Which home is visited in which streets."""
    return {home: bits_of(mask) for home, mask in visited_streets(batch).items()}


def _reached(walk: Walk, start: Mapping[str, int]) -> Iterator[tuple[Visit, int]]:
    """Every state that the walks from each visited home reach, and the streets that do."""
    for home, here in start.items():
        walk.from_home(home, here)
        yield from walk.seen.items()


def _walked(tree: Tree, batch: StreetBatch, start: Mapping[str, int]) -> Walk:
    walk = Walk(tree, batch, willing=True)
    for home, here in start.items():
        walk.from_home(home, here)
    return walk


class _Came(NamedTuple):
    """Where the walks of a batch close, where a step can hurt, where no answer leads on: in bits."""

    closed: int
    hurt: int
    lost: int

    @classmethod
    def of(cls, walk: Walk, ends: frozenset[str]) -> _Came:
        """What a walk has come to, from all homes so far."""

        def wrong(kinds: Iterable[str]) -> int:
            return reduce(or_, (some for (_, kind, _), some in walk.wrong.items() if kind in kinds), 0)

        closed = reduce(or_, (streets for node, streets in walk.ends.items() if node in ends), 0)
        return cls(closed, wrong({"harm"}), wrong(LOST))


@dataclass(frozen=True)
class _Today:
    """The tree as it is: what its walks come to, how often they pass each node, the streets that leave the
    closing way at each node by what is found there, and the homes where tests are made."""

    closed: int
    hurt: int
    lost: int
    passes: list[tuple[Written, int]]
    left: dict[Written, int]
    homes: dict[str, int]

    @classmethod
    def walked(cls, way: ClosingWay, batch: StreetBatch, start: Mapping[str, int]) -> _Today:
        """Walked once."""
        walk, nodes = Walk(way.tree, batch, willing=True), way.nodes - way.ends
        passes, left, homes = [], defaultdict[Written, int](int), defaultdict[str, int](int)
        for visit, here in _reached(walk, start):
            node = way.tree.nodes[visit.node]
            if node.id in nodes:
                passes.append((Written.of(node), here))
                homes[visit.home] |= here
                for exit_, streets in walk.certain(visit, here) if walk.asks_at(visit) else ():
                    left[Written.of(node)] |= streets if exit_.go not in way.nodes else 0
        return cls(*_Came.of(walk, way.ends), passes, left, homes)
