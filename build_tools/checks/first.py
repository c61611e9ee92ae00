"""The trees that `guide.yaml` puts first in lists exist."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from pathlib import Path

from build_tools.conform import told
from build_tools.findings import Finding, nearest, shown
from build_tools.guide import Guide, Tree

__all__ = ["check"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of `first` in guide.yaml."""
    known = {Path(name).stem for name in guide.files if name.startswith("trees/")}
    for position, id_ in enumerate(guide.settings.first if guide.settings else ()):
        if id_ not in known:
            keys = ("first", position)
            yield Finding(
                "unknown-tree",
                guide.files["guide.yaml"].place(keys),
                f"no tree is called {shown(id_)}{nearest(id_, known)}",
                told(keys),
                "the name of a tree's file, without .yaml",
                "correct the name, or take it out of `first`",
            )
