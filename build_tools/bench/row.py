"""One line of the bench's table."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["BenchRow", "NotMeasured"]


class NotMeasured(Exception):
    """Something could not be measured; the text says why."""


@dataclass(frozen=True, slots=True)
class BenchRow:
    """What was measured: a ratio, what the project aims for, and the two things compared in words."""

    what: str
    ratio: float
    aim: str
    of: str
    unit: str = "x"

    @property
    def shown(self) -> str:
        """The figure with its unit."""
        return f"{self.ratio:.2f} {self.unit}"
