"""Stopped by a key, or by a full disk: one line, nothing half done, nobody left at work."""

from __future__ import annotations

import contextlib
import http.client
import os
import pty
import shutil
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from build_tools import starter
from build_tools.setup import environment, whole
from build_tools.setup.environment import SetUpFailed
from build_tools.setup.whole import folder_aside, is_full, put_in_place, whole_file, write_whole

ROOT = Path(__file__).parents[2]
SHIPPED = ROOT / "guide_src"


def started(*words: str, **options: object) -> subprocess.Popen[str]:
    """A verb in a session of its own, whose processes can then be told from all others."""
    return subprocess.Popen(
        [sys.executable, "-m", "build_tools", *words], cwd=ROOT, stdout=subprocess.PIPE,
        stderr=subprocess.PIPE, text=True, start_new_session=True, preexec_fn=hears_the_key,
        **options,  # type: ignore[call-overload]
    )  # fmt: skip


def hears_the_key() -> None:
    """A shell's job in the background ignores the key, and so would whatever it starts."""
    signal.signal(signal.SIGINT, signal.SIG_DFL)


def in_session(session: int) -> list[str]:
    """The command lines of the processes of a session, from Linux's /proc."""
    found = []
    for process in Path("/proc").glob("[0-9]*"):
        try:
            fields = (process / "stat").read_text().rpartition(")")[2].split()
            if int(fields[3]) == session and fields[0] != "Z":
                found.append((process / "cmdline").read_bytes().replace(b"\0", b" ").decode())
        except (OSError, ValueError):
            continue
    return found


def until(so: Callable[[], object], seconds: float = 60) -> None:
    end = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < end, "it never came to be"
        time.sleep(0.02)


needs_proc = pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="reads Linux's /proc")


@needs_proc
@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM])
@pytest.mark.parametrize("when", ["checking", "making"])
def test_a_stopped_build_leaves_the_last_good_site_and_nothing_else(
    tmp_path: Path, number: signal.Signals, when: str
) -> None:
    site = tmp_path / "out/site"
    site.mkdir(parents=True)
    (site / "guide.json").write_text("the last good one")
    build = started("build", "--guide", str(SHIPPED), "--to", str(site))
    until(lambda: list(site.parent.glob(".site-*")))  # which is there before the guide is checked
    if when == "making":
        until(lambda: list(site.parent.glob(".site-*/fresh/*")), 200)
    build.send_signal(number)
    out, err = build.communicate(timeout=30)
    assert (build.returncode, err.splitlines()[-1]) == (130, "build_tools: stopped"), err
    assert "Traceback" not in out + err
    assert [path.name for path in site.parent.iterdir()] == ["site"]
    assert (site / "guide.json").read_text() == "the last good one"
    assert in_session(build.pid) == []


@needs_proc
def test_stopped_proof_ends_its_processes_and_writes_nothing(tmp_path: Path) -> None:
    guide = tmp_path / "guide"
    shutil.copytree(SHIPPED, guide)
    (guide / "evidence.json").write_text("the last one")
    before = sorted(path.name for path in guide.iterdir())
    prove = started("prove", "--guide", str(guide))
    until(lambda: len(in_session(prove.pid)) > 2, 120)
    os.killpg(prove.pid, signal.SIGINT)  # as a terminal does: to all of them
    out, err = prove.communicate(timeout=30)
    assert (prove.returncode, err.splitlines()[-1]) == (130, "build_tools: stopped"), err
    assert "Traceback" not in out + err
    assert in_session(prove.pid) == []
    assert sorted(path.name for path in guide.iterdir()) == before
    assert (guide / "evidence.json").read_text() == "the last one"


