"""The operator's colours: how well they stand out from what is under them, and the style sheet for them.

The sheet's own colours (ink, paper, danger and so on) stand in `browser/everywhere/guide.css`, and are read
from there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Literal

from build_tools.guide.models import Colours

__all__ = [
    "PAIRS",
    "SCHEMES",
    "STYLE",
    "Pair",
    "contrast",
    "nearest_legible",
    "palette",
    "too_faint",
    "write_style",
]

Scheme = Literal["light", "dark"]
SCHEMES: tuple[Scheme, ...] = ("light", "dark")
STYLE = "operator.css"

_INKS = ("#ffffff", "#0c1a20")
_SHEET = Path(__file__).parents[1] / "site" / "browser" / "everywhere" / "guide.css"
_RULE = re.compile(r"^ *(\S[^{}\n]*) \{\n([^{}]*--ln-paper:[^{}]*)\}", re.MULTILINE)
_COLOUR = re.compile(r"--ln-([a-z-]+): (#[0-9a-f]{3,6});")


@dataclass(frozen=True, slots=True)
class Pair:
    """Two colours that stand together: one of words or of a part, and the ground behind it. `seen`: how much
    of the first is seen, where the ground shows through."""

    front: str
    back: str
    least: float
    seen: float = 1.0


_TEXT, _PART = 4.5, 3.0
"""Source: WCAG 2.2, success criteria 1.4.3 (words, level AA) and 1.4.11 (what shows a control)."""

PAIRS: tuple[Pair, ...] = (
    *(Pair("ink", ground, _TEXT) for ground in ("paper", "wash", "warn-wash")),
    *(Pair("quiet", ground, _TEXT) for ground in ("paper", "wash")),
    *(Pair("accent", ground, _TEXT) for ground in ("paper", "wash", "warn-wash")),
    *(Pair(words, "paper", _TEXT) for words in ("danger", "warn", "ok")),
    *(Pair(f"on-{ground}", ground, _TEXT) for ground in ("accent", "danger", "alarm", "ok", "head")),
    Pair("on-head", "head", _TEXT, seen=0.7),  # the theme shows so the sections that one is not in
    *(Pair("edge", ground, _PART) for ground in ("paper", "wash")),
)


def contrast(one: str, other: str) -> float:
    """How far two colours stand apart, 1 to 21. Source: WCAG 2.2, relative luminance and contrast ratio."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def _luminance(colour: str) -> float:
    shares = (part / 255 for part in _parts(colour))
    red, green, blue = (x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _parts(colour: str) -> tuple[int, ...]:
    """Red, green and blue, from 0 to 255; `#abc` is `#aabbcc`."""
    return tuple(
        bytes.fromhex(colour[1:] if len(colour) == 7 else "".join(2 * digit for digit in colour[1:]))
    )


def _mixed(front: str, back: str, share: float) -> str:
    """So much of the first colour over the second."""
    parts = zip(_parts(front), _parts(back), strict=True)
    return "#" + "".join(f"{round(share * a + (1 - share) * b):02x}" for a, b in parts)


def _ink_on(colour: str) -> str:
    """Of the inks for words on a coloured key, the one that stands out more."""
    return max(_INKS, key=lambda ink: contrast(ink, colour))


@cache
def _sheet() -> tuple[tuple[str, Mapping[str, str]], ...]:
    """The selectors and colours of the sheet's three palettes: light, dark, and dark where the device is."""
    return tuple(
        (head, dict(_COLOUR.findall(body))) for head, body in _RULE.findall(_SHEET.read_text("utf-8"))
    )


def palette(colours: Colours, scheme: Scheme) -> dict[str, str]:
    """Every colour of a page by its name: the sheet's, and the operator's."""
    (_, light), (_, dark), _ = _sheet()
    return {**light, **(dark if scheme == "dark" else {}), **_operators(colours, scheme)}


def _operators(colours: Colours, scheme: Scheme) -> dict[str, str]:
    accent, head = getattr(colours, scheme), colours.head
    return {"accent": accent, "on-accent": _ink_on(accent), "head": head, "on-head": _ink_on(head)}


def too_faint(colours: Colours, scheme: Scheme) -> Iterator[tuple[Pair, float]]:
    """The pairs that are not told apart well enough, each with its contrast."""
    known = palette(colours, scheme)
    for pair in PAIRS:
        front, back = known[pair.front], known[pair.back]
        if (ratio := contrast(_mixed(front, back, pair.seen), back)) < pair.least:
            yield pair, ratio


def nearest_legible(colour: str, is_legible: Callable[[str], bool]) -> str:
    """The same colour made darker or lighter by as little as will do, in hundredths.

    Black or white must do; on the papers of the sheet one of them does.
    """
    for share in range(101):
        for end in ("#000000", "#ffffff"):
            if is_legible(near := _mixed(end, colour, share / 100)):
                return near
    raise ValueError(f"neither black nor white can be read where {colour} is to stand")


def write_style(colours: Colours, site: Path) -> None:
    """Write STYLE into `assets/`. It comes after the guide's sheet, whose colours it sets anew on a screen,
    and before the sheet that gives more contrast to whoever asks for it."""
    light, dark = (
        " ".join(f"--ln-{name}: {colour};" for name, colour in _operators(colours, scheme).items())
        for scheme in SCHEMES
    )
    (by_day, _), (by_night, _), (as_the_device, _) = _sheet()
    sheet = (
        f"@media screen {{\n  {by_day} {{ {light} }}\n  {by_night} {{ {dark} }}\n}}\n"
        f"@media screen and (prefers-color-scheme: dark) {{\n  {as_the_device} {{ {dark} }}\n}}\n"
    )
    (site / "assets" / STYLE).write_text(sheet, encoding="utf-8")
