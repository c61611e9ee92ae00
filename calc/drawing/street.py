"""A street as a picture: where its current goes, what is broken, and what each home stands at."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

from calc.drawing import ink
from calc.drawing.ink import ACCENT, QUIET, line, text
from calc.drawing.layout import WIDTH, lay_out, room_in_box
from calc.drawing.mains import mains
from calc.drawing.pipes import pipes, tube
from calc.drawing.premises import premises, said
from calc.drawing.seen import Seen, see
from calc.drawing.strokes import Scene
from calc.drawing.words import in_words
from calc.street import Network

__all__ = ["seen_svg", "street_svg"]


def street_svg(
    network: Network,
    healthy: Network | None = None,
    home: str | None = None,
    lifted: Collection[str] = (),
    name: str = "street",
) -> str:
    """A street's drawing as inline SVG, 360 wide and as tall as it needs to be.

    `healthy` is what breaks are told from (the street as its records say, when left out), `home` is
    marked as the one that is visited, `lifted` names homes whose main earth was lifted by hand. Two
    drawings on one page need two names. Raises CircuitError as the network's solution does.
    """
    seen = see(network, healthy)
    return seen_svg(seen, in_words(seen), home, lifted, name)


def seen_svg(seen: Seen, told: Sequence[str], home: str | None, lifted: Collection[str], name: str) -> str:
    """The drawing of what is seen and told (in_words) already; the rest as for street_svg."""
    street = seen.network.street
    room = room_in_box(street)
    lines = {one.name: said(one, one.name == home, room) for one in seen.homes.values()}
    at = lay_out(street, {n: len(said) for n, said in lines.items()})
    scene = Scene(seen, at, name, home, lifted)
    return ink.sheet(
        name,
        WIDTH,
        scene.at.foot + KEY,
        street.title,
        " ".join(told),
        *mains(scene),
        *pipes(scene),
        *(part for row in scene.at.rows.values() for part in premises(scene, row, lines[row.home])),
        *_key(scene.at.foot + 22),
    )


KEY = 102.0


def _key(y: float) -> Iterator[str]:
    yield line((14, y - 4), (42, y - 4), stroke=ACCENT, width=4) + ink.arrow(28, y - 4, (1, 0), 6)
    yield text(52, y, "PEN, earth or pipe: the current's way home")
    yield line((14, y + 14), (42, y + 14), stroke=QUIET, width=1.2) + text(52, y + 18, "Line conductors")
    yield tube((190, y + 14), (218, y + 14)) + text(228, y + 18, "Metal pipe")
    yield ink.earth(28, y + 25) + text(52, y + 37, "True earth; metalwork volts are to it")
    yield ink.fuse(28, y + 52) + text(52, y + 56, "Fuse")
    yield ink.resistance(204, y + 52) + text(228, y + 56, "Resistance")
    yield text(14, y + 74, "Wider: more current. A cross: a break.", fill=QUIET)
