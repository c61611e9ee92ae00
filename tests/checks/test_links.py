"""Links and what pages fetch: judged as a browser reads them, told where the author wrote them."""

from __future__ import annotations

import pytest
from conftest import TODAY, GuideOnDisk
from playwright.sync_api import Page

from build_tools.checks import links
from build_tools.guide.loading import load
from build_tools.guide.outside_requests import asked_outside

SCRIPTS = (
    "javascript:alert(1)",
    " JavaScript:alert(1)",
    "java\tscript:alert(1)",
    "java\r\nscript:alert(1)",
    "\x01\x1f javascript:alert(1)",
    "VBScript:x",
    "data:text/html,x",
    "DA\nTA:text/html,x",
)
QUIET = (
    "https://a.example",
    "HTTP://a.example",
    "//a.example",
    "tel:112",
    "mailto:a@a.example",
    "x.html#a:b",
)


def found(small_guide: GuideOnDisk) -> list[tuple[str, str]]:
    return [(str(one.place), one.check) for one in links.check(small_guide.sound(), ())]


@pytest.mark.parametrize(
    ("text", "where"),
    [
        ("[x](javascript:alert(1))", "1:5"),
        ("A word.\n\n* [x](java&#9;script:alert(1))", "3:7"),
        ("[x](JAVASCRIPT&colon;alert(1))", "1:5"),
        ("[x](<vbscript:x> 'words')", "1:6"),
        ("[x][one]\n\n[one]: data:text/html,x", "3:8"),
        ("A <a href='java\nscript:x'>word</a>", "1:12"),
        ("A <a href='&#106;avascript:x'>word</a>", "1:12"),
        ("<div markdown>\n[x](&Tab;javascript:x)\n</div>", "2:10"),
        ("[x](page.html){href=javascript:x}", "1:21"),
        ("Twice: [x](vbscript:x), and [y](vbscript:x)", "1:12"),
        ("A <b onclick='x()'>word</b>", "1:6"),
        ("<iframe src='data:text/html,x'></iframe>", "1:14"),
    ],
)
def test_a_script_in_a_page_is_told_where_it_stands(small_guide: GuideOnDisk, text: str, where: str) -> None:
    small_guide.write("pages/own.md", text)
    assert (f"pages/own.md:{where}", "runs-script") in found(small_guide)


def test_each_of_two_alike_is_told(small_guide: GuideOnDisk) -> None:
    small_guide.write("pages/own.md", "[x](vbscript:x)\n\n[y](vbscript:x)\n")
    assert [place for place, _ in found(small_guide)] == ["pages/own.md:1:5", "pages/own.md:3:5"]


def test_other_addresses_are_told_by_what_they_do(small_guide: GuideOnDisk) -> None:
    small_guide.write("pages/own.md", "[x](file:///etc/hosts) ![y](https://a.example/b.png)\n")
    assert found(small_guide) == [("pages/own.md:1:5", "link"), ("pages/own.md:1:29", "asks-outside")]


def test_a_link_in_yaml_is_told_at_its_value(small_guide: GuideOnDisk) -> None:
    small_guide.edit("guide.yaml", "title: ", "title: '[x](java&NewLine;script:x) '  # ")
    small_guide.edit(
        "sources.yaml", "kind: common-practice", 'kind: common-practice\n  url: "java\\tscript:x"'
    )
    told = found(small_guide)
    assert [check for _, check in told] == ["runs-script"] * 2
    assert {place.partition(":")[0] for place, _ in told} == {"guide.yaml", "sources.yaml"}


def test_what_may_stand_is_left_alone(small_guide: GuideOnDisk) -> None:
    words = "\n\n".join(f"[x]({address})" for address in QUIET)
    small_guide.write(
        "pages/own.md", f"{words}\n\n![a](images/a.png) <img src='data:image/png;base64,AA//'>\n"
    )
    assert found(small_guide) == []


@pytest.mark.browser
def test_a_browser_reads_addresses_so(page: Page) -> None:
    """Chromium's own parser of addresses (WHATWG URL Standard) is the oracle of which scheme each has."""
    page.goto("about:blank")
    read = "address => new URL(address, 'https://base.example/').protocol"
    for address in SCRIPTS:
        assert page.evaluate(read, address) in ("javascript:", "vbscript:", "data:")
        assert [ask.does for ask in asked_outside("a", [("href", address)])] == ["runs"], address
    for address in QUIET:
        assert page.evaluate(read, address) in ("https:", "http:", "tel:", "mailto:")
        assert list(asked_outside("a", [("href", address)])) == []


def test_a_link_that_no_page_may_have_is_told_where_it_was_written(small_guide):
    """In a block of lines the line of the link itself counts, not that of the key."""
    link = "See [the table](javascript:alert(1)), [here](a.md)."
    block = f"    help: |\n      A [[PEN]] may be broken.\n      {link}\n"
    one = "    help: It may be carrying a neighbour's current if a [[PEN]] is broken.\n"
    small_guide.edit("trees/site/main-earth.yaml", one, block)
    (finding,) = links.check(small_guide.sound(), ())
    assert (str(finding.place), finding.check) == ("trees/site/main-earth.yaml:12:23", "runs-script")
    assert finding.what == "a link runs `javascript:alert(1)`"
    assert finding.path == ("nodes", "clamp", "help")
    small_guide.edit("trees/site/main-earth.yaml", "javascript:alert(1)", "https://example.org/table")
    assert list(links.check(small_guide.sound(), ())) == []


def test_what_an_editor_holds_is_looked_at_and_not_what_was_saved(small_guide):
    file = small_guide.folder / "trees/site/main-earth.yaml"
    link, help_ = "[the table](javascript:alert(1))", "    help: It may be carrying a neighbour's current"
    small_guide.edit("trees/site/main-earth.yaml", help_, f"    help: See {link} of a neighbour's current")
    held = {file: "# a line that is not saved yet\n" + file.read_text("utf-8")}
    (saved,) = links.check(load(small_guide.folder, TODAY), ())
    (typed,) = links.check(load(small_guide.folder, TODAY, held=held), ())
    assert (typed.place.line, typed.place.column) == (saved.place.line + 1, saved.place.column)
    assert saved.place.column == len("    help: See [the table](") + 1
