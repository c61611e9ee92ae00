"""The documents name what is there, and no file names what it must not."""

from __future__ import annotations

import os
import re
import shlex
from collections.abc import Iterator
from pathlib import Path

import pytest

from build_tools.checks import CHECKS
from build_tools.cli.command_line import VERBS, parse
from build_tools.setup.environment import ROOT

README = (ROOT / "README.md").read_text("utf-8")
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text("utf-8")
STARTS = "python3 -m build_tools"

GENERATED = {
    line.strip().strip("/") for line in (ROOT / ".gitignore").read_text("utf-8").splitlines() if line.strip()
}
"""Folders that git ignores, each by its name."""

HOSTS = tuple(
    ".".join(parts)
    for parts in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("yarnpkg", "com"),
        ("jsdelivr", "net"),
        ("unpkg", "com"),
        ("anaconda", "org"),
        ("crates", "io"),
        ("golang", "org"),
        ("rubygems", "org"),
        ("debian", "org"),
        ("ubuntu", "com"),
        ("docker", "io"),
    )
)
"""Hosts of package registries and their mirrors; written in parts, since no file may name one."""

BANNED = tuple(" ".join(parts) for parts in (("trans" + "cript",), ("the", "video")))
"""Words that no file may hold, written so that this one does not."""


def files() -> Iterator[Path]:
    """Every file of the project that is not generated."""
    for folder, inner, names in os.walk(ROOT):
        inner[:] = sorted(set(inner) - {".git", *GENERATED})
        yield from (Path(folder, name) for name in sorted(names))


def held(path: Path) -> str:
    """The file's name and its text; what is no text counts too."""
    return f"{path.relative_to(ROOT)}\n{path.read_bytes().decode('utf-8', errors='replace')}"


def commands(document: str) -> list[str]:
    """Every command of ours that a document tells to type, in a code block or in the line."""
    return re.findall(rf"{re.escape(STARTS)}(?: [^`\n]*)?", document)


@pytest.mark.parametrize("verb", VERBS)
def test_every_verb_is_in_the_readme(verb: str) -> None:
    assert re.search(rf"{re.escape(STARTS)} {verb}\b", README)


@pytest.mark.parametrize("command", sorted({*commands(README), *commands(DEVELOPERS)}))
def test_every_command_in_the_documents_can_be_typed(command: str) -> None:
    words = shlex.split(command.removeprefix(STARTS))
    assert words, f"{command} has no verb"
    assert parse(words).verb in VERBS


def test_the_readme_begins_with_two_commands() -> None:
    blocks = re.findall(r"^```\w*\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    started = [block.split("\n")[:-1] for block in blocks if block.startswith(STARTS)]
    assert started[0] == [f"{STARTS} serve", f"{STARTS} test"]


def test_every_check_is_named_with_its_file() -> None:
    folder = ROOT / "build_tools" / "checks"
    called = {check.__module__.rpartition(".")[2] for check in CHECKS}
    assert called <= {path.stem for path in folder.glob("*.py")}
    for path in folder.glob("[!_]*.py"):
        assert f"`{path.name}`" in DEVELOPERS, path.name
    listed = set(re.findall(r"^- \*\*(\w+)\*\*:", README, re.MULTILINE))
    assert listed == called, "the README says what each check does"


def test_every_folder_is_named() -> None:
    top = {path.relative_to(ROOT).parts[0] for path in files() if len(path.relative_to(ROOT).parts) > 1}
    named = {name for name in top if f"`{name}/" in DEVELOPERS}
    assert named == top
    for name in ("guide_src", "site", ".lost-neutral"):
        assert f"{name}/" in README, name


NEAR = ("", "guide_src", "build_tools", "build_tools/site/browser")


def test_every_part_that_is_named_is_there() -> None:
    """Paths in back quotes, from the top or from the folder that the sentence is about."""
    for document in (README, DEVELOPERS):
        for path in re.findall(r"`((?:[\w.-]+/)+(?:[\w-]+\.\w+)?)`", document):
            if path.partition("/")[0] in GENERATED or "NAME" in path:
                continue
            assert any((ROOT / near / path).exists() for near in NEAR), path


def test_every_link_and_picture_is_there() -> None:
    for document in (README, DEVELOPERS):
        for target in re.findall(r"\]\(([^)#]+)\)", document):
            assert (ROOT / target).is_file(), target


def test_no_file_names_a_package_registry() -> None:
    named = re.compile(rf"\b(?:{'|'.join(map(re.escape, HOSTS))})\b", re.IGNORECASE)
    assert [f"{path}: {found[0]}" for path in files() for found in named.finditer(held(path))] == []


def test_no_file_says_where_the_project_came_from() -> None:
    said = re.compile(rf"\b(?:{'|'.join(BANNED)})s?\b", re.IGNORECASE)
    assert [f"{path}: {found[0]}" for path in files() for found in said.finditer(held(path))] == []


def test_the_files_looked_at_are_the_projects() -> None:
    seen = {path.relative_to(ROOT).as_posix() for path in files()}
    assert {"README.md", "calc/circuit.py", "guide_src/rules.yaml", "tests/test_documents.py"} <= seen
    assert not [name for name in seen if name.startswith((".git/", ".lost-neutral/", "site/"))]
