"""The page of what to allow: complete, and true of what is left where something is not allowed."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from browsing import strictly_watched
from playwright.sync_api import Browser, Page, Request, expect

from build_tools.bench.local_server import Quiet, served
from build_tools.pages import server_policy

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
TREE, CALCULATOR = "trees/site/tingle-visit.html", "calculators/lost-neutral.html"
PAGES = server_policy.HEADERS[0].value


@contextmanager
def serving(
    site: Path,
    pages: str = PAGES,
    python: str = server_policy.PYTHON_POLICY.value,
    heard: list[tuple[str, str]] | None = None,
    **types: str,
) -> Iterator[str]:
    """A server with one of these policies, and some endings as what they are not; `heard`: all it is told."""

    class Changed(Quiet):
        def guess_type(self, path: str | os.PathLike[str]) -> str:
            return {**server_policy.TYPES, **types}.get(Path(path).suffix[1:], "application/octet-stream")

        def end_headers(self) -> None:
            in_python = f"/{server_policy.PYTHON_FOLDER}/" in self.path
            self.send_header("Content-Security-Policy", python if in_python else pages)
            for header in server_policy.HEADERS[1:]:
                self.send_header(header.name, header.value)
            super().end_headers()

        def log_message(self, *_: object) -> None:
            if heard is not None:
                heard.append((self.requestline, str(self.headers)))

    with served(site, Changed) as address:
        yield address


@pytest.fixture
def page(started: Browser) -> Iterator[Page]:
    """What is not allowed is told in the console, so this one is not watched."""
    with started.new_context() as context:
        context.set_default_timeout(5_000)
        yield context.new_page()


def directive(name: str, value: str) -> str:
    changed, count = re.subn(rf"\b{name} [^;]*", f"{name} {value}", PAGES)
    assert count == 1
    return changed


def test_the_page_names_every_header_type_and_policy(site: Path) -> None:
    html = (site / "allow.html").read_text("utf-8").replace("&#39;", "'")
    for header in (*server_policy.HEADERS, server_policy.PYTHON_POLICY):
        assert f"<code>{header.value}</code>" in html and header.why in html, header.name
    for ending, type_ in server_policy.TYPES.items():
        assert f"<code>.{ending}</code></td><td><code>{type_}</code>" in html
    for told in ("no cookie", "no telemetry", f"{server_policy.PYTHON_FOLDER}/"):
        assert told in html
    assert 'href="allow.html"' in (site / "index.html").read_text("utf-8")


def test_every_directive_that_narrows_a_page_is_spoken_of() -> None:
    """A kind of file that pages use has a line in the policy; what no page needs stays at 'none'."""
    said = dict(part.strip().split(" ", 1) for part in PAGES.split(";"))
    assert said["default-src"] == "'none'"
    assert not [name for name, value in said.items() if re.search(r"unsafe|\*|https?:", value)]


@pytest.mark.browser
@pytest.mark.parametrize(
    "changed", [{"python": PAGES}, {"pages": directive("worker-src", "'none'")}], ids=["python", "workers"]
)
def test_without_them_a_calculator_keeps_the_figures_of_the_build(
    site: Path, page: Page, changed: dict[str, str]
) -> None:
    with serving(site, **changed) as address:
        page.goto(f"{address}/{CALCULATOR}")
        built = page.locator("output").all_inner_texts()
        page.get_by_label("Load on L1").fill("12")
        expect(page.locator("[data-calculator]")).to_have_attribute("data-state", "failed", timeout=60_000)
        assert page.locator("output").all_inner_texts() == built
        page.goto(f"{address}/{TREE}")
        page.locator("[data-go]:visible").first.click()
        expect(page.locator("[data-node]:visible")).to_have_count(1)


@pytest.mark.browser
@pytest.mark.parametrize(
    "changed",
    [{"pages": directive("script-src", "'none'")}, {"js": "text/plain"}],
    ids=["scripts", "types"],
)
def test_without_scripts_a_tree_is_read_whole_and_followed(
    site: Path, page: Page, changed: dict[str, str]
) -> None:
    with serving(site, **changed) as address:
        page.goto(f"{address}/{TREE}")
        nodes = page.locator("[data-node]")
        assert nodes.count() == page.locator("[data-node]:visible").count() > 5
        link = page.locator("a[data-go]").first
        link.click()
        assert page.url.endswith(f"#{link.get_attribute('data-go')}")
        page.goto(f"{address}/{CALCULATOR}")
        expect(page.locator("output").first).to_be_visible()


@pytest.mark.browser
def test_without_styles_every_word_is_there(site: Path, page: Page) -> None:
    with serving(site) as address:
        page.goto(f"{address}/glossary.html")
        words = page.locator(".ln").first.inner_text().split()
    with serving(site, directive("style-src", "'none'")) as address:
        page.goto(f"{address}/glossary.html")
        assert page.locator(".ln").first.inner_text().split() == words


@pytest.mark.browser
def test_a_copy_needs_workers_and_says_so(site: Path, page: Page) -> None:
    with serving(site, directive("worker-src", "'none'")) as address:
        page.goto(f"{address}/index.html")
        expect(page.locator("[data-part=device]")).to_have_attribute("data-state", "unkept")
        expect(page.get_by_text("This browser keeps no copy of the guide")).to_be_visible()


@pytest.mark.browser
@pytest.mark.parametrize(("host", "is_shown"), [("127.0.0.1", True), ("localhost", False)])
def test_only_the_same_host_may_frame_it(site: Path, page: Page, host: str, is_shown: bool) -> None:
    with serving(site) as address:
        portal = address.replace("127.0.0.1", host) + "/portal.html"
        frame = f'<iframe src="{address}/glossary.html"></iframe>'
        page.route(portal, lambda route: route.fulfill(content_type="text/html", body=frame))
        with page.expect_event("requestfinished" if is_shown else "requestfailed", is_of_the_frame):
            page.goto(portal)
        heading = page.frame_locator("iframe").get_by_role("heading", name="Glossary", level=1)
        expect(heading).to_have_count(int(is_shown))


def is_of_the_frame(request: Request) -> bool:
    return request.url.endswith("glossary.html")


@pytest.mark.browser
def test_nothing_that_is_entered_is_sent(site: Path, started: Browser) -> None:
    """As the server hears it: it is asked for files, and told nothing, not even from where."""
    heard: list[tuple[str, str]] = []
    with serving(site, heard=heard) as address, strictly_watched(started) as page:
        page.goto(f"{address}/{CALCULATOR}")
        page.get_by_label("Load on L1").fill("12.345")
        status = page.locator("[data-part=status]").first
        expect(status).to_have_text("Calculated on this device", timeout=60_000)
        page.goto(f"{address}/trees/call/index.html")
        page.get_by_label("What does the caller say?").fill("tingle zyzzyva")
        page.goto(f"{address}/{TREE}")
        for _ in range(12):
            if (answer := page.locator("a[data-go][href]:visible").first).count():
                answer.click()
        page.locator("[data-part=note]").fill("zyzzyva")
        page.goto(f"{address}/jobs.html")
        expect(page.locator(".ln-job")).to_have_count(1)
    lines, headers = [line for line, _ in heard], "".join(told for _, told in heard)
    assert len(lines) > 20
    assert {line.split()[0] for line in lines} == {"GET"}
    assert not [line for line in lines if "?" in line or "12.345" in line or "zyzzyva" in line]
    assert not re.search(r"^cookie:|12\.345|zyzzyva", headers, re.IGNORECASE | re.MULTILINE)
    came_from = set(re.findall(r"^referer: (.*)", headers, re.IGNORECASE | re.MULTILINE))
    assert came_from <= {f"{address}/service-worker.js"}, "a worker that looks for a newer one of itself"
