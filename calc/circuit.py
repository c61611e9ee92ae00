"""Steady-state phasor circuits of any shape, solved node by node.

A circuit is a list of branches between named points. Points that an ideal join (0 ohm) ties
together are one point; an open branch (infinite ohm) is no branch at all. Points are then removed
one at a time by the star-mesh transformation: a point with admittances y1..yn to its neighbours is
replaced by branches yi*yj/(y1+..+yn) between them, and its source current is shared out in the
same proportions. Nothing is ever subtracted, so an insulation leakage of microsiemens beside
busbars of kilosiemens keeps its digits.

The order of removal depends only on which points are tied to which. It is found once for each
shape and replayed, on `complex` numbers or on numpy arrays of many circuits of one shape.
"""

from __future__ import annotations

import cmath
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from heapq import heapify, heappop, heappush
from typing import Any

__all__ = ["EARTH", "OPEN", "Branch", "CircuitError", "Solution", "solve"]

EARTH = "earth"
"""The name of true earth: the point whose potential is zero."""

OPEN = complex("inf")
"""The impedance of a conductor that is not there."""


class CircuitError(ValueError):
    """A circuit that has no answer, or a question it cannot answer; the text names the part."""


@dataclass(frozen=True, slots=True)
class Branch:
    """One conductor, load or source between two points.

    `impedance` in ohms: 0 joins the points ideally, `OPEN` takes the branch away. `emf` in volts
    drives current from `start` to `end`. Current is counted from `start` to `end`. Impedance and
    emf may be numpy arrays (one entry for each of many circuits of the same shape).
    Raises CircuitError for a negative resistance, a value that is not a number, or a source
    without impedance.
    """

    name: str
    start: str
    end: str
    impedance: Any = 0j
    emf: Any = 0j

    def __post_init__(self) -> None:
        for what, value in (("impedance", self.impedance), ("emf", self.emf)):
            if isinstance(value, (int, float, complex)) and cmath.isnan(value):
                raise CircuitError(f"{self.name}: {what} is not a number")
        if not isinstance(self.impedance, (int, float, complex)):
            return
        if complex(self.impedance).real < 0:
            raise CircuitError(f"{self.name}: resistance is below zero ({self.impedance:g} ohm)")
        if self.impedance == 0 and not (isinstance(self.emf, (int, float, complex)) and self.emf == 0):
            raise CircuitError(f"{self.name}: a source needs an impedance above 0 ohm")


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
        self._plan = _plan(tuple((b.start, b.end, _shape(b)) for b in branches), earth)
        admittances, injected = self._plan.gather(branches)
        self._admittances, self._totals = self._plan.eliminate(admittances)
        self._potentials = self._plan.substitute(self._admittances, self._totals, injected)

    @property
    def islands(self) -> tuple[frozenset[str], ...]:
        """The parts of the circuit that have no path to earth, each as the names of its points."""
        return self._plan.islands

    def potential(self, point: str) -> Any:
        """Volts from `point` to earth. Raises CircuitError when the point floats."""
        return self.volts(point, self.earth)

    def volts(self, a: str, b: str) -> Any:
        """Volts of `a` against `b`. Raises CircuitError when no path joins them."""
        self._plan.require_path(a, b)
        return self._at(self._potentials, a) - self._at(self._potentials, b)

    def current(self, name: str) -> Any:
        """Amperes through the branch called `name`, from its start to its end; 0 when it is open.

        Raises CircuitError for an unknown name or for an ideal join, whose current is not determined.
        """
        branch = self.branches.get(name)
        if branch is None:
            raise CircuitError(f"no branch is called {name!r}")
        match _shape(branch):
            case "open":
                return 0j
            case "join":
                raise CircuitError(f"{name} is an ideal join, so its current is not determined")
        drop = self._at(self._potentials, branch.start) - self._at(self._potentials, branch.end)
        return (drop + branch.emf) / branch.impedance

    def power(self, name: str) -> Any:
        """Complex volt-amperes taken by the branch called `name` (a source gives a negative figure)."""
        branch = self.branches[name]
        current = self.current(name)
        return (self._at(self._potentials, branch.start) - self._at(self._potentials, branch.end)) * (
            current.conjugate()
        )

    def impedance_between(self, a: str, b: str) -> Any:
        """Ohms seen between two points with every source replaced by its own impedance.

        Raises CircuitError when no path joins them.
        """
        self._plan.require_path(a, b)
        injected = [0j] * self._plan.size
        injected[self._plan.index[a]] += 1.0
        injected[self._plan.index[b]] -= 1.0
        potentials = self._plan.substitute(self._admittances, self._totals, injected)
        return self._at(potentials, a) - self._at(potentials, b)

    def _at(self, potentials: Sequence[Any], point: str) -> Any:
        return potentials[self._plan.index[point]]


def solve(branches: Iterable[Branch], earth: str = EARTH) -> Solution:
    """The solution of a circuit given as branches.

    >>> circuit = solve([Branch("source", "earth", "line", 1, 230), Branch("load", "line", "earth", 22)])
    >>> round(abs(circuit.current("load")), 6)
    10.0

    Raises CircuitError for two branches of one name or a part that no finite answer fits.
    """
    return Solution(tuple(branches), earth)


