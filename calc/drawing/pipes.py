"""Shared metalwork: its pieces from home to home, its bonds, and its contact with the soil."""

from __future__ import annotations

from collections.abc import Iterator

from calc.circuit import OPEN
from calc.drawing import ink
from calc.drawing.ink import EDGE, INK, PAPER, QUIET, element, line, text
from calc.drawing.seen import amps
from calc.drawing.strokes import Point, Scene, conductor, label, mark
from calc.street import Metalwork

__all__ = ["pipes", "tube"]


def pipes(scene: Scene) -> Iterator[str]:
    """All metalwork that homes share."""
    for metalwork in scene.street.metalwork:
        for number, pair in enumerate(metalwork.pairs):
            named = number == 0 or len(scene.street.metalwork) > 1
            yield from _piece(scene, metalwork, pair, named)
        for home in metalwork.joins:
            yield from _bond(scene, metalwork, home)


def tube(*points: Point) -> str:
    """A pipe, empty: two edges with paper between."""
    return line(*points, stroke=EDGE, width=11) + line(*points, stroke=PAPER, width=8)


def _piece(scene: Scene, metalwork: Metalwork, pair: tuple[str, str], named: bool) -> Iterator[str]:
    name = f"{pair[0]}-{pair[1]}/{metalwork.name}"
    flow, (x, below) = scene.flows[name], scene.at.pipes[name]
    start, end = (scene.at.rows[home].earth_y for home in pair)
    middle, gap = (start + end) / 2, scene.seen.network.branches[name].impedance == OPEN
    if gap:
        half = 9 if end > start else -9
        yield tube((x, start), (x, middle - half)) + tube((x, middle + half), (x, end))
    else:
        yield tube((x, start), (x, end))
        yield conductor(flow, (x, start), (x, end))
        yield from mark(flow, x, middle, (0, 1 if end > start else -1))
    y = middle + 5 + 29 * below
    if named:
        yield text(scene.at.labels_x, y - 14, metalwork.name, fill=QUIET, halo=True)
    yield label(scene.at.labels_x, y, "gap" if gap else amps(flow.amps), "start")


def _bond(scene: Scene, metalwork: Metalwork, home: str) -> Iterator[str]:
    y, flow = scene.at.rows[home].earth_y, scene.flows[f"{home}/bond.{metalwork.name}"]
    x = scene.at.joint_x(metalwork, home)
    yield conductor(flow, (scene.at.box_right, y), (x, y))
    yield element("circle", cx=x, cy=y, r=3.4, fill=INK)
    if flow.state == "open":
        yield ink.cross(scene.at.box_right + 12, y)
        yield label(scene.at.labels_x + 44, y - 11, "bond broken", "end", danger=True)
    if soil := scene.flows.get(f"{home}/soil.{metalwork.name}"):
        ground = scene.at.labels_x + 18
        yield conductor(soil, (x, y), (ground, y)) + ink.earth(ground, y)
        if soil.runs:
            yield label(ground, y + 31, amps(soil.amps))
