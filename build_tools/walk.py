"""One tree driven by one simulated fault, along every way that the person could go.

Readings and facts are answered by the witness. Where the simulation cannot know (could a reading be
taken, was the display steady, a question without a fact) every answer is followed.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator
from dataclasses import dataclass
from typing import NamedTuple

from build_tools.findings import Hop
from build_tools.guide import Exit, ExitKind, Node, Tree
from build_tools.shapes import Outcome, Question, Reading, Step
from build_tools.witness import Conditions, Witness
from calc.danger import SUPPLY_LOST, Harm
from calc.instruments import LINES, Display
from calc.limits import LIMITS
from calc.work import done

__all__ = [
    "Ending",
    "Passage",
    "Trouble",
    "Visit",
    "endings",
    "leads_to",
    "open_to_people",
    "troubles",
    "wrong_at",
]


class Visit(NamedTuple):
    """Where a walk stands: the node, the home, the homes next door that were gone to, and what was done."""

    node: str
    home: str
    gone_to: frozenset[str] = frozenset()
    conditions: Conditions = frozenset()


@dataclass(frozen=True, slots=True)
class Trouble:
    """What went wrong on a walk: `what` is the same for all walks of one kind, `detail` is this one's."""

    kind: str
    node: str
    what: str
    detail: str
    hops: tuple[Hop, ...]


@dataclass(frozen=True, slots=True)
class Passage:
    """One node passed on a walk: where the walk stood, the way out that it took, and why (what was shown,
    answered or done). `display`: what the instrument shows, empty where none was read."""

    visit: Visit
    exit: Exit
    shown: str
    display: str

    @property
    def hop(self) -> Hop:
        """The same as a step of a path that a finding can show."""
        return Hop(self.exit.place, f"{self.visit.node}: {self.shown}")


@dataclass(frozen=True, slots=True)
class Ending:
    """One outcome that a walk can reach, and the shortest way there. `willing`: what is found leads there;
    otherwise only where a reading could not be taken or did not hold still, or something is not known."""

    node: str
    willing: bool
    way: tuple[Passage, ...]
    at: Visit

    @property
    def hops(self) -> tuple[Hop, ...]:
        """The way as steps of a path."""
        return tuple(passage.hop for passage in self.way)


@dataclass(frozen=True, slots=True)
class _Onward:
    exit: Exit
    shown: str  # what the witness said, or what was done
    display: str = ""


def troubles(tree: Tree, witness: Witness, home: str) -> Iterator[Trouble]:
    """Everything wrong on the walks of `tree` that begin at `home`, each by a shortest way."""
    walk = _Walk(tree, witness, home)
    for visit in walk.visits():
        for kind, what, detail in walk.wrong_at(visit):
            yield Trouble(kind, visit.node, what, detail, tuple(p.hop for p in walk.way_to(visit)))


def endings(tree: Tree, witness: Witness, home: str) -> Iterator[Ending]:
    """Every outcome that a walk of `tree` from `home` can reach: first where what is found leads, then where
    people may go besides, each the nearest first."""
    seen = set()
    for willing in (True, False):
        walk = _Walk(tree, witness, home, willing)
        for visit in walk.visits():
            if tree.nodes[visit.node].kind == "outcome" and visit.node not in seen:
                seen.add(visit.node)
                yield Ending(visit.node, willing, walk.way_to(visit), visit)


def wrong_at(tree: Tree, witness: Witness, home: str, visit: Visit) -> Iterator[str]:
    """Each thing wrong where a walk that began at `home` stands, in words."""
    for _, what, detail in _Walk(tree, witness, home).wrong_at(visit):
        yield f"{what}: {detail}" if detail and detail not in what else what


_IN_WORDS = {"not_taken": "could not take it", "not_steady": "not steady"}


def open_to_people(node: Node) -> Iterator[Exit]:
    """The exits that a person may take whatever is there: a reading that could not be taken or does not hold
    still, and an answer that stands for no word of the question's fact."""
    for exit_ in node.exits:
        unsaid = isinstance(node.spec, Question) and node.spec.fact is not None and not exit_.is_
        if exit_.kind in _IN_WORDS or unsaid:
            yield exit_


def leads_to(display: Display, kind: ExitKind, low: float, high: float) -> bool:
    """Whether a display calls for an exit of this kind, with these bounds if it is a range."""
    if kind == "range" and display.state == "shown":
        assert display.value is not None
        return low <= display.value < high
    return kind == {"over-range": "over_range", "no-test": "not_taken"}.get(display.state)


