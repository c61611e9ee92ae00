"""A street of one layout in OpenDSS, a general library of power flow, which keeps its factored matrix.

Only its solving is timed: telling it the impedances of a street, a command each, is not.
"""

from __future__ import annotations

import cmath
from collections.abc import Mapping

import opendssdirect as dss

from calc.circuit import OPENED_OHM, Branch
from calc.street import Network

__all__ = ["PowerFlow"]


class PowerFlow:
    """One network told to OpenDSS. `number` gives each point its number: equal where ideal joins make two
    points one, -1 for earth."""

    def __init__(self, network: Network, number: Mapping[str, int]) -> None:
        self.number = number
        names = [name for name, branch in network.branches.items() if branch.emf != 0]
        self.names = {name: f"vsource.s{place}" for place, name in enumerate(names)}
        self.names[names[0]] = "vsource.source"
        dss.Text.Command("clear")
        dss.Text.Command("new circuit.street")
        dss.Text.Command("set defaultbasefrequency=50")
        for place, (name, branch) in enumerate(network.branches.items()):
            if number[branch.start] != number[branch.end]:
                verb = "edit" if name == names[0] else "new"
                element = self.names.setdefault(name, f"reactor.r{place}")
                buses = f"bus1={self._bus(branch.end)} bus2={self._bus(branch.start)} phases=1 basefreq=50"
                dss.Text.Command(f"{verb} {element} {buses} {_figures(branch)}")
        dss.Text.Command("set controlmode=off")

    def change(self, network: Network) -> None:
        """Give every branch the impedance and emf that it has in another network of the same layout."""
        for name, element in self.names.items():
            dss.Text.Command(f"edit {element} {_figures(network.branches[name])}")

    def solve(self) -> None:
        """Solve; the matrix is built and factored again when, and only when, an impedance has changed."""
        dss.Solution.Solve()

    def solve_again(self) -> None:
        """Solve the same street with its factored matrix kept: loads are impedances, so in one step."""
        dss.Solution.SolveDirect()

    def potentials(self) -> dict[int, complex]:
        """Volts to earth of each numbered point."""
        names, parts = dss.Circuit.AllNodeNames(), dss.Circuit.AllBusVolts()
        volts = map(complex, parts[::2], parts[1::2])
        return {int(name.split(".")[0].removeprefix("p")): v for name, v in zip(names, volts, strict=True)}

    def _bus(self, point: str) -> str:
        number = self.number[point]
        return "p0.0" if number < 0 else f"p{number}.1"


def _figures(branch: Branch) -> str:
    """A branch's impedance, and its emf where it is a source, as OpenDSS writes them."""
    z = complex(branch.impedance if cmath.isfinite(branch.impedance) else OPENED_OHM)
    if branch.emf == 0:
        return f"R={z.real!r} X={z.imag!r}"
    volts, angle = cmath.polar(branch.emf)
    pushes = f"basekv={volts / 1000!r} pu=1 angle={angle * 180 / cmath.pi!r} frequency=50"
    return f"{pushes} R1={z.real!r} X1={z.imag!r} R0={z.real!r} X0={z.imag!r}"
