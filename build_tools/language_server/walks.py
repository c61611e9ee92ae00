"""What takes too long while somebody types: the walks over every street, and the bands of readings.

Run as a process of its own, `python -m build_tools.language_server.walks FOLDER`, so that it takes no time
from the editor and can be stopped: it reads the guide as it was saved and writes two lines of JSON, first
the bands, which are soon drawn, then what walks find.
"""

from __future__ import annotations

import json
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from build_tools.checks import healthy, physics
from build_tools.guide import loading
from build_tools.guide.findings import Finding, Hop, Place, json_report
from build_tools.guide.trees import Guide
from build_tools.proof import promises
from build_tools.proof.sampled_bands import sampled_bands
from build_tools.reference.demands import declared

__all__ = ["CHECKS", "bands_in", "findings_in"]

CHECKS = (healthy.check, physics.check)
"""The checks that walk trees on streets."""


def bands_in(line: str) -> dict[str, tuple[float, float]]:
    """The band of each test, from the first line; none without sampling."""
    return {test: (low, high) for test, (low, high) in json.loads(line).items()}


def findings_in(line: str) -> tuple[Finding, ...]:
    """What walks found, from the second line."""
    return tuple(_finding(data) for data in json.loads(line)["findings"])


def _finding(data: dict[str, Any]) -> Finding:
    hops = tuple(Hop(_place(hop), hop["what"]) for hop in data["hops"])
    said = (data["what"], tuple(data["path"]), data["expected"], data["mend"])
    return declared()[data["check"]].found(_place(data), *said, hops)


def _place(data: dict[str, Any]) -> Place:
    return Place(data["file"], data["line"], data["column"])


def _found(loaded: Guide) -> Iterator[Finding]:
    for check in CHECKS:
        yield from check(loaded, list(loaded.trees.values()))
    yield from promises.check(loaded)


def _main(folder: Path) -> None:
    loaded = loading.load(folder)
    print(json.dumps(sampled_bands(loaded.sampling) if loaded.sampling else {}), flush=True)
    print(json.dumps(json.loads(json_report(_found(loaded)))))


if __name__ == "__main__":
    _main(Path(sys.argv[1]))
