"""Commands run with no more rights than the modes of files give, whoever runs the tests."""

from __future__ import annotations

import sys
from collections.abc import Sequence

_DROP = """
import ctypes, os, sys
for right in (1, 2):  # to write and to read whatever the modes say: CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH
    ctypes.CDLL(None).prctl(24, right, 0, 0, 0)  # PR_CAPBSET_DROP; whoever is not root has neither
os.execv(sys.argv[1], sys.argv[1:])
"""


def bound_by_modes(command: Sequence[str]) -> list[str]:
    """The command, started so that modes of files bind it even where root runs it (Linux)."""
    return [sys.executable, "-c", _DROP, *command]
