"""Signs of life of long work, on stderr: a bar on a terminal, plain lines elsewhere, nothing with --quiet.

Standard library only until a bar is drawn: set-up runs before any library is there, and counts for itself.
What a command finds out is printed to stdout, and is none of this.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from build_tools.setup.home import NAME

if TYPE_CHECKING:
    from tqdm import tqdm

__all__ = [
    "Work",
    "aside",
    "be_quiet",
    "counted",
    "current",
    "each",
    "is_quiet",
    "say",
    "tell",
    "within",
    "work",
]

_Kind = TypeVar("_Kind")

_BETWEEN_LINES_S = 5.0
_BAR = "{desc} {bar} {n_fmt} of {total_fmt}, {remaining} left"
_open: list[Work] = []
_quiet = False


def be_quiet(quiet: bool = True) -> None:
    """Show no progress in this process."""
    global _quiet
    _quiet = quiet
    _open.clear()


def is_quiet() -> bool:
    """Whether no progress is shown."""
    return _quiet


def say(text: str) -> None:
    """One line for everybody: what stands in the way, and how to mend it."""
    with aside():
        print(f"{NAME}: {text}", file=sys.stderr, flush=True)


def tell(text: str) -> None:
    """One line of progress."""
    if not _quiet:
        say(text)


@contextmanager
def aside() -> Iterator[None]:
    """The bar out of the way, for what is printed meanwhile."""
    shown = current()
    shown.hide()
    try:
        yield
    finally:
        shown.show()


class Work:
    """Work of so many steps (`of`) that is being done, as nobody sees it."""

    def __init__(self, what: str, of: int) -> None:
        self.what, self.of, self.done, self.doing = what, of, 0, ""
        self.began = self.showed = time.monotonic()

    def now(self, doing: str) -> None:
        """What is being done."""
        self.doing = doing
        self.beat()

    def expect(self, many: int) -> None:
        """So many steps more have come to light."""
        self.of += many
        self.beat()

    def step(self, many: int = 1) -> None:
        """So many steps more are done."""
        self.reach(self.done + many)

    def reach(self, done: int) -> None:
        """So many steps of all are done."""
        self.done = min(done, self.of)
        self.beat()

    def beat(self) -> None:
        """A sign of life, where one is due."""

    def show(self) -> None:
        """Into sight."""

    def hide(self) -> None:
        """Out of the way."""

    def close(self) -> None:
        """Out of the way for good."""
        self.hide()

    @property
    def words(self) -> str:
        """What is done, and what of it."""
        return ": ".join(filter(None, (self.what, self.doing)))

    def is_due(self, after: float) -> bool:
        """Whether nothing was shown for so many seconds; then something is."""
        now = time.monotonic()
        due = now - self.showed >= after
        self.showed = now if due else self.showed
        return due


class _Lines(Work):
    """A line every few seconds."""

    def beat(self) -> None:
        if self.is_due(_BETWEEN_LINES_S):
            tell(f"  {self.words}: {self._so_far()}")

    def _so_far(self) -> str:
        took = time.monotonic() - self.began
        if not self.done:
            return f"for {took:.0f} s"
        return f"{self.done:,} of {self.of:,}, {_minutes(took / self.done * (self.of - self.done))} left"


class _Counter(Work):
    """One line of a terminal, written again and again: the step, and for how long it has been done."""

    def now(self, doing: str) -> None:
        self.began, self.doing = time.monotonic(), doing
        self.show()

    def beat(self) -> None:
        if self.is_due(0.5):
            self.show()

    def show(self) -> None:
        took = _minutes(time.monotonic() - self.began)
        which = f" {min(self.done + 1, self.of)} of {self.of}" if self.of > 1 else ""
        line = f"{NAME}: {self.what}{which}" + (f": {self.doing}" if self.doing else "")
        room = _columns() - len(took) - 3
        sys.stderr.write(f"\r\x1b[K{line[:room]}, {took}")
        sys.stderr.flush()

    def hide(self) -> None:
        sys.stderr.write("\r\x1b[K")
        sys.stderr.flush()


class _Bar(Work):
    """A bar on a terminal."""

    def __init__(self, what: str, of: int) -> None:
        super().__init__(what, of)
        self.bar = _bar_of(of, self._named())

    def beat(self) -> None:
        self.bar.set_description_str(self._named(), refresh=False)
        self.bar.total = self.of
        self.bar.update(self.done - self.bar.n)
        if self.is_due(0.1):
            self.show()

    def now(self, doing: str) -> None:
        super().now(doing)
        self.show()

    def _named(self) -> str:
        return f"{NAME}: {self.words}"[: _columns() // 2]

    def show(self) -> None:
        self.bar.refresh()

    def hide(self) -> None:
        self.bar.clear()

    def close(self) -> None:
        self.bar.close()


def _bar_of(steps: int, name: str) -> tqdm[Any]:
    from tqdm import tqdm

    tqdm.monitor_interval = 0  # no thread: other processes are started while bars are open
    return tqdm(
        desc=name,
        total=steps,
        file=sys.stderr,
        leave=False,
        dynamic_ncols=True,
        bar_format=_BAR,
        smoothing=0.1,
    )


_idle = Work("", 0)


def current() -> Work:
    """The work that is being done, for whoever does a part of it; what nobody sees where none is."""
    return _open[-1] if _open else _idle


@contextmanager
def work(what: str, of: int, *, bare: bool = False) -> Iterator[Work]:
    """Work of so many steps; whoever does it says when one is done. `bare`: with no library."""
    current().hide()
    shown = _shown(bare)(what, of)
    _open.append(shown)
    try:
        yield shown
    finally:
        shown.close()
        if shown in _open:
            _open.remove(shown)
        current().show()


@contextmanager
def within(what: str) -> Iterator[Work]:
    """The work that is being done, of which this is a part; where none is, this by itself."""
    if _open:
        yield _open[-1]
    else:
        with work(what, 1, bare=True) as own:
            yield own


def each(things: Iterable[_Kind], what: str, of: int) -> Iterator[_Kind]:
    """The things one by one, each a step of work of its own."""
    with work(what, of):
        yield from counted(things)


def counted(things: Iterable[_Kind]) -> Iterator[_Kind]:
    """The things one by one, each a step of the work that is being done."""
    doing = current()
    for thing in things:
        yield thing
        doing.step()


def _shown(bare: bool) -> type[Work]:
    if _quiet:
        return Work
    if not sys.stderr.isatty() or os.environ.get("TERM") == "dumb":
        return _Lines
    return _Counter if bare else _Bar


def _columns() -> int:
    try:
        return os.get_terminal_size(sys.stderr.fileno()).columns or 80
    except (OSError, ValueError):
        return 80


def _minutes(seconds: float) -> str:
    return f"{seconds:.0f} s" if seconds < 90 else f"{seconds / 60:.0f} min"
