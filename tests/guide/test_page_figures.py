"""Figures that a page of words asks for: what the model says now, or what is wrong with the asking."""

from __future__ import annotations

import re
import shutil
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
from markdown import Markdown

from build_tools.checks import pages
from build_tools.guide.loading import load
from build_tools.guide.page_figures import FIGURES, with_figures
from build_tools.guide.trees import Guide
from build_tools.site import building
from calc.drawing import street_text
from calc.faults import parse
from calc.limits import LIMITS
from calc.readings import TESTS, readings
from calc.street import Network, network
from calc.work import as_worked, done

WALKED = Path(__file__).parents[1] / "guides" / "walked"
OPEN = "service-pen-open@14"
HERE = 'street="short-row" at="12"'


@pytest.fixture(scope="module")
def guide() -> Guide:
    return load(WALKED)


def street(guide: Guide, *faults: str, lifted: str = "") -> Network:
    """The street of the guide with faults, and with the main earth of a home lifted."""
    changed = network(guide.streets["short-row"])
    for fault in faults:
        changed = parse(fault).applied_to(changed)
    return as_worked(changed, done(frozenset(), "lift-main-earth", lifted)) if lifted else changed


def test_the_operators_words_are_words_whatever_marks_are_in_them(guide: Guide) -> None:
    name = "A & B <script>alert(1)</script> [x](javascript:y) *z* `{{ q }}` \"'"
    assert guide.operator
    odd = replace(guide, operator=guide.operator.model_copy(update={"name": name}))
    made = with_figures(
        'Ring {{ operator name="operator" }}. <b title="{{ operator name="operator" }}">x</b>', odd
    )
    page = ElementTree.fromstring(Markdown(extensions=["attr_list", "md_in_html"]).convert(made))
    assert page.text == f"Ring {name}. "
    assert [(part.tag, part.attrib) for part in page] == [("b", {"title": name})]


@pytest.mark.parametrize("test", [test.id for test in TESTS])
def test_a_reading_is_what_the_instrument_shows_now(guide: Guide, test: str) -> None:
    for fault in ("healthy", OPEN):
        shown = readings(street(guide, fault), "12")[test].text
        asked = f'It shows {{{{ reading {HERE} fault="{fault}" test="{test}" }}}}.'
        assert with_figures(asked, guide) == f"It shows {shown}."


def test_a_reading_differs_where_the_street_does(guide: Guide) -> None:
    healthy = with_figures(f'{{{{ reading {HERE} test="clamp-main-earth" }}}}', guide)
    faulty = with_figures(f'{{{{ reading {HERE} fault="{OPEN}" test="clamp-main-earth" }}}}', guide)
    assert healthy != faulty


def test_several_faults_stand_together(guide: Guide) -> None:
    both = (OPEN, "main-earth-lost@12")
    asked = f'{{{{ reading {HERE} fault="{" ; ".join(both)}" test="volts-earth-probe" }}}}'
    shown = with_figures(asked, guide)
    assert shown == readings(street(guide, *both), "12")["volts-earth-probe"].text
    assert shown != readings(street(guide, OPEN), "12")["volts-earth-probe"].text


def test_a_lifted_earth_is_lifted(guide: Guide) -> None:
    asked = f'{{{{ reading {HERE} fault="{OPEN}" lifted="12" test="volts-earth-probe" }}}}'
    shown = with_figures(asked, guide)
    assert shown == readings(street(guide, OPEN, lifted="12"), "12")["volts-earth-probe"].text
    assert shown == readings(street(guide, OPEN), "12")["lifted-loose-earth-probe"].text


def rows(markdown: str) -> list[list[str]]:
    """The cells of the rows of a Markdown table, without its head."""
    lines = [line.strip("| ").split(" | ") for line in markdown.strip().splitlines()]
    assert lines[0] == ["At 12", "Healthy", "As described"]
    assert len({len(line) for line in lines}) == 1
    return lines[2:]


def test_readings_are_a_table_healthy_beside_faulty(guide: Guide) -> None:
    whole, broken = readings(street(guide), "12"), readings(street(guide, OPEN), "12")
    table = [[test.title, whole[test.id].text, broken[test.id].text] for test in TESTS]
    assert rows(with_figures(f'{{{{ readings {HERE} fault="{OPEN}" }}}}', guide)) == table
    some = f'{{{{ readings {HERE} fault="{OPEN}" tests="loop-line-earth  clamp-main-earth" }}}}'
    titles = {test.id: test.title for test in TESTS}
    assert [row[0] for row in rows(with_figures(some, guide))] == [
        titles["loop-line-earth"],
        titles["clamp-main-earth"],
    ]


def test_a_street_is_drawn_with_its_words(guide: Guide) -> None:
    made = with_figures(f'{{{{ street {HERE} fault="{OPEN}" lifted="12" }}}}', guide)
    told = street_text(street(guide, OPEN, lifted="12"), healthy=street(guide))
    assert re.findall(r"<li>(.*?)</li>", made) == list(told)
    assert made.count("<svg") == 1
    assert not re.search(r"\n\s*\n.*</figure>", made.strip(), re.DOTALL), "Markdown would end the block here"


