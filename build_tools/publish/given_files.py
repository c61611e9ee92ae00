"""Files that `publish` is given beside the guide: committed as they are, or told apart by their sums.

Without that, one commit could give two archives that nobody can tell from each other.
"""

from __future__ import annotations

import hashlib
from dataclasses import dataclass
from pathlib import Path

from build_tools.review import revisions
from build_tools.setup.environment import WrongUse
from build_tools.site import building, translation

__all__ = ["Given", "given_with"]


@dataclass(frozen=True, slots=True)
class Given:
    """One file: the option that names it, its path in the guide's repository or else its bare name, and the
    SHA-256 of what it holds, in hex."""

    option: str
    name: str
    sha256: str
    committed: bool


def given_with(manner: building.Manner, folder: Path, *, unclean: bool) -> tuple[Given, ...]:
    """The files of `manner`, for the guide in `folder`.

    Raises WrongUse for one inside the guide's repository that is not committed as it is, unless it may be
    `unclean`. The commit says nothing of one outside: its sum must.
    """
    language = (
        Path(manner.language) if manner.language and manner.language not in translation.PSEUDO else None
    )
    top = revisions.top_of(folder)
    return tuple(
        _given(option, file, top, unclean)
        for option, file in (("--operator", manner.operator), ("--language", language))
        if file
    )


def _given(option: str, file: Path, top: Path | None, unclean: bool) -> Given:
    sha256 = hashlib.sha256(file.read_bytes()).hexdigest()
    real = file.resolve()
    if top is None or not real.is_relative_to(top):
        return Given(option, file.name, sha256, committed=False)
    committed = revisions.is_committed(top, real)
    if not (committed or unclean):
        raise WrongUse(
            f"{option} {file}: what this file holds is not in the commit that is published, which could then "
            "not be built again as it was\n"
            "  mend: commit the file; or name one outside the repository, whose SHA-256 the archive then "
            "carries; or say --unclean"
        )
    return Given(option, real.relative_to(top).as_posix(), sha256, committed)
