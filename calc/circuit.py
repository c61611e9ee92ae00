"""Steady-state phasor circuits of any shape, solved node by node.

A circuit is a list of branches between named points. Points that an ideal join (0 ohm) ties
together are one point; an open branch (infinite ohm) is no branch at all. Points are then removed
one at a time by the star-mesh transformation: a point with admittances y1..yn to its neighbours is
replaced by branches yi*yj/(y1+..+yn) between them, and its source current is shared out in the
same proportions. Nothing is ever subtracted, so an insulation leakage of microsiemens beside
busbars of kilosiemens keeps its digits.

The order of removal depends only on which points are tied to which. It is found once for each
shape and replayed, on `complex` numbers or on numpy arrays of many circuits of one shape. An open
branch is kept in the shape, with no admittance, so that a street needs one order for all the
conductors that may break; only where that leaves a part floating is an order found without it.
"""

from __future__ import annotations

import cmath
from collections.abc import Iterable, Mapping, Sequence
from copy import copy
from dataclasses import dataclass, field, replace
from functools import cached_property, lru_cache, reduce
from heapq import heapify, heappop, heappush
from operator import add
from typing import Any, TypeAlias

from calc.many import is_many, one_in_each_row, some, where

__all__ = ["EARTH", "OPEN", "OPENED_OHM", "Branch", "CircuitError", "Solution", "solve"]

EARTH = "earth"
"""The name of true earth: the point whose potential is zero."""

OPEN = complex("inf")
"""The impedance of a conductor that is not there."""

OPENED_OHM = 1e18
"""A conductor of a batch that is open in some of its circuits and whole in others, where it is open: far
above any insulation, so that it carries nothing that counts."""


class CircuitError(ValueError):
    """A circuit that has no answer, or a question it cannot answer; the text names the part."""


_NOTHING = 0j
"""The emf of a branch that has none, and the current into a point that no source reaches: known by identity,
so that the sums leave it out."""


@dataclass(frozen=True, slots=True)
class Branch:
    """One conductor, load or source between two points.

    `impedance` in ohms: 0 joins the points ideally, `OPEN` takes the branch away. `emf` in volts
    drives current from `start` to `end`. Current is counted from `start` to `end`. Impedance and
    emf may be numpy arrays (one entry for each of many circuits of the same shape, so none of them
    0 or `OPEN`). `admittance` in siemens is 0 for an open branch and infinite for an ideal join.
    Raises CircuitError for a negative resistance, a value that is not a number, an endless emf, or a
    source without impedance.
    """

    name: str
    start: str
    end: str
    impedance: Any = 0j
    emf: Any = _NOTHING
    admittance: Any = field(init=False, repr=False, compare=False)
    tie: tuple[str, str, bool] = field(init=False, repr=False, compare=False)
    """Its points and whether they are one: all of it that the order of removal depends on."""

    def __post_init__(self) -> None:
        joins, admittance = False, _of_many(self.impedance) if self.emf is _NOTHING else None
        if admittance is None:
            joins, admittance = self._looked_at()
        object.__setattr__(self, "admittance", admittance)
        object.__setattr__(self, "tie", (self.start, self.end, bool(joins)))

    def _looked_at(self) -> tuple[Any, Any]:
        """Whether it joins its points, and its admittance, once nothing is found wrong with it."""
        for what, value in (("impedance", self.impedance), ("emf", self.emf)):
            if some(value != value):
                raise CircuitError(f"{self.name}: {what} is not a number")
        if some(abs(self.emf) == cmath.inf):
            raise CircuitError(f"{self.name}: emf must be finite")
        if some(self.impedance.real < 0):
            raise CircuitError(f"{self.name}: resistance is below zero ({self.impedance} ohm)")
        joins, opens = self.impedance == 0, abs(self.impedance) == cmath.inf
        if not isinstance(self.impedance, (int, float, complex)):
            if some(joins) or some(opens):
                raise CircuitError(
                    f"{self.name}: a branch joins or is open in every circuit of a batch or in none"
                )
            joins = opens = False
        if joins and some(self.emf != 0):
            raise CircuitError(f"{self.name}: a source needs an impedance above 0 ohm")
        return joins, OPEN if joins else _NOTHING if opens else 1 / self.impedance

    @property
    def is_open(self) -> Any:
        """Whether it carries nothing: in which circuits, where there are many."""
        return abs(self.admittance) < 2 / OPENED_OHM

    def opened(self, broken: Any = True) -> Branch:
        """The same branch with its conductor broken; in a batch, in these circuits."""
        gap = OPENED_OHM if is_many(broken) else OPEN
        return replace(self, impedance=where(broken, gap, self.impedance))


