"""The walks of one tree from one home of one street, told: every end and everything wrong, each by a shortest
way there."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property

from build_tools.guide.findings import Hop
from build_tools.guide.trees import Exit, Tree
from build_tools.walks.asked_exits import Asks
from build_tools.walks.many_faults import ManyFaults
from build_tools.walks.oracle import Conditions, Oracle
from build_tools.walks.walk import IN_WORDS, TOUCHED, Raised, Visit, Walk, Wrong
from calc.danger import Harm
from calc.instruments import as_display

__all__ = ["Ending", "Passage", "Trouble", "Ways"]

_HERE = 1
"""The one street, as the bits of a walk have it."""


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
    display: str = ""

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


@dataclass(frozen=True)
class Ways:
    """The walks of a tree from a home, as an oracle answers them."""

    tree: Tree
    oracle: Oracle
    home: str

    def endings(self) -> Iterator[Ending]:
        """Every outcome that a walk can reach: first where what is found leads, then where people may go
        besides, each the nearest first."""
        told = set()
        for walk in (self._found, self._open):
            for visit in walk.seen:
                if visit.node in walk.ends and visit.node not in told:
                    told.add(visit.node)
                    yield Ending(visit.node, walk.willing, self._way_to(walk, visit), visit)

    def troubles(self) -> Iterator[Trouble]:
        """Everything wrong, each by a shortest way."""
        for visit in self._open.seen:
            for wrong in self._wrong_at(visit):
                hops = tuple(passage.hop for passage in self._way_to(self._open, visit))
                yield Trouble(wrong.kind, visit.node, wrong.what, self._detail(visit, wrong), hops)

    def wrong_at(self, visit: Visit) -> Iterator[str]:
        """Each thing wrong where a walk stands, in words."""
        for wrong in self._wrong_at(visit):
            detail = self._detail(visit, wrong)
            yield f"{wrong.what}: {detail}" if detail and detail not in wrong.what else wrong.what

    @cached_property
    def _found(self) -> Walk:
        return self._walked(willing=True)

    @cached_property
    def _open(self) -> Walk:
        return self._walked(willing=False)

    def _walked(self, willing: bool) -> Walk:
        return self._faults.walk(self.tree, self.home, willing)

    @cached_property
    def _faults(self) -> ManyFaults:
        return ManyFaults([self.oracle])

    def _wrong_at(self, visit: Visit) -> list[Wrong]:
        certain = self._open.certain(visit, _HERE)
        return [wrong for wrong, _ in self._open.wrong_at(visit, certain, _HERE)]

    def _way_to(self, walk: Walk, visit: Visit) -> tuple[Passage, ...]:
        way: list[Passage] = []
        while step := walk.came_from[visit]:
            visit, exit_ = step
            way.append(self._passage(visit, exit_))
        return tuple(reversed(way))

    def _passage(self, visit: Visit, exit_: Exit) -> Passage:
        kind, asks = self.tree.nodes[visit.node].kind, self._open.asks_at(visit)
        if kind == "step":
            return Passage(visit, exit_, "done")
        if kind == "question" or asks is None:
            return Passage(visit, exit_, f"answered {exit_.label!r}")
        if not any(one is exit_ and here for one, here in self._open.certain(visit, _HERE)):
            return Passage(visit, exit_, IN_WORDS[exit_.kind])
        display = self._display(visit, asks)
        said = f"{asks.instrument} on {', '.join(asks.on)} shows {display}"
        if asks.before is not None:
            said += f", which was {self._display_of(asks, visit, asks.before)}"
        return Passage(visit, exit_, said, display)

    def _detail(self, visit: Visit, wrong: Wrong) -> str:
        asks = self._open.asks_at(visit)
        if wrong.harm:
            return str(self._measured(wrong.harm))
        if wrong.kind != "no-answer" or asks is None:
            return ""
        if asks.fact:
            return f"{asks.fact} is {self._word(visit, asks)!r}"
        return f"{asks.instrument} shows {self._display(visit, asks)}"

    def _display(self, visit: Visit, asks: Asks) -> str:
        return self._display_of(asks, visit, visit.conditions)

    def _display_of(self, asks: Asks, visit: Visit, conditions: Conditions) -> str:
        figure = self.oracle.reading(visit.home, conditions, asks.instrument, asks.on)
        return as_display(asks.instrument, figure).text

    def _word(self, visit: Visit, asks: Asks) -> str:
        if asks.fact == "another-home-to-test":
            return "yes" if self._faults.doors(self.home, visit.gone_to) else "no"
        return self.oracle.fact(asks.fact, visit.home, visit.conditions)

    def _measured(self, harm: Raised) -> Harm:
        """The harm with its volts."""
        if harm.what == TOUCHED:
            return Harm(harm.home, harm.what, self.oracle.metalwork_volts(harm.home, harm.before))
        harms = self.oracle.harms_of(harm.before, harm.after)
        return next(one for one in harms if (one.home, one.what) == (harm.home, harm.what))
