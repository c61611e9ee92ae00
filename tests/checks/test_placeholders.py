"""What is a placeholder and what is not; who refuses it, and who shows it as a draft."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from conftest import GuideOnDisk

from build_tools import checks
from build_tools.checks import placeholders
from build_tools.guide import loading
from build_tools.site import building

ROOT = Path(__file__).parent.parent.parent
LINE = '{who: Control room, number: "0700 900 461"}'


def found(small_guide: GuideOnDisk) -> list[str]:
    return [one.what for one in placeholders.check(small_guide.load(), ())]


@pytest.mark.parametrize(
    "number", ["0000 000 000", "+0000", "9999", "0123 456 789", "987654321", "ask", "-", "0", "(0000) 0000"]
)
def test_a_number_that_nobody_answers_is_refused(small_guide: GuideOnDisk, number: str) -> None:
    small_guide.edit("operator.yaml", LINE, f'{{who: Control room, number: "{number}"}}')
    assert len(found(small_guide)) == 1


@pytest.mark.parametrize("number", ["999", "112", "000", "111", "15", "0111 222 333", "+44 1632 960 123"])
def test_a_number_that_somebody_may_answer_is_not(small_guide: GuideOnDisk, number: str) -> None:
    """999, 112, 000, 111 and 15 are emergency numbers somewhere: common knowledge, from memory."""
    small_guide.edit("operator.yaml", LINE, f'{{who: Control room, number: "{number}"}}')
    assert found(small_guide) == []


@pytest.mark.parametrize(
    "words",
    [
        "Put your own name here",
        "Operator (set your own)",
        "TODO",
        "TBD",
        "Example Networks",
        "...",
        "<your name>",
    ],
)
def test_words_that_ask_to_be_written_are_refused(small_guide: GuideOnDisk, words: str) -> None:
    small_guide.edit("operator.yaml", "name: Kelderbeck Networks", f'name: "{words}"')
    assert len(found(small_guide)) == 1


@pytest.mark.parametrize(
    "words",
    ["Look for damage, for example burns.", "Use your own judgement.", "Write your own figures down."],
)
def test_ordinary_words_are_not(small_guide: GuideOnDisk, words: str) -> None:
    small_guide.edit("guide.yaml", "cautions:\n", f'cautions:\n  - "{words}"\n')
    assert found(small_guide) == []


@pytest.mark.parametrize("name", ["guide_src", "tests/guides/walked", "tests/guides/small"])
def test_no_guide_of_ours_holds_one(name: str) -> None:
    assert list(placeholders.check(loading.load(ROOT / name), ())) == []


def test_a_strict_build_refuses_it_and_a_plain_one_says_so(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    folder = Path(shutil.copytree(ROOT / "tests/guides/walked", tmp_path / "guide"))
    file = folder / "operator.yaml"
    text = file.read_text("utf-8")
    assert text.count("0700 900 461") == 1
    file.write_text(text.replace("0700 900 461", "0000 000 000"), "utf-8")
    site = tmp_path / "site"
    assert building.build(folder, site, building.Manner(strict=True)) == 1
    said = capsys.readouterr().out
    assert f"{file}:3:50: placeholder: `0000 000 000` is one digit over and over" in said
    assert "mend: write the number, or mark the line `invented: true`" in said
    assert not site.exists()

    assert building.build(folder, site) == 0
    for page in ("index.html", "trees/site/tingle-visit.html", "glossary.html"):
        html = (site / page).read_text("utf-8")
        assert "A draft, not for use." in html and "<code>operator.yaml:3</code>" in html, page

    file.write_text(
        file.read_text("utf-8").replace('"0000 000 000"}', '"0000 000 000", invented: true}'), "utf-8"
    )
    assert building.build(folder, site, building.Manner(strict=True)) == 0
    html = (site / "trees/site/tingle-visit.html").read_text("utf-8")
    assert "(invented: nobody answers)" in html and "A draft" not in html


def test_it_is_among_the_checks() -> None:
    assert placeholders.check in checks.CHECKS
