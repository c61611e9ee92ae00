"""One home: its service, its box with volts and dangers, and its main earthing conductor."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

from calc.drawing import ink
from calc.drawing.ink import DANGER, EDGE, INK, PAPER, QUIET, element, line, text, text_width
from calc.drawing.layout import BOX_LEFT, LINE, Row
from calc.drawing.seen import Flow, SeenHome, amps
from calc.drawing.strokes import Scene, conductor, electrode, label, mark, wrong
from calc.figures import figure

__all__ = ["Said", "premises", "said"]

PAD = 10.0


@dataclass(frozen=True, slots=True)
class Said:
    """One line in a home's box: strong words, then quiet ones; or a danger, which has strong words only."""

    strong: str = ""
    quiet: str = ""
    size: float = 14.0
    danger: bool = False


def said(home: SeenHome, visited: bool, room: float) -> tuple[Said, ...]:
    """What a home's box says, in lines no wider than `room`."""
    lines: list[Said] = []
    if len(home.phases) == 1:
        load = f"{home.phases[0]} · {amps(home.line_a[0])}"
        lines += _name(home.name, load, room)
        lines.append(_figure(home.volts[0], "to neutral", room))
    else:
        lines += _name(home.name, f"{len(home.phases)} phases", room)
        each = zip(home.phases, home.volts, home.line_a, strict=True)
        lines += [_figure(volts, f"{phase} · {amps(a)}", room) for phase, volts, a in each]
    lines.append(_figure(home.metalwork_volts, "metalwork", room))
    if visited:
        lines.insert(1, Said(quiet="visited home"))
    return (*lines, *(Said(danger, danger=True) for danger in home.dangers))


def _figure(volts: float, quiet: str, room: float) -> Said:
    """Volts and what they are of, set smaller where there is little room."""
    strong = figure(volts, 1, "V")
    for size in (14.0, ink.SMALL):
        if text_width(strong, size, 700) + 5 + text_width(quiet) <= room:
            return Said(strong, quiet, size)
    return Said(strong, quiet.replace(" · ", " "), ink.SMALL)


def _name(name: str, load: str, room: float) -> list[Said]:
    """The name and, on the same line where there is room, the load; a long name is set smaller, and on more
    lines than one."""
    size = max(ink.SMALL, min(17.0, 17.0 * room / text_width(name, 17, 700)))
    if text_width(name, size, 700) > room:
        parts = textwrap.wrap(name, int(len(name) * room / text_width(name, size, 700)))
        return [*(Said(part, size=size) for part in parts), Said(quiet=load)]
    if text_width(name, size, 700) + 6 + text_width(load) <= room:
        return [Said(name, load, size)]
    return [Said(name, size=size), Said(quiet=load)]


def premises(scene: Scene, row: Row, lines: tuple[Said, ...]) -> Iterator[str]:
    """A home and all that lies between it and the main."""
    yield from _service(scene, row)
    yield from _box(scene, row, lines)
    yield from _main_earth(scene, row)


def _service(scene: Scene, row: Row) -> Iterator[str]:
    bus = scene.at.buses[row.bus]
    y, middle = row.service_y, (bus.x + 9 + BOX_LEFT) / 2
    yield line((bus.x + 9, y - 8), (BOX_LEFT, y - 8), stroke=QUIET, width=1.2)
    phases = scene.street.premises[row.home].phases
    lines = [scene.flows[f"{row.home}/service.{phase}"] for phase in phases]
    neutral = scene.flows.get(f"{row.home}/service.PEN") or scene.flows[f"{row.home}/service.N"]
    words = wrong(neutral) or amps(neutral.amps)
    if (feeding := scene.street.premises[row.home].at) in scene.street.premises:
        words = f"looped from {feeding}: {words}"
    yield conductor(neutral, (bus.x + 9, y), (BOX_LEFT, y))
    yield from mark(neutral, middle, y, (1, 0))
    broken = [flow.name[-2:] for flow in lines if flow.state == "open"]
    if broken:
        yield ink.cross(middle, y - 8)
        words = f"{', '.join(broken)} broken"
    bad = [flow.name[-2:] for flow in lines if flow.state == "high"]
    if bad:
        yield ink.bad_joint(middle, y - 8, upright=False)
        words = f"{', '.join(bad)} bad joint"
    yield ink.fuse(BOX_LEFT - 9, y - 8)
    x = min(middle + 1, BOX_LEFT - 3 - text_width(words, weight=700) / 2)
    yield label(x, y - 14, words, danger=bool(broken or bad) or neutral.state != "whole")
    if sheath := scene.flows.get(f"{row.home}/service.E"):
        yield from _sheath(sheath, bus.x + 9, row.earth_y)


