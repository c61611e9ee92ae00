"""Broken YAML, thousands of files of it: no traceback, no file that takes over a second, memory bounded.

`python tests/fuzz.py EXAMPLES [SEED]` breaks the shipped trees, streets and rules (and the small guide's)
with Hypothesis, reads each in a guide of its own, and checks it. It bounds its own memory, so it is started
as a child process. The last line of its output holds the figures as JSON.
"""

from __future__ import annotations

import json
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from dataclasses import dataclass, field
from pathlib import Path
from types import FrameType

from broken_yaml import broken
from hypothesis import HealthCheck, given, seed, settings
from hypothesis import strategies as st

from build_tools.checks import CHECKS, pages
from build_tools.cli.sarif import sarif_report
from build_tools.guide.findings import json_report, text_report
from build_tools.guide.loading import load
from build_tools.setup import result_cache

ROOT = Path(__file__).parent.parent
SHIPPED, SMALL = ROOT / "guide_src", ROOT / "tests/guides/small"
SECONDS = 1.0
"""Processor time that one file may take."""
MEMORY = 1 << 30
"""Bytes of address space beyond what the program has when it starts."""


class TooSlow(Exception):
    """One file took over SECONDS."""


@dataclass
class Figures:
    """What a run saw."""

    files: int = 0
    refused: int = 0
    slowest_s: float = 0.0
    findings: Counter[str] = field(default_factory=Counter)

    def told(self) -> dict[str, object]:
        peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return {
            "files": self.files,
            "refused": self.refused,
            "slowest_s": round(self.slowest_s, 3),
            "peak_mib": round(peak / 1024),
            "kinds_of_finding": len(self.findings),
        }


def cases() -> list[Path]:
    """The files that are broken: paths whose guide folder is two or three levels up."""
    shipped = [*SHIPPED.glob("trees/*/*.yaml"), *SHIPPED.glob("streets/*.yaml"), SHIPPED / "rules.yaml"]
    small = [*SMALL.glob("trees/*/*.yaml"), *SMALL.glob("streets/*.yaml"), SMALL / "rules.yaml"]
    return sorted(shipped) + sorted(small)


def guide_around(case: Path, folder: Path) -> Path:
    """A small guide with this file in it, and the trees that it calls; gives the file's place there."""
    shutil.copytree(SMALL, folder)
    home = SHIPPED if case.is_relative_to(SHIPPED) else SMALL
    target = folder / case.relative_to(home)
    if target.parent.name == "streets":
        for other in target.parent.glob("*.yaml"):
            other.unlink()
    if target.parent.parent.name == "trees":
        for called in re.findall(r"call: ([\w-]+)", case.read_text("utf-8")):
            shutil.copy(case.with_stem(called), target.parent)
    shutil.copy(case, target)
    return target


def check(folder: Path) -> list[str]:
    """Read and check a guide as `check` does, pages of words left out; the findings' ids."""
    guide = load(folder)
    found = list(guide.findings)
    for one in CHECKS:
        if one is not pages.check:
            found += one(guide, list(guide.trees.values()))
    assert text_report(found) or not found
    json_report(found)
    sarif_report({"guide": found}, {"guide": "It can be read."})
    return [finding.check for finding in found]


def stop(signal_: int, frame: FrameType | None) -> None:
    raise TooSlow(f"one file took over {SECONDS} s")


def main(examples: int, number: int) -> None:
    figures = Figures()
    with tempfile.TemporaryDirectory() as scratch:
        result_cache.FOLDER = Path(scratch, "kept")
        texts = {case: case.read_text("utf-8") for case in cases()}
        guides = {case: guide_around(case, Path(scratch, str(i))) for i, case in enumerate(texts)}
        folders = {case: Path(scratch, str(i)) for i, case in enumerate(texts)}
        for folder in folders.values():  # what is made once (shapes, tables) is not one file's cost
            check(folder)

        @seed(number)
        @settings(
            max_examples=examples, deadline=None, database=None, suppress_health_check=list(HealthCheck)
        )
        @given(st.sampled_from(list(texts)).flatmap(lambda c: st.tuples(st.just(c), broken(texts[c]))))
        def no_file_raises(drawn: tuple[Path, str]) -> None:
            case, text = drawn
            guides[case].write_bytes(text.encode("utf-8", "surrogatepass"))
            started = time.process_time()
            signal.setitimer(signal.ITIMER_PROF, SECONDS)
            try:
                found = check(folders[case])
            finally:
                signal.setitimer(signal.ITIMER_PROF, 0)
            figures.files += 1
            figures.refused += bool(found)
            figures.slowest_s = max(figures.slowest_s, time.process_time() - started)
            figures.findings.update(found)

        signal.signal(signal.SIGPROF, stop)
        size = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (size + MEMORY, size + MEMORY))
        no_file_raises()
    print(json.dumps(figures.told()))


if __name__ == "__main__":
    main(int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 1)
