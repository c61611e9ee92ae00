"""Visits in time: a site tree followed street by street, each with its clock, its joint and its crew.

All streets of a batch step together, one screen at a time, those that stand at one place as one group. What a
node means, what hurts and what a meter shows is asked of `walk.Walk`, once over the batch with the fault
and once over the same streets without it, as each street's joint is bad or good at that time. A node takes
its minutes in the state in which it is come to; what it does holds from the next one on.

Where the simulation cannot know, it goes by these rules. A question that remembers what the caller said is
answered by what the caller model notices with the fault there. Any other question without a fact gets an
answer from which the tree can still come to the least pressing of the ends that can be reached there; where
several do, one of them, drawn. What is wanting (a neighbour, a record, soil, sight of the main earth) is
answered by the exit for that, a drawn one of several; where a question has none, by what is there. Nobody
keeps off metalwork because they were asked to.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, NamedTuple

import networkx as nx
import numpy as np

from build_tools.guide.models import PRIORITIES, Outcome, Question, Reading, Step
from build_tools.guide.trees import Guide, Node, Tree
from build_tools.proof.counting import endangered_streets, visited_streets
from build_tools.proof.crews import PERFECT, SCREENS, Crews, chances_of
from build_tools.proof.lasting import Lasting
from build_tools.proof.street_batch import Many, Mask, StreetBatch, bits_of, faulty_batches, mask_of
from build_tools.proof.visit_table import LOST, MEASURES, TOUCH, VisitCase, VisitCounts
from build_tools.walks.asked_exits import judged, leads_to
from build_tools.walks.walk import Visit, Walk
from calc.exposure import EXPOSURES, in_touch_danger
from calc.faults import HEALTHY, KINDS
from calc.instruments import INSTRUMENTS
from calc.joint_law import JointLaw, Now
from calc.symptoms import CALLERS, ON_RECORD
from calc.work import ACTIONS

__all__ = ["ACCESS", "Followed", "Visited", "count_visits", "visit_batch"]

ACCESS = ("perfect", "chances")
"""Everything is there and nobody errs; or what is wanting and wrong goes by the stated chances."""

HORIZON_MINUTES = 2880.0
"""No visit lasts longer, so no joint's turns are drawn for later."""

HORIZON_DISTURBED = 200
"""No joint is disturbed more often in a visit."""

TAKEN_ALONG = frozenset({"known-load-on", "home-quiet"})
"""Conditions of calc.work that end when the crew leaves."""

_SEEN_AT_HOME = frozenset({"earthing", "phases"})
_NOTHING_FOUND = {"main-earth-looks-whole": "yes", "another-home-to-test": "no"} | dict.fromkeys(
    ON_RECORD - _SEEN_AT_HOME, "no"
)
"""The word of a fact that is given where what is there is missed, or left out by the record."""


@dataclass(frozen=True)
class Visited:
    """What came of the visits of a batch, street by street.

    `ends`: the outcome that each street came to, with the streets where it did (`lost` where no answer led
    on). `hurt`: where a step could hurt. `minutes` and `screens` of the visit; `during` and `after`:
    person-minutes by kind of exposure.
    """

    ends: dict[str, Mask]
    hurt: Mask
    minutes: Many
    screens: Many
    during: dict[str, Many]
    after: dict[str, Many]


@dataclass
class Followed:
    """A tree as crews follow it: what its structure says of each node, found once."""

    tree: Tree
    _leading: dict[str, list[int]] = field(default_factory=dict, repr=False)

    def leading_on(self, node: Node) -> list[int]:
        """The exits from which the tree can still come to the least pressing end of those in reach."""
        if node.id not in self._leading:
            best = [self._reach[exit_.go] for exit_ in node.exits]
            self._leading[node.id] = [number for number, each in enumerate(best) if each == max(best)]
        return self._leading[node.id]

    def how_it_ends(self, node: str) -> str:
        """One of ENDS, for an outcome; a visit that comes to none is lost."""
        spec = self.tree.nodes[node].spec if node in self.tree.nodes else None
        if not isinstance(spec, Outcome):
            return LOST
        return "closed" if spec.closes else spec.priority

    def goes_next_door(self, node: Node) -> bool:
        """Whether an answer leads straight to going next door."""
        return any("go-next-door" in self.tree.nodes[exit_.go].does for exit_ in node.exits)

    @cached_property
    def _reach(self) -> dict[str, int]:
        """How little pressing the best end is that can be reached from each node; a closed job is the
        least."""
        graph = nx.DiGraph((node.id, exit_.go) for node in self.tree.nodes.values() for exit_ in node.exits)
        graph.add_nodes_from(self.tree.nodes)
        best = dict.fromkeys(self.tree.nodes, -1)
        for worth, end in enumerate((*PRIORITIES, "closed")):
            for id_, node in self.tree.nodes.items():
                if node.kind == "outcome" and self.how_it_ends(id_) == end:
                    best |= dict.fromkeys({id_, *nx.ancestors(graph, id_)}, worth)
        return best


