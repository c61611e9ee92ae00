"""The fuzz of `fuzz.py` as a test: a few hundred files, or as many as $LOST_NEUTRAL_FUZZ says."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest
from broken_yaml import broken
from hypothesis import given, settings
from hypothesis import strategies as st

FUZZ = Path(__file__).parents[1].joinpath("fuzz.py")
FILES = int(os.environ.get("LOST_NEUTRAL_FUZZ", "300"))


def fuzz(*words: str, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, str(FUZZ), *words], capture_output=True, text=True, cwd=cwd)


@pytest.mark.timeout(60 + FILES)
def test_broken_files_are_refused_without_a_traceback_a_hang_or_much_memory() -> None:
    """One second and 1 GiB each are bounds of fuzz.py itself: it dies of what goes over."""
    run = fuzz(str(FILES))
    assert run.returncode == 0, run.stderr[-8000:]
    figures = json.loads(run.stdout.splitlines()[-1])
    assert figures["files"] == FILES
    assert figures["refused"] > 0.5 * FILES, "what is done to the files hardly ever breaks them"
    assert figures["kinds_of_finding"] > 15


BREAK = """
import sys; sys.path[:0] = [{folder!r}]
import fuzz
fuzz.SECONDS = 0.2
def bad(folder):
    bad.calls = getattr(bad, "calls", 0) + 1
    if bad.calls > 30:
        {what}
    return []
fuzz.check = bad
fuzz.main(50, 1)
"""


@pytest.mark.parametrize(
    ("what", "told"),
    [
        ("raise KeyError('spilt')", "KeyError: 'spilt'"),
        ("while True: pass", "TooSlow"),
        ("bytearray(2 << 30)", "MemoryError"),
    ],
)
def test_the_fuzz_sees_what_it_looks_for(what: str, told: str) -> None:
    program = BREAK.format(folder=str(FUZZ.parent), what=what)
    run = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True)
    assert run.returncode != 0
    assert told in run.stderr


@given(st.data())
@settings(max_examples=50)
def test_breaking_changes_little_of_a_file(data: st.DataObject) -> None:
    """Most lines stay, so that files are nearly right: that is where readers go wrong."""
    text = "".join(f"key{i}: value {i}\n" for i in range(60))
    lines = data.draw(broken(text)).split("\n")
    assert lines
    assert len(lines) <= 61 + 3 * 6