def _of_many(impedance: Any) -> Any:
    """The admittances of many circuits' conductors of which nothing needs to be said; else nothing."""
    if not is_many(impedance):
        return None
    size = abs(impedance)
    if (
        size.min() > 0 and size.max() < cmath.inf and impedance.real.min() >= 0
    ):  # not so for what is no number
        return 1 / impedance
    return None


def _is_open(branch: Branch) -> bool:
    return isinstance(branch.admittance, complex) and branch.admittance == 0


def _plus(so_far: Any, more: Any) -> Any:
    """The sum, for which nothing need be added where there was nothing."""
    return more if so_far is _NOTHING else so_far + more


class Solution:
    """The potentials and currents of one solved circuit (or of a batch of one shape).

    Volts and amperes are r.m.s. phasors when the sources are.
    """

    def __init__(self, branches: Sequence[Branch], earth: str = EARTH) -> None:
        self.branches = {branch.name: branch for branch in branches}
        if len(self.branches) != len(branches):
            names = [branch.name for branch in branches]
            twice = next(name for name in names if names.count(name) > 1)
            raise CircuitError(f"two branches are called {twice!r}")
        self.earth = earth
        ties = tuple([branch.tie for branch in branches])
        self._plan = _plan(ties, frozenset(), earth)
        try:
            self._admittances, self._impedances = self._plan.eliminate(branches)
        except CircuitError:  # perhaps what only open branches reach: then it is an island
            opens = frozenset(place for place, branch in enumerate(branches) if _is_open(branch))
            self._plan = _plan(ties, opens, earth)
            self._admittances, self._impedances = self._plan.eliminate(branches)
        injected = self._plan.inject(branches)
        self._potentials = self._plan.substitute(self._admittances, self._impedances, injected)

    @property
    def islands(self) -> tuple[frozenset[str], ...]:
        """The parts of the circuit that have no path to earth, each as the names of its points."""
        return self._plan.islands

    def joined(self, a: str, b: str) -> bool:
        """Whether some path joins the two points. Raises CircuitError for a point that is not there."""
        return self._plan.island_between(a, b) is None

    def potential(self, point: str) -> Any:
        """Volts from `point` to earth. Raises CircuitError when the point floats."""
        return self.volts(point, self.earth)

    def volts(self, a: str, b: str) -> Any:
        """Volts of `a` against `b`. Raises CircuitError when no path joins them."""
        self._plan.require_path(a, b)
        return self._potentials[self._plan.index[a]] - self._potentials[self._plan.index[b]]

    def current(self, name: str) -> Any:
        """Amperes through the branch called `name`, from its start to its end; 0 when it is open.

        Raises CircuitError for an unknown name or for an ideal join, whose current is not determined.
        """
        branch = self._branch(name)
        if branch.tie[2]:
            raise CircuitError(f"{name} is an ideal join, so its current is not determined")
        return (self._drop(branch) + branch.emf) * branch.admittance

    def power(self, name: str) -> Any:
        """Complex volt-amperes taken by the branch called `name` (a source gives a negative figure)."""
        current = self.current(name)
        return self._drop(self._branch(name)) * current.conjugate()

    def impedance_between(self, a: str, b: str) -> Any:
        """Ohms seen between two points with every source replaced by its own impedance.

        Raises CircuitError when no path joins them.
        """
        return self.impedances_between([(a, b)])[0][0]

    def impedances_between(self, pairs: Sequence[tuple[str, str]]) -> list[list[Any]]:
        """Ohms between pairs of points, every source replaced by its own impedance: in each pair's row the
        volts that stand across it for each ampere driven into one pair's first point and out of its second.

        Raises CircuitError when no path joins the points of a pair.
        """
        for pair in pairs:
            self._plan.require_path(*pair)
        index, ways = self._plan.index, self._plan.ways_out
        steps = sorted(frozenset[int]().union(*(ways[index[point]] for pair in pairs for point in pair)))

        def across(driven: Iterable[tuple[tuple[str, str], Any]]) -> list[Any]:
            injected = [_NOTHING] * self._plan.size
            for (a, b), amperes in driven:
                injected[index[a]] = injected[index[a]] + amperes
                injected[index[b]] = injected[index[b]] - amperes
            potentials = self._plan.substitute(self._admittances, self._impedances, injected, steps)
            return [potentials[index[one]] - potentials[index[other]] for one, other in pairs]

        if alone := one_in_each_row(len(pairs), self._impedances):
            nothing = 0 * alone[0]
            return [list(volts + nothing) for volts in across(zip(pairs, alone, strict=True))]
        return [list(row) for row in zip(*(across([(pair, 1.0)]) for pair in pairs), strict=True)]

    def driven(self, start: str, end: str, amperes: complex) -> Solution:
        """The answer to one current alone, driven out of `start` and into `end`, with every source silent.

        Raises CircuitError when no path joins the two points.
        """
        self._plan.require_path(start, end)
        injected = [_NOTHING] * self._plan.size
        for point, current in ((start, -amperes), (end, amperes)):
            injected[self._plan.index[point]] = _plus(injected[self._plan.index[point]], current)
        silent = {
            name: branch if branch.emf is _NOTHING else replace(branch, emf=_NOTHING)
            for name, branch in self.branches.items()
        }
        return self._fed(silent, injected)

    def with_emfs(self, emfs: Mapping[str, Any]) -> Solution:
        """The answer with other emfs in the branches named, in volts; the other branches keep theirs.

        Impedances stay, so nothing is eliminated again: a case costs a fraction of `solve`, and arrays of
        many cases little more than one. Raises CircuitError for an unknown name, an ideal join that is given
        an emf, and an emf that is endless or not a number.
        """
        branches = self.branches | {name: replace(self._branch(name), emf=emf) for name, emf in emfs.items()}
        return self._fed(branches, self._plan.inject(tuple(branches.values())))

    def _fed(self, branches: dict[str, Branch], injected: list[Any]) -> Solution:
        """The same circuit, as it was eliminated, with other currents driven into its points."""
        fed = copy(self)
        fed.branches = branches
        fed._potentials = self._plan.substitute(self._admittances, self._impedances, injected)
        return fed

    def _branch(self, name: str) -> Branch:
        if name not in self.branches:
            raise CircuitError(f"no branch is called {name!r}")
        return self.branches[name]

    def _drop(self, branch: Branch) -> Any:
        """Volts of the branch's start against its end; no true figure where an open branch parts islands."""
        index = self._plan.index
        return self._potentials[index[branch.start]] - self._potentials[index[branch.end]]


