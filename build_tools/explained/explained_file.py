"""The kept file of the sampled table and of how well it explains fresh streets. Needs no numpy, for pages."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

from build_tools.explained.localisation import Placed
from build_tools.setup import environment
from build_tools.setup.whole import write_whole

__all__ = ["COMMAND", "FILE", "Calibration", "Reliability", "read", "write"]

FILE = "explained.json"
COMMAND = f"{environment.COMMAND} calibrate"


@dataclass(frozen=True, slots=True)
class Reliability:
    """Of `said` statements with a probability from `low` to `high` (`mean`, on average), `right` were right;
    `least` and `most` are the exact two-sided 95 % bounds of that share."""

    low: float
    high: float
    mean: float
    said: int
    right: int
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class Calibration:
    """How well fresh streets were explained.

    `top_two`: of so many cases (`asked`), in how many the true state was among the first two when all tests
    were given, with the bounds of the share. `steps_proposed`, `steps_fixed`: for each state, the median
    number of tests until one state had 95 %; `never`: how many of the cases never came to it, in each order.
    `false_alarms`, `strangers`: shares called "none of these fits", of true cases and of readings of
    different streets mixed. `placed`: how well Locate did.
    """

    seed: int
    reliability: tuple[Reliability, ...]
    asked: int
    top_two: int
    top_two_bounds: tuple[float, float]
    top_two_by_state: dict[str, tuple[int, int]]
    steps_proposed: dict[str, float]
    steps_fixed: dict[str, float]
    median_proposed: float
    median_fixed: float
    never: tuple[int, int]
    stepped: int
    false_alarms: float
    strangers: float
    placed: Placed


def write(folder: Path, grounds: str, table: dict[str, Any], calibration: Calibration) -> Path:
    """Keep all of it with the guide, whole or not at all."""
    path = folder / FILE
    kept = {"grounds": grounds, "calibration": asdict(calibration), "table": table}
    write_whole(path, json.dumps(kept, indent=1) + "\n")
    return path


def read(folder: Path) -> dict[str, Any] | None:
    """`grounds`, `calibration` and `table`, as kept; None when there is none or it cannot be read."""
    try:
        kept: dict[str, Any] = json.loads((folder / FILE).read_text(encoding="utf-8"))
        return kept if kept.keys() >= {"grounds", "calibration", "table"} else None
    except (OSError, ValueError, AttributeError):
        return None
