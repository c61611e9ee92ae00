"""A street solved by calc against the same street as a dense matrix, built and solved by numpy.

Both are given what can be found once for a street and kept: calc its order of removal, numpy the number of
each point. Ideal joins are merged for both. Before anything is timed the two must agree.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from build_tools.bench.row import BenchRow
from calc.circuit import EARTH, Branch, solve
from calc.street import PHASES, Electrode, Metalwork, Premises, Service, Span, Street, Supply, network

__all__ = ["measure"]

_TURNS = 400


def measure() -> list[BenchRow]:
    """How many times as long numpy takes as calc, its matrix built in either of two ways."""
    branches = tuple(network(_twelve_homes()).branches.values())
    rival = _Dense(branches)
    potential = solve(branches).potential
    volts = {
        name: (rival.by_entries()[at], rival.by_arrays()[at]) for name, at in rival.number.items() if at >= 0
    }
    if not all(np.allclose(both, potential(name), rtol=0, atol=1e-6) for name, both in volts.items()):
        raise ArithmeticError("calc and numpy do not agree on the street that is to be timed")
    ours, entries, arrays = _medians(lambda: solve(branches), rival.by_entries, rival.by_arrays)
    what = f"numpy's time over calc's, {len(branches)} branches, {rival.size} points"
    return [
        BenchRow(f"{what}, matrix built in Python", entries / ours, "above 1", _of(ours, entries)),
        BenchRow(f"{what}, matrix built by numpy", arrays / ours, "", _of(ours, arrays)),
    ]


def _of(ours: float, theirs: float) -> str:
    return f"calc {ours * 1e6:.0f} us, numpy {theirs * 1e6:.0f} us for one street of twelve homes"


def _medians(*solvers: Callable[[], object]) -> list[float]:
    """Median seconds of each, taken in turns so that a busy moment falls on all of them."""
    seconds: list[list[float]] = [[] for _ in solvers]
    for _ in range(_TURNS):
        for solver, times in zip(solvers, seconds, strict=True):
            began = time.perf_counter()
            solver()
            times.append(time.perf_counter() - began)
    return [statistics.median(times) for times in seconds]


class _Dense:
    """Nodal equations as a full matrix. Earth is point -1: the last row and column, left out when solving."""

    def __init__(self, branches: Sequence[Branch]) -> None:
        name_of = {point: point for branch in branches for point in (branch.start, branch.end)}
        for join in (branch for branch in branches if branch.impedance == 0):
            kept, gone = sorted((name_of[join.start], name_of[join.end]), key=lambda name: name != EARTH)
            name_of = {point: kept if name == gone else name for point, name in name_of.items()}
        numbers = {name: place for place, name in enumerate(sorted(set(name_of.values()) - {EARTH}))}
        self.number = {point: numbers.get(name, -1) for point, name in name_of.items()}
        self.size = len(numbers) + 1
        self.paths = [b for b in branches if b.impedance != 0 and np.isfinite(b.impedance)]
        self.starts = np.array([self.number[b.start] for b in self.paths])
        self.ends = np.array([self.number[b.end] for b in self.paths])

    def by_entries(self) -> NDArray[Any]:
        """Potentials of all points but earth; each branch adds its four entries."""
        matrix = np.zeros((self.size, self.size), np.complex128)
        injected = np.zeros(self.size, np.complex128)
        for branch in self.paths:
            start, end = self.number[branch.start], self.number[branch.end]
            admittance = 1 / branch.impedance
            matrix[start, start] += admittance
            matrix[end, end] += admittance
            matrix[start, end] -= admittance
            matrix[end, start] -= admittance
            injected[start] -= branch.emf * admittance
            injected[end] += branch.emf * admittance
        return np.linalg.solve(matrix[:-1, :-1], injected[:-1])

    def by_arrays(self) -> NDArray[Any]:
        """The same; the branches' figures are gathered into arrays and added all at once."""
        admittance = 1 / np.array([branch.impedance for branch in self.paths])
        driven = admittance * np.array([branch.emf for branch in self.paths])
        matrix = np.zeros((self.size, self.size), np.complex128)
        injected = np.zeros(self.size, np.complex128)
        for one, other in ((self.starts, self.ends), (self.ends, self.starts)):
            np.add.at(matrix, (one, one), admittance)
            np.subtract.at(matrix, (one, other), admittance)
        np.subtract.at(injected, self.starts, driven)
        np.add.at(injected, self.ends, driven)
        return np.linalg.solve(matrix[:-1, :-1], injected[:-1])


def _twelve_homes() -> Street:
    homes = [str(number) for number in range(2, 26, 2)]
    joints = ["substation", "J1", "J2", "J3", "J4"]
    phases = tuple(PHASES)
    return Street(
        title="A terrace of twelve homes on one water pipe",
        supply=Supply(rating_kva=315, impedance_percent=4.5, star_point_earth_ohm=1),
        mains=tuple(Span((near, far), 40, "mains-185-al-cne") for near, far in pairwise(joints)),
        premises={
            home: Premises(
                at=joints[1 + place // 3],
                service=Service(14, "service-25-cu-cne"),
                phases=(phases[place % 3],),  # type: ignore[arg-type]  # a key of PHASES is a Phase
                load_kw=(0.4 + 0.3 * place,),
            )
            for place, home in enumerate(homes)
        },
        metalwork=(Metalwork("water", "copper-22", tuple(homes), 7),),
        electrodes=(Electrode("J4", 15),),
    )
