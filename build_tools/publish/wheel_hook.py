"""What hatchling asks while it makes a wheel: put in what the pages need, which takes Node to make.

The repository's own environment makes it, set up first where that has to be: a front end brings hatchling
alone.
"""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from hatchling.builders.hooks.plugin.interface import BuildHookInterface

__all__ = ["JoinedParts"]

_OF_THE_FRONT_END = ("PYTHONPATH", "PYTHONHOME", "PIP_BUILD_TRACKER")


class JoinedParts(BuildHookInterface):  # type: ignore[type-arg]
    """Brings `build_tools/joined/` into the wheel; where the repository itself is installed there is none."""

    def initialize(self, version: str, build_data: dict[str, Any]) -> None:
        """Make it in a folder of its own."""
        if version == "editable":
            return
        sys.path.insert(0, self.root)
        from build_tools.setup import environment

        environment.prepare()
        self.aside = TemporaryDirectory()
        folder = Path(self.aside.name, "joined")
        environ = {name: value for name, value in os.environ.items() if name not in _OF_THE_FRONT_END}
        command = [str(environment.PYTHON), "-m", "build_tools.publish.wheel", str(folder)]
        subprocess.run(command, cwd=self.root, env=environ, check=True)
        build_data["force_include"][str(folder)] = "build_tools/joined"

    def finalize(self, version: str, build_data: dict[str, Any], artifact_path: str) -> None:
        """Leave nothing of it."""
        if version != "editable":
            self.aside.cleanup()
