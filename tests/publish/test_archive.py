"""The archive for whoever serves the guide: the same bytes for the same commit, and what must be known."""

from __future__ import annotations

import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import zipfile
from collections.abc import Iterator
from importlib.metadata import files, version
from pathlib import Path
from typing import Any

import pytest
from cyclonedx.model.bom import Bom
from cyclonedx.schema import SchemaVersion
from cyclonedx.validation.json import JsonStrictValidator

from build_tools.publish import archive, components
from build_tools.publish.given_files import Given, given_with
from build_tools.review import revisions
from build_tools.setup.environment import NODE, WrongUse
from build_tools.site.building import Manner

ROOT = Path(__file__).parents[2]
GUIDE = ROOT / "tests/guides/walked"

IN_PYTHON = {
    "zlib": "zlib",
    "_bz2": "bzip2",
    "_lzma": "xz",
    "_zstd": "zstd",
    "_sqlite3": "sqlite",
    "pyexpat": "expat",
    "_decimal": "mpdecimal",
    "_ctypes": "libffi",
    "_blake2": "hacl-star",
}
"""Built-in modules of CPython that wrap a library -> the library. From memory of CPython's build."""


def git(folder: Path, *words: str) -> str:
    who = {"GIT_AUTHOR_NAME": "a", "GIT_COMMITTER_NAME": "a", "GIT_AUTHOR_EMAIL": "a@example.org"}
    when = {"GIT_AUTHOR_DATE": "2026-06-01T10:00:00+02:00", "GIT_COMMITTER_DATE": "2026-06-01T10:00:00+02:00"}
    env = {**os.environ, **who, **when, "GIT_COMMITTER_EMAIL": "a@example.org"}
    return subprocess.run(
        ["git", "-C", folder, *words], env=env, check=True, text=True, capture_output=True
    ).stdout.strip()


def committed(guide: Path, to: Path) -> Path:
    """A copy of a guide in a repository of its own."""
    shutil.copytree(guide, to)
    git(to, "init", "-q")
    git(to, "add", "-A")
    git(to, "commit", "-q", "-m", "the guide")
    return to


def published(guide: Path, into: Path, *more: str, **environ: str) -> Path:
    command = [
        sys.executable,
        "-m",
        "build_tools",
        "publish",
        "--guide",
        str(guide),
        "--to",
        str(into),
        *more,
    ]
    done = subprocess.run(command, cwd=ROOT, env={**os.environ, **environ}, text=True, capture_output=True)
    assert done.returncode == 0, done.stdout + done.stderr
    (made,) = into.glob("*.zip")
    return made


