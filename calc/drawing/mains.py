"""The substation, the spans of the main and its junctions."""

from __future__ import annotations

from collections.abc import Iterator

from calc.drawing import ink
from calc.drawing.ink import INK, PAPER, QUIET, element, line, text
from calc.drawing.layout import Bus, name_stands_beside
from calc.drawing.seen import amps
from calc.drawing.strokes import Point, Scene, conductor, electrode, label, mark, wrong
from calc.figures import figure
from calc.street import PHASES, Span

__all__ = ["mains"]

_LINES = -5.0
_WAYS_HOME = {"PEN": 4.0, "N": -1.0, "E": 6.0}
"""How far from the middle of the main each conductor is drawn."""


def mains(scene: Scene) -> Iterator[str]:
    """Everything on the street's side of the services."""
    for span in scene.street.mains:
        yield from _span(scene, span)
    yield from _substation(scene)
    for bus in scene.at.buses.values():
        yield from _bus(scene, bus)


def _substation(scene: Scene) -> Iterator[str]:
    bus, supply = scene.at.buses["substation"], scene.street.supply
    yield line((bus.x, 48), (bus.x, bus.top), width=2.5)
    yield ink.transformer(bus.x, 48)
    out = [phase for phase in PHASES if scene.flows[f"substation/{phase}"].state == "open"]
    if out:
        yield ink.cross(bus.x, (51 + bus.top) / 2)
        yield label(bus.x + 22, 61, f"{', '.join(out)} fuse out", "start", danger=True)
    yield text(bus.x + 22, 24, "Substation", 14, weight=700)
    rating = f"{figure(supply.rating_kva, 0, 'kVA')}, {figure(supply.volts, 0, 'V')} to neutral"
    yield text(bus.x + 22, 42, rating, fill=QUIET)
    flow = scene.flows["substation/electrode"]
    yield from electrode(flow, (bus.x - 9, bus.top + 7), bus.x - 36, supply.star_point_earth_ohm, above=True)


def _span(scene: Scene, span: Span) -> Iterator[str]:
    near, far = (scene.at.buses[junction] for junction in span.between)
    middle = far.fed_y
    yield line(*_way(near, far, _LINES), stroke=QUIET, width=1.2)
    right: list[tuple[str, bool]] = []
    for part, sideways in _WAYS_HOME.items():
        flow = scene.flows.get(f"{span.name}/{part}")
        if flow is None:
            continue
        yield conductor(flow, *_way(near, far, sideways), dashes="5 3" if part == "E" else "")
        yield from mark(flow, far.x + sideways, middle - (10 if part == "E" else 0), (0, 1))
        words, danger = wrong(flow) or amps(flow.amps), flow.state != "whole"
        if part == "E":
            right += [(f"sheath {words}", danger)] if danger or flow.runs else []
        elif far.lane == 0 and flow.state != "high":
            yield label(far.x - 8, middle + 4.5, words, "end", danger)
        else:
            right.append((words, danger))
    broken = [phase for phase in PHASES if scene.flows[f"{span.name}/{phase}"].state == "open"]
    if broken:
        yield ink.cross(far.x + _LINES, middle)
        right.append((f"{', '.join(broken)} broken", True))
    bad = [phase for phase in PHASES if scene.flows[f"{span.name}/{phase}"].state == "high"]
    if bad:
        yield ink.bad_joint(far.x + _LINES, middle, upright=True)
        right.append((f"{', '.join(bad)} bad joint", True))
    for number, (words, danger) in enumerate(right):
        yield label(far.x + 16, middle + 4.5 - 14 * number, words, "start", danger)


def _way(near: Bus, far: Bus, sideways: float) -> tuple[Point, ...]:
    """From one bar down to the next; a branch steps aside under the bar it leaves."""
    if near.lane == far.lane:
        return (far.x + sideways, near.foot), (far.x + sideways, far.top)
    turn = near.foot + 9 - sideways
    return (
        (near.x + sideways, near.foot),
        (near.x + sideways, turn),
        (far.x + sideways, turn),
        (far.x + sideways, far.top),
    )


def _bus(scene: Scene, bus: Bus) -> Iterator[str]:
    height = bus.foot - bus.top
    yield element(
        "rect",
        x=bus.x - 9,
        y=bus.top,
        width=18,
        height=height,
        rx=4,
        fill=PAPER,
        stroke=INK,
        stroke_width=1.8,
    )
    if bus.junction != "substation":
        yield _name(bus)
    for one in scene.street.electrodes:
        if one.at == bus.junction:
            flow, y = scene.flows[f"{bus.junction}/electrode"], bus.foot - 12
            side = -1 if bus.lane == 0 else 1
            yield from electrode(flow, (bus.x + 9 * side, y), bus.x + 36 * side, one.ohm)


def _name(bus: Bus) -> str:
    if name_stands_beside(bus.junction, bus.lane):
        return text(bus.x - 13, bus.top + 11, bus.junction, anchor="end", weight=700, halo=True)
    x, y = bus.x + 4.5, bus.top + 6
    turned = text(0, 0, bus.junction, anchor="end", weight=700)
    return element("g", turned, transform=f"translate({x:.1f} {y:.1f}) rotate(-90)")
