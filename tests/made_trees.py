"""Trees of a few nodes, written in a test: what they share need not be written each time."""

from __future__ import annotations

from pathlib import Path

from build_tools.guide.loading import load
from build_tools.guide.trees import Tree

__all__ = ["ENDINGS", "made_trees"]

ENDINGS = ("emergency", "urgent", "soon", "routine", "unsettled")
"""The outcomes that every tree has, each named after its priority; and `closed`, which closes the job."""

HEAD = "about: Made for one question.\nreview_by: 2099-01-01\nsources: [model]\n"


def made_trees(folder: Path, audience: str, **nodes: str) -> dict[str, Tree]:
    """The trees of these nodes, each of which starts at its first. `folder` must be empty."""
    place = folder / "trees" / audience
    place.mkdir(parents=True)
    ends = [f"  {end}: {{outcome: It is {end}., priority: {end}, hand_over: Somebody.}}" for end in ENDINGS]
    ends.append("  closed: {outcome: Nothing is wrong., priority: routine, closes: true}")
    for name, written in nodes.items():
        start = written.split(":")[0].strip()
        head = f"title: Made as {name}\naudience: {audience}\n{HEAD}start: {start}\nnodes:\n"
        text = head + "\n".join((written.strip("\n"), *ends)) + "\n"
        (place / f"{name}.yaml").write_text(text, "utf-8")
    found = dict(load(folder).trees)
    assert found.keys() == nodes.keys()
    return found
