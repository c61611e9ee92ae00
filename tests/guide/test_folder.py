"""What must not lie in a guide's folder: links out of it, YAML and pages that nothing would read."""

from __future__ import annotations

from pathlib import Path

import pytest
from conftest import GuideOnDisk

from build_tools.checks import check_guide
from build_tools.guide.findings import text_report
from build_tools.guide.folder import pages_in

TREE = "trees/site/main-earth.yaml"


def found(small_guide: GuideOnDisk) -> list[tuple[str, str]]:
    return [(one.place.file, one.check) for one in check_guide(small_guide.load())]


@pytest.fixture
def outside(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a page, outside the guide."""
    folder = tmp_path_factory.mktemp("outside")
    (folder / "page.md").write_text("# Another's\n\n{{ nothing }}\n", "utf-8")
    return folder


@pytest.mark.parametrize(
    "name", ["pages/there.md", "pages/there", "streets/there.yaml", "sampling.yaml", "trees"]
)
def test_a_link_out_of_the_guide_is_refused_and_not_read(
    small_guide: GuideOnDisk, outside: Path, name: str
) -> None:
    link = small_guide.folder / name
    link.parent.mkdir(exist_ok=True)
    if link.is_dir():
        link.rename(outside / "trees")
    link.symlink_to(outside if "." not in name else outside / "page.md")
    assert found(small_guide) == [(name, "leads-out")]


def test_a_needed_file_through_a_link_is_not_read_either(small_guide: GuideOnDisk, outside: Path) -> None:
    (small_guide.folder / "glossary.yaml").rename(outside / "glossary.yaml")
    (small_guide.folder / "glossary.yaml").symlink_to(outside / "glossary.yaml")
    assert found(small_guide) == [("glossary.yaml", "leads-out")]
    assert small_guide.load().glossary == {}


@pytest.mark.parametrize("name", ["pages/gone.md", "pages/gone", "streets/gone.yaml"])
def test_a_link_to_nothing_is_told(small_guide: GuideOnDisk, name: str) -> None:
    (small_guide.folder / name).parent.mkdir(exist_ok=True)
    (small_guide.folder / name).symlink_to("nowhere")
    assert found(small_guide) == [(name, "dangling-link")]


def test_links_that_stay_inside_are_links(small_guide: GuideOnDisk) -> None:
    small_guide.write("pages/one.md", "# One\n")
    (small_guide.folder / "pages/two.md").symlink_to("one.md")
    (small_guide.folder / "pages/.#one.md").symlink_to("me@here.123")  # an editor's, while the file is open
    (small_guide.folder / "trees/site/.#main-earth.yaml").symlink_to("me@here.123")
    assert found(small_guide) == []
    assert [path.name for path in pages_in(small_guide.folder)] == ["one.md", "two.md"]


def test_a_link_to_a_folder_round_it_is_told(small_guide: GuideOnDisk) -> None:
    small_guide.write("pages/one.md", "# One\n")
    (small_guide.folder / "pages/round").symlink_to("../pages")
    assert found(small_guide) == [("pages/round", "leads-round")]


@pytest.mark.parametrize(
    "name",
    [
        "trees/site/other.YAML",
        "trees/site/Other.Yml",
        "trees/call/.YAML",
        "streets/other.yml",
        "sampling.YAML",
    ],
)
def test_yaml_under_another_ending_is_told_with_the_mend(small_guide: GuideOnDisk, name: str) -> None:
    small_guide.write(name, "title: x\n")
    assert found(small_guide) == [(name, "misplaced")]
    report = text_report(check_guide(small_guide.load()))
    assert "files that end in .yaml, in trees/call, trees/site or streets" in report
    assert "mend: move or rename the file" in report


def test_a_needed_file_under_another_ending_is_one_finding(small_guide: GuideOnDisk) -> None:
    (small_guide.folder / "rules.yaml").rename(small_guide.folder / "rules.YAML")
    assert found(small_guide) == [("rules.yaml", "missing-file")]
    assert "`rules.YAML` is not it\n  mend: rename that to rules.yaml" in text_report(
        small_guide.load().findings
    )


@pytest.mark.parametrize("name", ["pages/x.MD", "pages/deep/x.markdown"])
def test_a_page_under_another_ending_is_told(small_guide: GuideOnDisk, name: str) -> None:
    assert found(small_guide.write(name, "# X\n")) == [(name, "misplaced")]


@pytest.mark.parametrize("name", [".github/workflows/check.yml", "pages/data.yaml", "trees/.tree.yaml.swp"])
def test_what_is_no_part_of_the_guide_is_left_alone(small_guide: GuideOnDisk, name: str) -> None:
    assert found(small_guide.write(name, "a: b\n")) == []
