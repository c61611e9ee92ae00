"""What several verbs ask of a guide that was named, each with its wrong use."""

import argparse
import os
from pathlib import Path
from typing import TYPE_CHECKING

from build_tools.setup import environment
from build_tools.setup.environment import WrongUse

if TYPE_CHECKING:
    from build_tools.guide.findings import Finding
    from build_tools.guide.trees import Guide

MEASURED = ("promises.yaml", "sampling.yaml")
"""What says what is measured, and over which streets."""


def must_show(guide: "Guide") -> None:
    """Raises WrongUse where a test is measured of which no tree says when it shows a fault."""
    from build_tools.proof.procedures import procedures

    try:
        procedures(guide)
    except KeyError as unread:
        raise WrongUse(
            f"no site tree that can close a job takes the test {unread.args[0]}, so nothing says when that "
            "shows a fault; let one take it"
        ) from unread


def findings_in(guide: "Guide", *names: str) -> list["Finding"]:
    """What was found in these files of a guide when they were read."""
    files = {guide.files[name].file for name in names if name in guide.files}
    return [finding for finding in guide.findings if finding.place.file in files]


def is_refused(guide: "Guide", *names: str) -> bool:
    """Whether something was found in these files; it is printed."""
    from build_tools.guide.findings import text_report

    if found := findings_in(guide, *names):
        print(text_report(found))
    return bool(found)


def operator_of(asked: argparse.Namespace) -> Path | None:
    """The file that says whose guide it is, if one was named. Raises WrongUse for one that cannot be read."""
    if asked.operator and not (asked.operator.is_file() and os.access(asked.operator, os.R_OK)):
        why = "cannot be read" if asked.operator.exists() else "is not there"
        raise WrongUse(f"{asked.operator} {why}, and is to say whose guide this is; name such a file")
    path: Path | None = asked.operator
    return path


def guide_folder(folder: Path) -> Path:
    """The guide's folder. Raises WrongUse where there is none that can be read."""
    if folder.exists() and not (folder.is_dir() and os.access(folder, os.R_OK | os.X_OK)):
        raise WrongUse(f"{folder} is no folder that can be read; name the guide's folder")
    if not folder.exists():
        raise WrongUse(f"there is no guide folder {folder} ({environment.COMMAND} new {folder} writes one)")
    return folder
