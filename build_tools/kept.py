"""Results kept between runs, under the hash of all that they depend on."""

from __future__ import annotations

import hashlib
import os
import pickle
import tempfile
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

__all__ = ["keep", "key_of", "recall", "source_key", "start_afresh"]

ROOT = Path(__file__).parent.parent
FOLDER = ROOT / ".lost-neutral" / "cache" / "kept"


def key_of(*parts: object) -> str:
    """A file name for what depends on these parts (by their `repr`)."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(repr(part).encode())
        digest.update(b"\0")
    return digest.hexdigest()[:32]


@cache
def source_key(*packages: str) -> str:
    """A key that changes when any Python file of the named packages does."""
    files = sorted(path for package in packages for path in (ROOT / package).rglob("*.py"))
    return key_of(*((path.relative_to(ROOT).as_posix(), path.read_bytes()) for path in files))


def recall(key: str) -> Any:
    """What was kept under `key`, or None: the same object for all who ask in one run. A file that cannot be
    read counts as nothing."""
    try:
        return _read(FOLDER / key)
    except (OSError, pickle.UnpicklingError, EOFError, AttributeError, ImportError, IndexError):
        return None


@lru_cache(maxsize=64)
def _read(file: Path) -> Any:
    return pickle.loads(file.read_bytes())


def start_afresh() -> None:
    """Read again what is kept, as another run would."""
    _read.cache_clear()


def keep(key: str, value: Any) -> None:
    """Keep `value` under `key`, whole or not at all; a folder that cannot be written is no error."""
    try:
        FOLDER.mkdir(parents=True, exist_ok=True)
        with tempfile.NamedTemporaryFile(dir=FOLDER, delete=False) as file:
            pickle.dump(value, file, protocol=pickle.HIGHEST_PROTOCOL)
        os.replace(file.name, FOLDER / key)
    except OSError:
        return
