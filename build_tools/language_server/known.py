"""What is known of a guide while it is written: each file as it could last be read."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path

from build_tools.guide.source import Data, Source
from build_tools.guide.trees import Guide
from build_tools.language_server.fields import kind_of

__all__ = ["File", "Known", "merged"]


@dataclass(frozen=True, slots=True)
class Known:
    """The guide as it stands, and every file by its path inside the folder as it could last be read: while
    one is half written, what it held before still has names. `bands`: what each test shows on healthy streets
    (None: not drawn yet)."""

    guide: Guide
    readable: Mapping[str, Source] = field(default_factory=dict)
    bands: Mapping[str, tuple[float, float]] | None = None

    def data(self, inside: str) -> Data:
        """What a file holds; None when there is no such file."""
        return self.readable[inside].data if inside in self.readable else None

    def trees(self) -> dict[str, str]:
        """The id of each tree -> its file."""
        return {Path(inside).stem: inside for inside in self.readable if kind_of(inside) == "tree"}


@dataclass(frozen=True, slots=True)
class File:
    """One file of the guide: its path inside the folder, and which kind it is (None: a page, or none of the
    guide's kinds)."""

    inside: str
    kind: str | None

    @classmethod
    def of(cls, path: Path, folder: Path) -> File:
        """The file of that path in a guide's folder."""
        inside = path.relative_to(folder).as_posix()
        return cls(inside, kind_of(inside))

    @property
    def id(self) -> str:
        """What a tree or a street is called."""
        return Path(self.inside).stem


def merged(before: Data, now: Data) -> Data:
    """What was there and what is there now, mappings key by key."""
    if isinstance(before, dict) and isinstance(now, dict):
        return {**before, **{key: merged(before.get(key), value) for key, value in now.items()}}
    return before if now is None else now