def solve(branches: Iterable[Branch], earth: str = EARTH) -> Solution:
    """The solution of a circuit given as branches.

    >>> circuit = solve([Branch("source", "earth", "line", 1, 230), Branch("load", "line", "earth", 22)])
    >>> round(abs(circuit.current("load")), 6)
    10.0

    Raises CircuitError for two branches of one name or a part that no finite answer fits.
    """
    return Solution(tuple(branches), earth)


_Pairs: TypeAlias = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Removal:
    """One point taken out: its spokes to neighbours, and the mesh that replaces them."""

    point: int
    slots: tuple[int, ...]  # where the admittance of each spoke is kept
    spokes: _Pairs  # (neighbour, slot) of those whose neighbour is removed later
    mesh: tuple[tuple[int, _Pairs, _Pairs], ...]
    """For each spoke's slot those of the spokes after it, if any, each with the slot between neighbours:
    where something joins the two already, then where nothing does."""


@dataclass(frozen=True)
class _Plan:
    """The order in which the points of one shape of circuit are removed."""

    index: Mapping[str, int]
    size: int
    slots: int
    places: tuple[tuple[int, int, int, int], ...]  # (branch, slot, start, end) of each branch that carries
    removals: tuple[_Removal, ...]
    islands: tuple[frozenset[str], ...]
    names: tuple[str, ...]

    def eliminate(self, branches: Sequence[Branch]) -> tuple[list[Any], list[Any]]:
        """Admittances as they stood when each point was removed, and the impedance that they leave to each
        point: 1 over their sum."""
        admittances: list[Any] = [_NOTHING] * self.slots
        for position, slot, _, _ in self.places:
            admittances[slot] = _plus(admittances[slot], branches[position].admittance)
        of = admittances.__getitem__
        impedances: list[Any] = []
        for removal in self.removals:
            total = reduce(add, map(of, removal.slots))
            if some(total == 0) if type(total) is not complex else not total or not cmath.isfinite(total):
                raise CircuitError(
                    f"no finite answer at {self.names[removal.point]}: admittances sum to {total} siemens"
                )
            impedance = 1 / total
            for one, beside, alone in removal.mesh:
                share = admittances[one] * impedance
                for other, between in beside:
                    admittances[between] = admittances[between] + share * admittances[other]
                for other, between in alone:
                    admittances[between] = share * admittances[other]
            impedances.append(impedance)
        return admittances, impedances

    def inject(self, branches: Sequence[Branch]) -> list[Any]:
        """The current that sources drive into each point."""
        injected: list[Any] = [_NOTHING] * self.size
        for position, _, start, end in self.places:
            branch = branches[position]
            if branch.emf is not _NOTHING:
                driven = branch.emf * branch.admittance
                injected[start] = _plus(injected[start], -driven)
                injected[end] = _plus(injected[end], driven)
        return injected

    def substitute(
        self,
        admittances: list[Any],
        impedances: list[Any],
        injected: list[Any],
        steps: Sequence[int] | None = None,
    ) -> list[Any]:
        """Potential of every point for the currents injected. With `steps`, only of the points of these
        removals, which must be all that the currents pass."""
        taken = range(len(self.removals)) if steps is None else steps
        for step in taken:
            removal = self.removals[step]
            if injected[removal.point] is not _NOTHING:
                volts = injected[removal.point] * impedances[step]
                for neighbour, slot in removal.spokes:
                    injected[neighbour] = _plus(injected[neighbour], admittances[slot] * volts)
        potentials: list[Any] = [0j] * self.size
        for step in reversed(taken):
            removal = self.removals[step]
            drawn = injected[removal.point]
            for neighbour, slot in removal.spokes:
                drawn = _plus(drawn, admittances[slot] * potentials[neighbour])
            potentials[removal.point] = drawn * impedances[step]
        return potentials

    @cached_property
    def ways_out(self) -> list[frozenset[int]]:
        """For each point, its removal and all that follow from it: what is driven into the point passes these
        alone, and its potential depends on no other."""
        ways: list[frozenset[int]] = [frozenset()] * self.size
        for step, removal in reversed(list(enumerate(self.removals))):
            ways[removal.point] = frozenset({step}).union(*(ways[point] for point, _ in removal.spokes))
        return ways

    def require_path(self, a: str, b: str) -> None:
        """Raise CircuitError unless some path joins the two points."""
        island = self.island_between(a, b)
        if island is not None:
            floating, other = (a, b) if a in island else (b, a)
            raise CircuitError(
                f"{floating} floats: no path joins it to {other}, so the volts between them are set by "
                f"insulation leakage that this circuit does not state (it floats together with "
                f"{', '.join(sorted(island - {floating})) or 'nothing else'})"
            )

    def island_between(self, a: str, b: str) -> frozenset[str] | None:
        """The island that holds one of the two points and not the other."""
        for point in (a, b):
            if point not in self.index:
                raise CircuitError(f"no point is called {point!r}")
        return next((island for island in self.islands if (a in island) != (b in island)), None)


