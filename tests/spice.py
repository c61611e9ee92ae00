"""The same circuit in ngspice: a netlist made from branches, one run, every potential and current.

Written apart from calc.circuit on purpose: it asks a branch only for its two points, its impedance and its
emf, and ties ideal joins together by itself.
"""

from __future__ import annotations

import cmath
import math
import os
import shutil
import struct
import subprocess
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from pathlib import Path

import pytest

from calc.circuit import Branch

OMEGA = 2 * math.pi * 50


@dataclass(frozen=True)
class Result:
    """Volts to earth of every point that a path joins to earth, amperes of every branch that carries,
    and the names of the points left out because no path joins them to earth."""

    volts: dict[str, complex]
    amperes: dict[str, complex]
    floating: frozenset[str]


def simulate(branches: Iterable[Branch], folder: Path, hertz: float = 50) -> Result:
    """One small-signal run at 50 Hz, or of the same coils and capacitors at another frequency, its files in
    `folder`. Under CI a missing ngspice is a failure."""
    program = shutil.which("ngspice")
    if not program:
        (pytest.fail if os.environ.get("CI") else pytest.skip)("ngspice is not installed")
    branches = list(branches)
    node_of = _merged(branch for branch in branches if branch.impedance == 0)
    paths = [b for b in branches if b.impedance != 0 and not cmath.isinf(b.impedance)]
    reached = _reached((node_of(b.start), node_of(b.end)) for b in paths)
    paths = [b for b in paths if node_of(b.start) in reached and node_of(b.start) != node_of(b.end)]
    places = {node: place for place, node in enumerate(sorted(reached - {"earth"}), start=1)} | {"earth": 0}
    (folder / "street.cir").write_text(_netlist(paths, lambda point: places[node_of(point)], hertz), "utf-8")
    run = subprocess.run(
        [program, "-b", "street.cir"], cwd=folder, capture_output=True, text=True, timeout=60
    )
    assert "singular" not in run.stdout + run.stderr, run.stderr
    values = _vectors((folder / "street.raw").read_bytes()) | {"v(n0)": 0j}
    points = {point for branch in branches for point in (branch.start, branch.end)}
    grounded = {point for point in points if node_of(point) in reached}
    return Result(
        volts={point: values[f"v(n{places[node_of(point)]})"] for point in grounded},
        amperes={branch.name: values[f"i(v{place})"] for place, branch in enumerate(paths)},
        floating=frozenset(points - grounded),
    )


def _merged(joins: Iterable[Branch]) -> Callable[[str], str]:
    """A function from a point to the one name for all points ideally joined to it: `earth`, or the first."""
    groups: dict[str, set[str]] = {}
    for join in joins:
        together = groups.get(join.start, {join.start}) | groups.get(join.end, {join.end})
        groups.update(dict.fromkeys(together, together))
    return lambda point: min(groups.get(point, {point}), key=lambda name: (name != "earth", name))


def _reached(pairs: Iterable[tuple[str, str]]) -> set[str]:
    """The nodes that some path joins to earth."""
    pairs, reached, found = list(pairs), set[str](), {"earth"}
    while found:
        reached |= found
        found = {node for pair in pairs if reached & set(pair) for node in pair} - reached
    return reached


def _netlist(paths: Sequence[Branch], place_of: Callable[[str], int], hertz: float) -> str:
    """Each branch as a source (its ammeter too, of 0 V where it drives nothing), R, and L or C in series."""
    lines = ["* a street"]
    for place, branch in enumerate(paths):
        # Written from start to end, a SPICE source counts current as the branch does and emf the other way.
        size, angle = cmath.polar(-complex(branch.emf))
        impedance = complex(branch.impedance)
        chain = [f"V{place} {{}} {{}} dc 0 ac {size!r} {math.degrees(angle)!r}"]
        if impedance.real:
            chain.append(f"R{place} {{}} {{}} {impedance.real!r}")
        if impedance.imag > 0:
            chain.append(f"L{place} {{}} {{}} {impedance.imag / OMEGA!r}")
        elif impedance.imag < 0:
            chain.append(f"C{place} {{}} {{}} {-1 / (OMEGA * impedance.imag)!r}")
        middle = [f"m{place}_{step}" for step in range(1, len(chain))]
        ends = pairwise([f"n{place_of(branch.start)}", *middle, f"n{place_of(branch.end)}"])
        lines += [part.format(*pair) for part, pair in zip(chain, ends, strict=True)]
    lines += ["Vearth n0 0 dc 0 ac 0", ".control", "set filetype=binary", f"ac lin 1 {hertz} {hertz}"]
    return "\n".join([*lines, "write street.raw", ".endc", ".end", ""])


def _vectors(raw: bytes) -> dict[str, complex]:
    """Every vector, by name, of a binary raw file that holds one point; every bit of its numbers is kept."""
    header, _, body = raw.partition(b"Binary:\n")
    _, _, variables = header.decode().partition("Variables:\n")
    names = [line.split()[1] for line in variables.splitlines() if line.strip()]
    return dict(zip(names, (complex(*pair) for pair in struct.iter_unpack("2d", body)), strict=True))
