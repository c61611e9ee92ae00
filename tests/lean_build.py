"""Build a guide with the packages of requirements/site.txt alone: `lean_build.py GUIDE FOLDER [THEME]`.

What only tests and proofs are set up with cannot be imported here, so that a build which needs it fails.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from importlib import metadata
from importlib.machinery import ModuleSpec
from pathlib import Path

ROOT = Path(__file__).parent.parent
LOCKED = re.compile(r"^([A-Za-z0-9._-]+)==", re.MULTILINE)


def locked(name: str) -> set[str]:
    text = (ROOT / "build_tools" / "setup" / "requirements" / name).read_text("utf-8")
    return {re.sub(r"[-_.]+", "-", found).lower() for found in LOCKED.findall(text)}


class NotSetUp:
    """Finds nothing in the modules of packages that only tests have, and says so."""

    def __init__(self) -> None:
        self.absent = absent = locked("test.txt") - locked("site.txt")
        self.modules = {
            module
            for module, owners in metadata.packages_distributions().items()
            if all(re.sub(r"[-_.]+", "-", owner).lower() in absent for owner in owners)
        }

    def find_spec(
        self, name: str, path: Sequence[str] | None = None, target: object = None
    ) -> ModuleSpec | None:
        if name.partition(".")[0] in self.modules:
            raise ModuleNotFoundError(f"{name} is not set up for a build", name=name)
        return None


def hide(absent: set[str]) -> None:
    """Have none of these packages installed, as far as anybody can ask."""
    known = metadata.distribution

    def distribution(name: str) -> metadata.Distribution:
        if re.sub(r"[-_.]+", "-", name).lower() in absent:
            raise metadata.PackageNotFoundError(name)
        return known(name)

    metadata.distribution = distribution


if __name__ == "__main__":
    sys.path.insert(0, str(ROOT))
    missing = NotSetUp()
    assert "numpy" in missing.modules
    hide(missing.absent)
    sys.meta_path.insert(0, missing)  # type: ignore[arg-type]
    from build_tools.site import building

    sys.exit(building.build(Path(sys.argv[1]), Path(sys.argv[2]), building.Manner(*sys.argv[3:])))
