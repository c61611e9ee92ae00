"""What moves a measured figure, in words: each judged spread put towards its ends, and the worst corner."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass

from build_tools.proof.detection_table import SeenRow
from build_tools.proof.doubts import LAYOUT, End
from build_tools.proof.evidence import Evidence, Row
from build_tools.proof.moved import Corner
from calc.sampling import Sampling

__all__ = ["Judged"]

_TOLD = 4
"""Spreads that are told of one figure, those that move it most."""

_MANY_UNKNOWN = 0.25
"""Where so many of the ends are not known, that none is seen to move a figure says nothing."""


@dataclass(frozen=True, slots=True)
class Judged:
    """How the rows of an evidence move, as pages say it."""

    sampling: Sampling
    evidence: Evidence

    def span(self, row: Row | SeenRow) -> str:
        """The least and the greatest share by judgement, or that none is seen to move, or too few to know."""
        if row.moved.ends:
            low, high = row.moved.between(row.share)
            return f"{_percent(low)} to {_percent(high)} %"
        few = len(row.moved.unknown) >= len(self.evidence.ends) * _MANY_UNKNOWN
        return "not known" if few else "no move seen"

    def most(self, row: Row | SeenRow) -> str:
        """What moves the share most; "" where nothing does."""
        return self.end(self.evidence.ends[row.moved.ends[0][0]]) if row.moved.ends else ""

    def by_spread(self, row: Row | SeenRow) -> str:
        """The spreads that move the share most, each with the share at its ends; "" where nothing does."""
        spreads: dict[str, list[str]] = {}
        for place, share in row.moved.ends:
            end = self.evidence.ends[place]
            spreads.setdefault(end.spread, []).append(f"{self.end(end)} {_percent(share)} %")
        told = [", ".join(ends) for ends in list(spreads.values())[:_TOLD]]
        more = len(spreads) - _TOLD
        return "; ".join([*told, *([f"and {more} more"] if more > 0 else [])])

    def unknown(self, rows: Iterable[Row | SeenRow]) -> str:
        """Of how many of some figures not every end is known, and which end oftenest; "" where all are."""
        rows = list(rows)
        ends = Counter(place for row in rows for place in row.moved.unknown)
        if not ends:
            return ""
        some = sum(bool(row.moved.unknown) for row in rows)
        oftenest = self.end(self.evidence.ends[min(ends, key=lambda place: (-ends[place], place))])
        return (
            f"Too few streets speak of some end for {some} of {len(rows)} figures, oftenest of: {oftenest}."
        )

    def moving(self, rows: Iterable[Row]) -> list[tuple[str, list[Row]]]:
        """What moves rows, and the rows that it is said of."""
        found: dict[str, list[Row]] = {}
        for row in rows:
            if said := self.by_spread(row):
                found.setdefault(said, []).append(row)
        return list(found.items())

    def corner(self, promise: str) -> list[str]:
        """The ends at the worst corner of a promise."""
        return [self.end(self.evidence.ends[place]) for place in self.evidence.corners.get(promise, ())]

    def worst(self, row: SeenRow) -> str:
        """The ends at the corner where a test does worst."""
        return ", ".join(self.end(self.evidence.ends[place]) for place in row.corner_at)

    def bound(self, corner: Corner) -> str:
        """How sure the share at a corner is."""
        return f"{_percent(corner.low)} to {_percent(corner.high)} %"

    def end(self, end: End) -> str:
        """A spread put towards one end, in words."""
        name = end.spread.replace("-", " ")
        if end.spread == LAYOUT:
            return f"only {end.at.replace('-', ' ')}"
        spread = self.sampling.spreads[end.spread]
        if spread.doubt is not None:
            return f"{name} {spread.doubt[end.at == 'high']:.0%}".replace("%", " %")
        return f"{name} {end.at.replace('-', ' ')}"


def _percent(share: float) -> str:
    return f"{share * 100:.2f}" if 0 < share < 0.01 else f"{share * 100:.1f}"
