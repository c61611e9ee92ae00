"""Installed from its wheel in a clean environment, the program does elsewhere what it does in its repository.

The wheel's dependencies come from the registry that pip is set to use; after that everything runs without a
network, and with the installation mounted for reading only where this system lets a user do both.
LOST_NEUTRAL_PYTHONS names further Pythons to try, with the path's separator between them.
"""

from __future__ import annotations

import json
import os
import shutil
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest
from test_starter import filled_in

from build_tools.cli.command_line import VERBS
from build_tools.publish import wheel
from build_tools.setup import environment
from build_tools.setup.environment import ROOT
from build_tools.site import building

PYTHONS = [
    getattr(sys, "_base_executable", sys.executable),
    *filter(None, os.environ.get("LOST_NEUTRAL_PYTHONS", "").split(os.pathsep)),
]
AT_HOME = ("test", "mutate-code", "bench", "lock", "wheel")
ALONE = 'mount --bind "$0" "$0" && mount -o remount,bind,ro "$0" && exec "$@"'
NOWHERE = {f"{name}_proxy": "http://127.0.0.1:9" for name in ("http", "https", "HTTP", "HTTPS", "all")}


@dataclass(frozen=True)
class Installed:
    """A virtual environment with nothing but the wheel and what it asks for."""

    venv: Path
    home: Path

    def __call__(self, *words: str | Path, folder: Path, fails: int = 0) -> subprocess.CompletedProcess[str]:
        """What a program of it says, without a network and without a way to write into it."""
        command, environ = self.command(*words)
        done = subprocess.run(command, cwd=folder, env=environ, capture_output=True, text=True)
        assert done.returncode == fails, done.stdout + done.stderr
        assert "Traceback" not in done.stdout + done.stderr
        return done

    def command(self, *words: str | Path, closed_in: bool = True) -> tuple[list[str], dict[str, str]]:
        """What to start, and its environment."""
        program, *others = map(str, words)
        command = [str(self.venv / "bin" / program), *others]
        if closed_in and closed():
            command = [
                "unshare",
                "--map-root-user",
                "--net",
                "--mount",
                "sh",
                "-c",
                ALONE,
                str(self.venv),
                *command,
            ]
        environ = {"PATH": os.environ["PATH"], "HOME": str(self.home), "LANG": "C.UTF-8", **NOWHERE}
        # compiled as it is used, which is much less than all of it
        return command, {**environ, "PYTHONPYCACHEPREFIX": str(self.venv.with_name("compiled"))}

    def written(self) -> dict[str, tuple[int, int]]:
        """Every file of it, with its size and when it was written."""
        seen = ((path, path.stat()) for path in self.venv.rglob("*") if path.is_file())
        return {str(path): (about.st_size, about.st_mtime_ns) for path, about in seen}


def closed() -> bool:
    """Whether a program can be started without a network and with a folder that it cannot write to."""
    asked = ["unshare", "--map-root-user", "--net", "--mount", "true"]
    return bool(shutil.which("unshare")) and subprocess.run(asked, capture_output=True).returncode == 0


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel."""
    return wheel.make(tmp_path_factory.mktemp("wheel"))


@pytest.fixture(scope="module", params=PYTHONS)
def installed(
    request: pytest.FixtureRequest, made: Path, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Installed]:
    """In the end nothing of it may have been written to, whatever the tests had it do."""
    folder = tmp_path_factory.mktemp("elsewhere")
    (folder / "home").mkdir()
    subprocess.run([request.param, "-m", "venv", folder / "venv"], check=True)
    pip = [folder / "venv/bin/python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check"]
    subprocess.run([*pip, "--no-compile", made], check=True, cwd=folder)
    there = Installed(folder / "venv", folder / "home")
    before = there.written()
    yield there
    assert there.written() == before


@pytest.fixture(scope="module")
def started(installed: Installed, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A guide that the program wrote, with a name and a number of somebody's own."""
    folder = tmp_path_factory.mktemp("work")
    installed("lost-neutral", "new", "my-guide", folder=folder)
    return filled_in(folder / "my-guide")


def test_every_verb_is_there(installed: Installed, tmp_path: Path) -> None:
    """One start for each would cost seconds; one process asks for every help."""
    asked = (
        "import contextlib, sys\nfrom build_tools.cli.command_line import main\n"
        "for verb in sys.argv[1:]:\n    with contextlib.suppress(SystemExit): main([verb, '--help'])\n"
    )
    told = installed("python", "-P", "-c", asked, *VERBS, folder=tmp_path).stdout
    assert told.count("usage: lost-neutral ") == told.count("example:\n  lost-neutral ") == len(VERBS)
    assert "usage: lost-neutral" in installed("lost-neutral", "--help", folder=tmp_path).stdout


@pytest.mark.parametrize("verb", AT_HOME)
def test_what_is_for_the_repository_is_refused_elsewhere(
    installed: Installed, tmp_path: Path, verb: str
) -> None:
    told = installed("lost-neutral", verb, folder=tmp_path, fails=2).stderr
    there = f"run there: python3 -m build_tools {verb}\n"
    assert told == f"lost-neutral: {verb} is for the program's own repository; {there}"
    assert list(tmp_path.iterdir()) == []