@lru_cache(maxsize=4096)
def _plan(ties: tuple[tuple[str, str, bool], ...], left_out: frozenset[int], earth: str) -> _Plan:
    """The plan for branches of these ties, but for those at the positions left out."""
    index, names = _merged(ties, earth)
    edges: dict[tuple[int, int], int] = {}
    around: list[dict[int, int]] = [{} for _ in names]

    def slot_between(one: int, other: int) -> int:
        key = (one, other) if one < other else (other, one)
        if key not in edges:
            edges[key] = around[one][other] = around[other][one] = len(edges)
        return edges[key]

    places = tuple(
        (position, slot_between(index[start], index[end]), index[start], index[end])
        for position, (start, end, _) in enumerate(ties)
        if position not in left_out and index[start] != index[end]
    )
    islands, references = _islands(index, around, earth)
    live = {point: set(neighbours) for point, neighbours in enumerate(around)}
    removals = []
    waiting = [(len(neighbours), -point) for point, neighbours in live.items() if point not in references]
    heapify(waiting)
    while waiting:  # the point with the fewest neighbours first, of several the last: it leaves fewer meshes
        neighbours, point = heappop(waiting)
        point = -point
        if point not in live or neighbours != len(live[point]):
            continue  # an older count of a point that has changed since
        near = sorted(live.pop(point))
        for neighbour in near:
            live[neighbour].discard(point)
        mesh = []
        for place, one in enumerate(near):
            beside: list[tuple[int, int]] = []
            alone: list[tuple[int, int]] = []
            for other in near[place + 1 :]:
                live[one].add(other)
                live[other].add(one)
                meshes = beside if other in around[one] else alone
                meshes.append((around[point][other], slot_between(one, other)))
            if beside or alone:
                mesh.append((around[point][one], tuple(beside), tuple(alone)))
        spokes = tuple((one, around[point][one]) for one in near)
        slots = tuple(slot for _, slot in spokes)
        removals.append(
            _Removal(point, slots, tuple(s for s in spokes if s[0] not in references), tuple(mesh))
        )
        for neighbour in set(near) - references:
            heappush(waiting, (len(live[neighbour]), -neighbour))
    return _Plan(index, len(names), len(edges), places, tuple(removals), islands, tuple(names))


