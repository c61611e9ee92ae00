"""Which trees a walk can take: those whose every reading has its places."""

from __future__ import annotations

from collections.abc import Collection

from build_tools.guide import models
from build_tools.guide.trees import Tree
from calc.instruments import CLAMPED, LIGHTS_FROM, TOUCHED

__all__ = ["can_be_held", "can_be_walked", "places"]


def can_be_held(spec: models.Reading) -> bool:
    """Whether the instrument can be held where the reading says: only then can a walk take it."""
    known, wanted = places(spec.instrument)
    return set(spec.on) <= set(known) and wanted in (None, len(spec.on))


def can_be_walked(tree: Tree) -> bool:
    """Whether every reading of a tree can be taken somewhere; the check tells those that cannot."""
    return all(
        can_be_held(node.spec) for node in tree.nodes.values() if isinstance(node.spec, models.Reading)
    )


def places(instrument: str) -> tuple[Collection[str], int | None]:
    """What an instrument is held to, and at how many places (None: at any number, in one jaw)."""
    if instrument == "clamp":
        return CLAMPED, None
    return TOUCHED, 1 if instrument in LIGHTS_FROM else 2