class _Walk:
    """A search of every state that a walk can be in, the nearest first. `willing`: only what is found
    decides."""

    def __init__(self, tree: Tree, witness: Witness, home: str, willing: bool = False) -> None:
        self.tree, self.witness, self.started_at, self.willing = tree, witness, home, willing
        self.sharing = witness.street.sharing_metalwork(home)
        self.came_from: dict[Visit, tuple[Visit, _Onward] | None] = {}

    def visits(self) -> Iterator[Visit]:
        first = Visit(self.tree.start, self.started_at)
        self.came_from[first] = None
        waiting = deque([first])
        while waiting:
            visit = waiting.popleft()
            yield visit
            for onward in self._onward(visit):
                after = self._after(visit)
                if after is None:
                    continue
                reached = after._replace(node=onward.exit.go)
                if reached not in self.came_from:
                    self.came_from[reached] = (visit, onward)
                    waiting.append(reached)

    def way_to(self, visit: Visit) -> tuple[Passage, ...]:
        way: list[Passage] = []
        step = self.came_from[visit]
        while step is not None:
            visit, onward = step
            way.append(Passage(visit, onward.exit, onward.shown, onward.display))
            step = self.came_from[visit]
        return tuple(reversed(way))

    def wrong_at(self, visit: Visit) -> Iterator[tuple[str, str, str]]:
        """(kind, what, detail) of each thing wrong where the walk stands."""
        node = self.tree.nodes[visit.node]
        match node.spec:
            case Step() as step:
                for harm in self._harms(visit, step):
                    yield "harm", f"this step can hurt: {harm.what}", str(harm)
            case Outcome(closes=True) if self.started_at in self.witness.endangered:
                yield "closed-beside-danger", "the job is closed beside a fault that endangers this home", ""
            case Reading() as reading if lacking := self._lacking(visit, reading):
                what = f"a reading is asked for on {lacking}, which this home does not have"
                yield "no-such-line", what, ""
            case Reading() | Question() if not list(self._certain(visit, node)):
                yield "no-answer", "no answer fits what is found here", self._shown(visit, node)

    def _onward(self, visit: Visit) -> Iterator[_Onward]:
        node = self.tree.nodes[visit.node]
        match node.kind:
            case "step":
                for exit in node.exits:
                    yield _Onward(exit, "done")
            case "question" | "reading":
                yield from self._certain(visit, node)
                for exit_ in () if self.willing else open_to_people(node):
                    yield _Onward(exit_, _IN_WORDS.get(exit_.kind, f"answered {exit_.label!r}"))

    def _certain(self, visit: Visit, node: Node) -> Iterator[_Onward]:
        """The exits that the witness chooses (every answer, where a question has no fact)."""
        if isinstance(node.spec, Question):
            word = self._fact(visit, node.spec)
            for exit in node.exits:
                if word is None or exit.is_ == word:
                    yield _Onward(exit, f"answered {exit.label!r}")
        elif isinstance(node.spec, Reading) and not self._lacking(visit, node.spec):
            display = self._display(visit, node.spec)
            for exit in node.exits:
                if leads_to(display, exit.kind, exit.low, exit.high):
                    where = f"{node.spec.instrument} on {', '.join(node.spec.on)}"
                    yield _Onward(exit, f"{where} shows {display.text}", display.text)

    def _lacking(self, visit: Visit, spec: Reading) -> str:
        """The first line that the reading is to be taken on and the home does not have; empty if none."""
        return next((name for name in LINES[self._phases(visit) :] if name in spec.on), "")

    def _phases(self, visit: Visit) -> int:
        return len(self.witness.street.premises[visit.home].phases)

    def _shown(self, visit: Visit, node: Node) -> str:
        if isinstance(node.spec, Reading):
            return f"{node.spec.instrument} shows {self._display(visit, node.spec).text}"
        assert isinstance(node.spec, Question)
        return f"{node.spec.fact} is {self._fact(visit, node.spec)!r}"

    def _display(self, visit: Visit, spec: Reading) -> Display:
        return self.witness.reading(visit.home, visit.conditions, spec.instrument, spec.on)

    def _fact(self, visit: Visit, spec: Question) -> str | None:
        if spec.fact is None:
            return None
        if spec.fact == "another-home-to-test":
            return "yes" if self._next_door(visit) else "no"
        return self.witness.fact(spec.fact, visit.home, visit.conditions)

    def _next_door(self, visit: Visit) -> str | None:
        return next((home for home in self.sharing if home not in visit.gone_to), None)

    def _after(self, visit: Visit) -> Visit | None:
        """The walk once the node's step is done; None where it cannot be done (nobody next door)."""
        spec = self.tree.nodes[visit.node].spec
        for action in spec.does if isinstance(spec, Step) else ():
            if action == "go-next-door":
                home = self._next_door(visit)
                if home is None:
                    return None
                visit = visit._replace(home=home, gone_to=visit.gone_to | {home})
            elif action == "come-back":
                visit = visit._replace(home=self.started_at)
            else:
                visit = visit._replace(conditions=done(visit.conditions, action, visit.home))
        return visit

    def _harms(self, visit: Visit, step: Step) -> Iterator[Harm]:
        if "touches-metalwork" in step.hazards:
            volts = self.witness.touch_volts(visit.home, visit.conditions)
            if volts > LIMITS["touch-volts"].value:
                yield Harm(visit.home, "the metalwork to be touched is live to true earth", volts)
        after = self._after(visit)
        if after is not None and after.conditions != visit.conditions:
            for harm in self.witness.harms_of(visit.conditions, after.conditions):
                if (harm.home, harm.what) != (after.home, SUPPLY_LOST):  # switched off on purpose
                    yield harm
