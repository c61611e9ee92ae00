"""Which folders are looked at for changes while a guide is served."""

from __future__ import annotations

from pathlib import Path

from mkdocs.livereload import LiveReloadServer

from build_tools.setup.environment import IS_INSTALLED, ROOT

__all__ = ["watch"]

_READ = ("pages", "streets", "trees")


def watch(server: LiveReloadServer, guide: Path) -> None:
    """Have the server build again when the guide changes, or the compiler in its own repository.

    A guide that is a repository of its own also holds what is built and kept there; that is not looked at.
    """
    alone = (guide / "mkdocs.yml").exists()
    server.watch(str(guide), recursive=not alone)
    for folder in _READ if alone else ():
        if (guide / folder).is_dir():
            server.watch(str(guide / folder))
    for folder in () if IS_INSTALLED else ("calc", "build_tools"):
        server.watch(str(ROOT / folder))
