"""Where the program lies, in its repository or installed from a wheel, and how it is called there."""

from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
JOINED = ROOT / "build_tools" / "joined"
"""What the pages carry, made by Node already; it is in wheels alone."""

IS_INSTALLED = JOINED.is_dir()
COMMAND = "lost-neutral" if IS_INSTALLED else "python3 -m build_tools"
"""How the program is called."""

NAME = COMMAND.split()[-1]
"""What its messages begin with."""
