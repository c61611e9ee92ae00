"""What is past its review date says so: in the page of a build, on the device later, and in a list."""

from __future__ import annotations

import re
import shutil
from collections.abc import Mapping
from datetime import date
from pathlib import Path

import pytest
from browsing import watched
from playwright.sync_api import Browser, Page, expect

from build_tools.checks.content import check
from build_tools.guide.loading import load
from build_tools.pages.page import Book
from build_tools.pages.sections import sections

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
EARLY, LATER = date(2026, 7, 1), date(2027, 3, 31)
VISIT, SUM = "trees/site/tingle-visit.yaml", "trees/site/sum-in-jaw.yaml"


def book(folder: Path, today: date) -> Book:
    guide = load(folder, today)
    assert guide.settings and guide.operator
    return Book(guide, guide.settings, guide.operator)


def framed(read: Book) -> Mapping[str, str]:
    """Address -> HTML of every made page, with what stands over and under it."""
    pages = (page for section in sections(read) for page in section.pages)
    return {page.address: read.framed(page.html, page.address, page.review_by) for page in pages}


@pytest.fixture
def changed(tmp_path: Path) -> Path:
    """A guide whose called tree is due first."""
    folder = Path(shutil.copytree(GUIDE, tmp_path / "guide"))
    for name, day in ((VISIT, "2026-12-31"), (SUM, "2026-09-30"), ("guide.yaml", "2026-10-31")):
        text = (folder / name).read_text("utf-8")
        assert text.count("review_by: 2099-01-01") == 1
        (folder / name).write_text(text.replace("review_by: 2099-01-01", f"review_by: {day}"), "utf-8")
    return folder


def told(html: str) -> bool:
    """Whether a page without scripts shows that it is overdue."""
    (note,) = re.findall(r'<p [^>]*data-part="overdue"[^>]*>', html)
    return "hidden" not in note


def test_nothing_in_a_page_hangs_on_the_day_of_the_build() -> None:
    assert framed(book(GUIDE, EARLY)) == framed(book(GUIDE, LATER))


def test_a_tree_is_due_with_the_first_of_what_it_calls(changed: Path) -> None:
    read = book(changed, EARLY)
    assert read.review_by(read.guide.trees["tingle-visit"]) == date(2026, 9, 30)
    assert read.review_by(read.guide.trees["tingle-told"]) == date(2099, 1, 1)


def test_a_page_of_a_build_says_so_without_scripts(changed: Path) -> None:
    before, after = framed(book(changed, date(2026, 9, 30))), framed(book(changed, date(2026, 11, 1)))
    assert not any(map(told, before.values()))
    assert {address for address, html in after.items() if told(html)} == {
        address for address in after if address != "trees/call/tingle-told.html"
    }
    assert "Past its review date (2026-09-30)" in after["trees/site/tingle-visit.html"]
    assert "Past its review date (2026-10-31)" in after["glossary.html"]
    assert 'review by <time datetime="2026-10-31">' in after["glossary.html"]


def test_each_date_is_held_against_the_day(changed: Path) -> None:
    guide = load(changed, date(2026, 12, 31))
    found = [
        finding for finding in check(guide, list(guide.trees.values())) if finding.check == "review-past"
    ]
    assert sorted(Path(finding.place.file).name for finding in found) == ["guide.yaml", "sum-in-jaw.yaml"]


def test_the_review_list_has_the_first_due_on_top(changed: Path) -> None:
    html = framed(book(changed, date(2026, 10, 1)))["review.html"]
    days = ("2026-09-30", "2026-10-31", "2026-12-31", "2099-01-01")
    rows = [line for line in html.partition("<tbody>")[2].splitlines() if line.startswith("<tr>")]
    assert len(rows) == len(days)
    for day, row in zip(days, rows, strict=True):
        assert f">{day}</time>" in row
        assert ("hidden>Past its day" in row) == (day > "2026-10-01")


@pytest.mark.browser
@pytest.mark.parametrize(
    "name", ["index.html", "glossary.html", "calculators/lost-neutral.html", "next-door.html"]
)
def test_a_page_says_so_from_the_next_day_on(address: str, page: Page, name: str) -> None:
    overdue = page.get_by_text("Past its review date (2099-01-01)")
    page.clock.set_fixed_time("2099-01-01T23:00:00Z")
    page.goto(f"{address}/{name}")
    expect(overdue).to_be_hidden()
    page.clock.set_fixed_time("2099-01-02T01:00:00Z")
    page.reload()
    expect(overdue).to_be_visible()


@pytest.mark.browser
def test_the_list_marks_what_has_passed_since(address: str, page: Page) -> None:
    page.clock.set_fixed_time("2099-01-02T01:00:00Z")
    page.goto(f"{address}/review.html")
    expect(page.locator("tbody b:visible")).to_have_count(page.locator("tbody tr").count())


@pytest.mark.browser
def test_a_page_says_its_edition_without_scripts(site: Path, started: Browser) -> None:
    with watched(started, java_script_enabled=False) as context:
        page = context.new_page()
        page.goto(f"{site.as_uri()}/index.html")
        foot = page.locator("[data-part=edition]")
        expect(foot).to_contain_text(
            "Kelderbeck Networks, version 2.1, reviewed 2026-06-01, review by 2099-01-01"
        )
        expect(page.get_by_text("Past its review date (")).to_be_hidden()
