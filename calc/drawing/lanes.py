"""Which lane each piece of shared metalwork runs down, so that no two lie on each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from calc.street import Street

__all__ = ["Lane", "pipe_lanes"]


@dataclass(frozen=True, slots=True)
class Lane:
    """A lane, counted from the left; the label stands `below` labels under the middle of the piece."""

    lane: int
    below: float


def pipe_lanes(street: Street) -> dict[str, Lane]:
    """The lane of each piece of metalwork, by its conductor's name (`2-4/water`)."""
    lanes: list[list[_Piece]] = []
    for piece in sorted(_pieces(street)):
        lane = next((taken for taken in lanes if not any(map(piece.meets, taken))), None)
        if lane is None:
            lanes.append(lane := [])
        lane.append(piece)
    return {
        piece.conductor: Lane(number, _below(piece, lanes))
        for number, lane in enumerate(lanes)
        for piece in lane
    }


@dataclass(frozen=True, slots=True, order=True)
class _Piece:
    """A length of pipe from one row to another, counted from the top."""

    first: int
    last: int
    metalwork: str
    conductor: str

    def beside(self, other: _Piece) -> bool:
        """Whether the two run side by side for some way."""
        return self.first < other.last and other.first < self.last

    def meets(self, other: _Piece) -> bool:
        """Whether the two would lie on each other; lengths of one pipe may touch end to end."""
        touch = self.first <= other.last and other.first <= self.last
        return self.beside(other) if self.metalwork == other.metalwork else touch


def _below(piece: _Piece, lanes: list[list[_Piece]]) -> float:
    alongside = [other for lane in lanes for other in lane if piece.beside(other)]
    return alongside.index(piece) - (len(alongside) - 1) / 2


def _pieces(street: Street) -> Iterator[_Piece]:
    row = {home: place for place, home in enumerate(_in_order(street, "substation"))}
    for metalwork in street.metalwork:
        for one, other in metalwork.pairs:
            first, last = sorted((row[one], row[other]))
            yield _Piece(first, last, metalwork.name, f"{one}-{other}/{metalwork.name}")


def _in_order(street: Street, junction: str) -> Iterator[str]:
    """Homes from the top of the drawing to its foot."""
    yield from (home for home in street.premises if street.junction_of(home) == junction)
    for span in street.mains:
        if span.between[0] == junction:
            yield from _in_order(street, span.between[1])
