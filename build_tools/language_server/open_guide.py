"""One guide of which files are open: looked at anew whenever somebody types, and walked when it is saved."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import sys
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from build_tools.guide import loading
from build_tools.guide.findings import Finding, in_order
from build_tools.guide.trees import Guide
from build_tools.language_server import walks
from build_tools.language_server.diagnostics import path_of
from build_tools.language_server.known import Known
from build_tools.language_server.looks import Held, Look, look, text_of

__all__ = ["OpenGuide", "folder_of"]

PAUSE_S = 0.2
"""So long nothing is typed before the guide is looked at."""

_LONGEST_LINE = 1 << 26
_LOG = logging.getLogger(__name__)

Tell = Callable[[Held, list[Finding]], None]


def folder_of(path: Path) -> Path | None:
    """The guide's folder that a file lies in: the nearest one with a guide.yaml."""
    return next((folder for folder in path.parents if (folder / "guide.yaml").is_file()), None)


class OpenGuide:
    """A guide while it is written. `held` gives what the editor holds of it; `tell` is told what is found
    in it, each time."""

    def __init__(self, folder: Path, held: Callable[[], Held], tell: Tell) -> None:
        self.folder = folder
        self._held, self._tell = held, tell
        self._last = Look(loading.load(folder, held=held()), {})
        self.known = _as_known(self._last.guide, None)
        self._walked: tuple[Finding, ...] = ()
        self._as_walked: Held = {}
        self._looking: asyncio.Task[None] | None = None
        self._walking: asyncio.Task[None] | None = None
        self._wanted = asyncio.Event()

    def look(self) -> None:
        """Look at the guide as soon as nothing more is typed."""
        self._wanted.set()
        if self._looking is None or self._looking.done():
            self._looking = asyncio.create_task(self._look())

    def walk(self) -> None:
        """Walk the guide as it is saved, in place of any walk that goes on."""
        if self._walking:
            self._walking.cancel()
        self._walking = asyncio.create_task(self._walk())

    async def _look(self) -> None:
        while self._wanted.is_set():
            self._wanted.clear()
            await asyncio.sleep(PAUSE_S)
            if self._wanted.is_set():
                continue
            try:
                await self._look_once(dict(self._held()))
            except Exception:  # of ours: whoever writes goes on writing
                _LOG.exception("the guide could not be looked at")

    async def _look_once(self, held: Held) -> None:
        self._last = await asyncio.to_thread(look, self.folder, held, self._last)
        self.known = _as_known(self._last.guide, self.known)
        self._tell(held, in_order([*self._last.findings, *self._still(held)]))

    def _still(self, held: Held) -> list[Finding]:
        """What walks found in files that nobody has changed since."""
        return [
            finding
            for finding in self._walked
            if (path := path_of(finding.place)) not in self._as_walked
            or text_of(path, held) == self._as_walked[path]
        ]

    async def _walk(self) -> None:
        files = [self.folder / inside for inside in self.known.guide.files]
        saved = {path: text_of(path, {}) for path in files}
        command = (sys.executable, "-m", walks.__name__, str(self.folder))
        process = await asyncio.create_subprocess_exec(
            *command, stdin=asyncio.subprocess.DEVNULL, stdout=asyncio.subprocess.PIPE, limit=_LONGEST_LINE
        )
        assert process.stdout
        try:
            if bands := await process.stdout.readline():
                self.known = replace(self.known, bands=walks.bands_in(bands.decode()))
            if found := await process.stdout.readline():
                self._walked, self._as_walked = walks.findings_in(found.decode()), saved
                self.look()
        finally:
            with contextlib.suppress(ProcessLookupError):
                process.kill()
            await process.wait()


def _as_known(now: Guide, before: Known | None) -> Known:
    """The guide with every file as it could last be read; one that is gone is forgotten."""
    kept = before.readable if before else {}
    readable = {
        inside: kept[inside] if source.data is None and inside in kept else source
        for inside, source in now.files.items()
    }
    return Known(now, readable, before.bands if before else None)
