"""Which requests the server of `serve` answers: those of a browser on this machine, for a path that can be.

A page of another site can have a name of its own lead to this machine, and would then read whatever is
served here: it gives itself away by its Host.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import Any
from urllib.parse import urlsplit

__all__ = ["guarded"]

Application = Callable[[dict[str, Any], Callable[..., Any]], Iterable[bytes]]

_HERE = frozenset({"localhost", "127.0.0.1", "::1"})
_EVERYWHERE = frozenset({"0.0.0.0", "::", ""})
"""Bound to these, a server is meant to be reached by any name."""
_LONGEST_PATH = 2000


def guarded(application: Application, bound: str) -> Application:
    """The application, asked only what may be asked of a server that listens at the address `bound`."""

    def answer(environ: dict[str, Any], start: Callable[..., Any]) -> Iterable[bytes]:
        if refusal := _refusal(environ, bound):
            start(refusal, [("Content-Type", "text/plain; charset=utf-8")])
            return [refusal.encode()]
        return application(environ, start)

    return answer


def _refusal(environ: dict[str, Any], bound: str) -> str:
    """The status for a request that is not answered; nothing for one that is."""
    if bound not in _EVERYWHERE and _name_in(environ.get("HTTP_HOST", "")) not in _HERE | {bound}:
        return "421 Misdirected Request"
    path = environ.get("PATH_INFO", "")
    if "\0" in path:
        return "400 Bad Request"
    return "414 URI Too Long" if len(path) > _LONGEST_PATH else ""


def _name_in(host: str) -> str:
    """The name or address of a Host header, without its port."""
    try:
        return urlsplit(f"//{host}").hostname or ""
    except ValueError:
        return ""
