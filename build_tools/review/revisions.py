"""A guide folder as it was in a git revision, and the revision that it is of."""

from __future__ import annotations

import io
import re
import subprocess
import zipfile
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from tempfile import TemporaryDirectory

from build_tools.guide.findings import nearest

__all__ = ["RepositoryState", "guide_as_of", "ignored_in", "is_committed", "state_of", "top_of"]


@dataclass(frozen=True, slots=True)
class RepositoryState:
    """The commit that a folder is of, when it was made, and the files that are not as committed."""

    commit: str
    when: datetime
    changed: tuple[str, ...]

    @property
    def words(self) -> str:
        """As pages name it."""
        return self.commit[:12] + (" with changes" if self.changed else "")


def state_of(folder: Path) -> RepositoryState | None:
    """None where the folder is in no repository, or in one without a commit."""
    told = _git(folder, "log", "-1", "--format=%H %ct")
    if not told or _git(folder, "ls-files", ".") == b"":
        return None
    commit, seconds = told.decode().split()
    changed = (_git(folder, "status", "--porcelain") or b"").decode().splitlines()
    return RepositoryState(
        commit, datetime.fromtimestamp(int(seconds), UTC), tuple(line[3:] for line in changed)
    )


def ignored_in(folder: Path) -> tuple[str, ...]:
    """Files that a build of the guide in `folder` takes in and git was told to ignore, so no commit has them.

    MkDocs leaves out what begins with a dot; besides its pages a guide is YAML, and what was measured, as
    JSON at its top.
    """
    told = _git(folder, "ls-files", "-z", "--others", "--ignored", "--exclude-standard", ".") or b""
    names = [name for name in told.decode().split("\0") if name and not f"/{name}".count("/.")]
    return tuple(
        name
        for name in names
        if name.startswith("pages/") or name.endswith(".yaml") or ("/" not in name and name.endswith(".json"))
    )


def top_of(folder: Path) -> Path | None:
    """The folder of the repository that a folder is in, if it is in one."""
    told = (_git(folder, "rev-parse", "--show-toplevel") or b"").decode().strip()
    return Path(told).resolve() if told else None


def is_committed(top: Path, file: Path) -> bool:
    """Whether a file of the repository `top` stands in its last commit, with what it holds now."""
    name = file.relative_to(top).as_posix()
    kept = _git(top, "rev-parse", "--verify", "--quiet", f"HEAD:{name}")
    return kept is not None and kept == _git(top, "hash-object", "--", name)


@contextmanager
def guide_as_of(name: str, guide: Path) -> Iterator[Path]:
    """The folder `name`, or else `guide` as it was in the git revision `name`, in a temporary folder and with
    what has another name by now under that.

    Raises ValueError where neither is there.
    """
    if Path(name).is_dir():
        yield Path(name)
        return
    commit = _git(guide, "rev-parse", "--verify", "--quiet", "--end-of-options", f"{name}^{{commit}}")
    if commit is None:
        names = _git(guide, "for-each-ref", "--format=%(refname:short)") or b""
        near = nearest(name, ["HEAD", *names.decode().split()])
        raise ValueError(f"{name} is neither a guide folder nor a git revision of {guide}{near}")
    inside = (_git(guide, "rev-parse", "--show-prefix") or b"").decode().strip()
    top = top_of(guide) or guide
    archive = _git(top, "archive", "--format=zip", f"{commit.decode().strip()}:{inside}")
    if archive is None:
        raise ValueError(f"the git revision {name} has no folder {inside}")
    with TemporaryDirectory(prefix="guide-") as folder:
        zipfile.ZipFile(io.BytesIO(archive)).extractall(folder)
        _put_in_todays_words(Path(folder))
        yield Path(folder)


_RENAMED = (
    (re.compile(r"\bpriority: none\b"), "priority: unsettled"),
    (re.compile(r"^( +)none: (?={label)", re.MULTILINE), r"\1unsettled: "),
)
"""What guides wrote once, and what is written for it now."""


def _put_in_todays_words(folder: Path) -> None:
    """Without this no tree of an older revision could be compared with a new one."""
    for file in folder.rglob("*.yaml"):
        text = file.read_bytes().decode("utf-8", errors="surrogateescape")
        new = text
        for was, now in _RENAMED:
            new = was.sub(now, new)
        if new != text:
            file.write_bytes(new.encode("utf-8", errors="surrogateescape"))


def _git(folder: Path, *words: str) -> bytes | None:
    """What git answers; None where it refuses, or is not there."""
    try:
        asked = subprocess.run(["git", "-C", folder, *words], capture_output=True)
    except FileNotFoundError:
        return None
    return asked.stdout if asked.returncode == 0 else None
