"""What each node of a tree buys: counted by processes side by side, and put together."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import partial, reduce
from operator import add

import networkx as nx

from build_tools.guide.loading import load
from build_tools.guide.models import Reading, Step
from build_tools.guide.trees import Guide, Node, Tree
from build_tools.plan.better_order import Timed, Turn, greedy, spare, turns
from build_tools.plan.demanded import demanding, ways_of
from build_tools.plan.leaving_out import ClosingWay, Taken, Written, closing_ends
from build_tools.plan.other_tests import Added, best_added, other_tests
from build_tools.plan.screens import minutes_of, words_of
from build_tools.plan.walked_without import Bought, Counted, closing_way, count
from build_tools.proof.binomial import bounds
from build_tools.proof.evidence import Part
from build_tools.proof.procedures import conditions_at
from build_tools.proof.street_batch import numbers_of
from build_tools.setup import progress
from build_tools.setup.stopping import workers
from calc.faults import HEALTHY, KINDS
from calc.work import ACTIONS

__all__ = ["DANGERS", "STREETS", "TAIL", "NodeRow", "Plan", "Share", "plan", "planned"]

STREETS = 400
"""Streets drawn for each kind of fault: some two minutes on two cores for the longest tree."""

DANGERS = tuple(kind for kind, each in KINDS.items() if each.keeps_open)
"""The kinds of fault beside which no job may be closed."""

TAIL = 0.05
"""The chance beyond a bound that is told alone."""

_WORKERS, _PARTS = 2, 8
_PROBE, _UNCOVERED = "a probe in soil", "covers off"


@dataclass(frozen=True, slots=True)
class Share:
    """So many of so many; `low` and `high` are exact bounds, each with a chance of TAIL beyond it."""

    happened: int
    asked: int

    @property
    def low(self) -> float:
        """The lower bound of the share; 0 where nothing was asked."""
        return bounds(self.asked, self.happened, TAIL)[0] if self.asked else 0.0

    @property
    def high(self) -> float:
        """The upper bound; 1 where nothing was asked."""
        return bounds(self.asked, self.happened, TAIL)[1] if self.asked else 1.0


@dataclass(frozen=True, slots=True)
class NodeRow:
    """What a node buys and costs.

    `tests`: what is found there can end the closing way; `parts`: ways part there that all lead on. `minutes`
    each time, how often a healthy walk `passes` it, and the `words` on its screen. Then as
    walked_without.Counted tells them: `first`, `only`, `guards` and `alone` of all streets with an
    endangered home, `only_by_fault` kind by kind, `leaves`, `costs` and `opens` of healthy streets, `hurts`
    of all. `rules` that want it.
    """

    node: Written
    kind: str
    tests: bool
    parts: bool
    minutes: float
    passes: float
    words: int
    first: Share
    only: Share
    guards: Share
    alone: Share
    only_by_fault: dict[str, Share]
    leaves: Share
    costs: Share
    opens: Share
    hurts: Share
    rules: tuple[str, ...]

    @property
    def finds_nothing_alone(self) -> bool:
        """Whether it is a test without which nothing is lost: no danger, no closing, no safety."""
        return self.tests and not (self.only.happened or self.opens.happened or self.hurts.happened)

    @property
    def finds_as_on_healthy_streets(self) -> bool:
        """Whether it holds open healthy streets too, and of no kind of fault surely more: it may find
        nothing, and hold open whatever it cannot judge."""
        found = [share for share in self.only_by_fault.values() if share.happened]
        return self.costs.happened > 0 and all(share.low <= self.costs.high for share in found)

    @property
    def worst(self) -> tuple[str, float]:
        """The kind of fault of which most could be lost without it, by the upper bound, and that bound."""
        highs = {fault: share.high for fault, share in self.only_by_fault.items()}
        return max(highs.items(), key=lambda one: one[1], default=("", 1.0))


@dataclass(frozen=True, slots=True)
class Plan:
    """What a tree's nodes buy.

    `streets`: drawn for each kind; `caught` of the endangered ones, `closed` of the healthy ones. `rows`: the
    nodes on the closing way; `after`: those that only sort what was found before. The order `as_is` and the
    `better` one; tests that can be left out `together`; tests that could be `added`, the best first.
    """

    tree: str
    ends: tuple[str, ...]
    streets: int
    caught: Share
    caught_by_fault: dict[str, Share]
    closed: Share
    rows: tuple[NodeRow, ...]
    after: tuple[Written, ...]
    as_is: tuple[Turn, ...]
    better: tuple[Turn, ...]
    together: tuple[str, ...]
    added: tuple[Added, ...]


def plan(guide: Guide, tree: str, streets: int = STREETS, faults: Sequence[str] = DANGERS) -> Plan:
    """What the nodes of a site tree buy over so many drawn streets with each of these kinds of fault, by two
    processes. The guide must be as it lies in its folder, and have a sampling and minutes."""
    assert guide.sampling is not None
    with progress.work(f"walking {tree} with each node left out", _PARTS), workers(_WORKERS) as own:
        way = closing_way(guide, guide.trees[tree], range(streets))
        count_one = partial(_count, str(guide.folder), tree, way.taken, streets, (*faults, HEALTHY.kind))
        bought = reduce(add, progress.counted(own.map(count_one, Part.all(_PARTS))))
    return planned(guide, way, bought, streets)


def _count(folder: str, tree: str, taken: Taken, streets: int, kinds: Iterable[str], part: Part) -> Bought:
    guide = load(folder)
    assert guide.sampling is not None
    way = ClosingWay(guide.trees[tree], closing_ends(guide, guide.trees[tree]), taken)
    return count(
        guide, way, numbers_of(replace(guide.sampling, streets=streets), part.number, part.of), kinds
    )


def planned(guide: Guide, way: ClosingWay, bought: Bought, streets: int) -> Plan:
    """What was counted, put together. The guide must have minutes."""
    figures = _Figures(bought)
    ways = ways_of(guide, way)
    with progress.work("asking the rules", len(way.written)):
        rows = tuple(
            _row(guide, way, figures, written, demanding(guide, ways, written))
            for written in progress.counted(way.written)
        )
    timed = _timed(guide, way, bought)
    before = _before(guide, way)
    return Plan(
        way.tree.id,
        tuple(sorted(way.ends)),
        streets,
        figures.share(None, "caught", "endangered"),
        {kind: figures.share(None, "caught", "endangered", [kind]) for kind in figures.dangers},
        figures.share(None, "closed", "streets", [HEALTHY.kind]),
        rows,
        _after(way),
        tuple(turns(timed, before)),
        tuple(greedy(timed, before)),
        tuple(test.name for test in spare(timed)),
        tuple(best_added(other_tests(guide, way), bought.shown)),
    )


class _Figures:
    """The counts, asked for."""

    def __init__(self, bought: Bought) -> None:
        self.counts = bought.counts
        asked = {key.fault for key, count in self.counts.items() if key.what == "endangered" and count}
        self.dangers = [kind for kind in KINDS if kind in asked]
        self.walked = [kind for kind in KINDS if self.counts[Counted(None, kind, "streets")]]

    def of(self, node: Written | None, what: str, kinds: Iterable[str]) -> int:
        """A figure over some kinds of fault."""
        return sum(self.counts[Counted(node, kind, what)] for kind in kinds)

    def share(self, node: Written | None, what: str, of: str, kinds: Iterable[str] | None = None) -> Share:
        """A figure of a node out of one of the tree; over all kinds that endanger, unless some are given."""
        kinds = list(self.dangers if kinds is None else kinds)
        return Share(self.of(node, what, kinds), self.of(None, of, kinds))


def _row(
    guide: Guide, way: ClosingWay, figures: _Figures, written: Written, rules: tuple[str, ...]
) -> NodeRow:
    assert guide.minutes is not None
    node, healthy = way.tree.nodes[way.written[written][0]], [HEALTHY.kind]
    passes = figures.of(written, "passes", healthy) / max(1, figures.of(None, "streets", healthy))

    def of_endangered(what: str) -> Share:
        return figures.share(written, what, "endangered")

    def of_healthy(what: str) -> Share:
        return figures.share(written, what, "streets", healthy)

    return NodeRow(
        node=written,
        kind=node.kind,
        tests=way.tests(written),
        parts=way.parts(written),
        minutes=minutes_of(node, guide.minutes) + _probe_first(guide, way, node),
        passes=passes,
        words=words_of(node),
        first=of_endangered("first"),
        only=of_endangered("only"),
        guards=of_endangered("guards"),
        alone=of_endangered("alone"),
        only_by_fault={
            kind: figures.share(written, "only", "endangered", [kind]) for kind in figures.dangers
        },
        leaves=of_healthy("leaves"),
        costs=of_healthy("costs"),
        opens=of_healthy("opens"),
        hurts=figures.share(written, "hurts", "streets", figures.walked),
        rules=rules,
    )


def _after(way: ClosingWay) -> tuple[Written, ...]:
    """The nodes that are come to only once the closing way was left, and are no ends."""
    after = (node for id_, node in way.tree.nodes.items() if id_ not in way.nodes)
    return tuple(dict.fromkeys(Written.of(node) for node in after if node.kind != "outcome"))


def _is_probe(node: Node) -> bool:
    return isinstance(node.spec, Reading) and "independent_earth" in node.spec.on


def _probe_first(guide: Guide, way: ClosingWay, node: Node) -> float:
    """The minutes of putting a probe in soil, at the first node of the tree that wants one."""
    assert guide.minutes is not None
    wanting = (one for one in way.written if _is_probe(way.tree.nodes[way.written[one][0]]))
    is_first = Written.of(node) == next(wanting, None)
    return guide.minutes.act("probe") if is_first else 0.0


def _timed(guide: Guide, way: ClosingWay, bought: Bought) -> list[Timed]:
    """The tests in the order of the tree as it is written."""
    assert guide.minutes is not None
    wanted = dict(conditions_at(way.tree))
    covered = _covered(way.tree)
    timed = []
    for written, places in way.written.items():
        node = way.tree.nodes[places[0]]
        if way.tests(written):
            wants = wanted.get(node.id, frozenset())
            wants |= {_PROBE} if _is_probe(node) else set()
            wants |= {_UNCOVERED} if node.id not in covered else set()
            found = bought.found.get(written, 0)
            timed.append(Timed(written.node, found, minutes_of(node, guide.minutes), wants))
    return timed


def _covered(tree: Tree) -> frozenset[str]:
    """The nodes that can be come to before any cover was opened."""
    graph = tree.graph
    for node in tree.nodes.values():
        if isinstance(node.spec, Step) and "opens-cover" in node.spec.hazards:
            graph.remove_edges_from(list(graph.out_edges(node.id)))
    return frozenset({tree.start} | nx.descendants(graph, tree.start))


def _before(guide: Guide, way: ClosingWay) -> dict[str, float]:
    """The minutes of what tests want done: of each action that begins a condition of calc.work, of a probe,
    and of the step that opens covers."""
    assert guide.minutes is not None
    begins = {name: action for action, (name, begins) in ACTIONS.items() if begins}
    once = {_PROBE: guide.minutes.act("probe"), _UNCOVERED: guide.minutes.act("step")}
    return once | {name: guide.minutes.act(act) for name, act in begins.items()}
