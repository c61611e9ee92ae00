"""Long work shows that it lives: on a terminal, elsewhere, and to those who want quiet."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import struct
import subprocess
import sys
import termios
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SMALL = ROOT / "tests/guides/small"
BASE_PYTHON = getattr(sys, "_base_executable", sys.executable)

WORK = """
import time
from build_tools.setup import progress
progress._BETWEEN_LINES_S = {between}
progress.be_quiet({quiet})
progress.tell("weaving")
with progress.work("weaving", 4, bare={bare}) as doing:
    for colour in ("red", "blue"):
        doing.now(colour)
        time.sleep(0.6)
        doing.step(2)
    progress.say("the yarn is thin")
    with progress.aside():
        print("a carpet")
"""


def script(*, quiet: bool = False, bare: bool = False, between: float = 0.0) -> list[str]:
    return [sys.executable, "-c", WORK.format(quiet=quiet, bare=bare, between=between)]


def on_terminal(command: list[str]) -> tuple[int, str]:
    """The exit code, and everything that a terminal of 100 columns was given, results included."""
    here, there = pty.openpty()
    fcntl.ioctl(there, termios.TIOCSWINSZ, struct.pack("HHHH", 40, 100, 0, 0))
    with subprocess.Popen(
        command, cwd=ROOT, stdin=there, stdout=there, stderr=there, env={**os.environ, "TERM": "xterm"}
    ) as program:
        os.close(there)
        said = b""
        while True:
            try:
                part = os.read(here, 65536)
            except OSError:  # Linux says so at the end of a terminal
                break
            if not part:
                break
            said += part
    os.close(here)
    return program.returncode, said.decode()


def elsewhere(command: list[str]) -> subprocess.CompletedProcess[str]:
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True)


def last_seen(said: str) -> list[str]:
    """The lines that stay on a terminal: what a carriage return goes back over is gone."""
    return [line for line in re.split(r"\r*\n", re.sub(r"[^\n]*\r(?!\n)", "", said)) if line.strip()]


def test_a_terminal_gets_a_bar_with_what_is_done_and_the_time_left() -> None:
    code, said = on_terminal(script())
    assert code == 0
    assert re.search(r"\rbuild_tools: weaving: blue\s+\S*[█▏▎▍▌▋▊▉#]+.*2 of 4, 00:0\d left", said), said
    assert [re.sub("\x1b\\[[A-Z0-9]*", "", line) for line in last_seen(said)] == [
        "build_tools: weaving",
        "build_tools: the yarn is thin",
        "a carpet",
    ]


def test_elsewhere_there_are_plain_lines() -> None:
    done = elsewhere(script())
    assert done.stdout == "a carpet\n"
    lines = done.stderr.splitlines()
    assert lines[0] == "build_tools: weaving" and lines[-1] == "build_tools: the yarn is thin"
    assert "build_tools:   weaving: blue: 2 of 4, 1 s left" in lines
    assert "\r" not in done.stderr and "\x1b" not in done.stderr


def test_lines_are_few() -> None:
    lines = elsewhere(script(between=60)).stderr.splitlines()
    assert lines == ["build_tools: weaving", "build_tools: the yarn is thin"]


def test_who_wants_quiet_is_told_only_what_is_wrong() -> None:
    done = elsewhere(script(quiet=True))
    assert (done.stdout, done.stderr) == ("a carpet\n", "build_tools: the yarn is thin\n")
    code, said = on_terminal(script(quiet=True))
    assert (code, said) == (0, "build_tools: the yarn is thin\r\na carpet\r\n")


def test_set_up_counts_without_a_library() -> None:
    """By a Python that has none, not even the packages that are installed beside it."""
    code, said = on_terminal([BASE_PYTHON, "-I", "-S", "-c", f"import sys; sys.path.insert(0, {str(ROOT)!r})"
                              + script(bare=True)[-1]])  # fmt: skip
    assert code == 0, said
    assert re.search(r"\r\x1b\[Kbuild_tools: weaving 1 of 4: red, \d s", said), said
    assert "a carpet" in said


def test_a_program_that_says_nothing_for_long_shows_that_it_runs() -> None:
    code = (
        "from build_tools.setup import environment, progress; progress._BETWEEN_LINES_S = 0.5\n"
        "environment.run(['sleep', '1.2'], 'fetching', mend='none')"
    )
    done = elsewhere([sys.executable, "-c", code])
    assert "build_tools:   fetching: for 1 s\n" in done.stderr, done.stderr
    assert re.search(r"\r\x1b\[Kbuild_tools: fetching, 1 s", on_terminal([sys.executable, "-c", code])[1])


def test_set_up_before_any_library_is_there_needs_none() -> None:
    code = "import sys; sys.path.insert(0, '.'); import build_tools.cli.command_line"
    done = elsewhere([BASE_PYTHON, "-I", "-S", "-c", code])
    assert done.returncode == 0, done.stderr


@pytest.mark.parametrize("verb", ["build", "prove", "calibrate", "mutate", "bench", "publish"])
def test_every_long_verb_can_be_quiet(verb: str) -> None:
    from build_tools.cli import command_line

    assert command_line.parse([verb, "--quiet"]).quiet
    assert command_line.parse(["--quiet", verb]).quiet
    assert not command_line.parse([verb]).quiet


def build(to: Path, *more: str) -> list[str]:
    return [sys.executable, "-m", "build_tools", "build", "--guide", str(SMALL), "--to", str(to), *more]


def test_a_build_shows_its_bar_its_lines_or_nothing(tmp_path: Path) -> None:
    code, said = on_terminal(build(tmp_path / "terminal"))
    assert code == 0, said
    assert "\rbuild_tools: checking: " in said and "\rbuild_tools: building: " in said
    assert re.search(r"\d+ of \d+, \S+ left", said)
    assert re.fullmatch(r"build_tools: built \S+/terminal/index.html in \d+.\d s", last_seen(said)[-1])
    piped = elsewhere(build(tmp_path / "piped"))
    assert piped.stderr.startswith(f"build_tools: building {SMALL}\n") and "\r" not in piped.stderr
    quiet = elsewhere(build(tmp_path / "quiet", "--quiet"))
    assert (quiet.returncode, quiet.stderr, quiet.stdout) == (0, "", piped.stdout)


def test_proof_says_how_far_both_its_processes_are() -> None:
    """Of few streets, and with nothing counted of them."""
    code = (
        "import time; from dataclasses import replace\n"
        "from build_tools.guide import loading\n"
        "from build_tools.proof import proving\n"
        "proving.count_batch = proving.see_batch = lambda *_: time.sleep(0.02)\n"
        "proving._with_visits, proving._pairs = lambda _, measured, __: measured, lambda *_: []\n"
        "whole = loading.load('guide_src')\n"
        "proving.prove(replace(whole, sampling=replace(whole.sampling, streets=12)))\n"
    )
    code, said = on_terminal([sys.executable, "-c", code])
    assert code == 0, said
    assert "walking the trees" in said and re.search(r"[1-9]\d* of \d+, \d+:\d+ left", said), said