@pytest.fixture(scope="module")
def release(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """What an archive holds, unpacked."""
    folder = tmp_path_factory.mktemp("release")
    guide = committed(GUIDE, folder / "guide")
    text = (guide / "trees/site/tingle-visit.yaml").read_text("utf-8")
    (guide / "trees/site/tingle-visit.yaml").write_text(
        text.replace(
            "{from: 5, label: a whole home's current, go: leave}", "{from: 5, label: much, go: away}"
        ),
        "utf-8",
    )
    git(guide, "commit", "-q", "-am", "worse")
    theirs = folder / "theirs.yaml"
    theirs.write_text((guide / "operator.yaml").read_text("utf-8") + "# told by its sum\n", "utf-8")
    made = published(guide, folder, "--since", "HEAD~1", "--operator", str(theirs))
    with zipfile.ZipFile(made) as opened:
        opened.extractall(folder)
    return folder / made.stem


def test_the_same_commit_gives_the_same_bytes(tmp_path: Path) -> None:
    one = committed(GUIDE, tmp_path / "one")
    first = published(one, tmp_path / "first", "--cards", TZ="UTC", PYTHONHASHSEED="1")
    other = committed(GUIDE, tmp_path / "another place" / "guide")
    for path in other.rglob("*"):
        if path.is_file() and ".git" not in path.parts:
            path.chmod(0o600)
            os.utime(path, (1, 1))
    umask = os.umask(0o077)
    try:
        second = published(
            other, tmp_path / "second", "--cards", TZ="Asia/Tokyo", PYTHONHASHSEED="2", LC_ALL="C"
        )
    finally:
        os.umask(umask)
    assert first.name == second.name
    assert hashlib.sha256(first.read_bytes()).hexdigest() == hashlib.sha256(second.read_bytes()).hexdigest()
    with zipfile.ZipFile(first) as opened:
        assert {entry.date_time for entry in opened.infolist()} == {(2026, 6, 1, 8, 0, 0)}
        assert f"{first.stem}/cards/site/tingle-visit.pdf" in opened.namelist()


def test_every_file_stands_in_the_sums_and_fits(release: Path) -> None:
    listed = dict(reversed(line.split("  ", 1)) for line in (release / "SHA256SUMS").read_text().splitlines())
    there = {path.relative_to(release).as_posix() for path in release.rglob("*") if path.is_file()}
    assert there == {*listed, "SHA256SUMS"}
    for name, digest in listed.items():
        assert hashlib.sha256((release / name).read_bytes()).hexdigest() == digest


@pytest.fixture(scope="module")
def bill(release: Path) -> dict[str, Any]:
    read: dict[str, Any] = json.loads((release / "bill-of-materials.cdx.json").read_text("utf-8"))
    return read


def test_the_bill_of_materials_is_one(release: Path, bill: dict[str, Any]) -> None:
    """CycloneDX 1.6, held against its own published schema, and read by a library for it."""
    text = (release / "bill-of-materials.cdx.json").read_text("utf-8")
    assert JsonStrictValidator(SchemaVersion.V1_6).validate_str(text) is None
    read = Bom.from_json(bill)
    assert read.metadata.component and read.metadata.component.name == "A guide to walk"
    assert read.validate(), "what depends on something names what is there"
    versions = {one["name"]: one.get("version") for one in bill["components"]}
    assert versions["mkdocs-material"] == version("mkdocs-material")
    assert versions["lost-neutral"] == version("lost-neutral")


def test_the_bill_has_the_sum_of_every_file_of_others(release: Path, bill: dict[str, Any]) -> None:
    """As sha256sum gives it: any tool that reads CycloneDX can hold what is shipped against it."""
    listed = {
        held["name"]: held["hashes"] for one in bill["components"] for held in one.get("components", ())
    }
    assert {"site/assets/find.js", "site/assets/python/pyodide.asm.wasm.bin"} <= listed.keys()
    said = "".join(f"{hashes[0]['content']}  {name}\n" for name, hashes in listed.items())
    assert {hashes[0]["alg"] for hashes in listed.values()} == {"SHA-256"}
    subprocess.run(["sha256sum", "--check", "--strict"], cwd=release, input=said, text=True, check=True)
    others = [path for path in (release / "site/assets/stylesheets").rglob("*") if path.is_file()]
    assert others and {path.relative_to(release).as_posix() for path in others} <= listed.keys()


def packages_in_maps(release: Path) -> Iterator[str]:
    """What the source maps of the theme's files and of Pyodide's loader say is joined in them."""
    maps = [*release.rglob("*.map"), NODE / "node_modules/pyodide/pyodide.mjs.map"]
    assert len(maps) >= 4
    for path in maps:
        for source in json.loads(path.read_text("utf-8"))["sources"]:
            yield from re.findall(r"node_modules/((?:@[^/]+/)?[^/]+)/", source)
            yield from re.findall(r"/vendor/\w+/([\w-]+)\.ts", source)


def test_it_names_all_that_is_bundled_with_its_licence(release: Path, bill: dict[str, Any]) -> None:
    listed = {one["name"] for one in bill["components"]}
    in_maps = set(packages_in_maps(release))
    assert {"rxjs", "stackframe"} <= in_maps <= listed
    program = (NODE / "node_modules/pyodide/pyodide.asm.wasm").read_bytes()
    for module, library in IN_PYTHON.items():
        assert f"PyInit_{module}".encode() in program
        assert library in listed
    pinned = json.loads((ROOT / "build_tools/setup/node/package.json").read_text("utf-8"))["dependencies"]
    assert pinned.keys() - listed == {"esbuild"}, "which joins files and is in none"
    licences = {path.stem for path in (release / "licences").iterdir()}
    assert licences == {name.rpartition("/")[2] for name in listed - {"lost-neutral"}}


@pytest.mark.parametrize(
    ("package", "licence", "begins"),
    [
        ("pydantic", "bootstrap", "permission is hereby granted"),
        ("pathspec", "pyodide", "1 definitions"),
        ("requests", "llvm-runtimes", "1 definitions"),
    ],
)
def test_a_licence_is_word_for_word_what_a_package_under_it_carries(
    package: str, licence: str, begins: str
) -> None:
    carried = [file for file in files(package) or () if re.search(r"dist-info/.*LICENSE$", str(file))]
    texts = (carried[0].read_text(), (components.LICENCES / f"{licence}.txt").read_text("utf-8"))
    said = (" ".join(re.findall(r"\w+", text.lower().replace("https:", "http:"))) for text in texts)
    theirs, ours = (text[text.index(begins) :].partition(" end of terms")[0] for text in said)
    assert ours == theirs


@pytest.mark.parametrize("name", ["a.js.map", "assets/javascripts/a.js.map"])
def test_a_package_without_a_known_licence_is_refused(tmp_path: Path, name: str) -> None:
    (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
    (tmp_path / name).write_text(json.dumps({"sources": ["../node_modules/@who/left-pad/index.js"]}))
    with pytest.raises(components.Unlicensed, match=r"carries @who/left-pad, .* components\.yaml"):
        components.bundled(tmp_path, NODE / "node_modules", own=["a.js.map"])


def test_a_file_that_is_nobodys_is_refused(tmp_path: Path) -> None:
    (tmp_path / "fonts").mkdir()
    (tmp_path / "fonts/a.woff2").write_bytes(b"")
    assert components.bundled(tmp_path, NODE / "node_modules", own=["fonts/a.woff2"]) == []
    with pytest.raises(components.Unlicensed, match=r"carries fonts/a\.woff2"):
        components.bundled(tmp_path, NODE / "node_modules")


def test_the_notes_say_what_changed_in_behaviour(release: Path) -> None:
    notes = (release / "RELEASE-NOTES.md").read_text("utf-8")
    assert "walks end" in notes and "elsewhere" in notes
    first = (release / "READ-FIRST.md").read_text("utf-8")
    for words in ("version 2.1", "Content-Security-Policy", "Permissions-Policy", "- pyodide 3", "No cookie"):
        assert words in first


def test_each_page_names_the_commit(release: Path) -> None:
    commit = release.name.split("-")[3]
    for page in (release / "site").rglob("*.html"):
        assert f"commit <span>{commit}</span>" in page.read_text("utf-8"), page


def test_what_was_not_committed_is_not_published(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    guide = committed(GUIDE, tmp_path / "guide")
    (guide / "glossary.yaml").write_text("", "utf-8")
    command = [sys.executable, "-m", "build_tools", "publish", "--guide", str(guide), "--to", str(tmp_path)]
    done = subprocess.run(command, cwd=ROOT, text=True, capture_output=True)
    assert done.returncode == 2
    assert "glossary.yaml is not as it was committed (1 such); commit first" in done.stderr + done.stdout
    assert not list(tmp_path.glob("*.zip"))


def test_a_file_from_outside_the_repository_is_told_by_its_sum(release: Path) -> None:
    digest = hashlib.sha256((release.parent / "theirs.yaml").read_bytes()).hexdigest()
    first = (release / "READ-FIRST.md").read_text("utf-8")
    assert f"- `--operator theirs.yaml`, not in the commit, SHA-256 `{digest}`" in first
    assert release.name.endswith(f"-{digest[:8]}")


def spoilt(file: Path, how: str) -> None:
    """A file that is in the repository's folder, and not in its commit as it stands there."""
    if how == "changed, which git was told to overlook":
        git(file.parent, "update-index", "--assume-unchanged", file.name)
    elif how == "ignored":
        git(file.parent, "rm", "-q", "--cached", file.name)
        (file.parent / ".gitignore").write_text(file.name, "utf-8")
        git(file.parent, "add", ".gitignore")
        git(file.parent, "commit", "-q", "-m", "ignored")
        return
    file.write_text(file.read_text("utf-8") + "\n", "utf-8")
    if how == "staged":
        git(file.parent, "add", file.name)


@pytest.mark.parametrize("option", ["--operator", "--language"])
@pytest.mark.parametrize("how", ["changed", "staged", "ignored", "changed, which git was told to overlook"])
def test_a_file_that_is_not_committed_as_it_is_is_refused(tmp_path: Path, option: str, how: str) -> None:
    guide = tmp_path / "one/guide"
    shutil.copytree(GUIDE, guide)
    file = tmp_path / "one/beside.yaml"
    file.write_text("language: cy\nwords: {}\n", "utf-8")
    git(file.parent, "init", "-q")
    git(file.parent, "add", "-A")
    git(file.parent, "commit", "-q", "-m", "both")
    manner = Manner(operator=file) if option == "--operator" else Manner(language=str(file))
    digest = hashlib.sha256(file.read_bytes()).hexdigest()
    assert given_with(manner, guide, unclean=False) == (Given(option, "beside.yaml", digest, True),)
    spoilt(file, how)
    with pytest.raises(WrongUse) as refused:
        archive.publish(guide, tmp_path / "release", None, manner)
    told = str(refused.value)
    assert told.startswith(f"{option} {file}: what this file holds is not in the commit")
    assert "mend: commit the file; or name one outside the repository" in told
    (given,) = given_with(manner, guide, unclean=True)
    assert (given.committed, given.sha256) == (False, hashlib.sha256(file.read_bytes()).hexdigest())


def test_what_git_ignores_is_not_published_unseen(tmp_path: Path) -> None:
    guide = committed(GUIDE, tmp_path / "guide")
    (guide / ".git/info/exclude").write_text("draft*\n.hidden*\n*.json\n", "utf-8")
    (guide / "schemas").mkdir()
    for name in ("pages/.hidden.md", "schemas/tree.json"):
        (guide / name).write_text("{}", "utf-8")
    assert revisions.ignored_in(guide) == (), "neither is taken in by a build"
    for name in ("evidence.json", "pages/draft.png", "trees/site/draft.yaml"):
        (guide / name).write_text("", "utf-8")
    with pytest.raises(WrongUse) as refused:
        archive.publish(guide, tmp_path / "release", None, Manner())
    told = str(refused.value)
    assert told.startswith(f"{guide / 'evidence.json'} is ignored by git (3 such)") and "  mend: " in told
    assert revisions.state_of(guide).changed == ()  # git itself has nothing to say


def test_what_is_past_its_review_date_is_built_with_a_word_but_not_published(tmp_path: Path) -> None:
    guide = tmp_path / "guide"
    shutil.copytree(GUIDE, guide)
    tree = guide / "trees/site/tingle-visit.yaml"
    tree.write_text(tree.read_text("utf-8").replace("2099-01-01", "2026-01-31"), "utf-8")
    assert archive.publish(guide, tmp_path / "release", None, Manner(), unclean=True) == 1
    assert not (tmp_path / "release").exists()
    command = [
        sys.executable,
        "-m",
        "build_tools",
        "build",
        "--guide",
        str(guide),
        "--to",
        str(tmp_path / "site"),
    ]
    assert subprocess.run([*command, "--strict"], cwd=ROOT).returncode == 1
    assert not (tmp_path / "site").exists()
    assert subprocess.run(command, cwd=ROOT).returncode == 0
    page = (tmp_path / "site/trees/site/tingle-visit.html").read_text("utf-8")
    assert (
        'data-shown-after="2026-01-31" data-search-exclude><span><b>Past its review date (2026-01-31).'
        in page
    )
    review = (tmp_path / "site/review.html").read_text("utf-8").partition("<tbody>")[2]
    assert review.index("Tingle reported from pipework") < review.index("A tingle is told on the telephone")
    assert review.count('">Past its day') == 1
