"""An operator's colours stand out from what is under them, in sunlight too: WCAG 2.2, 1.4.3, 4.5 to 1."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.guide.contrast import SCHEMES, Pair, Scheme, nearest_legible, palette, too_faint
from build_tools.guide.findings import Demand, Finding
from build_tools.guide.models import Colours
from build_tools.guide.trees import Guide, Tree

__all__ = ["check"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of `colours` in operator.yaml: of each colour the worst."""
    if guide.operator is None:
        return
    colours = guide.operator.colours
    for scheme in SCHEMES:
        for name in dict.fromkeys(_name(pair, scheme) for pair, _ in too_faint(colours, scheme)):
            yield _finding(guide, colours, scheme, name)


def _name(pair: Pair, scheme: Scheme) -> str:
    """What the operator calls the colour of a pair that is theirs."""
    return "head" if "head" in (pair.front, pair.back) else scheme


LOW_CONTRAST = Demand(
    "low-contrast",
    "4.5 to 1 or more between a colour and what is under it: WCAG 2.2, 1.4.3",
    "write the colour that the finding names, or one further that way",
)


def _finding(guide: Guide, colours: Colours, scheme: Scheme, name: str) -> Finding:
    pair, ratio = min(
        ((pair, ratio) for pair, ratio in too_faint(colours, scheme) if _name(pair, scheme) == name),
        key=lambda one: one[1],
    )
    known = palette(colours, scheme)
    seen = f" (of which {pair.seen:.0%} is seen)" if pair.seen < 1 else ""

    def is_legible(colour: str) -> bool:
        changed = colours.model_copy(update={name: colour})
        return name not in {_name(pair, scheme) for pair, _ in too_faint(changed, scheme)}

    return LOW_CONTRAST.found(
        guide.files["operator.yaml"].place(("colours", name)),
        f"{pair.front} {known[pair.front]}{seen} against {pair.back} {known[pair.back]} has a contrast of "
        f"{ratio:.1f} to 1",
        ("colours", name),
        f"{pair.least:g} to 1 or more: WCAG 2.2, 1.4.3",
        f'write {name}: "{nearest_legible(getattr(colours, name), is_legible)}", or one further that way',
    )