def test_a_guide_is_checked_and_asked(installed: Installed, started: Path) -> None:
    assert installed("lost-neutral", "check", folder=started).stdout == ""
    assert installed("lost-neutral", "check", "--guide", started.name, folder=started.parent).stdout == ""
    street = "first-street", "--fault", "service-pen-open@1", "--at", "3"
    home = json.loads(installed("lost-neutral", "readings", *street, "--json", folder=started).stdout)
    assert home
    told = installed("lost-neutral", "walk", "first-tree", "--street", *street, folder=started).stdout
    assert "Leave it connected and hand over" in told
    assert installed("lost-neutral", "calculate", "lost-neutral", "--csv", folder=started).stdout
    schema = json.loads((started / ".lost-neutral/schemas/tree.json").read_text("utf-8"))
    assert schema["$schema"], "an editor knows of a new guide's files at once"


def test_its_site_carries_what_the_repositorys_does(
    installed: Installed, started: Path, tmp_path: Path
) -> None:
    """Built by MkDocs from the guide's own repository, from the program, and from the folder above."""
    assert building.build(started, tmp_path / "ours") == 0
    installed("mkdocs", "build", "--strict", "--quiet", folder=started)
    installed("lost-neutral", "build", "--to", tmp_path / "theirs", folder=started)
    elsewhere = ("--guide", started.name, "--to", tmp_path / "from-above")
    installed("lost-neutral", "build", *elsewhere, folder=started.parent)
    ours, theirs, by_mkdocs, above = (
        {path.relative_to(site).as_posix(): path.read_bytes() for path in site.rglob("*") if path.is_file()}
        for site in (tmp_path / "ours", tmp_path / "theirs", started / "site", tmp_path / "from-above")
    )
    assert theirs == by_mkdocs == above
    assert ours.keys() == theirs.keys()
    assert "assets/python/calc.bin" in ours or len([name for name in ours if name.endswith(".bin")]) > 3
    assert [name for name in ours if name.startswith("assets/") and ours[name] != theirs[name]] == []


def test_it_is_published_with_all_licences(installed: Installed, started: Path) -> None:
    installed("lost-neutral", "publish", "--unclean", folder=started)
    (archive,) = (started / "release").glob("*.zip")
    with zipfile.ZipFile(archive) as published:
        (bill,) = (name for name in published.namelist() if name.endswith("bill-of-materials.cdx.json"))
        listed = {one["name"]: one.get("version") for one in json.loads(published.read(bill))["components"]}
    packages = json.loads((environment.NODE_LIST / "package.json").read_text("utf-8"))["dependencies"]
    assert {name: listed.get(name) for name in packages if name != "esbuild"} == {
        name: version for name, version in packages.items() if name != "esbuild"
    }


def test_mkdocs_serves_it_and_follows_changes(installed: Installed, started: Path) -> None:
    """A refused change leaves the last good pages up. Not cut off from networks: somebody has to ask."""
    with socket.create_server(("127.0.0.1", 0)) as free:
        address = f"127.0.0.1:{free.getsockname()[1]}"
    said, tree = started.parent / "said.txt", started / "trees/site/first-tree.yaml"
    command, environ = installed.command("mkdocs", "serve", "--dev-addr", address, closed_in=False)
    text = tree.read_text("utf-8")
    with said.open("w") as out:
        serving = subprocess.Popen(command, cwd=started, env=environ, stdout=out, stderr=out)
    try:
        page = f"http://{address}/trees/site/first-tree.html"
        wait_until(lambda: "Before a main earth" in got(page), said)
        tree.write_text(text.replace("title: Before", "title: Long before"), "utf-8")
        wait_until(lambda: "Long before a main earth" in got(page), said)
        tree.write_text(text.replace("go: hand-over", "go: nowhere", 1), "utf-8")
        wait_until(lambda: "1 to mend; nothing was built" in said.read_text("utf-8"), said)
        assert "Long before a main earth" in got(page)
    finally:
        tree.write_text(text, "utf-8")
        serving.terminate()
        serving.wait()


def got(page: str) -> str:
    """A page, or nothing while it is not there."""
    try:
        with urllib.request.build_opener(urllib.request.ProxyHandler({})).open(page, timeout=5) as answer:
            return str(answer.read().decode())
    except (urllib.error.URLError, ConnectionError):
        return ""


def wait_until(so: Callable[[], bool], said: Path) -> None:
    """For as long as a build may take on a busy machine."""
    for _ in range(300):
        if so():
            return
        time.sleep(0.2)
    raise AssertionError(said.read_text("utf-8"))


def test_nothing_but_the_guide_and_what_was_asked_for_is_written(installed: Installed, started: Path) -> None:
    about = {path.name for path in started.iterdir()}
    assert about - {"site", "release"} == {
        path.name for path in (ROOT / "build_tools/starter/guide").iterdir()
    } | {".lost-neutral"}
    assert [path.name for path in (started / ".lost-neutral").iterdir()] == ["schemas"]
    assert {path.parent.name for path in installed.home.rglob("*") if path.is_file()} <= {"kept"}
