"""Where the parts of a street's drawing stand: one column of homes beside the main, tall rather than wide.

The main runs down the left, a branch of it one lane further in; each home is a row; shared metalwork
runs down the right, in as many lanes as keep two pieces from lying on each other.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from calc.drawing.ink import text_width
from calc.drawing.lanes import pipe_lanes
from calc.street import Metalwork, Street

__all__ = [
    "BOX_LEFT",
    "LINE",
    "WIDTH",
    "Bus",
    "Layout",
    "Row",
    "lay_out",
    "name_stands_beside",
    "room_in_box",
]

WIDTH = 360.0
MAIN_X, MAIN_LANE = 58.0, 20.0
BOX_LEFT = 134.0
PIPE_X, PIPE_LANE = 304.0, 13.0
BOND = 24.0
HEAD = 78.0
SPAN = 30.0
LINE = 17.0
ROW_GAP = 10.0
GROUND = 36.0

NAME_BESIDE = 44.0
"""Width that a junction's name may have beside its bar."""


@dataclass(frozen=True, slots=True)
class Row:
    """One home: the top of its box, the heights at which service and main earth meet it, and its foot."""

    home: str
    bus: str
    top: float
    service_y: float
    earth_y: float
    foot: float


@dataclass(frozen=True, slots=True)
class Bus:
    """One junction, drawn as a bar from its first service to its last. At `fed_y` its span is marked."""

    junction: str
    lane: int
    top: float
    foot: float
    fed_y: float

    @property
    def x(self) -> float:
        """The middle of the bar."""
        return MAIN_X + self.lane * MAIN_LANE


@dataclass(frozen=True, slots=True)
class Layout:
    """The whole drawing. `pipes` gives the x of each piece of metalwork, and how many lines of words its
    label stands below the middle of the piece, by its conductor's name."""

    rows: dict[str, Row]
    buses: dict[str, Bus]
    pipes: dict[str, tuple[float, float]]
    box_right: float
    labels_x: float
    foot: float

    def joint_x(self, metalwork: Metalwork, home: str) -> float:
        """Where a home's bond meets a pipe: on the outermost of the pipe's pieces there."""
        pieces = (f"{a}-{b}/{metalwork.name}" for a, b in metalwork.pairs if home in (a, b))
        return max((self.pipes[piece][0] for piece in pieces), default=PIPE_X)


def lay_out(street: Street, lines: Mapping[str, int]) -> Layout:
    """Places for a street whose homes have so many `lines` of text each."""
    placed = _Placing(street, lines)
    placed.junction("substation", 0)
    lanes, first = pipe_lanes(street), _first_pipe_x(street)
    pipes = {name: (first + one.lane * PIPE_LANE, one.below) for name, one in lanes.items()}
    return Layout(placed.rows, placed.buses, pipes, first - BOND, PIPE_X + 10, placed.y)


def name_stands_beside(junction: str, lane: int) -> bool:
    """Whether a junction's name has room beside its bar; else it stands inside, turned. Beside the bar of a
    branch runs the main."""
    return lane == 0 and text_width(junction, weight=700) <= NAME_BESIDE


def room_in_box(street: Street) -> float:
    """How wide the text in a home's box may be."""
    return _first_pipe_x(street) - BOND - BOX_LEFT - 12


def _first_pipe_x(street: Street) -> float:
    return PIPE_X - max((one.lane for one in pipe_lanes(street).values()), default=0) * PIPE_LANE


class _Placing:
    """Walks the main outward, downward on the page."""

    def __init__(self, street: Street, lines: Mapping[str, int]) -> None:
        self.street, self.lines = street, lines
        self.electrodes = {electrode.at for electrode in street.electrodes}
        self.y = HEAD
        self.rows: dict[str, Row] = {}
        self.buses: dict[str, Bus] = {}

    def junction(self, name: str, lane: int) -> None:
        """Place a junction, its homes and all beyond it, from the present height down."""
        fed_y = self.y - SPAN / 2
        rows = [
            self._row(home, name) for home in self.street.premises if self.street.junction_of(home) == name
        ]
        top = rows[0].service_y - 14 if rows else self.y
        foot = max((_last_tap(self.street, row) + 8 for row in rows), default=top + 14)
        if name != "substation" and not name_stands_beside(name, lane):
            foot = max(foot, top + text_width(name, weight=700) + 12)
        if name in self.electrodes:
            foot += 26
            self.y = max(self.y, foot + GROUND)
        self.y = max(self.y, foot, top + 30 if name == "substation" else 0)
        self.buses[name] = Bus(name, lane, top, foot, fed_y)
        beyond = [span.between[1] for span in self.street.mains if span.between[0] == name]
        for child in beyond:
            self.y += SPAN
            self.junction(child, lane if child == beyond[-1] else lane + 1)

    def _row(self, home: str, bus: str) -> Row:
        top, premises = self.y, self.street.premises[home]
        earth_y = top + (self.lines[home] + 1.6) * LINE
        if sum(home in metalwork.joins for metalwork in self.street.metalwork) > 1:
            earth_y += LINE
        foot = earth_y + 9
        self.rows[home] = Row(home, bus, top, top + 1.6 * LINE, earth_y, foot)
        self.y = foot + (ROW_GAP if premises.electrode_ohm is None else GROUND + 6)
        return self.rows[home]


def _last_tap(street: Street, row: Row) -> float:
    """The lowest height at which a home is tied to its bar: a sheath comes in beside the main earth."""
    return row.earth_y if street.premises[row.home].earthing == "tn-s" else row.service_y
