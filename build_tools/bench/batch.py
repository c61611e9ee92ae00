"""Many streets of one layout, each with its own impedances: solved together, against scipy one by one.

scipy gets its matrix's pattern once and only fills in each street's figures; it factors and solves each.
"""

from __future__ import annotations

import time
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from build_tools import guide
from build_tools.bench.row import Row
from build_tools.bench.site import GUIDE
from build_tools.proof.flock import stacked
from calc.bands import Layout, Sampling, draw
from calc.circuit import EARTH, solve
from calc.street import Network, network

__all__ = ["measure"]

_STREETS = 400


def measure() -> list[Row]:
    """Streets a second, together over one by one, at 12 and at 100 homes drawn as the shipped guide says."""
    sampling = guide.load(GUIDE).sampling
    assert sampling is not None
    return [_row(sampling, homes) for homes in (12, 100)]


def _row(sampling: Sampling, homes: int) -> Row:
    phases: Any = ("L1", "L2", "L3", "L1")
    layout = Layout("bench", tuple(phases for _ in range(homes // 4)))
    alike = Sampling(sampling.seed, _STREETS, (layout,), sampling.spreads)
    many = [network(draw(alike, number).street) for number in range(_STREETS)]
    together = stacked(many)
    solve(many[0].branches.values())  # the order of removal is found once for a layout
    began = time.perf_counter()
    solved = solve(together.branches.values())
    ours = time.perf_counter() - began
    rival = _Sparse(together)
    began = time.perf_counter()
    answers = [rival.solve(street) for street in range(_STREETS)]
    theirs = time.perf_counter() - began
    for point in ("1.MET", f"{homes}.N"):
        expected = [answer[rival.number[point]] for answer in answers]
        if not np.allclose(solved.potential(point), expected, rtol=1e-6, atol=1e-6):
            raise ArithmeticError("calc and scipy do not agree on the streets that are to be timed")
    of = f"{_STREETS / ours:,.0f} streets a second together, {_STREETS / theirs:,.0f} with scipy's sparse LU"
    return Row(f"{homes} homes, {_STREETS} streets at once", theirs / ours, "at least 10", of)


class _Sparse:
    """Nodal matrices of one pattern. Earth is left out."""

    def __init__(self, together: Network) -> None:
        name_of: dict[str, str] = {}
        branches = together.branches.values()
        for branch in branches:
            for point in (branch.start, branch.end):
                name_of.setdefault(point, point)
            if branch.tie[2]:
                kept, gone = name_of[branch.start], name_of[branch.end]
                if gone == EARTH:
                    kept, gone = gone, kept
                name_of = {point: kept if name == gone else name for point, name in name_of.items()}
        numbers = {name: place for place, name in enumerate(sorted(set(name_of.values()) - {EARTH}))}
        self.number = {point: numbers.get(name, -1) for point, name in name_of.items()}
        self.size = len(numbers)
        paths = [branch for branch in branches if not branch.tie[2]]
        shape = (_STREETS,)
        self.admittances = np.array([np.broadcast_to(b.admittance, shape) for b in paths], np.complex128)
        self.emfs = np.array([np.broadcast_to(b.emf, shape) for b in paths], np.complex128)
        self.starts = np.array([self.number[b.start] for b in paths])
        self.ends = np.array([self.number[b.end] for b in paths])
        start, end = self.starts >= 0, self.ends >= 0
        both = start & end
        self.parts = (start, end, both)
        self.rows = np.concatenate([self.starts[start], self.ends[end], self.starts[both], self.ends[both]])
        self.columns = np.concatenate(
            [self.starts[start], self.ends[end], self.ends[both], self.starts[both]]
        )

    def solve(self, street: int) -> Any:
        """Potentials of one street's points."""
        y = self.admittances[:, street]
        start, end, both = self.parts
        values = np.concatenate([y[start], y[end], -y[both], -y[both]])
        matrix = csc_matrix((values, (self.rows, self.columns)), shape=(self.size, self.size))
        driven = y * self.emfs[:, street]
        injected = np.zeros(self.size, np.complex128)
        np.subtract.at(injected, self.starts[start], driven[start])
        np.add.at(injected, self.ends[end], driven[end])
        return splu(matrix).solve(injected)
