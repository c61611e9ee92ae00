"""One slip in the code at a time, in a copy of the project, and the first test that fails by it."""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from build_tools.mutate.code_slips import CodeMutant
from build_tools.setup import stopping

__all__ = ["ENDLESS", "NOT_LOADED", "CodeVerdict", "failing_tests", "judge_code", "stale_copy"]

NOT_LOADED = "(not loaded)"
"""What catches a mutant that cannot even be imported."""

ENDLESS = "(endless)"
"""What catches a mutant that never comes to an end."""

MEMORY = 4 << 30
"""How much a mutant may fill, in bytes."""

_KEPT = ".lost-neutral"
_LEFT_OUT = shutil.ignore_patterns(".*", "__pycache__", "release", "site-packages", "node_modules")


@dataclass(frozen=True, slots=True)
class CodeVerdict:
    """The first test that failed by a mutant; empty where none did."""

    mutant: CodeMutant
    caught_by: str

    @property
    def survived(self) -> bool:
        return not self.caught_by


def judge_code(
    root: str,
    work: str,
    not_asked: tuple[str, ...],
    words: tuple[str, ...],
    patience_s: int,
    asked: tuple[CodeMutant, tuple[str, ...]],
) -> CodeVerdict:
    """The verdict of some test files on one mutant of the project in `root`.

    `work` is a folder that this process may fill; a test that takes longer than `patience_s` seconds is
    endless.
    """
    mutant, tests = asked
    copy = _copy(root, work, os.getpid())
    file = copy / mutant.file
    code = file.read_bytes()
    _write(file, mutant.applied_to(code))
    try:
        failed = failing_tests(copy, tests, not_asked, words, patience_s, at_most=1)
    finally:
        _write(file, code)
    return CodeVerdict(mutant, failed[0] if failed else "")


def failing_tests(
    copy: Path,
    tests: Sequence[str],
    not_asked: Sequence[str],
    words: Sequence[str],
    patience_s: int,
    at_most: int = 0,
) -> list[str]:
    """The tests that fail in a copy of a project, with nothing kept from a run before. `words`: to pytest.

    Raises RuntimeError where pytest itself could not do what it was asked.
    """
    shutil.rmtree(copy / _KEPT / "cache", ignore_errors=True)
    shutil.rmtree(copy / ".hypothesis", ignore_errors=True)
    command = [
        sys.executable, "-m", "pytest", "-q", "--tb=no", "-rfE", "-p", "no:cacheprovider",
        "-m", "not browser", f"--maxfail={at_most}", *words,
        f"--timeout={patience_s}", "--timeout-method=thread",
        *(word for test in not_asked if test.partition("::")[0] in tests for word in ("--deselect", test)),
        *tests,
    ]  # fmt: skip
    environ = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "PYTHON"))}
    with subprocess.Popen(
        command,
        cwd=copy,
        env={**environ, "COLUMNS": "1000"},
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        start_new_session=True,
        preexec_fn=None if sys.platform == "win32" else _hold_memory,
    ) as program:
        try:
            said, _ = program.communicate(timeout=10 * patience_s)
        except subprocess.TimeoutExpired:
            stopping.end(program, group=True)
            return [ENDLESS]
        except BaseException:
            stopping.end(program, group=True)
            raise
    if program.returncode == 0:
        return []
    if failed := re.findall(r"^(?:FAILED|ERROR) (\S+::\S.*?)(?: - .*)?$", said, re.MULTILINE):
        return failed
    if "+ Timeout +" in said:
        return [ENDLESS]
    if (
        re.search(r"^ERROR |^ImportError while loading conftest", said, re.MULTILINE)
        or program.returncode < 0
    ):
        return [NOT_LOADED]
    raise RuntimeError(f"pytest ended with {program.returncode}:\n{said[-3000:]}")


def _hold_memory() -> None:
    import resource

    resource.setrlimit(resource.RLIMIT_AS, (MEMORY, MEMORY))


@cache
def _copy(root: str, work: str, process: int) -> Path:
    copy = Path(work, str(process))
    shutil.copytree(root, copy, ignore=_LEFT_OUT)
    _environment(Path(root), copy)
    return copy


def _environment(root: Path, copy: Path) -> None:
    """The project's own packages stand in the copy too, so that no test goes to make them; nothing that was
    kept of an earlier run does."""
    kept = copy / _KEPT
    shutil.rmtree(kept, ignore_errors=True)
    kept.mkdir()
    for name in ("venv", "node"):
        if (root / _KEPT / name).exists():
            (kept / name).symlink_to(root / _KEPT / name)


def stale_copy(root: Path, work: Path, files: Sequence[str]) -> Path:
    """A copy in which every file has one more line that does nothing, so that no hash of the code is as it
    was kept."""
    copy = _copy(str(root), str(work), 0)
    for name in files:
        _write(copy / name, (copy / name).read_bytes() + b"\npass\n")
    return copy


def _write(file: Path, code: bytes) -> None:
    """The file, and nothing kept of what it was before: an edit within one second could pass unseen."""
    file.write_bytes(code)
    Path(importlib.util.cache_from_source(str(file))).unlink(missing_ok=True)