def _shape(branch: Branch) -> str:
    impedance = branch.impedance
    if not isinstance(impedance, (int, float, complex)):
        return "path"
    if impedance == 0:
        return "join"
    return "open" if cmath.isinf(impedance) else "path"


@dataclass(frozen=True, slots=True)
class _Removal:
    """One point taken out: its spokes to neighbours, and the mesh that replaces them."""

    point: int
    spokes: tuple[tuple[int, int], ...]  # (neighbour, slot of the admittance)
    mesh: tuple[tuple[int, int, int], ...]  # (slot of spoke i, slot of spoke j, slot between the neighbours)


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

    def gather(self, branches: Sequence[Branch]) -> tuple[list[Any], list[Any]]:
        """Admittance of each slot and current injected at each point."""
        admittances: list[Any] = [0j] * self.slots
        injected: list[Any] = [0j] * self.size
        for position, slot, start, end in self.places:
            branch = branches[position]
            admittance = 1 / branch.impedance
            admittances[slot] = admittances[slot] + admittance
            if branch.emf is not _NO_EMF:
                driven = branch.emf * admittance
                injected[start] = injected[start] - driven
                injected[end] = injected[end] + driven
        return admittances, injected

    def eliminate(self, admittances: list[Any]) -> tuple[list[Any], list[Any]]:
        """Admittances as they stood when each point was removed, and the sum at each point."""
        totals: list[Any] = []
        for removal in self.removals:
            total = sum([admittances[slot] for _, slot in removal.spokes])
            if type(total) is complex and (total == 0 or not cmath.isfinite(total)):
                raise CircuitError(
                    f"no finite answer at {self.names[removal.point]}: admittances sum to {total:g} siemens"
                )
            for one, other, between in removal.mesh:
                admittances[between] = admittances[between] + admittances[one] * admittances[other] / total
            totals.append(total)
        return admittances, totals

    def substitute(self, admittances: list[Any], totals: list[Any], injected: list[Any]) -> list[Any]:
        """Potential of every point for the currents injected."""
        for removal, total in zip(self.removals, totals, strict=True):
            share = injected[removal.point] / total
            for neighbour, slot in removal.spokes:
                injected[neighbour] = injected[neighbour] + admittances[slot] * share
        potentials: list[Any] = [0j] * self.size
        for removal, total in zip(reversed(self.removals), reversed(totals), strict=True):
            drawn = injected[removal.point]
            for neighbour, slot in removal.spokes:
                drawn = drawn + admittances[slot] * potentials[neighbour]
            potentials[removal.point] = drawn / total
        return potentials

    def require_path(self, a: str, b: str) -> None:
        """Raise CircuitError unless some path joins the two points."""
        for point in (a, b):
            if point not in self.index:
                raise CircuitError(f"no point is called {point!r}")
        for island in self.islands:
            if (a in island) != (b in island):
                floating, other = (a, b) if a in island else (b, a)
                raise CircuitError(
                    f"{floating} floats: no path joins it to {other}, so the volts between them are set by "
                    f"insulation leakage that this circuit does not state (it floats together with "
                    f"{', '.join(sorted(island - {floating})) or 'nothing else'})"
                )


_NO_EMF: Any = Branch.__dataclass_fields__["emf"].default


@lru_cache(maxsize=4096)
def _plan(shape: tuple[tuple[str, str, str], ...], earth: str) -> _Plan:
    index, names = _merged(shape, earth)
    edges: dict[tuple[int, int], int] = {}
    around: list[dict[int, int]] = [{} for _ in names]

    def slot_between(one: int, other: int) -> int:
        key = (one, other) if one < other else (other, one)
        if key not in edges:
            edges[key] = around[one][other] = around[other][one] = len(edges)
        return edges[key]

    places = tuple(
        (position, slot_between(index[start], index[end]), index[start], index[end])
        for position, (start, end, kind) in enumerate(shape)
        if kind == "path" and index[start] != index[end]
    )
    islands, references = _islands(index, around, earth)
    live = {point: set(neighbours) for point, neighbours in enumerate(around)}
    removals = []
    waiting = [(len(neighbours), point) for point, neighbours in live.items() if point not in references]
    heapify(waiting)
    while waiting:  # the point with the fewest neighbours first
        neighbours, point = heappop(waiting)
        if point not in live or neighbours != len(live[point]):
            continue  # an older count of a point that has changed since
        near = sorted(live.pop(point))
        for neighbour in near:
            live[neighbour].discard(point)
        mesh = []
        for place, one in enumerate(near):
            for other in near[place + 1 :]:
                between = slot_between(one, other)
                live[one].add(other)
                live[other].add(one)
                mesh.append((around[point][one], around[point][other], between))
        removals.append(_Removal(point, tuple((one, around[point][one]) for one in near), tuple(mesh)))
        for neighbour in set(near) - references:
            heappush(waiting, (len(live[neighbour]), neighbour))
    return _Plan(index, len(names), len(edges), places, tuple(removals), islands, tuple(names))


def _merged(shape: tuple[tuple[str, str, str], ...], earth: str) -> tuple[dict[str, int], list[str]]:
    """Number of each named point, ideal joins counted once, and a name for each number."""
    leader: dict[str, str] = {earth: earth}

    def find(point: str) -> str:
        while leader.setdefault(point, point) != point:
            leader[point] = point = leader[leader[point]]
        return point

    for start, end, kind in shape:
        one, other = find(start), find(end)
        if kind == "join":
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