def count_visits(
    guide: Guide,
    numbers: Iterable[int],
    kinds: Iterable[str] = tuple(KINDS),
    laws: Iterable[str] = ("always",),
    access: Iterable[str] = ACCESS,
    trees: Iterable[str] | None = None,
) -> VisitCounts:
    """The counts over the drawn streets of these numbers. The guide must have a sampling and minutes.

    Every site tree, unless `trees` names some. Laws other than a lasting one are walked for faults of one
    conductor. Counts of parts add up.
    """
    assert guide.sampling is not None and guide.minutes is not None
    named = {tree.id for tree in guide.trees.values() if tree.audience == "site"} & set(trees or guide.trees)
    chosen = [Followed(guide.trees[id_]) for id_ in sorted(named)]
    chances = {"perfect": PERFECT, "chances": chances_of(guide.minutes)}
    drawn: dict[Any, Crews] = {}
    counts: VisitCounts = Counter()
    access, laws = tuple(access), tuple(laws)
    for batch in faulty_batches(guide.sampling, numbers, kinds):
        lasting = Lasting(batch, guide.minutes)
        streets = tuple(each.number for each in batch.drawn)
        for law in laws:
            if guide.minutes.laws[law].when != "always" and (
                batch.kind == HEALTHY.kind or lasting.joints is None
            ):
                continue
            for reach in access:
                if (reach, streets) not in drawn:
                    drawn[reach, streets] = Crews.drawn(
                        guide.sampling.seed, streets, batch.street.premises, chances[reach]
                    )
                for one in chosen:
                    came = visit_batch(one, lasting, drawn[reach, streets], guide.sampling.seed, law)
                    _count(counts, VisitCase(one.tree.id, batch.kind, law, reach), one, batch, came)
    return counts


def visit_batch(
    followed: Followed, lasting: Lasting, crews: Crews, seed: int, law: str = "always"
) -> Visited:
    """The visits of a batch by a tree, one in each street, at the home that is visited there."""
    return _Visits(followed, lasting, crews, seed, law).all()


def _count(
    counts: VisitCounts, case: VisitCase, followed: Followed, batch: StreetBatch, came: Visited
) -> None:
    """Add what came of a batch's visits."""
    endangered = endangered_streets(batch)
    counts[case, "visits"] += batch.size
    counts[case, "endangered"] += int(endangered.sum())
    for node, there in came.ends.items():
        end = followed.how_it_ends(node)
        counts[case, end] += int(there.sum())
        if end == "closed":
            counts[case, "closed-beside-danger"] += int((there & endangered).sum())
    counts[case, "hurt"] += int(came.hurt.sum())
    for what, values in _measures(came):
        whole = [round(value) for value in values.tolist()]
        counts[case, what] += sum(whole)
        counts[case, f"{what} squared"] += sum(value * value for value in whole)


def _measures(came: Visited) -> Iterator[tuple[str, Many]]:
    """Each of MEASURES, street by street: seconds, screens and person-seconds."""
    measured = {"seconds": came.minutes * 60, "screens": came.screens}
    for when, spent in (("during", came.during), ("after", came.after)):
        measured[f"{TOUCH} {when}"] = in_touch_danger(spent) * 60
        measured |= {f"{kind} {when}": spent[kind] * 60 for kind in EXPOSURES}
    return ((what, measured[what]) for what in MEASURES)


class _Place(NamedTuple):
    """Where a group of streets stands: where its visits began, and where they are."""

    began_at: str
    visit: Visit


