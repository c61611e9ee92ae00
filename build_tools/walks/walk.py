"""A tree walked over many streets at once, or over one: each state holds the streets that reach it.

Readings and facts are answered by what is there. Where the simulation cannot know (could a reading be taken,
was the display steady, a question without a fact) every answer is followed.

Streets are the bits of whole numbers: to join, part and compare them costs next to nothing, so that what is
left to do is to find out once, for each thing that is asked, which streets leave by which exit.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Sequence
from functools import cached_property
from typing import NamedTuple, Protocol

from build_tools.guide.models import Outcome, Question, Reading, Step
from build_tools.guide.trees import Exit, Node, Tree
from build_tools.walks.asked_exits import Asks, asked_by, earlier
from build_tools.walks.oracle import Conditions
from calc.danger import SUPPLY_LOST
from calc.instruments import lacking
from calc.street import Street
from calc.work import done

__all__ = ["HURTS", "IN_WORDS", "LOST", "TOUCHED", "Raised", "Streets", "Visit", "Walk", "Wrong"]

TOUCHED = "the metalwork to be touched is live to true earth"
HURTS = frozenset({"harm", "closed-beside-danger"})
"""Kinds of what is wrong that can hurt somebody."""
LOST = frozenset({"no-such-line", "no-answer"})
"""Kinds of what is wrong where no answer leads on."""
IN_WORDS = {"not_taken": "could not take it", "not_steady": "not steady"}
"""The exits of a reading that a person may take whatever is there."""


class Visit(NamedTuple):
    """Where a walk stands: the node, the home, the homes next door that were gone to, and what was done.
    `read`: of the readings at this home that later ones are judged by, what was done when each was taken."""

    node: str
    home: str
    gone_to: frozenset[str] = frozenset()
    conditions: Conditions = frozenset()
    read: frozenset[tuple[str, Conditions]] = frozenset()


class Raised(NamedTuple):
    """A harm: at which home, what it is, and the conditions before and after what raises it."""

    home: str
    what: str
    before: Conditions
    after: Conditions


class Wrong(NamedTuple):
    """What is wrong where a walk stands: `what` is the same for all walks of one kind."""

    kind: str
    what: str
    harm: Raised | None = None


class Streets(Protocol):
    """What a walk asks of the streets that it is walked over. Each answer is given in bits, one a street, and
    must be right for the streets of `here`, if it is given."""

    @property
    def street(self) -> Street: ...
    def leaving(self, asks: Asks, home: str, conditions: Conditions, here: int) -> Sequence[int]: ...
    def doors(self, started_at: str, gone_to: frozenset[str]) -> tuple[tuple[str, int], ...]: ...
    def live(self, home: str, conditions: Conditions, here: int) -> int: ...
    def raised(self, before: Conditions, after: Conditions, here: int) -> Iterable[tuple[str, str, int]]: ...
    def endangered(self, home: str, here: int) -> int: ...


class Walk:
    """A search of every state that the walks can be in, the nearest first. `willing`: only what is found
    decides.

    `seen`: the streets that reach each state. `came_from`: the state before it and the exit there, as the
    first streets came: for one street alone, its shortest way. `ends` and `wrong`: the streets that come to
    each outcome, and to each node, kind and words of what is wrong, from all homes so far.
    """

    def __init__(self, tree: Tree, streets: Streets, willing: bool) -> None:
        self.tree, self.streets, self.willing = tree, streets, willing
        self.ends: dict[str, int] = defaultdict(int)
        self.wrong: dict[tuple[str, str, str], int] = defaultdict(int)
        self.seen: dict[Visit, int] = defaultdict(int)
        self.came_from: dict[Visit, tuple[Visit, Exit] | None] = {}
        self._asks: dict[str, Asks | None] = {}
        self._open: dict[str, tuple[Exit, ...]] = {}

    def from_home(self, home: str, here: int) -> None:
        """As `from_visit`, from the start of the tree at a home."""
        self.from_visit(Visit(self.tree.start, home), home, here)

    def from_visit(self, first: Visit, home: str, here: int) -> None:
        """Walk on from a visit that began at a home until nothing new is reached, noting ends and what is
        wrong."""
        self.started_at = home
        self.seen.clear()
        self.came_from = {first: None}
        coming, waiting = {first: here}, deque([first])
        while waiting:
            visit = waiting.popleft()
            fresh = coming.pop(visit) & ~self.seen[visit]
            if fresh:
                self.seen[visit] |= fresh
                certain = self.certain(visit, fresh)
                self._note(visit, certain, fresh)
                for after, exit_, streets in self.onward(visit, certain, fresh):
                    if after not in coming:
                        self.came_from.setdefault(after, (visit, exit_))
                        coming[after] = 0
                        waiting.append(after)
                    coming[after] |= streets

    def _note(self, visit: Visit, certain: list[tuple[Exit, int]], here: int) -> None:
        if self.tree.nodes[visit.node].kind == "outcome":
            self.ends[visit.node] |= here
        for wrong, streets in self.wrong_at(visit, certain, here):
            self.wrong[visit.node, wrong.kind, wrong.what] |= streets

    def onward(
        self, visit: Visit, certain: list[tuple[Exit, int]], here: int
    ) -> list[tuple[Visit, Exit, int]]:
        """Where the walk goes next, by which exit, and the streets that go there."""
        node = self.tree.nodes[visit.node]
        if isinstance(node.spec, Step):
            (exit_,) = node.exits
            return [
                (after._replace(node=exit_.go), exit_, streets)
                for after, streets in self._after(visit, node.spec, here)
            ]
        ways = [(self.left(visit, exit_), exit_, streets) for exit_, streets in certain if streets]
        if not self.willing:
            ways += [(self.left(visit, exit_), exit_, here) for exit_ in self._open_at(node)]
        return ways

    def left(self, visit: Visit, exit_: Exit) -> Visit:
        """Where the walk stands once a question or a reading was left by an exit."""
        read = visit.read
        if visit.node in self._judged_by:
            read = frozenset(one for one in read if one[0] != visit.node)
            read |= {(visit.node, visit.conditions)} if exit_.kind == "range" else set()
        return Visit(exit_.go, visit.home, visit.gone_to, visit.conditions, read)

    @cached_property
    def _judged_by(self) -> frozenset[str]:
        """The readings that later ones are judged by."""
        return frozenset(map(earlier, self.tree.nodes.values())) - {""}

    def _open_at(self, node: Node) -> tuple[Exit, ...]:
        if node.id not in self._open:
            self._open[node.id] = tuple(_open_to_people(node))
        return self._open[node.id]

    def asks_at(self, visit: Visit) -> Asks | None:
        """What the node of a visit asks of what is there; None where nothing there decides."""
        node = self.tree.nodes[visit.node]
        if visit.node not in self._asks:
            self._asks[visit.node] = asked_by(node)
        asks, since = self._asks[visit.node], earlier(node)
        return asks._replace(before=dict(visit.read).get(since)) if asks and since else asks

    def certain(self, visit: Visit, here: int) -> list[tuple[Exit, int]]:
        """The exits of a question or a reading, and the streets where what is there calls for them (every
        answer, where a question has no fact). None for a reading on a line that the home does not have."""
        node = self.tree.nodes[visit.node]
        if node.kind not in ("question", "reading"):
            return []
        asks = self.asks_at(visit)
        if asks is None:
            return [(exit_, here) for exit_ in node.exits]
        if asks.fact == "another-home-to-test":
            doors = self.streets.doors(self.started_at, visit.gone_to)
            more = here & sum(streets for _, streets in doors)  # no street has two next homes
            words = {"yes": more, "no": here & ~more}
            return [(exit_, words.get(exit_.is_ or "", 0)) for exit_ in node.exits]
        if self._lacking(visit, asks):
            return []
        if earlier(node) and asks.before is None:  # there is no figure that it could have moved from
            return [(exit_, here if exit_.kind == "not_taken" else 0) for exit_ in node.exits]
        leaving = self.streets.leaving(asks, visit.home, visit.conditions, here)
        return [(exit_, here & streets) for exit_, streets in zip(node.exits, leaving, strict=True)]

    def _lacking(self, visit: Visit, asks: Asks) -> str:
        return lacking(self.streets.street, visit.home, asks.on) if asks.on else ""

    def wrong_at(
        self, visit: Visit, certain: list[tuple[Exit, int]], here: int
    ) -> Iterator[tuple[Wrong, int]]:
        """Each thing wrong where the walk stands, and the streets where it is."""
        node = self.tree.nodes[visit.node]
        match node.spec:
            case Step() as step:
                for harm, streets in self._harms(visit, step, here):
                    yield Wrong("harm", f"this step can hurt: {harm.what}", harm), streets
            case Outcome() as outcome if kind := _beside_danger(outcome):
                if streets := here & self.streets.endangered(self.started_at, here):
                    yield kind, streets
            case Question() | Reading():
                for _, streets in certain:
                    here &= ~streets
                if here:
                    yield self._lost(visit), here

    def _lost(self, visit: Visit) -> Wrong:
        asks = self.asks_at(visit)
        if asks and (line := self._lacking(visit, asks)):
            return Wrong("no-such-line", f"a reading is asked for on {line}, which this home does not have")
        return Wrong("no-answer", "no answer fits what is found here")

    def _harms(self, visit: Visit, step: Step, here: int) -> Iterator[tuple[Raised, int]]:
        """What the step of a visit does that hurts. What is switched off on purpose is no harm."""
        before = visit.conditions
        touches = "touches-metalwork" in step.hazards
        if touches and (live := here & self.streets.live(visit.home, before, here)):
            yield Raised(visit.home, TOUCHED, before, before), live
        for after, streets in self._after(visit, step, here) if step.does else ():
            if after.conditions != before:
                for home, what, new in self.streets.raised(before, after.conditions, streets):
                    if streets & new and (home, what) != (after.home, SUPPLY_LOST):
                        yield Raised(home, what, before, after.conditions), streets & new

    def _after(self, visit: Visit, step: Step, here: int) -> list[tuple[Visit, int]]:
        """The walk once the step is done; nowhere in the streets where it cannot be (nobody next door)."""
        reached = [(visit, here)]
        for action in step.does:
            reached = [after for before in reached for after in self._acted(*before, action)]
        return reached

    def _acted(self, visit: Visit, here: int, action: str) -> list[tuple[Visit, int]]:
        if action == "go-next-door":
            return [
                (visit._replace(home=home, gone_to=visit.gone_to | {home}, read=frozenset()), here & streets)
                for home, streets in self.streets.doors(self.started_at, visit.gone_to)
                if here & streets
            ]
        if action == "come-back":
            return [(visit._replace(home=self.started_at, read=frozenset()), here)]
        return [(visit._replace(conditions=done(visit.conditions, action, visit.home)), here)]


def _beside_danger(outcome: Outcome) -> Wrong | None:
    """What is wrong with an outcome where a fault endangers the home."""
    if outcome.closes:
        return Wrong("closed-beside-danger", "the job is closed beside a fault that endangers this home")
    if outcome.hand_over is None:
        return Wrong("kept-beside-danger", "nobody is told of a fault that endangers this home")
    return None


def _open_to_people(node: Node) -> Iterator[Exit]:
    """The exits that a person may take whatever is there: a reading that could not be taken or does not hold
    still, and an answer that stands for no word of the question's fact."""
    for exit_ in node.exits:
        unsaid = isinstance(node.spec, Question) and node.spec.fact is not None and not exit_.is_
        if exit_.kind in IN_WORDS or unsaid:
            yield exit_
