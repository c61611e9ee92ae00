"""The smallest guide that works: one tree, one street, one rule."""

from __future__ import annotations

import os
import shutil
import tempfile
from pathlib import Path

__all__ = ["write"]

_GUIDE = Path(__file__).parent / "guide"


def write(folder: Path) -> None:
    """Write the smallest guide into a new or an empty folder, whole or not at all.

    Raises OSError when something else of that name is there already.
    """
    folder.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=folder.parent) as aside:
        shutil.copytree(_GUIDE, Path(aside, "guide"), ignore=shutil.ignore_patterns("__pycache__"))
        os.replace(Path(aside, "guide"), folder)
