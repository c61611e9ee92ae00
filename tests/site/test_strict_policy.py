"""Pages under a strict policy: what stood in a page is a file, and the page looks and does the same."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import watched
from playwright.sync_api import Browser

from build_tools import starter
from build_tools.bench.local_server import Quiet, served
from build_tools.pages import server_policy
from build_tools.site import building
from build_tools.site.strict_policy import make_strict

PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><link rel="icon" href="data:,"><title>A page</title>
<style>p { color: rgb(1, 2, 3); }</style>
<style media="print">p { color: red; }</style></head>
<body><p>Über <b style="font-weight: 900; color: rgb(4, 5, 6)" class="kept" data-a="&quot;<">words</b></p>
<svg id="before" viewBox="0 0 20 10" style="width: 40px"><path d="M0 0"/></svg>
<script>window.first = "</p> & \\u2028";
window.where = document.currentScript.previousElementSibling.id</script>
<script type="application/json" id="data">{"a": "<b style='x'>"}</script>
<script>window.second = JSON.parse(data.textContent).a</script>
</body></html>
"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    (tmp_path / "deep").mkdir()
    (tmp_path / "deep/page.html").write_text(PAGE, "utf-8")
    return tmp_path


@pytest.fixture
def strict_address(folder: Path) -> Iterator[str]:
    """A server that says the policy of pages with every file."""

    class Strict(Quiet):
        def end_headers(self) -> None:
            self.send_header("Content-Security-Policy", server_policy.HEADERS[0].value)
            super().end_headers()

    with served(folder, Strict) as address:
        yield f"{address}/deep/page.html"


LOOK = """() => {
  const style = (what) => getComputedStyle(document.querySelector(what));
  const {color, fontWeight} = style("b"), {width} = style("svg");
  return [style("p").color, color, fontWeight, width, document.querySelector("b").dataset.a,
          document.querySelector("svg").viewBox.baseVal.width, window.first, window.where, window.second];
}"""


@pytest.mark.browser
def test_a_page_looks_and_does_the_same(folder: Path, strict_address: str, started: Browser) -> None:
    with watched(started) as context:
        page = context.new_page()
        page.goto((folder / "deep/page.html").as_uri())
        before = page.evaluate(LOOK)
        assert before[:4] == ["rgb(1, 2, 3)", "rgb(4, 5, 6)", "900", "40px"]
        assert list(make_strict(folder)) == []
        page.goto(strict_address)
        assert page.evaluate(LOOK) == before


@pytest.mark.browser
def test_the_watch_sees_what_the_policy_stops(strict_address: str, started: Browser) -> None:
    with pytest.raises(AssertionError, match="violates the following Content Security Policy"):  # noqa: SIM117
        with watched(started) as context:
            context.new_page().goto(strict_address)


def test_the_rest_of_a_page_stays_to_the_letter(folder: Path) -> None:
    assert list(make_strict(folder)) == []
    page = (folder / "deep/page.html").read_text("utf-8")
    for kept in ("<p>Über ", ">words</b></p>", '<path d="M0 0"/></svg>', '{"a": "<b style=\'x\'>"}</script>'):
        assert kept in page
    assert "window.first" not in page and "<style" not in page
    files = sorted(path.suffix for path in (folder / "assets/inline").iterdir())
    assert files == [".css", ".css", ".css", ".js", ".js"]
    again = page
    assert list(make_strict(folder)) == []
    assert (folder / "deep/page.html").read_text("utf-8") == again, "a strict page has nothing left to move"


@pytest.mark.parametrize(
    ("written", "told"),
    [
        ('<a onclick="go()">', "deep/page.html: <a> runs onclick"),
        ('<p style="background: url(x.png)">', "the style of <p> names a file"),
        ("<style>@font-face { src: url('x.woff2') }</style>", "the style of <style> names a file"),
    ],
)
def test_what_has_no_place_in_a_file_is_told(folder: Path, written: str, told: str) -> None:
    (folder / "deep/page.html").write_text(f"<body>{written}", "utf-8")
    assert [found for found in make_strict(folder) if told in found]


def test_a_page_of_the_author_with_a_handler_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    guide, site = tmp_path / "guide", tmp_path / "site"
    starter.write(guide)
    (guide / "pages/own.md").write_text('# Own\n\n<p onclick="alert(1)">Press</p>\n', "utf-8")
    assert building.build(guide, site) == 1
    said = capsys.readouterr()
    assert "own.md:3:4: runs-script: `<p>` runs `onclick`" in said.out
    assert "mend: take it away" in said.out
    assert not site.exists()
