"""One mutant at a time, loaded and checked as an author's guide is, with no more work than it takes."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from build_tools.checks import CHECKS, healthy, pages, physics, rules, signed
from build_tools.guide.findings import Finding
from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.mutate.slips import Mutant
from build_tools.setup import result_cache

__all__ = ["Verdict", "judge"]

READING = "reading"
"""What refuses a mutant that is not a guide any more: the shapes, and the names that lead nowhere."""


SLOW = (rules.check, pages.check, healthy.check, physics.check, signed.check)
"""What follows paths, makes pages or walks, and what only asks whether words are still those that were read:
asked last, each only where nothing before it refused."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """The first check that refused a mutant, those that take long asked last, and the id of its finding;
    both empty where none did."""

    mutant: Mutant
    refused_by: str
    finding: str

    @property
    def survived(self) -> bool:
        return not self.refused_by


def judge(shipped: str, work: str, mutant: Mutant) -> Verdict:
    """The verdict on one mutant of the guide in `shipped`. `work` is a folder that this process may fill."""
    found = _bench(shipped, work, os.getpid()).findings(mutant)
    check, finding = next(((check, finding.check) for check, finding in found), ("", ""))
    return Verdict(mutant, check, finding)


@dataclass(frozen=True)
class _Bench:
    """A copy of the guide that is spoilt and made whole again, and the guide as it should be."""

    folder: Path
    sound: Guide

    def findings(self, mutant: Mutant) -> Iterator[tuple[str, Finding]]:
        """Every finding with the name of its check, as it is made."""
        guide = self._spoilt(mutant)
        yield from ((READING, finding) for finding in guide.findings)
        trees = self._to_follow(guide, mutant)
        for check in (*(one for one in CHECKS if one not in SLOW), *SLOW):
            if check is not pages.check or mutant.file.startswith("streets/"):
                name = check.__module__.rpartition(".")[2]
                for some in [[tree] for tree in trees] if check is physics.check else [trees]:
                    yield from ((name, finding) for finding in check(guide, some))

    def _to_follow(self, guide: Guide, mutant: Mutant) -> list[Tree]:
        """The trees on whose paths anything can have changed: those that the slip is in, and all of them for
        one in the rules or in a street."""
        everywhere = mutant.file == "rules.yaml" or mutant.file.startswith("streets/")
        trees = sorted(guide.trees.values(), key=lambda tree: len(tree.nodes))
        return [tree for tree in trees if everywhere or not _same(tree, self.sound.trees[tree.id])]

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
    result_cache.FOLDER = folder / "kept"
    copy = folder / "guide"
    if not copy.is_dir():
        shutil.copytree(shipped, copy, ignore=shutil.ignore_patterns(".*"))
    guide = load(copy)
    days = [signature.day for signature in guide.signatures or ()]
    days += [guide.settings.reviewed] if guide.settings else []
    return _Bench(copy, load(copy, max(days, default=None)))
