"""Every example of the README and of `--help` does what it says, typed as it stands."""

from __future__ import annotations

import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest
from test_documents import DEVELOPERS, README, STARTS, commands

from build_tools.cli.command_line import VERBS
from build_tools.setup.environment import ROOT

NOT_RUN = {
    "serve": "serves until it is stopped; tests/site/test_building.py does so",
    "build": "builds the whole guide, one of them into /srv; tests/site/test_building.py and others do so",
    "publish": "needs a commit and a release before it; tests/publish/test_archive.py makes both",
    "test": "is what runs this",
    "prove": "measures for minutes; tests/proof/test_proof.py measures less",
    "calibrate": "measures for minutes",
    "pairs": "walks for half a minute; tests/proof/test_fault_pairs.py asks it on a smaller street",
    "plan": "walks for a minute; tests/plan/test_plan.py asks it for fewer streets",
    "mutate": "damages for minutes; tests/mutate/test_mutate.py damages less",
    "mutate-code": "asks tests for minutes; tests/mutate/test_mutate_code.py asks a few",
    "bench": "measures for minutes",
    "words": "builds the whole guide; tests/site/test_translation.py does so with a small one",
    "diff": "needs a history, which a fresh clone may lack; tests/review/test_difference.py makes one",
    "lock": "needs the network",
}
"""Verb -> why its examples are not run here. What is in them can be typed all the same: test_documents."""


def helped(verb: str) -> str:
    """The example in the help of a verb."""
    told = subprocess.run(
        [sys.executable, "-m", "build_tools", verb, "--help"],
        cwd=ROOT,
        check=True,
        capture_output=True,
        text=True,
    ).stdout
    example = re.search(rf"example:\n  ({re.escape(STARTS)} .+)", told)
    assert example
    return example[1]


def examples() -> list[str]:
    """Every command that the documents tell to type and that can run here."""
    told = {*commands(README), *commands(DEVELOPERS)}
    return sorted(one for one in told if shlex.split(one)[3] not in NOT_RUN)


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Where the commands are typed: the guide lies there, what they write stays there."""
    here = tmp_path / "here"
    here.mkdir()
    (here / "guide_src").symlink_to(ROOT / "guide_src")
    return here


def typed(command: str, folder: Path) -> None:
    words = shlex.split(command)[1:]
    done = subprocess.run([sys.executable, *words], cwd=folder, capture_output=True, text=True)
    assert done.returncode == 0, f"{command}\n{done.stderr[-2000:]}"


@pytest.mark.parametrize("command", examples())
def test_an_example_of_a_document_runs(command: str, folder: Path) -> None:
    typed(command, folder)


@pytest.mark.parametrize("verb", [verb for verb in VERBS if verb not in NOT_RUN])
def test_the_example_of_a_help_runs(verb: str, folder: Path) -> None:
    typed(helped(verb), folder)


def test_what_is_not_run_is_a_verb_with_a_reason() -> None:
    assert NOT_RUN.keys() < VERBS.keys()
    assert {shlex.split(one)[3] for one in examples()} >= {"check", "readings", "walk", "calculate", "new"}
