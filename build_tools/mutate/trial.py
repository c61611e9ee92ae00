"""One mutant at a time, loaded and checked as an author's guide is, with no more work than it takes."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from build_tools import kept
from build_tools.checks import CHECKS, pages, physics
from build_tools.findings import Finding
from build_tools.guide import Guide, Tree, load
from build_tools.mutate.damage import Mutant

__all__ = ["Verdict", "judge"]

READING = "reading"
"""What refuses a mutant that is not a guide any more: the shapes, and the names that lead nowhere."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """Which checks refused a mutant, in their order, and the ids of their findings. Walks are made only
    where nothing else refused it, so `physics` stands alone."""

    mutant: Mutant
    refused_by: tuple[str, ...]
    findings: tuple[str, ...]

    @property
    def survived(self) -> bool:
        return not self.refused_by


def judge(shipped: str, work: str, mutant: Mutant) -> Verdict:
    """The verdict on one mutant of the guide in `shipped`. `work` is a folder that this process may fill."""
    bench = _bench(shipped, work, os.getpid())
    found: dict[str, list[Finding]] = {}
    for check, finding in bench.findings(mutant):
        found.setdefault(check, []).append(finding)
    ids = sorted({finding.check for findings in found.values() for finding in findings})
    return Verdict(mutant, tuple(found), tuple(ids))


@dataclass(frozen=True)
class _Bench:
    """A copy of the guide that is spoilt and made whole again, and the guide as it should be."""

    folder: Path
    sound: Guide

    def findings(self, mutant: Mutant) -> Iterator[tuple[str, Finding]]:
        """Every finding with the name of its check; of the walks, those of the first tree that fails."""
        guide = self._spoilt(mutant)
        yield from ((READING, finding) for finding in guide.findings)
        trees = list(guide.trees.values())
        seen = len(guide.findings)
        for check in CHECKS:
            if check is physics.check or (check is pages.check and not mutant.file.startswith("streets/")):
                continue
            for finding in check(guide, trees):
                seen += 1
                yield check.__module__.rpartition(".")[2], finding
        if not seen:
            yield from self._walked(guide, mutant)

    def _walked(self, guide: Guide, mutant: Mutant) -> Iterator[tuple[str, Finding]]:
        for tree in sorted(guide.trees.values(), key=lambda tree: len(tree.nodes)):
            if mutant.file.startswith("streets/") or not _same(tree, self.sound.trees[tree.id]):
                found = list(physics.check(guide, [tree]))
                yield from (("physics", finding) for finding in found)
                if found:
                    return

    def _spoilt(self, mutant: Mutant) -> Guide:
        file = self.folder / mutant.file
        text = file.read_bytes()
        file.write_text(mutant.applied_to(text.decode("utf-8")), "utf-8", newline="")
        try:
            return load(self.folder, self.sound.today)
        finally:
            file.write_bytes(text)


def _same(tree: Tree, sound: Tree) -> bool:
    """Whether walks of both go the same ways: nodes, exits and what is done."""
    return tree.start == sound.start and tree.nodes == sound.nodes


@cache
def _bench(shipped: str, work: str, process: int) -> _Bench:
    folder = Path(work, str(process))
    kept.FOLDER = folder / "kept"
    copy = folder / "guide"
    if not copy.is_dir():
        shutil.copytree(shipped, copy)
    settings = load(copy).settings
    sound = load(copy, settings.reviewed if settings else None)
    return _Bench(copy, sound)
