"""The trees that `guide.yaml` puts first in lists exist."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from build_tools.guide.findings import Finding, nearest, shown
from build_tools.guide.trees import Guide, Tree
from build_tools.guide.unknown_names import UNKNOWN_TREE
from build_tools.guide.validation import told

__all__ = ["check"]


def check(guide: Guide, _: Sequence[Tree]) -> Iterator[Finding]:
    """Findings of `first` in guide.yaml."""
    known = guide.written("trees")
    for position, id_ in enumerate(guide.settings.first if guide.settings else ()):
        if id_ not in known:
            keys = ("first", position)
            yield UNKNOWN_TREE.found(
                guide.files["guide.yaml"].place(keys),
                f"no tree is called {shown(id_)}{nearest(id_, known)}",
                told(keys),
                "the name of a tree's file, without .yaml",
                "correct the name, or take it out of `first`",
            )
