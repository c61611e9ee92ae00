"""Files and folders that are there whole or not at all, whatever becomes of the process that writes them."""

from __future__ import annotations

import errno
import os
import shutil
import sys
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from glob import escape
from pathlib import Path

__all__ = ["folder_aside", "is_full", "put_in_place", "said_of_full", "whole_file", "write_whole", "writing"]

FRESH, BEFORE = "fresh", "before"
"""What a folder aside may hold: what is being made, and what it takes the place of."""

_FULL = {errno.ENOSPC, errno.EFBIG, getattr(errno, "EDQUOT", errno.ENOSPC)}
_OLD_S = 3600
"""Nothing is written for so long."""


def is_full(error: BaseException | None) -> bool:
    """Whether there was no room left for what was to be written."""
    if isinstance(error, shutil.Error):  # of many files, each with its reason in words
        return any(f"[Errno {code}]" in str(error.args) for code in _FULL)
    nowhere = isinstance(error, FileNotFoundError) and "No usable temporary directory" in str(error)
    return nowhere or (isinstance(error, OSError) and error.errno in _FULL)


def said_of_full(error: OSError) -> str:
    """What was being written, and what to do."""
    what = error.filename or "what is printed, or put aside for a while"  # all else is named
    why = os.strerror(error.errno if error.errno and error.errno in _FULL else errno.ENOSPC)
    return (
        f"no room is left on the disk for {what} ({why}); what was there before is as it was\n"
        "  mend: make room there (df shows how much is left), or name another place; then run it again"
    )


@contextmanager
def writing(what: Path | str) -> Iterator[None]:
    """Where the disk is full meanwhile, the error says that `what` was being written."""
    try:
        yield
    except OSError as error:
        if is_full(error):
            error.filename = str(what)
        raise


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """A file to write, beside `path`, whose place it takes at the end; if that is not reached it is gone.
    Another process may write the same at once."""
    aside = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        with writing(path):
            path.parent.mkdir(parents=True, exist_ok=True)
            for left in path.parent.glob(f"{escape(path.name)}.*.new"):
                if _is_old(left):
                    left.unlink(missing_ok=True)
            yield aside
            aside.replace(path)
    except BaseException:
        with suppress(OSError):
            aside.unlink()
        raise


def write_whole(path: Path, text: str) -> None:
    """Write a text, in UTF-8, whole or not at all."""
    with whole_file(path) as aside:
        aside.write_text(text, encoding="utf-8")


@contextmanager
def folder_aside(beside: Path) -> Iterator[Path]:
    """A folder beside `beside` in which FRESH can be made; gone at the end, and with it those that processes
    left which were killed."""
    with writing(beside):
        beside.parent.mkdir(parents=True, exist_ok=True)
        with _held(beside.parent):
            _sweep(beside)
            folder = Path(tempfile.mkdtemp(prefix=f".{beside.name}-", dir=beside.parent))
            held = _lock(folder)
        try:
            yield folder
        finally:
            shutil.rmtree(folder, ignore_errors=True)
            if held is not None:
                os.close(held)


def put_in_place(aside: Path, to: Path) -> None:
    """What is FRESH in a folder aside takes the place of `to`, which goes there."""
    if to.exists():
        to.rename(aside / BEFORE)
    try:
        (aside / FRESH).rename(to)
    except BaseException:
        if (aside / BEFORE).exists():
            (aside / BEFORE).rename(to)
        raise


def _sweep(beside: Path) -> None:
    for left in beside.parent.glob(f".{escape(beside.name)}-*"):
        if left.is_dir() and not left.is_symlink() and _is_ours(left) and _is_left(left):
            if (left / BEFORE).exists() and not beside.exists():
                (left / BEFORE).rename(beside)
            shutil.rmtree(left, ignore_errors=True)


def _is_ours(folder: Path) -> bool:
    return {path.name for path in folder.iterdir()} <= {FRESH, BEFORE}


def _is_left(folder: Path) -> bool:
    """Whether the process that made it has gone: nobody holds it, or where that cannot be told it is old."""
    try:
        held = _lock(folder)
    except BlockingIOError:
        return False
    if held is None:
        return _is_old(folder)
    os.close(held)
    return True


def _is_old(path: Path) -> bool:
    try:
        return time.time() - path.stat().st_mtime > _OLD_S
    except FileNotFoundError:
        return False


@contextmanager
def _held(folder: Path) -> Iterator[None]:
    held = _lock(folder, wait=True)
    try:
        yield
    finally:
        if held is not None:
            os.close(held)


def _lock(folder: Path, *, wait: bool = False) -> int | None:
    """Hold a folder until what is given is closed, or the process ends, however it ends; None where the
    system cannot. Raises BlockingIOError where somebody holds it."""
    if sys.platform == "win32":
        return None
    import fcntl

    opened = os.open(folder, os.O_RDONLY)
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | (0 if wait else fcntl.LOCK_NB))
    except BlockingIOError:
        os.close(opened)
        raise
    except OSError:
        os.close(opened)
        return None
    return opened
