"""A tree walked over a whole flock at once: every state of the walk holds the streets that reach it."""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterator
from dataclasses import dataclass, field, replace

import numpy as np

from build_tools.guide import Exit, Tree
from build_tools.proof.flock import Flock, Many, Mask
from build_tools.shapes import Question, Reading, Step
from build_tools.walk import Visit, open_to_people
from calc.danger import METALWORK_LIVE, SUPPLY_LOST
from calc.limits import LIMITS
from calc.symptoms import FACTS, TINGLE_FROM_VOLTS
from calc.work import done

__all__ = ["Walk", "Walked", "walk_flock"]


@dataclass
class Walked:
    """Which streets of a flock reach what. `ends` by outcome, `hurt` by step and harm, `lost` where no
    answer fits what is found."""

    ends: dict[str, Mask]
    hurt: dict[tuple[str, str], Mask] = field(default_factory=dict)
    lost: dict[str, Mask] = field(default_factory=dict)


def walk_flock(tree: Tree, flock: Flock, start: dict[str, Mask], willing: bool) -> Walked:
    """The tree walked from each home in `start` by the streets of its mask.

    `willing`: every test can be made and every record is there, so that only what is found decides.
    Otherwise every answer that a person could give is followed too (could not take it, not steady,
    cannot find out).
    """
    walk = Walk(tree, flock, willing)
    for home, mask in start.items():
        walk.from_home(home, mask)
    return Walked(dict(walk.ends), dict(walk.hurt), dict(walk.lost))