class _Visits:
    """One tree followed over one batch by one law."""

    def __init__(self, followed: Followed, lasting: Lasting, crews: Crews, seed: int, law: str) -> None:
        tree = followed.tree
        self.followed, self.tree, self.lasting, self.crews, self.seed = followed, tree, lasting, crews, seed
        self.batch, self.minutes = lasting.batch, lasting.minutes
        self.law: JointLaw = self.minutes.laws[law]
        self.bad_walk, self.good_walk = (Walk(tree, batch, True) for batch in (self.batch, self.batch.sound))
        self.turns = self._turns(law)
        size = self.batch.size
        self.clock, self.screens, self.disturbed = np.zeros(size), np.zeros(size, int), np.zeros(size, int)
        self.during, self.after = np.zeros((len(EXPOSURES), size)), np.zeros((len(EXPOSURES), size))
        self.ends: dict[str, int] = defaultdict(int)
        self.hurt = 0
        self._bad_by_clock = -1
        self.probed: dict[str, int] = defaultdict(int)

    def _turns(self, law: str) -> tuple[Many, ...]:
        if self.law.when in ("always", "with-load"):
            return ()
        until = HORIZON_MINUTES if self.law.when == "at-times" else HORIZON_DISTURBED
        return self.lasting.turns(law, until, self.seed)

    def all(self) -> Visited:
        """Every visit from its first screen to its end."""
        here: dict[_Place, int] = {
            _Place(home, Visit(self.tree.start, home)): bits_of(mask)
            for home, mask in visited_streets(self.batch).items()
            if mask.any()
        }
        screen = 0
        while here and screen < SCREENS:
            here = self._step(here, screen)
            screen += 1
        for place, streets in here.items():
            self._end(LOST, place.visit, streets, self._bad_at(place.visit))
        size = self.batch.size
        return Visited(
            {node: mask_of(bits, size) for node, bits in self.ends.items()},
            mask_of(self.hurt, size),
            self.clock,
            self.screens,
            dict(zip(EXPOSURES, self.during, strict=True)),
            dict(zip(EXPOSURES, self.after, strict=True)),
        )

    def _step(self, here: Mapping[_Place, int], screen: int) -> dict[_Place, int]:
        """One screen on, for every street that is still on its way."""
        onward: dict[_Place, int] = defaultdict(int)
        took, shaken = np.zeros(self.batch.size), 0
        self._bad_by_clock = self._bad_now()
        for place, streets in here.items():
            visit, mask = place.visit, mask_of(streets, self.batch.size)
            bad = self._bad_at(visit)
            lasts = self._minutes(visit, streets) * mask
            took += lasts
            self.during += self._costs(visit.conditions, streets, bad) * lasts
            shaken |= self._shakes(visit, streets)
            if self.tree.nodes[visit.node].kind == "outcome":
                self._end(visit.node, visit, streets, bad)
            else:
                for after, those in self._ways(place, streets, bad, screen):
                    onward[_Place(place.began_at, after)] |= those
        self.clock = self.clock + took
        self.screens = self.screens + mask_of(sum(here.values()), self.batch.size)
        self.disturbed = self.disturbed + mask_of(shaken, self.batch.size)
        return onward

    def _bad_now(self) -> int:
        """The streets whose joint is bad by the clock or by what was done; for a law of loads, none yet."""
        if self.law.when in ("always", "with-load"):
            return -1
        return bits_of(self.law.is_bad(self.turns, Now(self.clock, 0.0, self.disturbed)))

    def _bad_at(self, visit: Visit) -> int:
        """The streets whose joint is bad at this place; all of them (-1) where it is so always."""
        if self.law.when != "with-load":
            return self._bad_by_clock
        bad = self.law.is_bad((), Now(amperes=self.lasting.amperes(visit.conditions)))
        return bits_of(np.broadcast_to(bad, (self.batch.size,)))

    def _costs(self, conditions: frozenset[Any], here: int, bad: int) -> Many:
        """Persons exposed by kind and street, as each street's joint is."""
        if not here & ~bad:
            return self.lasting.costs(conditions)
        good = self.lasting.costs(conditions, bad=False)
        if not here & bad:
            return good
        return np.where(mask_of(bad, self.batch.size), self.lasting.costs(conditions), good)

    def _minutes(self, visit: Visit, streets: int) -> Any:
        """How long the node takes: an array where a probe is put in by some, who have none there yet."""
        act = self.minutes.act
        match self.tree.nodes[visit.node].spec:
            case Question(fact=fact):
                return act("record" if fact in _NOTHING_FOUND and fact in ON_RECORD else "question")
            case Reading(instrument=instrument, on=on):
                lasts: Any = act(instrument)
                if "independent_earth" in on:
                    first = streets & ~self.probed[visit.home] & ~self.crews.no_soil[visit.home]
                    self.probed[visit.home] |= first
                    lasts = lasts + act("probe") * mask_of(first, self.batch.size)
                return lasts
            case Step(does=does):
                return sum(map(act, does)) if does else act("step")
        return act("end")

    def _shakes(self, visit: Visit, streets: int) -> int:
        """The streets whose joint is disturbed by what is done at the node."""
        acts = not ACTIONS.keys().isdisjoint(self.tree.nodes[visit.node].does)
        if acts and self.law.when == "after-disturbance":
            return streets & self.lasting.near[visit.home]
        return 0

    def _end(self, end: str, visit: Visit, streets: int, bad: int) -> None:
        """What is left behind lasts until it is made safe; where no answer led on, as what is unsettled."""
        self.ends[end] |= streets
        how = self.followed.how_it_ends(end)
        lasts = self.minutes.made_safe["unsettled" if how == LOST else how].value
        left = frozenset(one for one in visit.conditions if one.name not in TAKEN_ALONG)
        mask, is_bad = (mask_of(some, self.batch.size) for some in (streets, bad & streets))
        bad_minutes = self.law.bad_minutes_of(is_bad, lasts) * mask
        self.after += self.lasting.costs(left) * bad_minutes
        if self.law.when != "always":
            self.after += self.lasting.costs(left, bad=False) * (lasts * mask - bad_minutes)

    def _ways(self, place: _Place, here: int, bad: int, screen: int) -> Iterator[tuple[Visit, int]]:
        """Where the streets of a group go next."""
        self.bad_walk.started_at = self.good_walk.started_at = place.began_at
        visit, node = place.visit, self.tree.nodes[place.visit.node]
        parted = ((self.bad_walk, here & bad), (self.good_walk, here & ~bad))
        walks = [(walk, some) for walk, some in parted if some]
        if isinstance(node.spec, Step):
            for walk, some in walks:
                for _, hurt in walk.wrong_at(visit, [], some):
                    self.hurt |= hurt
                yield from ((after, there) for after, _, there in walk.onward(visit, [], some))
            return
        leaving = self._answered(place, node, walks, here, screen)
        for place_of, streets in enumerate(leaving):
            if streets:
                yield self.bad_walk.left(visit, node.exits[place_of]), streets
        if lost := here & ~sum(leaving):
            self._end(LOST, visit, lost, bad)

    def _answered(
        self, place: _Place, node: Node, walks: list[tuple[Walk, int]], here: int, screen: int
    ) -> list[int]:
        """The streets that leave by each exit of a question or a reading: each by one of them, or none."""
        if isinstance(node.spec, Question) and node.spec.fact is None:
            return self._told(node, here)
        leaving = [0] * len(node.exits)
        for walk, some in walks:
            for number, (_, streets) in enumerate(walk.certain(place.visit, some)):
                leaving[number] |= streets
        for streets, exits in self._otherwise(place, node, walks, screen):
            streets &= here
            if not (streets and exits):
                continue
            leaving = [one & ~streets for one in leaving]
            for number, those in exits.items():
                leaving[number] |= streets & those
        return leaving

    def _otherwise(
        self, place: _Place, node: Node, walks: list[tuple[Walk, int]], screen: int
    ) -> Iterator[tuple[int, dict[int, int]]]:
        """Streets whose crews find what they want wanting, or err, and which of them leave by which exit
        instead. What comes later counts more."""
        crews, home = self.crews, place.visit.home
        if isinstance(node.spec, Question):
            assert node.spec.fact is not None
            looks, reads = self._how_found(node, node.spec.fact)
            out = self._nobody_in(place) if looks and node.spec.fact == "another-home-to-test" else 0
            seen = crews.hidden[home] if node.spec.fact == "main-earth-looks-whole" else 0
            yield out | seen | (crews.no_record if reads else 0), self._unsaid(node)
            stays = crews.stays_here if node.spec.fact == "another-home-to-test" else 0
            errs = (crews.eye_misses | stays) if looks else 0
            errs |= (crews.record_wrong & ~crews.no_record | crews.says_nothing) if reads else 0
            yield errs, self._said(node, _NOTHING_FOUND.get(node.spec.fact, ""))
            return
        assert isinstance(node.spec, Reading)
        instrument, on = node.spec.instrument, node.spec.on
        zero, nothing = crews.flat.get(instrument, (0, 0))
        if instrument == "clamp" and crews.jaw_open:
            yield crews.jaw_open, self._shown(place, node, walks, crews.jaw_share)
        if zero:
            yield zero, self._shown(place, node, walks, 0.0)
        wanting = nothing
        wanting |= crews.no_soil[home] if "independent_earth" in on else 0
        wanting |= crews.hidden[home] if instrument == "clamp" and "main_earth" in on else 0
        yield crews.unsteady.get(screen, 0), _by(node, "not_steady")
        yield wanting, _by(node, "not_taken")

    def _how_found(self, node: Node, fact: str) -> tuple[bool, bool]:
        """Whether a question is answered by looking, and whether by the record. Another home to test is
        looked for where the crew would go there next, and read out of the record elsewhere."""
        if fact == "another-home-to-test":
            goes = self.followed.goes_next_door(node)
            return goes, not goes
        return fact == "main-earth-looks-whole", fact in ON_RECORD - _SEEN_AT_HOME

    def _nobody_in(self, place: _Place) -> int:
        """The streets where nobody is in at the next home."""
        doors = self.batch.doors(place.began_at, place.visit.gone_to)
        return sum(streets & self.crews.out[home] for home, streets in doors)

    def _shown(
        self, place: _Place, node: Node, walks: list[tuple[Walk, int]], share: float
    ) -> dict[int, int]:
        """By which exit the streets leave whose tester shows a share of what is there."""
        assert isinstance(node.spec, Reading)
        instrument, on = node.spec.instrument, node.spec.on
        tester = INSTRUMENTS[instrument]
        asks, leaving = self.bad_walk.asks_at(place.visit), dict.fromkeys(range(len(node.exits)), 0)
        assert asks is not None
        for walk, some in walks:
            batch = self.batch if walk is self.bad_walk else self.batch.sound

            def shows(conditions: frozenset[Any], batch: StreetBatch = batch) -> Many:
                true = batch.readings(place.visit.home, conditions, instrument, on)
                figures: Many = tester.figure(np.where(true < np.inf, true, tester.high) * share)
                return figures

            shown = judged(asks, shows, place.visit.conditions)
            for number, exit_ in enumerate(asks.exits):
                leaving[number] |= some & bits_of(np.broadcast_to(leads_to(shown, exit_), shown.shape))
        return leaving

    def _unsaid(self, node: Node) -> dict[int, int]:
        """The answers that stand for no word of the fact, and the streets that give each."""
        return self._drawn(node, [number for number, exit_ in enumerate(node.exits) if exit_.is_ is None])

    def _said(self, node: Node, word: str) -> dict[int, int]:
        return {number: -1 for number, exit_ in enumerate(node.exits) if exit_.is_ == word}

    def _told(self, node: Node, here: int) -> list[int]:
        """The answers to a question without a fact: what the caller said, or one that leads on."""
        spec, leaving = node.spec, [0] * len(node.exits)
        assert isinstance(spec, Question)
        if spec.remember in CALLERS:
            told = self.lasting.told(spec.remember)
            for number, exit_ in enumerate(node.exits):
                leaving[number] |= here & told.get(exit_.is_ or "", 0)
        rest = here & ~sum(leaving)
        if rest:
            for number, those in self._drawn(node, self.followed.leading_on(node)).items():
                leaving[number] |= rest & those
        return leaving

    def _drawn(self, node: Node, numbers: list[int]) -> dict[int, int]:
        """One of these exits for each street, each as likely as the next."""
        if len(numbers) < 2:
            return dict.fromkeys(numbers, -1)
        lots = self.lasting.lots(self.tree.id, node.id, self.seed, len(numbers))
        return dict(zip(numbers, lots, strict=True))


def _by(node: Node, kind: str) -> dict[int, int]:
    """All leave by the exit of this kind, if there is one."""
    return {number: -1 for number, exit_ in enumerate(node.exits) if exit_.kind == kind}
