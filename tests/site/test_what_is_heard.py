"""What a reader by ear goes by: landmarks, headings, names, what speaks up; kept as outlines in `heard`.

`python3 -m build_tools test tests/site/test_what_is_heard.py --update` writes them; read the difference.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest
from conftest import Site
from heard import Heard, heard, outline
from playwright.sync_api import Page, expect
from test_accessibility import KINDS

pytestmark = pytest.mark.browser

HERE = Path(__file__).parents[1]
GUIDE = HERE / "guides" / "walked"
SHIPPED = HERE.parent / "guide_src"
KEPT = HERE / "heard"

LONGEST_NAME = 150
"""In letters; what is longer cannot be stopped and gone back into as a text can. A choice of this project."""

CALL, VISIT = "trees/call/tingle-told.html", "trees/site/tingle-visit.html"


def main_of(page: Page) -> Heard:
    (main,) = (one for one in heard(page).all() if one.role == "main")
    return main


def is_kept(told: list[str], name: str, request: pytest.FixtureRequest) -> None:
    text, kept = "\n".join(told) + "\n", KEPT / f"{name}.txt"
    if request.config.getoption("--update"):
        kept.parent.mkdir(exist_ok=True)
        kept.write_text(text, "utf-8")
    assert text == kept.read_text("utf-8")


@pytest.mark.parametrize(
    ("name", "address", "keys"),
    [
        ("street", "streets/short-row.html", ""),
        ("ends", "ends/tingle-visit.html", ""),
        ("list", "trees/site/index.html", ""),
        ("outcome-of-a-call", CALL, "223"),
        ("outcome-of-a-visit", VISIT, "1"),
    ],
)
def test_the_outline_is_heard(
    name: str, address: str, keys: str, site: Path, page: Page, request: pytest.FixtureRequest
) -> None:
    page.goto(f"{site.as_uri()}/{address}")
    for key in keys:
        page.keyboard.press(key)
    if keys and name.startswith("outcome"):
        while page.locator("[data-node]:visible a[data-go]").count():
            page.locator("[data-node]:visible a[data-go]").last.click()
    is_kept(list(outline(main_of(page))), name, request)


def test_what_is_found_is_heard(site: Path, page: Page, request: pytest.FixtureRequest) -> None:
    page.goto(f"{site.as_uri()}/find.html")
    page.locator("#ln-find").fill("tingle")
    expect(page.locator("[data-find] [data-part=count]")).not_to_be_empty()
    is_kept(list(outline(main_of(page))), "find", request)


@pytest.fixture(scope="module")
def shipped(site_of: Site) -> Path:
    return site_of(SHIPPED)


@pytest.mark.parametrize("name", ["home", "proof"])
def test_the_frame_of_a_shipped_page_is_heard(
    name: str, shipped: Path, page: Page, request: pytest.FixtureRequest
) -> None:
    """Without what stands in lists and tables, since that is the authors' and changes often."""
    page.goto(f"{shipped.as_uri()}/{KINDS[name]}")
    frame = ("heading", "region", "search", "textbox", "status", "picture", "main", "navigation", "button")
    told = [line for line in outline(main_of(page)) if line.strip().startswith(frame)]
    is_kept(told, name, request)


@pytest.mark.parametrize("address", [CALL, VISIT])
def test_where_a_walk_ends_the_priority_is_heard_with_the_heading(
    address: str, site: Path, page: Page
) -> None:
    """The heading has the focus, and what stands before it would be passed over."""
    page.goto(f"{site.as_uri()}/{address}")
    answers = page.locator("[data-node]:visible a[data-go]")
    while answers.count():
        last = answers.last.inner_text()
        answers.last.click()
    (focused,) = (one for one in main_of(page).all() if one.properties.get("focused"))
    priority = page.locator("[data-outcome]:visible [data-one=priority]").inner_text()
    assert focused.role == "heading"
    assert focused.description.startswith(priority)
    said = [one.says for one in main_of(page).all() if one.properties.get("live") == "polite"]
    assert any(words.startswith("Answered:") and words[9:-1].strip() in last for words in said)


@pytest.mark.parametrize("kind", ["home", "list", "street", "ends", "proof", "find", "sources", "glossary"])
def test_pictures_have_short_names_and_links_are_told_apart(kind: str, shipped: Path, page: Page) -> None:
    """Links of one name lead to one place, unless a description or the row of a table tells them apart."""
    page.goto(f"{shipped.as_uri()}/{KINDS[kind]}")
    main = main_of(page)
    named = [one for one in main.all() if one.role in ("image", "region", "table", "figure") and one.name]
    assert [one.name for one in named if len(one.name) > LONGEST_NAME] == []
    in_rows = {id(link) for row in main.all() if row.role == "row" for link in row.all()}
    leads = defaultdict(set)
    for link in main.all():
        if link.role == "link" and id(link) not in in_rows:
            leads[link.name, link.description].add(link.properties.get("url"))
    assert leads
    assert {told: sorted(urls) for told, urls in leads.items() if len(urls) > 1} == {}
