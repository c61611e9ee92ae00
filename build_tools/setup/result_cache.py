"""Results kept between runs, under the hash of all that they depend on."""

from __future__ import annotations

import ast
import hashlib
import io
import os
import pickle
import tempfile
import tokenize
from collections.abc import Iterator
from functools import cache, lru_cache
from pathlib import Path
from typing import Any, TypeAlias

from build_tools.setup.environment import ROOT, kept_between_runs

__all__ = ["code_of", "keep", "key_of", "recall", "source_key", "start_afresh"]

FOLDER = kept_between_runs() / "kept"


def key_of(*parts: object) -> str:
    """A file name for what depends on these parts (by their `repr`)."""
    digest = hashlib.sha256()
    for part in parts:
        digest.update(repr(part).encode())
        digest.update(b"\0")
    return digest.hexdigest()[:32]


def code_of(file: Path) -> str:
    """What a Python file does: its lines without comments, docstrings and the words under a field, which may
    be put better and change nothing."""
    text = file.read_text("utf-8")
    lines = text.splitlines()
    for start, end in sorted(_words_of(text), reverse=True):
        before, after = lines[start[0] - 1][: start[1]], lines[end[0] - 1][end[1] :]
        lines[start[0] - 1 : end[0]] = [before + after]
    return "\n".join(line.rstrip() for line in lines if line.strip())


_Spot: TypeAlias = tuple[int, int]
"""Line from 1, column from 0, in characters."""


def _words_of(text: str) -> Iterator[tuple[_Spot, _Spot]]:
    """Where each comment, and each text that stands alone, begins and ends."""
    alone = {
        node.lineno
        for node in ast.walk(ast.parse(text))
        if isinstance(node, ast.Expr)
        and isinstance(node.value, ast.Constant)
        and isinstance(node.value.value, str)
    }
    for token in tokenize.generate_tokens(io.StringIO(text).readline):
        if token.type == tokenize.COMMENT or (token.type == tokenize.STRING and token.start[0] in alone):
            yield token.start, token.end


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
        handle, aside = tempfile.mkstemp(dir=FOLDER)
        try:
            with open(handle, "wb") as file:
                pickle.dump(value, file, protocol=pickle.HIGHEST_PROTOCOL)
            os.replace(aside, FOLDER / key)
        except BaseException:
            os.unlink(aside)
            raise
    except OSError:
        return
