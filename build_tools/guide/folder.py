"""What lies in a guide's folder: its pages, and what must not be there since nothing may or would read it."""

from __future__ import annotations

import os
import re
from collections.abc import Collection, Iterator
from fnmatch import fnmatchcase
from pathlib import Path

from build_tools.guide.findings import Demand, Finding, Place, nearest, shown
from build_tools.guide.source import as_given

__all__ = ["ID", "leads_out", "led_out", "linked", "misplaced", "other_spelling", "pages_in"]

ID = re.compile(r"[a-z0-9][a-z0-9-]*")
"""What a file of a tree or a street may be called, without its ending."""
_OF_A_KIND = ("streets", "trees/call", "trees/site")
"""Folders of which every file that ends in .yaml is read."""
_READ = ("pages", "streets", "trees")
_YAML = (".yaml", ".yml")
_NO_PAGE = re.compile(r".*\.(markdown|mdown|mkdn|mkd|md)", re.IGNORECASE)


def pages_in(root: Path) -> list[Path]:
    """The pages of words of a guide, each a Markdown file inside; what begins with a dot is none."""
    found = (path for path in (root / "pages").rglob("*.md") if not _is_hidden(path.relative_to(root)))
    return sorted(path for path in found if path.is_file() and not leads_out(path, root))


def leads_out(path: Path, root: Path) -> bool:
    """Whether a path inside the folder `root` is, through links, something outside."""
    return not Path(os.path.realpath(path)).is_relative_to(os.path.realpath(root))


DANGLING_LINK = Demand("dangling-link", "links to what is there", "remove it, or put the file there")
LEADS_ROUND = Demand("leads-round", "folders that end", "remove it")
LEADS_OUT = Demand(
    "leads-out",
    "everything inside the folder: what lies elsewhere is neither reviewed nor kept with the guide",
    "put a copy in place of the link",
)


def linked(root: Path) -> Iterator[Finding]:
    """Links in a guide that lead out of it, round in it, or nowhere."""
    for path in filter(Path.is_symlink, _everything(root)):
        target = shown(os.readlink(path))
        if not path.exists():
            if not path.name.startswith("."):  # an editor's mark that a file is open
                what = f"this is a link to {target}, which is not there"
                yield DANGLING_LINK.found(_head(path), what, expected="")
        elif leads_out(path, root):
            yield led_out(path)
        elif not leads_out(path.parent, path):
            yield LEADS_ROUND.found(_head(path), f"this is a link to {target}, a folder that it lies in")


def led_out(path: Path) -> Finding:
    """The finding for what is read through a link that leads out of the guide."""
    return LEADS_OUT.found(_head(path), "a link leads out of the guide's folder here")


MISPLACED = Demand(
    "misplaced", "files that end in .yaml, in trees/call, trees/site or streets", "move or rename the file"
)


def misplaced(root: Path, read: Collection[str]) -> Iterator[Finding]:
    """Files that nothing reads, though they look as if: a wrong folder or ending would drop them without a
    word. `read`: paths of YAML files that were looked for, inside the folder."""
    spelt = {name.casefold() for name in read if not (root / name).exists()}
    for path in _files(root, "*.[yY]*[mM][lL]"):
        inside = path.relative_to(root)
        if inside.as_posix() not in read and inside.as_posix().casefold() not in spelt and _is_astray(inside):
            parent = inside.parent.as_posix()
            near = nearest(parent, _OF_A_KIND) if parent not in _OF_A_KIND else ""
            yield MISPLACED.found(_head(path), f"nothing reads this file{near}")
    for path in _files(root / "pages", "*.[mM]*"):
        if _NO_PAGE.fullmatch(path.name) and path.suffix != ".md":
            what, expected = "this is not read as a page of words", "pages that end in .md"
            yield MISPLACED.found(_head(path), what, (), expected, "rename the file")


def other_spelling(path: Path) -> str | None:
    """The name of a file beside this one that differs from it in small and capital letters alone."""
    beside = os.listdir(path.parent) if path.parent.is_dir() else []
    alike = (name for name in sorted(beside) if name.casefold() == path.name.casefold())
    return next((name for name in alike if name != path.name), None)


def _is_astray(inside: Path) -> bool:
    """Whether YAML that was not read looks like part of the guide: in a folder of trees or streets by another
    ending (a name that does not fit is told already), elsewhere by a name that a tree could have."""
    if (
        inside.parts[0] == "pages"
        or inside.as_posix() == "mkdocs.yml"
        or not inside.name.lower().endswith(_YAML)
    ):
        return False
    if inside.parent.as_posix() in _OF_A_KIND:
        return not inside.name.endswith(".yaml")
    return ID.fullmatch(inside.stem) is not None


def _files(folder: Path, pattern: str) -> Iterator[Path]:
    """Files under a folder, but for those in folders that begin with a dot."""
    for inside, folders, names in os.walk(folder):
        folders[:] = sorted(name for name in folders if not name.startswith("."))
        found = (Path(inside, name) for name in sorted(names) if fnmatchcase(name, pattern))
        yield from filter(Path.is_file, found)


def _everything(root: Path) -> Iterator[Path]:
    """The files at the top of a guide, and all in its folders; links are not followed."""
    yield from (path for path in sorted(root.iterdir()) if path.suffix in (".yaml", ".json"))
    for name in _READ:
        yield root / name
        for folder, inner, files in os.walk(root / name):
            yield from (Path(folder, one) for one in sorted([*inner, *files]))


def _is_hidden(inside: Path) -> bool:
    return any(part.startswith(".") for part in inside.parts)


def _head(path: Path) -> Place:
    return Place(as_given(path), 1, 1)
