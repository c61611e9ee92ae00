"""The smallest guide that works: one tree, one street, one rule; and what a repository of its own needs."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

from build_tools.setup.whole import FRESH, folder_aside

__all__ = ["SETTINGS", "write"]

_GUIDE = Path(__file__).parent / "guide"
SETTINGS = _GUIDE / "mkdocs.yml"
"""What MkDocs is told of a guide that says nothing else."""


def write(folder: Path) -> None:
    """Write the smallest guide into a new or an empty folder, whole or not at all.

    Raises OSError when something else of that name is there already.
    """
    with folder_aside(folder) as aside:
        new = aside / FRESH
        shutil.copytree(_GUIDE, new, ignore=shutil.ignore_patterns("__pycache__"))
        for written in (new, *new.rglob("*")):  # what is installed may be for reading only
            written.chmod(written.stat().st_mode | 0o200)
        (new / ".ci" / "run").chmod(0o755)  # which a wheel may have forgotten
        os.replace(new, folder)
