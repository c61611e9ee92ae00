"""Stopping by a key, or because the system asks for it: at once, and with nothing left behind."""

from __future__ import annotations

import multiprocessing
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from contextlib import contextmanager
from multiprocessing.connection import wait
from typing import Any

from build_tools.setup import progress

__all__ = ["call", "end", "heeded", "held_off", "workers"]

_SIGNALS = tuple(getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name))
_PATIENCE_S = 10


@contextmanager
def heeded() -> Iterator[None]:
    """A key or a signal that ends raises KeyboardInterrupt, the first time; what is tidied up after that is
    not disturbed by more of them. One that whoever started this has put off stays so."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = {one: signal.getsignal(one) for one in _SIGNALS}
    for one, handler in before.items():
        if handler is not signal.SIG_IGN:
            signal.signal(one, _stop)
    try:
        yield
    finally:
        for one, handler in before.items():
            signal.signal(one, handler)


def _stop(number: int, frame: object) -> None:
    for one in _SIGNALS:
        signal.signal(one, signal.SIG_IGN)
    if multiprocessing.parent_process():  # a worker that has not begun yet, ended by its parent
        os._exit(1)
    raise KeyboardInterrupt


@contextmanager
def held_off() -> Iterator[None]:
    """No stop before this is done: for two steps of which one alone would leave nothing whole."""
    if sys.platform == "win32":
        yield
        return
    before = signal.pthread_sigmask(signal.SIG_BLOCK, _SIGNALS)
    try:
        yield
    finally:
        signal.pthread_sigmask(signal.SIG_SETMASK, before)


@contextmanager
def workers(
    count: int, begin: Callable[..., None] | None = None, given: tuple[Any, ...] = ()
) -> Iterator[ProcessPoolExecutor]:
    """Processes that end with this one, however it ends. `begin(*given)` is done in each of them first."""
    others = multiprocessing.active_children()
    pool = ProcessPoolExecutor(count, initializer=_begin, initargs=(begin, given))
    try:
        yield pool
    except BaseException:
        for one in multiprocessing.active_children():
            if one not in others:
                one.terminate()
        raise
    finally:
        pool.shutdown(cancel_futures=True)


def _begin(begin: Callable[..., None] | None, given: tuple[Any, ...]) -> None:
    """A key is for the parent, which then ends its workers; and so does its own end."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    threading.Thread(target=_end_with_parent, daemon=True).start()
    progress.be_quiet()
    if begin:
        begin(*given)


def _end_with_parent() -> None:
    if parent := multiprocessing.parent_process():
        wait([parent.sentinel])
        os._exit(1)


def call(command: list[str], **options: Any) -> int:
    """The exit code of a program; one that still runs when this is stopped is ended, and waited for."""
    with subprocess.Popen(command, **options) as program:
        try:
            return program.wait()
        except BaseException:
            end(program)
            raise


def end(program: subprocess.Popen[Any], *, group: bool = False) -> None:
    """Have a program end, by force if it takes its time; with `group` whatever it has started as well."""
    _ask(program, group, "SIGTERM")
    try:
        program.wait(_PATIENCE_S)
    except subprocess.TimeoutExpired:
        _ask(program, group, "SIGKILL")
        program.wait()


def _ask(program: subprocess.Popen[Any], group: bool, name: str) -> None:
    if sys.platform == "win32":
        program.terminate()
    elif group:
        try:
            os.killpg(program.pid, getattr(signal, name))
        except ProcessLookupError:
            return
    else:
        program.send_signal(getattr(signal, name))
