"""A tree walked over many streets at once: every state of the walk holds the streets that reach it.

Streets are the bits of whole numbers: to join, part and compare them costs next to nothing, so that what is
left to do is to find out once, for each thing that is asked, which streets leave by which exit.
"""

from __future__ import annotations

from collections import defaultdict, deque
from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol

from build_tools.guide import Exit, Node, Tree
from build_tools.proof.asks import Asks, asked_by
from build_tools.shapes import Step
from build_tools.walk import Visit, open_to_people
from build_tools.witness import Conditions
from calc.danger import METALWORK_LIVE, SUPPLY_LOST
from calc.work import done

__all__ = ["Streets", "Walk"]


class Streets(Protocol):
    """What a walk asks of the streets that it is walked over. Each answer is given in bits, one a street, and
    must be right for the streets of `here`, if it is given."""

    def leaving(self, asks: Asks, home: str, conditions: Conditions, here: int) -> Sequence[int]: ...
    def doors(self, started_at: str, gone_to: frozenset[str]) -> tuple[tuple[str, int], ...]: ...
    def live(self, home: str, conditions: Conditions, here: int) -> int: ...
    def raised(self, before: Conditions, after: Conditions, here: int) -> Iterable[tuple[str, str, int]]: ...


class Walk:
    """A search of every state that the walks can be in; `seen`: the streets that reach each."""

    def __init__(self, tree: Tree, streets: Streets, willing: bool) -> None:
        self.tree, self.streets, self.willing = tree, streets, willing
        self.ends: dict[str, int] = defaultdict(int)
        self.hurt: dict[tuple[str, str], int] = defaultdict(int)
        self.lost: dict[str, int] = defaultdict(int)
        self.seen: dict[Visit, int] = defaultdict(int)
        self._asks: dict[str, Asks | None] = {}
        self._open: dict[str, tuple[Exit, ...]] = {}

    def from_home(self, home: str, here: int) -> None:
        """As `from_visit`, from the start of the tree at a home."""
        self.from_visit(Visit(self.tree.start, home), home, here)

    def from_visit(self, first: Visit, home: str, here: int) -> None:
        """Walk on from a visit that began at a home until nothing new is reached, noting ends, harms and
        where no answer fits."""
        self.started_at = home
        self.seen.clear()
        coming, waiting = {first: here}, deque([first])
        while waiting:
            visit = waiting.popleft()
            fresh = coming.pop(visit) & ~self.seen[visit]
            if fresh:
                self.seen[visit] |= fresh
                certain = self.certain(visit, fresh)
                self._note(visit, certain, fresh)
                for after, streets in self.onward(visit, certain, fresh):
                    if after not in coming:
                        coming[after] = 0
                        waiting.append(after)
                    coming[after] |= streets

    def _note(self, visit: Visit, certain: list[tuple[Exit, int]], here: int) -> None:
        node = self.tree.nodes[visit.node]
        if node.kind == "outcome":
            self.ends[node.id] |= here
        elif node.kind == "step":
            for what, streets in self.harms(visit, here):
                self.hurt[node.id, what] |= streets
        else:
            lost = here
            for _, streets in certain:
                lost &= ~streets
            if lost:
                self.lost[node.id] |= lost

    def onward(self, visit: Visit, certain: list[tuple[Exit, int]], here: int) -> list[tuple[Visit, int]]:
        """Where the walk goes next, and the streets that go there."""
        node = self.tree.nodes[visit.node]
        if isinstance(node.spec, Step):
            (exit_,) = node.exits
            return [
                (after._replace(node=exit_.go), streets)
                for after, streets in self._after(visit, node.spec, here)
            ]
        _, home, gone_to, conditions = visit
        ways = [
            (Visit(exit_.go, home, gone_to, conditions), streets) for exit_, streets in certain if streets
        ]
        if not self.willing:
            ways += [(visit._replace(node=exit_.go), here) for exit_ in self._open_at(node)]
        return ways

    def _open_at(self, node: Node) -> tuple[Exit, ...]:
        if node.id not in self._open:
            self._open[node.id] = tuple(open_to_people(node))
        return self._open[node.id]

    def certain(self, visit: Visit, here: int) -> list[tuple[Exit, int]]:
        """The exits of a question or a reading, and the streets where what is there calls for them (every
        answer, where a question has no fact)."""
        node = self.tree.nodes[visit.node]
        if node.kind not in ("question", "reading"):
            return []
        if visit.node not in self._asks:
            self._asks[visit.node] = asked_by(node)
        asks = self._asks[visit.node]
        if asks is None:
            return [(exit_, here) for exit_ in node.exits]
        if asks.fact == "another-home-to-test":
            doors = self.streets.doors(self.started_at, visit.gone_to)
            more = here & sum(streets for _, streets in doors)  # no street has two next homes
            words = {"yes": more, "no": here & ~more}
            return [(exit_, words.get(exit_.is_ or "", 0)) for exit_ in node.exits]
        leaving = self.streets.leaving(asks, visit.home, visit.conditions, here)
        return [(exit_, here & streets) for exit_, streets in zip(node.exits, leaving, strict=True)]

    def harms(self, visit: Visit, here: int) -> Iterator[tuple[str, int]]:
        """What the step of a visit does that hurts. What is switched off on purpose is no harm."""
        step = self.tree.nodes[visit.node].spec
        assert isinstance(step, Step)
        if "touches-metalwork" in step.hazards:
            yield METALWORK_LIVE, here & self.streets.live(visit.home, visit.conditions, here)
        for after, streets in self._after(visit, step, here) if step.does else ():
            if after.conditions != visit.conditions:
                for home, what, new in self.streets.raised(visit.conditions, after.conditions, streets):
                    if (home, what) != (after.home, SUPPLY_LOST):
                        yield what, streets & new

    def _after(self, visit: Visit, step: Step, here: int) -> list[tuple[Visit, int]]:
        reached = [(visit, here)]
        for action in step.does:
            reached = [after for before in reached for after in self._acted(*before, action)]
        return reached

    def _acted(self, visit: Visit, here: int, action: str) -> list[tuple[Visit, int]]:
        if action == "go-next-door":
            return [
                (visit._replace(home=home, gone_to=visit.gone_to | {home}), here & streets)
                for home, streets in self.streets.doors(self.started_at, visit.gone_to)
                if here & streets
            ]
        if action == "come-back":
            return [(visit._replace(home=self.started_at), here)]
        return [(visit._replace(conditions=done(visit.conditions, action, visit.home)), here)]
