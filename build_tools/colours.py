"""The operator's colours: how far they stand out, and the style sheet that brings them into the pages."""

from __future__ import annotations

from pathlib import Path

from build_tools.shapes import Colours

__all__ = ["PAPERS", "STYLE", "contrast", "ink_on", "write_style"]

STYLE = "operator.css"
PAPERS = {"light": ("#fefdfa", "#f1f2ee"), "dark": ("#151b20", "#212a31")}
"""Scheme -> what links and keys stand on: paper and wash, as in guide.css."""

_INKS = ("#ffffff", "#0c1a20")


def contrast(one: str, other: str) -> float:
    """How far two colours stand apart, 1 to 21. Source: WCAG 2.2, relative luminance and contrast ratio."""
    low, high = sorted((_luminance(one), _luminance(other)))
    return (high + 0.05) / (low + 0.05)


def ink_on(colour: str) -> str:
    """Of the inks for words on a coloured key, the one that stands out more."""
    return max(_INKS, key=lambda ink: contrast(ink, colour))


def _luminance(colour: str) -> float:
    shares = (int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5))
    red, green, blue = (x / 12.92 if x <= 0.04045 else ((x + 0.055) / 1.055) ** 2.4 for x in shares)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def write_style(colours: Colours, site: Path) -> None:
    """Write STYLE into `assets/`. It comes after the guide's own sheets, whose colours it sets anew."""
    light, dark = (
        f"--ln-accent: {accent}; --ln-on-accent: {ink_on(accent)};"
        for accent in (colours.light, colours.dark)
    )
    sheet = (
        f"body {{ --ln-head: {colours.head}; --ln-on-head: {ink_on(colours.head)}; {light} }}\n"
        f'body[data-md-color-scheme="slate"] {{ {dark} }}\n'
        "@media screen and (prefers-color-scheme: dark) {\n"
        f'  html:not([data-bs-theme="light"]) > body:not([data-md-color-scheme]) {{ {dark} }}\n'
        "}\n"
        f'html[data-bs-theme="dark"] > body:not([data-md-color-scheme]) {{ {dark} }}\n'
        "@media print { body, body[data-md-color-scheme] { --ln-accent: #000; } }\n"
    )
    (site / "assets" / STYLE).write_text(sheet, encoding="utf-8")