@needs_proc
@pytest.mark.parametrize(
    ("words", "processes", "said"),
    [
        (("mutate", "--sample", "200"), 3, ""),
        (("calibrate",), 1, "drawing streets"),
        (("publish", "--unclean", "--to", "RELEASE"), 1, "building"),
    ],
)
def test_whatever_takes_long_is_stopped_whole(
    tmp_path: Path, words: tuple[str, ...], processes: int, said: str
) -> None:
    guide, aside = tmp_path / "guide", tmp_path / "aside"
    shutil.copytree(SHIPPED, guide)
    aside.mkdir()
    before = {path: path.read_bytes() for path in guide.rglob("*") if path.is_file()}
    words = tuple(str(tmp_path / "release") if word == "RELEASE" else word for word in words)
    verb = started(*words, "--guide", str(guide), env={**os.environ, "TMPDIR": str(aside)})
    assert verb.stderr
    if said:
        until(lambda: said in verb.stderr.readline(), 120)  # type: ignore[union-attr]
    until(lambda: len(in_session(verb.pid)) >= processes, 60)
    os.killpg(verb.pid, signal.SIGINT)
    out, err = verb.communicate(timeout=30)
    assert (verb.returncode, err.splitlines()[-1]) == (130, "build_tools: stopped"), err
    assert "Traceback" not in out + err
    assert in_session(verb.pid) == []
    assert list(aside.iterdir()) == []
    assert {path: path.read_bytes() for path in guide.rglob("*") if path.is_file()} == before
    assert not list((tmp_path / "release").glob("*"))


@needs_proc
def test_the_workers_of_a_killed_process_end_too() -> None:
    code = (
        "import time; from build_tools.setup.stopping import workers\n"
        "with workers(2) as pool: list(pool.map(time.sleep, [300, 300]))"
    )
    killed = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, start_new_session=True)
    until(lambda: len(in_session(killed.pid)) == 3)
    killed.kill()
    killed.wait()
    until(lambda: in_session(killed.pid) == [], 10)


@needs_proc
def test_serve_answers_this_machine_only_and_ends_with_all_it_started(tmp_path: Path) -> None:
    guide = tmp_path / "guide"
    starter.write(guide)
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    serve = started(
        "serve", "--guide", str(guide), "--port", str(port), env={**os.environ, "TMPDIR": str(tmp_path)}
    )

    def status(host: str) -> int:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
        connection.request("GET", "/", headers={"Host": host})
        return connection.getresponse().status

    def is_up() -> bool:
        try:
            return status("localhost") == 200
        except OSError:
            return False

    until(is_up)
    assert status("guide.example.org") == 421
    serve.send_signal(signal.SIGTERM)
    out, err = serve.communicate(timeout=30)
    assert (serve.returncode, err.splitlines()[-1]) == (130, "build_tools: stopped"), err
    assert "Traceback" not in out + err
    assert in_session(serve.pid) == []
    assert [path.name for path in tmp_path.iterdir()] == ["guide"]


@needs_proc
def test_a_program_of_the_set_up_ends_with_it_and_with_its_own(tmp_path: Path) -> None:
    code = (
        f"import sys; from build_tools.setup import environment, stopping\n"
        f"with stopping.heeded():\n"
        f"    environment.run(['sh', '-c', 'echo $$ > {tmp_path}/pid; sleep 300; true'], 'x', mend='x')"
    )
    program = subprocess.Popen([sys.executable, "-c", code], cwd=ROOT, stderr=subprocess.DEVNULL)
    until(lambda: (tmp_path / "pid").exists() and (tmp_path / "pid").read_text().strip())
    assert len(in_session(int((tmp_path / "pid").read_text()))) == 2
    program.terminate()
    program.wait(20)
    assert in_session(int((tmp_path / "pid").read_text())) == []


