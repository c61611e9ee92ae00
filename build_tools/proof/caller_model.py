"""What callers notice on drawn streets, and where a call tree leads them.

A caller answers by what is so at home, and one time in twenty otherwise (`caller-errs`): any other answer,
each as likely as the next. What the model knows nothing of is answered as usual.

Mistakes of one caller are shared. Each answer hangs on a lot, a number from 0 to 1, that is drawn for the
street and the question; below `caller-errs` it is a mistake. Where a matter is asked again in other words,
the caller keeps the lot of the last time with the chance `caller-errs-again`, and has a lot of its own
otherwise. So one answer in twenty is wrong whatever was asked before, but who got a matter wrong gets it
wrong again far oftener: with 0.3, one time in three (0.3 + 0.7 * 0.05). What a question is about is its
`matter`; without one, what the caller answers it by, and of `other` the question itself.
"""

from __future__ import annotations

import hashlib
from collections import defaultdict, deque
from collections.abc import Callable, Mapping
from typing import Any, NamedTuple

import numpy as np

from build_tools.guide.models import Question
from build_tools.guide.trees import Node, Tree
from build_tools.proof.street_batch import Many, Mask, StreetBatch
from calc.circuit import EARTH
from calc.danger import HARMS, touched_points
from calc.sampling import Sampling
from calc.symptoms import OFF_BELOW_VOLTS, home_volts
from calc.work import done

__all__ = ["Caller", "Mistakes", "answers", "chance", "lot", "matter", "mistakes", "outcomes"]


class Mistakes(NamedTuple):
    """How callers err: the chance of a wrong answer, and the chance that a matter which is asked again is
    heard as it was the last time."""

    errs: float
    again: float = 0.0


def mistakes(sampling: Sampling) -> Mistakes:
    """How callers err, as a sampling states it."""
    errs, again = (sampling.spreads[name].chance or 0.0 for name in ("caller-errs", "caller-errs-again"))
    return Mistakes(errs, again)


class Caller:
    """What the callers of a batch notice: one in each street, at the home that is visited there.

    `visited`: the streets in which each home is the caller's.
    """

    def __init__(self, batch: StreetBatch, visited: dict[str, Mask]) -> None:
        self.batch, self.visited = batch, visited
        self.homes = list(batch.street.premises)
        self.senses = {
            name: np.array([each.caller[name] for each in batch.drawn]) for name in batch.drawn[0].caller
        }
        self._words: dict[str, Many] = {}
        self._noticed: dict[str, Mask] = {}
        self._lit: dict[str, Many] = {}

    def words(self, fact: str) -> Many:
        """The word of a fact of calc.symptoms.CALLERS in each street."""
        if fact not in self._words:
            self._words[fact] = self._word(fact)
        return self._words[fact]

    def _word(self, fact: str) -> Many:
        match fact:
            case "tingle":
                return np.where(self.noticed("tingle"), "felt", "none")
            case "lights":
                return self._of_visited(self.lights)
            case "neighbours":
                return np.where(self._beside(lambda home: self.lights(home) != "steady"), "yes", "no")
            case "neighbour":
                return np.where(self._beside(self._off) | self.noticed("off"), "off", "on")
            case "noticed":
                lights = self.words("lights")
                off = np.where(self.words("neighbour") == "off", "off", "steady")
                return np.where(self.noticed("tingle"), "tingle", np.where(lights == "steady", off, lights))
            case "danger":
                return np.where(self.noticed("tingle") | self.noticed("bright"), "yes", "no")
            case "other":
                return np.full(self.batch.size, "usual")
        raise KeyError(fact)

    def noticed(self, what: str) -> Mask:
        """The streets whose caller notices a tingle, bright or dim lights, or that the supply is off."""
        if what not in self._noticed:
            self._noticed[what] = self._notices(what)
        return self._noticed[what]

    def _notices(self, what: str) -> Mask:
        if what == "tingle":
            return self._of_visited(self._tingle)
        if what == "off":
            return self._of_visited(self._off)
        return np.equal(self.words("lights"), what)

    def in_danger(self) -> Mask:
        """The streets in which some harm stands at the caller's home."""
        return self._of_visited(
            lambda home: np.logical_or.reduce(
                [
                    np.broadcast_to(HARMS[what](volts), (self.batch.size,))
                    for what, volts in self.batch.measured(frozenset(), False)[home].items()
                ]
            )
        )

    def _tingle(self, home: str) -> Mask:
        felt: list[Mask] = []
        for later in (False, True):
            network = self.batch.worked(frozenset(), later)
            for metal in touched_points(network, home):
                through = self.senses["caller-body-ohm"] + network.solution.impedance_between(metal, EARTH)
                milliamps = abs(network.solution.volts(metal, EARTH) / through) * 1000
                felt.append(milliamps >= self.senses["caller-feels-ma"])
        tingles: Mask = np.logical_or.reduce(felt)
        return tingles

    def _off(self, home: str) -> Mask:
        off: Mask = self._volts(self.batch, home, later=False) < OFF_BELOW_VOLTS
        return off

    def lights(self, home: str) -> Many:
        """How the lights at a home are: steady, bright or dim."""
        if home not in self._lit:
            self._lit[home] = self._as_lit(home)
        return self._lit[home]

    def _as_lit(self, home: str) -> Many:
        """Against the usual volts at home, now and after loads have changed; a dip is dim."""
        sound, batch = self.batch.sound, self.batch
        above = [self._volts(batch, home, later) - self._volts(sound, home, later) for later in (False, True)]
        kettle = done(frozenset(), "switch-on-known-load", home)
        before = self._volts(batch, home, False)
        dips = before - self._volts(batch, home, False, kettle) > self.senses["caller-sees-dip"] * before
        sees = self.senses["caller-sees-volts"]
        off = before < OFF_BELOW_VOLTS
        bright = np.maximum(*above) >= sees
        dim = (np.minimum(*above) <= -sees) | dips
        return np.where(off, "steady", np.where(bright, "bright", np.where(dim, "dim", "steady")))

    def _volts(
        self, batch: StreetBatch, home: str, later: bool, conditions: frozenset[Any] = frozenset()
    ) -> Many:
        return np.broadcast_to(home_volts(batch.worked(conditions, later), home), (batch.size,))

    def _of_visited(self, of_home: Callable[[str], Many]) -> Many:
        """In each street what `of_home` gives for the home that is visited there."""
        (first, _), *others = ((home, here) for home, here in self.visited.items() if here.any())
        values = of_home(first)
        for home, here in others:
            values = np.where(here, of_home(home), values)
        return values

    def _beside(self, of_home: Callable[[str], Mask]) -> Mask:
        """Whether it is so at a home beside the caller's, or at one that shares its metalwork."""
        found = np.zeros(self.batch.size, bool)
        for home, here in self.visited.items():
            for other, is_beside in self.batch.beside(home).items():
                if (here & is_beside).any():
                    found |= here & is_beside & of_home(other)
        return found