class Walk:
    """A search of every state that the walks of a flock can be in; `seen`: the streets that reach each."""

    def __init__(self, tree: Tree, flock: Flock, willing: bool) -> None:
        self.tree, self.flock, self.willing = tree, flock, willing
        nobody = np.zeros(flock.size, bool)
        self.ends: dict[str, Mask] = defaultdict(nobody.copy)
        self.hurt: dict[tuple[str, str], Mask] = defaultdict(nobody.copy)
        self.lost: dict[str, Mask] = defaultdict(nobody.copy)
        self.seen: dict[Visit, Mask] = defaultdict(nobody.copy)
        self.nobody = nobody

    def from_home(self, home: str, mask: Mask) -> None:
        """As `from_visit`, from the start of the tree at a home."""
        self.from_visit(Visit(self.tree.start, home), home, mask)

    def from_visit(self, first: Visit, home: str, mask: Mask) -> None:
        """Walk on from a visit that began at a home until nothing new is reached, noting ends, harms and
        where no answer fits."""
        self.started_at = home
        self.seen.clear()
        waiting = deque([(first, mask)])
        while waiting:
            visit, here = waiting.popleft()
            fresh = here & ~self.seen[visit]
            if not fresh.any():
                continue
            self.seen[visit] |= fresh
            self._note(visit, fresh)
            waiting.extend(self.onward(visit, fresh))

    def _note(self, visit: Visit, here: Mask) -> None:
        node = self.tree.nodes[visit.node]
        if node.kind == "outcome":
            self.ends[node.id] |= here
        elif isinstance(node.spec, Step):
            for what, mask in self.harms(visit, here):
                self.hurt[node.id, what] |= mask
        else:
            answered = self.nobody.copy()
            for _, mask in self.certain(visit, here):
                answered |= mask
            if (here & ~answered).any():
                self.lost[node.id] |= here & ~answered

    def onward(self, visit: Visit, here: Mask) -> Iterator[tuple[Visit, Mask]]:
        """Where the walk goes next, and the streets that go there."""
        node = self.tree.nodes[visit.node]
        if isinstance(node.spec, Step):
            (exit_,) = node.exits
            for after, mask in self._after(visit, node.spec, here):
                yield replace(after, node=exit_.go), mask
        elif node.kind != "outcome":
            for exit_, mask in self.certain(visit, here):
                if mask.any():
                    yield replace(visit, node=exit_.go), mask
            if not self.willing:
                for exit_ in open_to_people(node):
                    yield replace(visit, node=exit_.go), here

    def certain(self, visit: Visit, here: Mask) -> Iterator[tuple[Exit, Mask]]:
        """The exits that what is there calls for (every answer, where a question has no fact)."""
        node = self.tree.nodes[visit.node]
        if isinstance(node.spec, Question):
            words = self._words(visit, node.spec)
            for exit_ in node.exits:
                if words is None:
                    yield exit_, here
                elif exit_.is_:
                    yield exit_, here & (words == exit_.is_)
        elif isinstance(node.spec, Reading):
            shown = self.flock.readings(visit.home, visit.conditions, node.spec.instrument, node.spec.on)
            for exit_ in node.exits:
                match exit_.kind:
                    case "range":
                        yield exit_, here & (shown >= exit_.low) & (shown < exit_.high) & np.isfinite(shown)
                    case "over_range":
                        yield exit_, here & np.isposinf(shown)
                    case "not_taken":
                        yield exit_, here & np.isnan(shown)

    def _words(self, visit: Visit, spec: Question) -> Many | None:
        """The word of the question's fact in each street."""
        if spec.fact is None:
            return None
        if spec.fact == "another-home-to-test":
            return np.where(self._next_door(visit) != "", "yes", "no")
        return fact_words(self.flock, spec.fact, visit)

    def _next_door(self, visit: Visit) -> Many:
        return self.flock.next_door(self.started_at, visit.gone_to)

    def harms(self, visit: Visit, here: Mask) -> Iterator[tuple[str, Mask]]:
        """What the step of a visit does that hurts. What is switched off on purpose is no harm."""
        step = self.tree.nodes[visit.node].spec
        assert isinstance(step, Step)
        if "touches-metalwork" in step.hazards:
            live = self.flock.touch_volts(visit.home, visit.conditions) > LIMITS["touch-volts"].value
            yield METALWORK_LIVE, here & live
        for after, mask in self._after(visit, step, here):
            if after.conditions != visit.conditions:
                for (home, what), new in self.flock.new_harms(visit.conditions, after.conditions).items():
                    if (home, what) != (after.home, SUPPLY_LOST):
                        yield what, mask & new

    def _after(self, visit: Visit, step: Step, here: Mask) -> Iterator[tuple[Visit, Mask]]:
        reached = [(visit, here)]
        for action in step.does:
            reached = [after for before in reached for after in self._acted(*before, action)]
        yield from reached

    def _acted(self, visit: Visit, here: Mask, action: str) -> Iterator[tuple[Visit, Mask]]:
        if action == "go-next-door":
            doors = self._next_door(visit)
            for home in np.unique(doors[here]):
                if home:
                    yield (
                        replace(visit, home=str(home), gone_to=visit.gone_to | {str(home)}),
                        here & (doors == home),
                    )
        elif action == "come-back":
            yield replace(visit, home=self.started_at), here
        else:
            yield replace(visit, conditions=done(visit.conditions, action, visit.home)), here


def fact_words(flock: Flock, name: str, visit: Visit) -> Many:
    """The word of a fact of calc.symptoms in each street."""
    match name:
        case "contact-indicator-lights" | "non-contact-indicator-lights":
            instrument = name.removesuffix("-indicator-lights")
            return _yes(flock.readings(visit.home, visit.conditions, instrument, ("earth",)) > 0)
        case "main-earth-looks-whole":
            return _yes(
                abs(flock.worked(visit.conditions).branches[f"{visit.home}/main_earth"].admittance) > 1e-9,
                flock,
            )
        case "tingle":
            return _yes(flock.touch_volts(visit.home, visit.conditions) >= TINGLE_FROM_VOLTS)
        case "earthing" | "phases" | "shares-metalwork" | "pipe-passes-a-mains-joint":
            return flock.records(name, visit.home)
    raise KeyError(f"{name} is not known for drawn streets (known: {', '.join(FACTS)})")


def _yes(mask: Mask, flock: Flock | None = None) -> Many:
    words = np.where(mask, "yes", "no")
    return np.broadcast_to(words, (flock.size,)) if flock else words
