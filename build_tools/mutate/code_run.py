"""Which slips in the project's own code its tests see, hashes of the code left out.

The evidence of a guide goes stale by any edit; that tells that something changed and never that it is wrong.
So what is counted here is caught by a test of what the code does.
"""

from __future__ import annotations

import json
import random
import tempfile
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ConfigDict, TypeAdapter

from build_tools.guide.findings import Refused
from build_tools.guide.source import read
from build_tools.guide.validation import conform
from build_tools.mutate.code_slips import CodeMutant, code_mutants
from build_tools.mutate.code_trial import (
    ENDLESS,
    NOT_LOADED,
    CodeVerdict,
    failing_tests,
    judge_code,
    stale_copy,
)
from build_tools.proof.binomial import bounds
from build_tools.setup import progress
from build_tools.setup.environment import ROOT
from build_tools.setup.stopping import workers

__all__ = ["CodeHarmless", "CodeReport", "FailsAnyway", "Plan", "run_code", "shipped_plan", "shipped_reasons"]

_HERE = Path(__file__).parent
PATIENCE_S = 120
"""A single test that takes longer by a mutant never ends. The slowest takes some 12 s on a free machine."""

Key = tuple[str, str, str, str]


class _Written(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Asked(_Written):
    """Which tests are asked about which code; `without` some files of a folder."""

    code: tuple[str, ...]
    tests: tuple[str, ...]
    without: tuple[str, ...] = ()


class NotAsked(_Written):
    """A test that looks at a hash of the code, and why it does."""

    test: str
    because: str


class Plan(_Written):
    """Which tests are asked about which code, and which of a folder last; `words` to pytest besides."""

    asked: tuple[Asked, ...]
    last: tuple[str, ...] = ()
    not_asked: tuple[NotAsked, ...] = ()
    words: tuple[str, ...] = ()

    def files(self, root: Path) -> tuple[str, ...]:
        """All the code that tests are asked about."""
        found = (path for one in self.asked for code in one.code for path in root.glob(code))
        return tuple(dict.fromkeys(path.relative_to(root).as_posix() for path in found))

    @property
    def places(self) -> tuple[str, ...]:
        """The folders that the code lies in."""
        return tuple(dict.fromkeys(code.rpartition("/")[0] for one in self.asked for code in one.code))

    def tests(self, root: Path, file: str) -> tuple[str, ...]:
        """The test files for a file of code, in the order in which they are asked."""
        asked = next(one for one in self.asked if any(Path(file).match(code) for code in one.code))
        found: dict[str, None] = {}
        for name in asked.tests:
            place = root / name.replace("{name}", Path(file).stem)
            files = sorted(path.relative_to(root).as_posix() for path in place.rglob("test_*.py"))
            if place.is_file():
                found[place.relative_to(root).as_posix()] = None
            files.sort(key=lambda test: self.last.index(test) if test in self.last else -1)
            found |= dict.fromkeys(test for test in files if test not in asked.without)
        return tuple(found)


class CodeHarmless(_Written):
    """Why a slip may stand though no test sees it: it changes nothing that anybody could ask."""

    kind: str
    file: str
    inside: str
    old: str
    new: str
    because: str


class FailsAnyway(Exception):
    """Tests that fail though nothing is wrong: without a slip, or by a line that does nothing."""


@dataclass(frozen=True, slots=True)
class CodeReport:
    """The verdicts in the order of the code, of how many mutants there are, and the reasons for survivors."""

    verdicts: tuple[CodeVerdict, ...]
    of: int
    seed: int
    reasons: tuple[CodeHarmless, ...]

    @property
    def caught(self) -> int:
        return sum(not one.survived for one in self.verdicts)

    @property
    def unexplained(self) -> tuple[CodeVerdict, ...]:
        return tuple(one for one in self.verdicts if one.survived and not self.reason(one.mutant))

    def reason(self, mutant: CodeMutant) -> str:
        """Why a mutant may stand; empty where nobody has said so."""
        said = (one.because for one in self.reasons if _key(one) == _key(mutant))
        return next(said, "")

    def as_text(self) -> str:
        """A table by file, the share with its bounds, then each survivor."""
        return "\n".join(self._lines())

    def _lines(self) -> Iterator[str]:
        tried = Counter(one.mutant.file for one in self.verdicts)
        caught = Counter(one.mutant.file for one in self.verdicts if not one.survived)
        by = Counter((one.mutant.file, one.caught_by) for one in self.verdicts)
        left = Counter(one.mutant.file for one in self.unexplained)
        yield f"{'file':<48}{'mutants':>8}{'caught':>8}{'survived':>10}{'harmless':>10}"
        for file, mutants in tried.items():
            harmless = mutants - caught[file] - left[file]
            yield f"{file:<48}{mutants:>8}{caught[file]:>8}{left[file]:>10}{harmless:>10}"
        yield ""
        harm = self.caught + len(self.unexplained)
        yield f"{_share(self.caught, harm)} of what changes something is caught; sample by seed {self.seed}"
        yield f"{_share(self.caught, len(self.verdicts))} of all that were tried, of {self.of} that there are"
        for what, how in ((NOT_LOADED, "could not be loaded"), (ENDLESS, "never ended")):
            yield f"  {sum(number for (_, test), number in by.items() if test == what)} of them {how}"
        told = [one for one in self.verdicts if one.survived and self.reason(one.mutant)]
        for title, some in (("survivors", self.unexplained), ("survivors that change nothing", told)):
            if some:
                yield ""
                yield f"{title}: {len(some)}"
            for one in some:
                yield f"  {one.mutant}"
                if reason := self.reason(one.mutant):
                    yield f"    {reason}"

    def as_json(self) -> str:
        """Every mutant with what caught it."""
        rows = [
            {
                "kind": one.mutant.kind,
                "file": one.mutant.file,
                "line": one.mutant.line,
                "inside": one.mutant.inside,
                "old": one.mutant.old,
                "new": one.mutant.new,
                "caught_by": one.caught_by,
                "harmless": self.reason(one.mutant) if one.survived else "",
            }
            for one in self.verdicts
        ]
        whole = {"mutants": self.of, "seed": self.seed, "tried": len(rows), "caught": self.caught}
        return json.dumps({**whole, "verdicts": rows}, indent=1, ensure_ascii=False)


def shipped_plan() -> Plan:
    """What `code_tests.yaml` says. Raises Refused."""
    plan: Plan = _written(Plan, "code_tests.yaml")
    return plan


def shipped_reasons() -> tuple[CodeHarmless, ...]:
    """What `code_harmless.yaml` says. Raises Refused."""
    reasons: tuple[CodeHarmless, ...] = _written(tuple[CodeHarmless, ...], "code_harmless.yaml")
    return reasons


def run_code(
    plan: Plan,
    reasons: tuple[CodeHarmless, ...] = (),
    *,
    root: Path = ROOT,
    under: Sequence[str] = (),
    sample: int | None = None,
    seed: int = 1,
    processes: int = 2,
    patience_s: int = PATIENCE_S,
) -> CodeReport:
    """Try every slip in the code of a plan that lies `under` some folders or files, or a seeded sample.

    Everything is done in copies. Raises FailsAnyway where a test fails though nothing is wrong, and
    ValueError for a place without such code.
    """
    files = [file for file in plan.files(root) if not under or any(_lies_under(file, one) for one in under)]
    for place in under:
        if not any(_lies_under(file, place) for file in files):
            raise ValueError(
                f"no code that tests are named for lies at {place}; there is {', '.join(plan.places)}"
            )
    every = [one for file in files for one in code_mutants(file, (root / file).read_bytes())]
    if sample is not None and sample < len(every):
        places = sorted(random.Random(seed).sample(range(len(every)), sample))
        chosen = [every[place] for place in places]
    else:
        chosen = every
    tests = {file: plan.tests(root, file) for file in {one.file for one in chosen}}
    not_asked = tuple(one.test for one in plan.not_asked)
    with tempfile.TemporaryDirectory() as work, progress.work("slips in the code", len(chosen) + 1) as doing:
        sound = stale_copy(root, Path(work), plan.files(root))
        needed = tuple(dict.fromkeys(test for file in sorted(tests) for test in tests[file]))
        if failed := failing_tests(sound, needed, not_asked, plan.words, patience_s):
            raise FailsAnyway("\n".join(failed))
        doing.step()
        trial = partial(judge_code, str(root), work, not_asked, plan.words, patience_s)
        with workers(processes) as pool:
            asked = pool.map(trial, [(one, tests[one.file]) for one in chosen])
            verdicts = tuple(progress.counted(asked))
    return CodeReport(verdicts, len(every), seed, reasons)


def _lies_under(file: str, folder: str) -> bool:
    return file == folder.rstrip("/") or file.startswith(folder.rstrip("/") + "/")


def _key(slip: CodeMutant | CodeHarmless) -> Key:
    """What stays the same when lines move."""
    return slip.kind, slip.file, slip.inside, " ".join(f"{slip.old} -> {slip.new}".split())


def _written(shape: Any, name: str) -> Any:
    source = read(_HERE / name)
    value, findings = conform(shape, source)
    if source.findings or findings:
        raise Refused((*source.findings, *findings))
    return TypeAdapter(shape).validate_python(value)


def _share(part: int, whole: int) -> str:
    if not whole:
        return "none"
    low, high = bounds(whole, part, 0.025)
    return (
        f"{part} of {whole} ({100 * part / whole:.1f} %, 95 % bounds {100 * low:.1f} to {100 * high:.1f} %)"
    )