def _sheath(flow: Flow, start: float, y: float) -> Iterator[str]:
    middle = (start + BOX_LEFT) / 2
    yield conductor(flow, (start, y), (BOX_LEFT, y), dashes="5 3")
    yield from mark(flow, middle, y, (1, 0))
    yield label(middle + 1, y - 22, "sheath")
    yield label(middle + 1, y - 9, wrong(flow) or amps(flow.amps), danger=flow.state != "whole")


def _box(scene: Scene, row: Row, lines: tuple[Said, ...]) -> Iterator[str]:
    visited = row.home == scene.home
    yield element(
        "rect",
        x=BOX_LEFT,
        y=row.top,
        width=scene.at.box_right - BOX_LEFT,
        height=row.foot - row.top,
        rx=3,
        fill=PAPER,
        stroke=INK if visited else EDGE,
        stroke_width=3 if visited else 1.4,
        data_home=row.home,
    )
    for number, one in enumerate(lines):
        y = row.top + (number + 1.15) * LINE
        yield from _danger(scene, y, one.strong) if one.danger else _line(y, one)


def _line(y: float, one: Said) -> Iterator[str]:
    strong = element("tspan", escape(one.strong), font_size=one.size, font_weight="700", fill=INK)
    quiet = element("tspan", escape(one.quiet), dx=5 if one.strong else 0)
    spans = [span for words, span in ((one.strong, strong), (one.quiet, quiet)) if words]
    yield element("text", *spans, x=BOX_LEFT + PAD, y=y, font_size=ink.SMALL, fill=QUIET)


def _danger(scene: Scene, y: float, words: str) -> Iterator[str]:
    x, width = BOX_LEFT + PAD, scene.at.box_right - BOX_LEFT - 6
    fill = f"url(#{scene.name}-hatch)"
    yield element("rect", x=BOX_LEFT + 3, y=y - 13, width=width, height=LINE, fill=fill)
    yield element("path", d=f"M{x} {y + 0.5:.1f}l6.5 -11 6.5 11Z", fill=DANGER)
    yield text(x + 17, y, words, fill=DANGER, weight=700, halo=True)


def _main_earth(scene: Scene, row: Row) -> Iterator[str]:
    flow, home = scene.flows[f"{row.home}/main_earth"], scene.street.premises[row.home]
    y, right = row.earth_y, scene.at.box_right
    if home.earthing == "tn-c-s":
        yield conductor(flow, (BOX_LEFT, row.service_y), (BOX_LEFT, y), (right, y))
    else:
        yield conductor(flow, (BOX_LEFT, y), (right, y))
    own = scene.flows.get(f"{row.home}/electrode")
    if own is not None and home.electrode_ohm is not None:
        start, x = ((BOX_LEFT, y), BOX_LEFT - 24) if home.earthing == "tt" else ((right, row.foot + 4), right)
        if home.earthing != "tt":
            yield line((right, y), start)
        yield from electrode(own, start, x, home.electrode_ohm)
    yield from mark(flow, right - 15, y, (1, 0))
    yield label(
        BOX_LEFT + PAD, y - 7, _main_earth_words(scene, row.home, flow), "start", flow.state != "whole"
    )
    yield element("circle", cx=right, cy=y, r=3.4, fill=INK)


def _main_earth_words(scene: Scene, home: str, flow: Flow) -> str:
    match flow.state:
        case "open":
            words = f"main earth {'lifted' if home in scene.lifted else 'broken'}"
        case "moved":
            return "earth on the line"
        case _:
            words = f"main earth {amps(flow.amps)}"
    fits = text_width(words, weight=700) <= scene.at.box_right - BOX_LEFT - 12
    return words if fits else words.removeprefix("main ")
