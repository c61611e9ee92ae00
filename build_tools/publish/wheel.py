"""The wheel, with which the program is installed where there is neither its repository nor Node.

`hatchling` makes it, for any front end; `wheel_hook` has it carry what the pages need, joined here.
"""

from __future__ import annotations

import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

from build_tools.setup.environment import ROOT, SetUpFailed
from build_tools.site.assets import write_joined

__all__ = ["make"]


def make(into: Path) -> Path:
    """Make the wheel in a folder; gives the file. Raises SetUpFailed."""
    with tempfile.TemporaryDirectory() as aside:
        command = [sys.executable, "-m", "hatchling", "build", "--target", "wheel", "--directory", aside]
        made = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
        if made.returncode:
            raise SetUpFailed(f"the wheel could not be made\n{made.stdout}{made.stderr}".rstrip())
        (wheel,) = Path(aside).glob("*.whl")
        into.mkdir(parents=True, exist_ok=True)
        return Path(shutil.move(wheel, into / wheel.name))


if __name__ == "__main__":
    write_joined(Path(sys.argv[1]), ROOT)
