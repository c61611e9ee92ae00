"""The third harmonic beside the fundamental: the same circuit at three times its frequency.

The supply makes none. The loads of a home that has a share of it drive its current and let none pass; a
third of a turn at 50 Hz is a whole turn at 150 Hz, so that what the three lines carry adds in the neutral.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from calc.circuit import OPEN, Branch, Solution, solve
from calc.many import is_many, where
from calc.settling import SOURCE_OHM

__all__ = ["third_harmonic"]


def third_harmonic(fundamental: Solution, shares: Mapping[str, Any]) -> Solution:
    """The answer at the third harmonic: amperes and volts of that frequency alone.

    `shares` holds, for a home, its loads' third harmonic over their fundamental current; each current stands
    at three times the angle of its fundamental, as in loads of one kind. Loads without a share and the known
    load are impedances; generation gives and takes none.
    """
    return solve([_at_third(branch, fundamental, shares) for branch in fundamental.branches.values()])


def _at_third(branch: Branch, fundamental: Solution, shares: Mapping[str, Any]) -> Branch:
    home, _, part = branch.name.partition("/")
    ends = (branch.name, branch.start, branch.end)
    if part.startswith("generation."):
        return Branch(*ends, OPEN)
    if not is_many(branch.impedance) and branch.impedance in (0, OPEN):
        return branch
    impedance = _faster(branch.impedance)
    if not part.startswith("load.") or home not in shares:
        return Branch(*ends, impedance)
    current, share = fundamental.current(branch.name), shares[home]
    size = abs(current)
    turned = current**3 / where(size > 0, size, 1.0) ** 2
    drives = share > 0
    return Branch(*ends, where(drives, SOURCE_OHM, impedance), where(drives, share * turned * SOURCE_OHM, 0j))


def _faster(impedance: Any) -> Any:
    """The impedance at three times the frequency: a coil's threefold, a capacitor's a third."""
    reactance = impedance.imag
    return impedance.real + 1j * where(reactance < 0, reactance / 3, reactance * 3)
