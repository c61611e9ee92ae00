"""Building aside: what a reader's folder holds is the last good guide, whole."""

from __future__ import annotations

import shutil
import socket
from pathlib import Path

import pytest

from build_tools import starter
from build_tools.setup.environment import WrongUse
from build_tools.site import building, serving

SHIPPED = Path(__file__).parents[2] / "guide_src"


def everything_in(folder: Path) -> dict[str, bytes]:
    return {str(p.relative_to(folder)): p.read_bytes() for p in folder.rglob("*") if p.is_file()}


def test_a_refused_build_leaves_the_last_good_site(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    guide, site = tmp_path / "guide", tmp_path / "out" / "site"
    starter.write(guide)
    assert building.build(guide, site) == 0
    good = everything_in(site)
    assert {"index.html", "guide.json"} <= good.keys()

    tree = next(guide.glob("trees/*/*.yaml"))
    whole = tree.read_text()
    tree.write_text(whole.replace("go: ", "go: nowhere-", 1))
    capsys.readouterr()
    assert building.build(guide, site) == 1
    assert f"{tree.name}:" in capsys.readouterr().out
    assert everything_in(site) == good

    tree.write_text(whole.replace("title: ", "title: Mended. ", 1))
    assert building.build(guide, site) == 0
    assert everything_in(site) != good
    assert [path.name for path in site.parent.iterdir()] == ["site"], "nothing is left beside it"


def test_what_was_not_measured_anew_is_built_as_a_draft_alone(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    guide, site = tmp_path / "guide", tmp_path / "site"
    shutil.copytree(SHIPPED, guide)
    sampling = guide / "sampling.yaml"
    sampling.write_text(sampling.read_text().replace("seed: 2026", "seed: 2027", 1))
    assert building.build(guide, site) == 1
    assert "stale-evidence" in capsys.readouterr().out
    assert building.build(guide, site, building.Manner(draft=True)) == 0
    for name in ("index.html", "trees/site/test-one-home.html", "calculators/bonding.html", "two-traps.html"):
        assert "A draft, not for use." in (site / name).read_text(), name
    assert not (site / "proof.html").exists(), "figures of other steps are shown nowhere"


def test_a_folder_of_somebody_elses_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "letters.txt").write_text("mine")
    with pytest.raises(WrongUse, match="is not a guide built earlier"):
        building.build(tmp_path, tmp_path)
    assert (tmp_path / "letters.txt").read_text() == "mine"


def test_a_taken_port_is_told_before_anything_is_built(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(WrongUse, match=f"port {port} cannot be used .*; try: serve --port {port + 1}"):
            serving.serve(tmp_path / "no-guide", port, building.Manner())