def _merged(ties: tuple[tuple[str, str, bool], ...], earth: str) -> tuple[dict[str, int], list[str]]:
    """Number of each named point, ideal joins counted once, and a name for each number."""
    leader: dict[str, str] = {earth: earth}

    def find(point: str) -> str:
        while leader.setdefault(point, point) != point:
            leader[point] = point = leader[leader[point]]
        return point

    for start, end, joined in ties:
        one, other = find(start), find(end)
        if joined:
            kept, gone = (other, one) if other == earth else (one, other)
            leader[gone] = kept
    numbers: dict[str, int] = {find(earth): 0}
    for point in list(leader):
        numbers.setdefault(find(point), len(numbers))
    return {point: numbers[find(point)] for point in leader}, list(numbers)


def _islands(
    index: Mapping[str, int], around: Sequence[Mapping[int, int]], earth: str
) -> tuple[tuple[frozenset[str], ...], set[int]]:
    """Parts without a path to earth, and the point of each part whose potential is taken as zero."""
    part = [-1] * len(around)
    references = {index[earth]}
    for first in (index[earth], *range(len(around))):
        if part[first] >= 0:
            continue
        references.add(first)
        reached = [first]
        part[first] = first
        while reached:
            for neighbour in around[reached.pop()]:
                if part[neighbour] < 0:
                    part[neighbour] = first
                    reached.append(neighbour)
    floating = sorted(references - {index[earth]})
    islands = tuple(frozenset(name for name, number in index.items() if part[number] == f) for f in floating)
    return islands, references
