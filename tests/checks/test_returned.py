"""An end that comes back as another end says no less than it did."""

from __future__ import annotations

import shutil
from pathlib import Path

from build_tools.checks import CHECKS, returned
from build_tools.guide import loading
from build_tools.guide.findings import Finding

ROOT = Path(__file__).parent.parent.parent
HOME = "trees/site/test-one-home.yaml"


def found_after(folder: Path, old: str, new: str) -> list[Finding]:
    """What is found in the shipped guide with one change to the tests of one home."""
    copy = Path(shutil.copytree(ROOT / "guide_src", folder / "guide"))
    text = (copy / HOME).read_text("utf-8")
    assert text.count(old) == 1
    (copy / HOME).write_text(text.replace(old, new), "utf-8")
    return list(returned.check(loading.load(copy), ()))


def test_the_shipped_guide_loses_no_end() -> None:
    assert list(returned.check(loading.load(ROOT / "guide_src"), ())) == []
    assert returned.check in CHECKS


def test_a_lost_line_that_comes_back_as_not_proven_is_found(tmp_path: Path) -> None:
    """So it was once: the words about the fuse were never shown, by any of three trees, here or next door."""
    proven = "when the line comes back.\n"
    found = found_after(tmp_path, proven, f"{proven}    returns: not-proven\n")
    assert [one.check for one in found].count("end-never-shown") == 6
    assert [one.check for one in found].count("fault-not-held") == 6
    assert {Path(one.place.file).stem for one in found} == {
        "tingle-on-pipework",
        "bright-and-dim-lights",
        "neighbour-comes-and-goes",
    }
    assert "`not-proven` is shown in place of 2 ends" in found[0].what
    assert "no-supply, not-proven" in found[0].expected


def test_an_emergency_that_comes_back_as_less_is_found(tmp_path: Path) -> None:
    old = "priority: urgent\n    advice:\n      - A test could not be made"
    found = found_after(tmp_path, old, old.replace("urgent", "emergency"))
    assert {one.check for one in found} == {"end-made-calmer"} and len(found) == 6
