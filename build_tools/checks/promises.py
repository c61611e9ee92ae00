"""What the guide promises is borne out by evidence, and the evidence is no older than its grounds.

A guide with `promises.yaml` and `sampling.yaml` keeps `evidence.json`, which `python3 -m build_tools prove`
measures. Every tree that a promise names must be a site tree of the guide. This check stands apart from
CHECKS: it speaks of the evidence and not of the guide's own soundness, so that what refuses a damaged tree
is never merely that its evidence is old.
"""

from __future__ import annotations

from collections.abc import Iterator

from build_tools import evidence
from build_tools.findings import Finding, nearest
from build_tools.guide import Guide

__all__ = ["check"]


def check(guide: Guide) -> Iterator[Finding]:
    """Findings of the guide's promises."""
    unknown = list(_unknown_trees(guide))
    yield from unknown
    if not unknown and all(tree.id in guide.trees for tree in guide.tree_files.values()):
        yield from evidence.findings_of(guide)


def _unknown_trees(guide: Guide) -> Iterator[Finding]:
    site = [id_ for id_, file in guide.tree_files.items() if file.spec.audience == "site"]
    for index, promise in enumerate(guide.promises):
        for place, tree in enumerate(promise.trees):
            if tree not in site:
                yield Finding(
                    "unknown-tree",
                    guide.files["promises.yaml"].place((index, "trees", place)),
                    f"no site tree is called {tree!r}{nearest(tree, site)}",
                    (str(index + 1), "trees", str(place + 1)),
                    "a tree that can be walked over drawn streets",
                    f"write one of: {', '.join(site)}",
                )
