"""The trees' cards as PDF, printed by a browser; the same bytes for the same site and browser."""

from __future__ import annotations

import json
import re
import subprocess
import tempfile
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

from build_tools.setup import progress
from build_tools.setup.environment import SetUpFailed

__all__ = ["cards"]

_PATIENCE_S = 120
_MOMENT = re.compile(rb"\((D:\d{14}[^)]*)\)")  # when it was made and when it was changed


def cards(site: Path, browser: Path, when: datetime) -> Iterator[tuple[str, bytes]]:
    """`(cards/site/TREE.pdf, its bytes)` for every tree of the site, dated `when`. Raises SetUpFailed.

    `browser`: the program of a Chromium, Chrome or Edge, as `programs.browser()` finds one.
    """
    listed = json.loads((site / "guide.json").read_text("utf-8"))
    with tempfile.TemporaryDirectory(prefix="cards-") as aside:
        for tree in progress.each(listed["trees"], "printing cards", len(listed["trees"])):
            made = Path(aside, "card.pdf")
            made.unlink(missing_ok=True)
            _print((site / tree["page"]).resolve().as_uri(), made, browser, Path(aside, "profile"))
            yield f"cards/{tree['audience']}/{tree['id']}.pdf", _dated(made.read_bytes(), when)


def _print(address: str, to: Path, browser: Path, profile: Path) -> None:
    command = [
        str(browser), "--headless", "--no-sandbox", "--disable-gpu", "--disable-background-networking",
        "--no-first-run", f"--user-data-dir={profile}", "--no-pdf-header-footer", f"--print-to-pdf={to}",
        address,
    ]  # fmt: skip
    try:
        ran = subprocess.run(command, capture_output=True, text=True, timeout=_PATIENCE_S)
    except subprocess.TimeoutExpired as stuck:
        raise SetUpFailed(f"{browser} did not print {address} within {_PATIENCE_S} s") from stuck
    if not to.is_file():
        said = ran.stderr.strip().splitlines()[-1:] or ["it said nothing"]
        raise SetUpFailed(f"{browser} did not print {address}: {said[0]}")


def _dated(pdf: bytes, when: datetime) -> bytes:
    """The same document with another date in the place of its own; no longer and no shorter."""
    stamp = when.astimezone(UTC).strftime("D:%Y%m%d%H%M%S+00'00'").encode()
    return _MOMENT.sub(lambda found: b"(%s)" % stamp.ljust(len(found[1]))[: len(found[1])], pdf)
