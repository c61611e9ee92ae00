"""An edge that decides is a figure that the guide stands by: its words or its rules say it too.

Every edge of a range is one of the figures that the words of readings with that instrument at those points
quote (any line stands for the others), that a rule holds such readings to, or that `calc.limits` gives with
its source. A guide that quotes no figure for an instrument is left alone. And a figure that a rule holds a
reading to is an edge of one that is so held: between two edges it would ask for more, or for less, than
anybody is told.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, TypeAlias

from build_tools.checks.content import is_broken
from build_tools.checks.rules import readings_of
from build_tools.guide import models
from build_tools.guide.findings import Demand, Finding, few
from build_tools.guide.trees import Guide, Tree, TreeFile
from build_tools.guide.validation import told
from calc.instruments import INSTRUMENTS, LINES
from calc.limits import LIMITS
from calc.symptoms import OFF_BELOW_VOLTS

__all__ = ["check"]

Held: TypeAlias = tuple[str, frozenset[str], bool]

_FIGURE = re.compile(r"(?<![\w.])[0-9]+(?:\.[0-9]+)?(?![\w.]*\w)")


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of every reading in every tree file, and of every rule, once all of them can be read."""
    if not guide.is_whole or is_broken(guide, "rules.yaml"):
        return
    quoted = _quoted(guide)
    for file in guide.tree_files.values():
        yield from few(_unsaid(file, quoted), file.place())
    yield from _between(guide)


def _readings(guide: Guide) -> Iterator[models.Reading]:
    for file in guide.tree_files.values():
        yield from (node for node in file.spec.nodes.values() if isinstance(node, models.Reading))


def _at(instrument: str, on: Iterable[str] | None, change: bool) -> Held:
    """What is read: the instrument and its points, any line standing for the others, and whether the figure
    is a change."""
    return instrument, frozenset("line" if point in LINES else point for point in on or ()), change


def _of(node: models.Reading) -> Held:
    return _at(node.instrument, node.on, node.change_from is not None)


def _quoted(guide: Guide) -> dict[Held, set[float]]:
    """The figures that the guide quotes for each instrument at each set of points."""
    quoted: dict[Held, set[float]] = {}
    for node in _readings(guide):
        said = f"{node.reading} {node.help or ''} {node.why or ''}"
        figures = {float(figure) for figure in _FIGURE.findall(said)}
        quoted.setdefault(_of(node), set()).update(figures)
    source = guide.files["rules.yaml"]
    for i, rule in enumerate(guide.rules):
        for _, reading in readings_of(rule, source.value((i,))):
            bounds = {bound for bound in (reading.at_least, reading.below) if bound is not None}
            held = _at(reading.instrument, reading.on, reading.change)
            quoted.setdefault(held, set()).update(bounds)
    return quoted


EDGE_UNSAID = Demand(
    "edge-unsaid",
    "a figure that such a reading's words or a rule quote: a slip in one place must show",
    "write the figure that is meant, or say in `why` what this one is",
)


def _unsaid(file: TreeFile, quoted: dict[Held, set[float]]) -> Iterator[Finding]:
    speaking = {instrument for (instrument, *_), figures in quoted.items() if figures}
    for name, node in file.spec.nodes.items():
        if not isinstance(node, models.Reading) or node.instrument not in speaking:
            continue
        unit = INSTRUMENTS[node.instrument].unit
        known = quoted[_of(node)]
        known = known | {limit.value for limit in LIMITS.values() if limit.unit == unit}
        known |= {OFF_BELOW_VOLTS} if unit == "V" else set()
        for i, one in enumerate(node.ranges):
            if one.high is not None and one.high not in known:
                path = ("nodes", name, "ranges", i, "to")
                mend = f"say in `why` what {one.high:g} {unit} is"
                if known:
                    near = min(known, key=lambda figure: abs(figure - one.high))  # type: ignore[operator]
                    mend = f"write {near:g} if that is meant, or {mend}"
                yield EDGE_UNSAID.found(
                    file.place(*path),
                    f"{one.high:g} {unit} decides here, and nothing in the guide says so",
                    told(path),
                    mend=mend,
                )


NO_SUCH_EDGE = Demand(
    "no-such-edge", "an edge that the trees have", "correct the figure here, or in the trees"
)


def _between(guide: Guide) -> Iterator[Finding]:
    source = guide.files["rules.yaml"]
    edges: dict[Held, set[float]] = {}
    for node in _readings(guide):
        held = node.instrument, frozenset(node.on), node.change_from is not None
        here = edges.setdefault(held, set())
        here.update(one.high for one in node.ranges if one.high is not None)
    for i, rule in enumerate(guide.rules):
        for keys, reading in readings_of(rule, source.value((i,))):
            known = edges.get((reading.instrument, frozenset(reading.on or ()), reading.change))
            for key in ("at_least", "below"):
                bound: Any = getattr(reading, key)
                if known and bound is not None and bound not in known:
                    path = (i, *keys, "reading", key)
                    yield NO_SUCH_EDGE.found(
                        source.place(path),
                        f"no range of such a reading begins or ends at {bound:g}",
                        told(path),
                        f"an edge that the trees have: {', '.join(f'{edge:g}' for edge in sorted(known))}",
                    )
