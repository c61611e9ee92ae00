"""A guide with many trees: the shipped one, its trees copied under other names until there are enough nodes.

The copies keep the streets, the rules and everything else, so that such a guide is as valid as the shipped
one. A copy calls the copies of its own set.
"""

from __future__ import annotations

import re
import shutil
from itertools import count, cycle, islice
from pathlib import Path

__all__ = ["write"]


def write(shipped: Path, folder: Path, trees: int, nodes: int) -> None:
    """Write a guide of so many trees with, all in all, as near to so many nodes as whole trees come.

    Nodes are counted as written, before called trees are written out. The promises and their evidence stay
    behind: they speak of the shipped trees alone.
    """
    shutil.copytree(shipped, folder, ignore=shutil.ignore_patterns("promises.yaml", "evidence.json"))
    site, call = (sorted((folder / "trees" / each).glob("*.yaml"), key=_calls) for each in ("site", "call"))
    of_site, of_call = (sum(map(_nodes, paths)) / len(paths) for paths in (site, call))
    some = round((nodes - trees * of_call) / (of_site - of_call))
    _copy(site, some - len(site))
    _copy(call, trees - some - len(call))


def _copy(paths: list[Path], times: int) -> None:
    sets = (number for number in count(1) for _ in paths)
    for path, number in islice(zip(cycle(paths), sets, strict=False), times):
        text = re.sub(r"^( +call: \S+)", rf"\1-{number}", path.read_text(), flags=re.MULTILINE)
        path.with_stem(f"{path.stem}-{number}").write_text(text)


def _nodes(path: Path) -> int:
    return len(re.findall(r"^  \S+:$", path.read_text().partition("\nnodes:\n")[2], flags=re.MULTILINE))


def _calls(path: Path) -> int:
    """How many trees are called: what is called is copied before what calls it."""
    return path.read_text().count(" call: ")
