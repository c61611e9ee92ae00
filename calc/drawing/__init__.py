"""Drawings as inline SVG, made from a solved network, each with the same figures in words.

Colours are the page's custom properties (`--ln-ink` and so on) with a fallback each; nothing is said by
colour alone.
"""

from __future__ import annotations

from calc.drawing.phasors import phasors_svg
from calc.drawing.story import Frame, Picture, picture, story_html
from calc.drawing.street import street_svg
from calc.drawing.words import street_text

__all__ = ["Frame", "Picture", "phasors_svg", "picture", "story_html", "street_svg", "street_text"]
