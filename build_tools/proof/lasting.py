"""A batch of streets as it stands for a while: what each state costs a minute, and where its joints are.

Asked again by every tree, law and crew, so all of it is kept.
"""

from __future__ import annotations

import itertools
import math
import random
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np

from build_tools.proof.caller_model import Caller, chance
from build_tools.proof.counting import visited_streets
from build_tools.proof.street_batch import Many, StreetBatch, bits_of
from calc.exposure import EXPOSURES, street_exposure
from calc.faults import KINDS
from calc.minutes import Minutes
from calc.symptoms import CALLERS

__all__ = ["Lasting", "joint_of"]


@dataclass
class Lasting:
    """A batch as it stands for a while: what each state costs a minute, kept for every tree and law."""

    batch: StreetBatch
    minutes: Minutes
    _costs: dict[tuple[bool, frozenset[Any]], Many] = field(default_factory=dict, repr=False)
    _told: dict[str, dict[str, int]] = field(default_factory=dict, repr=False)
    _lots: dict[tuple[str, str, int], list[int]] = field(default_factory=dict, repr=False)
    _amperes: dict[frozenset[Any], Many] = field(default_factory=dict, repr=False)

    def costs(self, conditions: frozenset[Any], bad: bool = True) -> Many:
        """Persons exposed, by kind (in the order of EXPOSURES) and street, with the joint bad or good."""
        key = (bad, conditions)
        if key not in self._costs:
            batch, sound = self.batch if bad else self.batch.sound, self.batch.sound.base
            exposed = street_exposure(batch.worked(conditions), self.minutes.people, sound)
            self._costs[key] = np.array(
                [np.broadcast_to(np.asarray(exposed[kind], float), (batch.size,)) for kind in EXPOSURES]
            )
        return self._costs[key]

    @cached_property
    def joints(self) -> tuple[str, ...] | None:
        """The conductor that the fault is in at each of its places; None where it is not in one conductor."""
        return joint_of(self.batch)

    def amperes(self, conditions: frozenset[Any]) -> Many:
        """What the joint carries in each street when it is sound."""
        if conditions not in self._amperes:
            assert self.joints is not None
            solution = self.batch.sound.worked(conditions).solution
            of_places = [
                np.broadcast_to(abs(solution.current(name)), self.batch.size) for name in self.joints
            ]
            self._amperes[conditions] = np.choose(self.batch.place, of_places)
        return self._amperes[conditions]

    def turns(self, law: str, until: float, seed: int) -> tuple[Many, ...]:
        """When the joint of each street turns by a law: the first turn of each, the second, and so on,
        infinite where there is none."""
        each = [
            self.minutes.laws[law].turns(random.Random(f"{seed}/{drawn.number}/joint/{law}"), until)
            for drawn in self.batch.drawn
        ]
        padded = itertools.zip_longest(*each, fillvalue=math.inf)
        return tuple(np.array(column) for column in padded)

    def told(self, what: str) -> dict[str, int]:
        """Each word that callers say of one of calc.symptoms.CALLERS, who noticed what the fault does, and
        the streets where they do."""
        if what not in self._told:
            words = self._caller.words(what)
            self._told[what] = {word: bits_of(words == word) for word in CALLERS[what]}
        return self._told[what]

    @cached_property
    def _caller(self) -> Caller:
        return Caller(self.batch, visited_streets(self.batch))

    def lots(self, tree: str, node: str, seed: int, of: int) -> list[int]:
        """The streets parted into so many at random, for one node of a tree."""
        key = (tree, node, of)
        if key not in self._lots:
            lots = (chance(tree, node, self.batch, seed) * of).astype(int)
            self._lots[key] = [bits_of(lots == lot) for lot in range(of)]
        return self._lots[key]

    @cached_property
    def near(self) -> dict[str, int]:
        """For each home, the streets in which what is done there shakes the joint: the homes whose own
        conductors the fault is in."""
        homes = [self.batch.fault(number).homes(self.batch.street) for number in range(self.batch.size)]
        return {
            home: bits_of(np.array([home in each for each in homes])) for home in self.batch.street.premises
        }


def joint_of(batch: StreetBatch) -> tuple[str, ...] | None:
    """The conductor that a batch's kind of fault changes at each place; None where it is not just one."""
    kind, base = KINDS[batch.kind], batch.sound.base
    names = []
    for fault in batch.faults:
        changed = kind.change(base, fault.at, kind.ohm or 0.0).branches
        moved = [name for name, branch in changed.items() if branch is not base.branches.get(name)]
        if len(moved) != 1 or moved[0] not in base.branches:
            return None
        names += moved
    return tuple(names)