def outcomes(tree: Tree, caller: Caller, seed: int, err: Mistakes) -> dict[str, Mask]:
    """The streets in which the call ends at each outcome of a call tree.

    Raises KeyError where what a caller says fits no answer.
    """
    batch = caller.batch
    ends: dict[str, Mask] = defaultdict(lambda: np.zeros(batch.size, bool))
    words: dict[str, Many] = {}
    start: _Stage = (tree.start, np.ones(batch.size, bool), frozenset(), {})
    waiting = deque([start])
    while waiting:
        name, here, been, lots = waiting.popleft()
        node = tree.nodes[name]
        if node.kind == "outcome":
            ends[name] |= here
        elif not isinstance(node.spec, Question):
            waiting.append((node.exits[0].go, here, been, lots))
        elif name not in been:
            fact = node.spec.caller or "other"
            words.setdefault(fact, caller.words(fact))
            drawn = lot(tree.id, node, batch, seed, err.again, lots)
            chosen = answers(node, words[fact], drawn, err.errs)
            since = {**lots, matter(node): drawn}
            waiting.extend(
                (exit_.go, here & (chosen == place), been | {name}, since)
                for place, exit_ in enumerate(node.exits)
                if (here & (chosen == place)).any()
            )
    return ends


_Stage = tuple[str, Mask, frozenset[str], Mapping[str, Many]]
"""Where some calls stand: the node, the streets, the questions asked, and the last lot of each matter."""


def matter(node: Node) -> str:
    """What a question is about, by which a second asking of it is known."""
    assert isinstance(node.spec, Question)
    fact = node.spec.caller or "other"
    return node.spec.matter or (node.id if fact == "other" else fact)


def lot(tree: str, node: Node, batch: StreetBatch, seed: int, again: float, last: Mapping[str, Many]) -> Many:
    """The lot of each street (0 to 1) at a question: the `last` one of its matter with the chance `again`,
    and else, or where the matter is new, one of its own."""
    own, before = chance(tree, node.id, batch, seed), last.get(matter(node))
    if before is None:
        return own
    return np.where(chance(tree, f"{node.id} again", batch, seed) < again, before, own)


def answers(node: Node, words: Many, lot: Many, errs: float) -> Many:
    """Which answer is given in each street: the first that stands for the word, or another by mistake."""
    right = np.full(words.shape, -1)
    for place, exit_ in reversed(list(enumerate(node.exits))):
        right[words == exit_.is_] = place
    if (right < 0).any():
        raise KeyError(f"{node.id}: no answer stands for {sorted(set(words[right < 0]))}")
    others = len(node.exits) - 1
    if not others:
        return right
    wrong = np.minimum((lot / errs * others).astype(int), others - 1) if errs else right
    return np.where(lot < errs, wrong + (wrong >= right), right)


def chance(tree: str, node: str, batch: StreetBatch, seed: int) -> Many:
    """A number from 0 to 1 for each street: the same for a street's number wherever it is computed."""
    key = int.from_bytes(hashlib.blake2b(f"{seed}/{tree}/{node}".encode(), digest_size=16).digest())
    numbers = np.array([each.number for each in batch.drawn])
    chances = np.random.Generator(np.random.Philox(key=key)).random(int(numbers.max()) + 1)
    return np.take(chances, numbers)
