"""What every part of a street's drawing is drawn with: conductors, their marks and their labels."""

from __future__ import annotations

import math
from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from calc.drawing import ink
from calc.drawing.ink import ACCENT, DANGER, INK, PAPER, QUIET, element, line, text
from calc.drawing.layout import Layout
from calc.drawing.seen import Flow, Seen, amps
from calc.figures import figure
from calc.street import Street

__all__ = ["Scene", "conductor", "electrode", "label", "mark", "wrong"]

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Scene:
    """What is drawn, and where. `lifted` are homes whose main earth was lifted by hand."""

    seen: Seen
    at: Layout
    name: str
    home: str | None = None
    lifted: Collection[str] = ()

    @property
    def street(self) -> Street:
        """The street that is drawn."""
        return self.seen.network.street

    @property
    def flows(self) -> Mapping[str, Flow]:
        """Every conductor by name."""
        return self.seen.flows


def conductor(flow: Flow, *points: Point, dashes: str = "") -> str:
    """A conductor, as wide as its current is large; it names itself and its current for scripts and tests.

    Upon it lie dashes that are not seen until a page moves them: `ln-flow`, with `ln-back` from the last
    point to the first.
    """
    stroke, width = ACCENT if flow.runs else INK, _width(flow.amps)
    parts = [line(*points, stroke=stroke, width=width, dashes=dashes)]
    if flow.runs:
        way = "ln-flow" if flow.forward else "ln-flow ln-back"
        moving: dict[str, float | str] = {"class_": way, "opacity": 0.0}
        parts.append(line(*points, stroke=PAPER, width=0.4 * width, dashes="4 8", **moving))
    return element("g", *parts, data_conductor=flow.name, data_amps=f"{round(flow.amps, 9):.6g}")


def _width(amperes: float) -> float:
    return min(9.0, 1.6 + 0.9 * math.sqrt(amperes))


def mark(flow: Flow, x: float, y: float, along: Point) -> Iterator[str]:
    """The cross of a break, the sign of a bad joint, or the arrow of the way home.

    `along` is the direction from the conductor's start to its end.
    """
    if flow.state == "open":
        yield ink.cross(x, y)
    elif flow.state == "high":
        yield ink.bad_joint(x, y, upright=along[0] == 0)
    elif flow.runs:
        towards = along if flow.forward else (-along[0], -along[1])
        yield ink.arrow(x, y, towards, 4 + _width(flow.amps) / 3)


def wrong(flow: Flow) -> str:
    """The word for what is wrong with a conductor, or ""."""
    return {"open": "broken", "high": "bad joint", "moved": "reversed"}.get(flow.state, "")


def label(x: float, y: float, words: str, anchor: str = "middle", danger: bool = False) -> str:
    """A conductor's words, with what lies behind them cleared."""
    fill, weight = (DANGER, 700) if danger else (INK, 600)
    return text(x, y, words, fill=fill, anchor=anchor, weight=weight, halo=True)


def electrode(flow: Flow, start: Point, x: float, ohm: float, above: bool = False) -> Iterator[str]:
    """An earth electrode: from `start` to x, its resistance and the earth sign, its ohms and its current."""
    y = start[1]
    yield conductor(flow, start, (x, y))
    if abs(x - start[0]) > 18:
        yield ink.resistance((x + start[0]) / 2, y)
    yield ink.earth(x, y)
    said = [(figure(ohm, 0, "ohm"), QUIET, 400)]
    if flow.runs:
        said.append((amps(flow.amps), ACCENT, 700))
    first = y - 6 - 14 * (len(said) - 1) if above else y + 31
    for number, (words, fill, weight) in enumerate(said):
        yield text(x, first + 14 * number, words, fill=fill, anchor="middle", weight=weight, halo=True)