def test_two_drawings_in_a_page_share_no_id(guide: Guide) -> None:
    asked = f'{{{{ street {HERE} }}}} {{{{ street {HERE} fault="{OPEN}" }}}}'
    ids = re.findall(r'\sid="([^"]+)"', with_figures(asked, guide))
    assert len(ids) == len(set(ids)) >= 4


@pytest.mark.parametrize("limit", LIMITS)
def test_a_limit_comes_with_its_source(guide: Guide, limit: str) -> None:
    known = LIMITS[limit]
    assert (
        with_figures(f'{{{{ limit id="{limit}" }}}}', guide)
        == f"{known.value:g} {known.unit} ({known.source})"
    )


def test_what_is_no_figure_stays(guide: Guide) -> None:
    text = "A { brace }, a }} and a [[PEN]]."
    assert with_figures(text, guide) == text


READING = f'reading {HERE} test="clamp-main-earth"'
WRONG = {
    "a kind": (
        READING.replace("reading", "raeding"),
        "no figure is called `raeding` - did you mean `reading`",
    ),
    "no kind": ("", "no figure is called ``"),
    "a street": (READING.replace("short-row", "shrt-row"), "no street is called `shrt-row` - did you mean"),
    "a home": (READING.replace('"12"', '"99"'), "no home is called `99`"),
    "a test": (
        READING.replace("clamp-main", "clmp-main"),
        "no test is called `clmp-main-earth` - did you mean",
    ),
    "one test of several": (f'readings {HERE} tests="loop-line-earth clamp"', "no test is called `clamp`"),
    "a fault": (f'{READING} fault="service-pen-opn@14"', "did you mean"),
    "the place of a fault": (f'{READING} fault="service-pen-open@15"', "cannot be at '15' on this street"),
    "the ohms of a fault": (f'{READING} fault="service-pen-high@14=high"', "write a number of ohms"),
    "one fault of several": (
        f'{READING} fault="{OPEN}; main-earth-lost@99"',
        "main-earth-lost cannot be at '99'",
    ),
    "the home of a lifted earth": (f'{READING} lifted="99"', "no home is called `99`"),
    "a limit": ('limit id="touch-vlots"', "no limit is called `touch-vlots` - did you mean `touch-volts`"),
    "an argument": (f'{READING} fualt="{OPEN}"', "no argument is called `fualt` - did you mean `fault`"),
    "an argument of another kind": ('limit id="touch-volts" at="12"', "no argument is called `at`"),
    "an argument given twice": (f'{READING} at="14"', "`at` is given twice"),
    "no street": ('reading at="12" test="clamp-main-earth"', "this figure lacks `street`"),
    "no home": ('reading street="short-row" test="clamp-main-earth"', "this figure lacks `at`"),
    "no test": (f"reading {HERE}", "this figure lacks `test`"),
    "no limit": ("limit", "this figure lacks `id`"),
    "text left over": (f"{READING} please", "this is not an argument: `please`"),
    "no quotes": (f"{READING} fault={OPEN}", f"this is not an argument: `fault={OPEN}`"),
}


@pytest.mark.parametrize("name", WRONG)
def test_a_wrong_figure_is_told_where_it_stands(name: str, small_guide) -> None:
    asked, told = WRONG[name]
    small_guide.write("pages/deep/why.md", f"# Why\n\nIt is {{{{ {asked} }}}} here.\n")
    guide = small_guide.sound()
    (finding,) = pages.check(guide, ())
    assert str(finding.place) == "pages/deep/why.md:3:7"
    assert finding.check == "figure"
    assert told in finding.what
    assert finding.expected
    assert finding.mend
    with pytest.raises(ValueError, match=re.escape(finding.what)):
        with_figures(Path("pages/deep/why.md").read_text("utf-8"), guide)


@pytest.mark.parametrize("asked", ["{{ reading", "{{ reading } }", "{{ limit id={x} }}"])
def test_a_figure_without_an_end_is_told(asked: str, small_guide) -> None:
    (finding,) = pages.check(small_guide.write("pages/why.md", f"# Why\n\n{asked}").sound(), ())
    assert (str(finding.place), finding.what) == ("pages/why.md:3:1", "this figure has no end")


def test_every_wrong_figure_of_a_page_is_told(small_guide) -> None:
    text = "\n".join(f"- {{{{ {asked} }}}}" for asked, _ in list(WRONG.values())[:9])
    found = list(pages.check(small_guide.write("pages/why.md", text).sound(), ()))
    assert [finding.place.line for finding in found] == list(range(1, 10))


def test_every_kind_of_figure_is_described() -> None:
    """The description above the code is what authors read."""
    from build_tools.guide import page_figures

    for kind, figure in FIGURES.items():
        assert f"{{{{ {kind} " in (page_figures.__doc__ or ""), kind
        for argument in figure.arguments:
            assert re.search(rf"\b{argument}\b", page_figures.__doc__ or ""), argument


def test_a_build_with_a_wrong_figure_is_refused(tmp_path: Path, capfd: pytest.CaptureFixture[str]) -> None:
    folder = Path(shutil.copytree(WALKED, tmp_path / "guide"))
    (folder / "pages/why.md").write_text('# Why\n\n{{ reading street="short-row" }}\n', "utf-8")
    assert building.build(folder, tmp_path / "site") == 1
    assert "pages/why.md:3:1: figure: this figure lacks `test`" in "".join(capfd.readouterr())
    assert not (tmp_path / "site").exists()
