"""Three phase voltages on a star point that has moved: a small picture of arrows."""

from __future__ import annotations

from collections.abc import Sequence

__all__ = ["phasors_svg"]
WIDTH, HEIGHT = 360.0, 300.0


def phasors_svg(emfs: Sequence[complex], shift: complex, name: str = "phasors") -> str:
    return ""