def test_a_stopped_set_up_leaves_nothing_half_made(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    folder = tmp_path / "venv"

    def work() -> None:
        (folder / "half").write_text("made")
        raise KeyboardInterrupt

    stages = tuple(environment.Stage(folder / f".{name}", (name,), work) for name in ("a", "b", "c"))
    monkeypatch.setattr(environment, "CACHE", tmp_path)
    monkeypatch.setattr(environment, "_stages", lambda: stages)
    with pytest.raises(KeyboardInterrupt):
        environment.prepare()
    assert not folder.exists()


@needs_proc
def test_the_key_itself_stops_a_set_up_that_shows_how_far_it_is(tmp_path: Path) -> None:
    """As somebody at a terminal presses it, in a fresh clone."""
    for name in ("build_tools", "calc"):
        shutil.copytree(ROOT / name, tmp_path / name, ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(ROOT / "pyproject.toml", tmp_path)
    child, terminal = pty.fork()
    if not child:
        os.chdir(tmp_path)
        python = getattr(sys, "_base_executable", sys.executable)
        os.execve(python, [python, "-m", "build_tools", "check"], {**os.environ, "TERM": "xterm"})
    said = b""
    while b"set-up 1 of 4: making a virtual environment" not in said:
        said += os.read(terminal, 65536)
    until(lambda: (tmp_path / ".lost-neutral/venv").exists())
    os.write(terminal, b"\x03")
    with contextlib.suppress(OSError):  # Linux says so at the end of a terminal
        while part := os.read(terminal, 65536):
            said += part
    _, status = os.waitpid(child, 0)
    os.close(terminal)
    assert os.waitstatus_to_exitcode(status) == 130
    assert said.endswith(b"build_tools: stopped\r\n") and b"Traceback" not in said, said
    assert [path.name for path in (tmp_path / ".lost-neutral").iterdir()] == ["lock"]
    assert in_session(child) == []


# what killed processes left


def test_what_a_killed_build_left_is_gone_with_the_next(tmp_path: Path) -> None:
    guide, site = tmp_path / "guide", tmp_path / "out/site"
    starter.write(guide)
    build = started("build", "--guide", str(guide), "--to", str(site))
    until(lambda: list(site.parent.glob(".site-*")))
    os.killpg(build.pid, signal.SIGKILL)
    build.communicate()
    assert list(site.parent.glob(".site-*"))
    (site.parent / ".site-packages").mkdir()
    (site.parent / ".site-packages/mine").write_text("mine")
    assert started("build", "--guide", str(guide), "--to", str(site)).wait() == 0
    assert sorted(path.name for path in site.parent.iterdir()) == [".site-packages", "site"]


def test_a_folder_of_a_build_that_goes_on_stays(tmp_path: Path) -> None:
    with folder_aside(tmp_path / "site") as one, folder_aside(tmp_path / "site") as other:
        assert one.is_dir() and other.is_dir() and one != other
    assert list(tmp_path.iterdir()) == []


def test_killed_between_two_steps_the_last_good_site_comes_back(tmp_path: Path) -> None:
    (tmp_path / ".site-abcdefgh/before").mkdir(parents=True)
    (tmp_path / ".site-abcdefgh/before/guide.json").write_text("good")
    with folder_aside(tmp_path / "site"):
        assert (tmp_path / "site/guide.json").read_text() == "good"


def test_what_cannot_take_its_place_puts_the_old_one_back(tmp_path: Path) -> None:
    site = tmp_path / "site"
    site.mkdir()
    (site / "guide.json").write_text("good")
    with folder_aside(site) as aside, pytest.raises(FileNotFoundError):
        put_in_place(aside, site)  # nothing was made
    assert (site / "guide.json").read_text() == "good"


@pytest.mark.parametrize("stopped", [KeyboardInterrupt, ValueError])
def test_a_file_is_whole_or_as_it_was(tmp_path: Path, stopped: type[BaseException]) -> None:
    file = tmp_path / "evidence.json"
    write_whole(file, "one")
    with pytest.raises(stopped), whole_file(file) as aside:
        aside.write_text("half")
        raise stopped
    assert [(path.name, path.read_text()) for path in tmp_path.iterdir()] == [("evidence.json", "one")]


def test_what_was_half_written_an_hour_ago_is_gone_with_the_next(tmp_path: Path) -> None:
    old, new = tmp_path / "evidence.json.1.new", tmp_path / "evidence.json.2.new"
    for path in (old, new):
        path.write_text("half")
    os.utime(old, (time.time() - 4000,) * 2)
    write_whole(tmp_path / "evidence.json", "whole")
    assert sorted(path.name for path in tmp_path.iterdir()) == ["evidence.json", new.name]


# a full disk


@pytest.fixture
def full_disk(tmp_path: Path) -> Iterator[Callable[[int], Path]]:
    """A disk of its own with so many KiB, where one may be mounted."""
    mounted: list[Path] = []

    def mount(kib: int) -> Path:
        folder = tmp_path / "disk"
        folder.mkdir()
        command = ["mount", "-t", "tmpfs", "-o", f"size={kib}k", "none", str(folder)]
        if not shutil.which("mount") or subprocess.run(command, capture_output=True).returncode:
            pytest.skip("no disk can be mounted here")
        mounted.append(folder)
        return folder

    yield mount
    for folder in mounted:
        subprocess.run(["umount", str(folder)], check=True)


def test_a_build_on_a_full_disk_is_one_line_and_keeps_the_last_good_site(
    full_disk: Callable[[int], Path],
) -> None:
    disk = full_disk(2000)
    site = disk / "site"
    site.mkdir()
    (site / "guide.json").write_text("the last good one")
    build = started("build", "--quiet", "--guide", str(SHIPPED), "--to", str(site))
    _, err = build.communicate()
    assert build.returncode == 3, err
    said = f"build_tools: no room is left on the disk for {site} (No space left on device); what"
    assert err.startswith(said) and err.count("\n") == 2, err
    assert "\n  mend: make room there" in err
    assert [path.name for path in disk.iterdir()] == ["site"]
    assert (site / "guide.json").read_text() == "the last good one"


def test_so_is_whatever_else_is_written(full_disk: Callable[[int], Path], tmp_path: Path) -> None:
    disk = full_disk(16)
    for words in (["schemas", str(disk / "schemas")], ["new", str(disk / "guide")]):
        verb = started(*words)
        _, err = verb.communicate()
        assert verb.returncode == 3, err
        assert err.startswith(f"build_tools: no room is left on the disk for {disk}"), err
        assert "Traceback" not in err
        assert not list(disk.glob("**/*.new")) and not list(disk.glob(".guide-*"))


def test_a_kept_file_stays_where_a_new_one_has_no_room(full_disk: Callable[[int], Path]) -> None:
    file = full_disk(32) / "evidence.json"
    write_whole(file, "one")
    with pytest.raises(OSError, match="No space left") as full:
        write_whole(file, "x" * 100_000)
    assert is_full(full.value) and full.value.filename == str(file)
    assert [(path.name, path.read_text()) for path in file.parent.iterdir()] == [("evidence.json", "one")]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="Linux's device that is always full")
def test_what_is_printed_to_a_full_disk_is_told_too() -> None:
    with Path("/dev/full").open("w") as full:
        command = [sys.executable, "-m", "build_tools", "calculate", "lost-neutral"]
        done = subprocess.run(command, cwd=ROOT, stdout=full, stderr=subprocess.PIPE, text=True)
    assert done.returncode == 3
    assert done.stderr.startswith("build_tools: no room is left on the disk for what is printed, or "), (
        done.stderr
    )
    assert "Traceback" not in done.stderr and "Exception ignored" not in done.stderr


def test_a_set_up_on_a_full_disk_says_what_to_do() -> None:
    command = [sys.executable, "-c", "print('[Errno 28] No space left on device'); raise SystemExit(1)"]
    with pytest.raises(SetUpFailed, match="mend: make room on the disk"):
        environment.run(command, "pip install", mend="check the network")


def test_another_error_of_the_system_is_not_called_a_full_disk() -> None:
    assert not is_full(FileNotFoundError(2, "no such file"))
    assert not whole.is_full(ValueError("28"))
