"""Renew the locks: every package pinned with its hash, and no registry named.

`python3 -m build_tools lock` is the one command. It needs the network; nothing else here does.
"""

import os
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from build_tools.setup import environment, programs, progress

REQUIREMENTS = environment.REQUIREMENTS
_COMPILE = ["pip", "compile", "--quiet", "--universal", "--python-version", "3.11", "--generate-hashes",
            "--fork-strategy", "fewest", "--no-header", "--no-annotate", "--upgrade"]  # fmt: skip


def renew() -> None:
    """Write site.txt, test.txt and every package-lock.json anew, from the newest releases that fit."""
    with tempfile.TemporaryDirectory() as folder:
        progress.tell("fetching uv, which resolves for every platform at once")
        _run([sys.executable, "-m", "pip", "install", "--quiet", "--target", folder, "uv"])
        uv = shutil.which("uv", path=str(Path(folder, "bin")))
        assert uv
        for name, constraint in (("site", []), ("test", ["--constraint", "site.txt"])):
            progress.tell(f"locking {name}.in")
            _run([uv, *_COMPILE, *constraint, f"{name}.in", "--output-file", f"{name}.txt"])
    for listed in (
        environment.NODE_LIST,
        programs.BROWSER_LIST,
        programs.SARIF_LIST,
        programs.PAGE_CHECKS_LIST,
    ):
        progress.tell(f"locking {listed.name}/package.json")
        environment.npm("install", "--package-lock-only", "--ignore-scripts", folder=listed)


def _run(command: list[str]) -> None:
    subprocess.run(command, check=True, cwd=REQUIREMENTS, env={**os.environ, "UV_NO_PROGRESS": "1"})
