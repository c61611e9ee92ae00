"""An operator's colours stand out from what is under them, in sunlight too: WCAG 2.2, 1.4.3, 4.5 to 1."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.colours import PAPERS, contrast, ink_on
from build_tools.findings import Finding
from build_tools.guide import Guide, Tree

__all__ = ["check"]

_LEAST = 4.5


def check(guide: Guide, trees: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of `colours` in operator.yaml."""
    if guide.operator is None:
        return
    colours = guide.operator.colours
    for name, under in (("light", PAPERS["light"]), ("dark", PAPERS["dark"]), ("head", ())):
        colour = getattr(colours, name)
        for other in (*under, ink_on(colour)):
            if (ratio := contrast(colour, other)) < _LEAST:
                yield Finding(
                    "low-contrast",
                    guide.files["operator.yaml"].place(("colours", name)),
                    f"{colour} against {other} has a contrast of {ratio:.1f} to 1",
                    ("colours", name),
                    f"{_LEAST} to 1 or more: WCAG 2.2, 1.4.3",
                    "take a lighter colour" if name == "dark" else "take a darker colour",
                )
                break
