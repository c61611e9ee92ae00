"""One slip is one finding: what depends on a file that was refused waits for it."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

import pytest
import yaml
from conftest import ROOT, GuideOnDisk

from build_tools import checks
from build_tools.checks import physics, ranges
from build_tools.guide.findings import Finding
from build_tools.guide.loading import load
from build_tools.proof import promises

GUIDE = ROOT / "guide_src"
FILES = sorted(path.relative_to(GUIDE).as_posix() for path in GUIDE.rglob("*.yaml"))
REVIEWED: date = yaml.safe_load((GUIDE / "guide.yaml").read_text("utf-8"))["reviewed"]
"""A day on which nothing is overdue."""
READING = "trees/site/main-earth.yaml"


def found(folder: Path) -> list[Finding]:
    """All that is found but by walks with simulated faults, which take long."""
    guide = load(folder, REVIEWED)
    trees = list(guide.trees.values())
    return [
        *guide.findings,
        *(one for check in checks.CHECKS if check is not physics.check for one in check(guide, trees)),
        *promises.check(guide),
    ]


@pytest.fixture
def shipped(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    shutil.copytree(GUIDE, tmp_path / "guide_src", ignore=shutil.ignore_patterns("images"))
    monkeypatch.chdir(tmp_path)
    return Path("guide_src")


@pytest.mark.parametrize("name", FILES)
def test_a_file_that_cannot_be_read_is_one_finding(shipped: Path, name: str) -> None:
    with (shipped / name).open("a", encoding="utf-8") as file:
        file.write('\n"\n')
    assert [(one.place.file, one.check) for one in found(shipped)] == [
        (f"guide_src/{name}", "unclosed-quote")
    ]


@pytest.mark.parametrize("name", [name for name in FILES if name.startswith("streets/")])
@pytest.mark.parametrize(("slip", "check"), [("titel: x\n", "unknown-key"), ("title: x\n", "duplicate-key")])
def test_a_street_that_is_refused_is_one_finding(shipped: Path, name: str, slip: str, check: str) -> None:
    street = shipped / name
    street.write_text(street.read_text("utf-8") + slip, "utf-8")
    assert [(one.place.file, one.check) for one in found(shipped)] == [(f"guide_src/{name}", check)]


@pytest.mark.parametrize(
    ("lost", "told"),
    [
        (("not_taken",), "when the reading could not be taken"),
        (("not_taken", "not_steady"), "when the reading could not be taken or the display is not steady"),
        (
            ("not_taken", "over_range", "not_steady"),
            "when the reading could not be taken, the instrument is over range or the display is not steady",
        ),
    ],
)
def test_a_reading_without_ways_on_is_one_finding(
    small_guide: GuideOnDisk, lost: tuple[str, ...], told: str
) -> None:
    for key in lost:
        small_guide.edit(READING, f"    {key}: {{go: leave}}\n", "")
    (finding,) = ranges.check(small_guide.sound(), ())
    assert (finding.check, finding.what) == ("no-way-on", f"nothing says where to go {told}")
    assert [key for key in ("not_taken", "over_range", "not_steady") if key in finding.mend] == list(lost)
