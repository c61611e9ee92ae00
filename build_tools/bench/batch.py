"""Many streets of one layout, each with its own impedances: solved together, against scipy and OpenDSS.

scipy gets its matrix's pattern once and only fills in each street's figures; it factors and solves each.
OpenDSS is timed in two ways: each street with its own impedances, and one street solved again and again with
its factored matrix kept. The second is held against both things that calc does: many streets, which is more,
and many cases of one street, its elimination kept, with emfs of their own in sources and loads. Even that is
more, since OpenDSS solves one case over and over.
"""

from __future__ import annotations

import statistics
import time
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from scipy.sparse import csc_matrix
from scipy.sparse.linalg import splu

from build_tools.bench.builds import GUIDE
from build_tools.bench.power_flow import PowerFlow
from build_tools.bench.row import BenchRow
from build_tools.guide import loading
from build_tools.proof.street_batch import stacked
from calc.circuit import EARTH, Solution, solve
from calc.drawn_streets import draw
from calc.sampling import Layout, Sampling
from calc.street import Network, network

__all__ = ["measure"]

_STREETS = 400
_CASES = 1440
"""Of one street: the minutes of a day."""

_TURNS = 9

_TOLD = 40
"""Streets told to OpenDSS: telling is slow, and is not timed."""


def measure() -> list[BenchRow]:
    """Streets a second, together over one by one, at 12 and at 100 homes drawn as the shipped guide says."""
    sampling = loading.load(GUIDE).sampling
    assert sampling is not None
    return [row for homes in (12, 100) for row in _rows(sampling, homes)]


def _rows(sampling: Sampling, homes: int) -> list[BenchRow]:
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
    changing, keeping = _power_flow(many[:_TOLD], solved, rival.number)
    mine, a_case = ours / _STREETS, _kept(many[0])
    what = f"{homes} homes, {_STREETS} streets at once"
    told = f"{1 / mine:,.0f} streets a second together"
    return [
        BenchRow(
            what, theirs / ours, "at least 10", f"{told}, {_STREETS / theirs:,.0f} with scipy's sparse LU"
        ),
        BenchRow(what, changing / mine, "at least 1", f"{told}, {1 / changing:,.0f} with OpenDSS"),
        BenchRow(
            f"{what}, against one",
            keeping / mine,
            "",
            f"{told}, {1 / keeping:,.0f} times one and the same street with OpenDSS, its factor kept",
        ),
        BenchRow(
            f"{homes} homes, one street, {_CASES} cases at once",
            keeping / a_case,
            "at least 1",
            f"{1 / a_case:,.0f} cases a second with emfs of their own in sources and loads, "
            f"{1 / keeping:,.0f} times one and the same case with OpenDSS, its factor kept",
        ),
    ]


def _kept(street: Network) -> float:
    """calc's seconds for one of many cases of one street, its elimination kept, the median of some turns.
    Each source's emf changes from case to case, and each load has one: so does a load that takes the power it
    wants."""
    solved = street.solution
    sources = {name: branch.emf for name, branch in street.branches.items() if branch.emf != 0}
    loads = {name: 0j for name in street.branches if "/load." in name}
    emfs = {
        name: emf + np.linspace(-20, 20, _CASES, dtype=np.complex128)
        for name, emf in (sources | loads).items()
    }
    seconds = []
    for _ in range(_TURNS):
        began = time.perf_counter()
        cases = solved.with_emfs(emfs)
        seconds.append(time.perf_counter() - began)
    last = [replace(branch, emf=emfs[name][-1]) for name, branch in street.branches.items() if name in emfs]
    anew = street.changed(*last).solution
    if not all(np.allclose(cases.current(name)[-1], anew.current(name), rtol=1e-9) for name in loads):
        raise ArithmeticError("one of the cases that are timed is not the street solved anew")
    return statistics.median(seconds) / _CASES


def _power_flow(many: Sequence[Network], solved: Solution, number: Mapping[str, int]) -> tuple[float, float]:
    """OpenDSS's seconds for one street: with impedances of its own, and with the factor kept."""
    flow = PowerFlow(many[0], number)
    changing = keeping = 0.0
    for place, each in enumerate(many):
        flow.change(each)
        began = time.perf_counter()
        flow.solve()
        changed = time.perf_counter()
        flow.solve_again()
        keeping += time.perf_counter() - changed
        changing += changed - began
        volts = flow.potentials()
        points = [point for point in number if number[point] >= 0]
        expected = [np.broadcast_to(solved.potential(point), _STREETS)[place] for point in points]
        if not np.allclose([volts[number[point]] for point in points], expected, rtol=0, atol=1e-5):
            raise ArithmeticError("calc and OpenDSS do not agree on the streets that are to be timed")
    return changing / len(many), keeping / len(many)


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
