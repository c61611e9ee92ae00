"""What is counted of the promises: one case a promise, tree and kind of fault."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

__all__ = ["ANY", "Case", "Counts"]

ANY = "any"
"""In place of a kind of fault: all that a promise of call trees speaks of, taken together."""


@dataclass(frozen=True, slots=True, order=True)
class Case:
    """One row of the evidence: a promise, a tree and a kind of fault. `detail`, where there is one: the wrong
    answer that hurt, or the outcome that a healthy street came to instead of a closed job."""

    promise: str
    tree: str
    fault: str
    detail: str = ""


Counts = Counter[tuple[Case, str]]
"""For each case how many streets were `asked`, and for how many of them it `happened`."""
