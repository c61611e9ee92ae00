"""What pairs of faults on one street do to the walks of one tree, as evidence keeps it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

__all__ = ["PairsRow"]


@dataclass(frozen=True, slots=True)
class PairsRow:
    """What pairs of faults on one street do to the walks of one tree, whatever is answered on the way.

    `asked`: pairs, each walked from every home. `alone`: of these, those with a fault that hurts by itself.
    `hurt`: of the others, those in which some walk hurts or closes beside a danger. `kinds`: how many of
    these there are of each two kinds, the most first. `examples`: for each two kinds, in that order, one
    pair, the home that is visited and what is wrong.
    """

    tree: str
    street: str
    asked: int
    alone: int
    hurt: int
    kinds: tuple[tuple[str, int], ...]
    examples: tuple[str, ...]

    @classmethod
    def of(cls, row: Sequence[Any]) -> PairsRow:
        """A row as kept."""
        tree, street, asked, alone, hurt, kinds, examples = row
        told = tuple((name, times) for name, times in kinds)
        return cls(tree, street, asked, alone, hurt, told, tuple(examples))
