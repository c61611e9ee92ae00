"""Broken YAML by the thousand, read and checked: how long a file takes at worst, against the limit."""

from __future__ import annotations

import json
import os
import subprocess
import sys

from build_tools.bench.row import BenchRow, NotMeasured
from build_tools.setup.environment import ROOT

__all__ = ["measure"]


def measure() -> list[BenchRow]:
    """The slowest file and the most memory of tests/fuzz.py, run over $LOST_NEUTRAL_FUZZ files (10,000 when
    it is not set). Raises NotMeasured where the fuzz finds a fault."""
    files = os.environ.get("LOST_NEUTRAL_FUZZ", "10000")
    run = subprocess.run([sys.executable, "tests/fuzz.py", files], cwd=ROOT, capture_output=True, text=True)
    if run.returncode:
        raise NotMeasured(f"the fuzz found a fault:\n{run.stderr}")
    saw = json.loads(run.stdout.splitlines()[-1])
    of = f"{saw['files']:,} files, {saw['refused']:,} refused, no traceback, {saw['peak_mib']} MiB at most"
    return [BenchRow("slowest broken file over its limit of a second", saw["slowest_s"], "at most 1", of)]
