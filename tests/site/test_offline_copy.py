"""The copy of the guide on a device: kept whole, without a network, and never two editions in one job."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from browsing import browser
from editions import WHERE, Server
from playwright.sync_api import Browser, BrowserContext, Page, expect

pytestmark = pytest.mark.browser

HERE = Path(__file__).parents[1]
GUIDE = HERE / "guides" / "walked"
FIRST, SECOND = "2.1", "3.0"
WAIT_MS = 12_000


@pytest.fixture(scope="module")
def editions(site: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """The walked guide in its own version and in one more."""
    guide = tmp_path_factory.mktemp("guide") / "guide"
    shutil.copytree(GUIDE, guide)
    settings = guide / "guide.yaml"
    text = settings.read_text("utf-8")
    assert f'version: "{FIRST}"\n' in text
    settings.write_text(text.replace(f'version: "{FIRST}"\n', f'version: "{SECOND}"\n'), "utf-8")
    later = tmp_path_factory.mktemp("site") / SECOND
    subprocess.run([sys.executable, HERE / "lean_build.py", guide, later], check=True)
    return {FIRST: site, SECOND: later}


@pytest.fixture(scope="module")
def started() -> Iterator[Browser]:
    with browser() as running:
        yield running


@pytest.fixture
def server(tmp_path: Path, editions: dict[str, Path]) -> Iterator[Server]:
    serving = Server(tmp_path)
    serving.publish(editions[FIRST])
    yield serving
    serving.stop()


@pytest.fixture
def device(started: Browser) -> Iterator[BrowserContext]:
    context = started.new_context()
    yield context
    context.close()


def bar(page: Page) -> Any:
    return expect(page.locator("[data-part=device]"))


def opened(device: BrowserContext, server: Server, where: str = "index.html") -> Page:
    page = device.new_page()
    page.goto(f"{server.address}/{where}")
    return page


def kept(device: BrowserContext, server: Server) -> Page:
    """A page of a guide that stands whole on the device."""
    page = opened(device, server)
    bar(page).to_have_attribute("data-state", "kept", timeout=WAIT_MS)
    return page


def job_on(page: Page) -> None:
    """Opens a job, as the record of a walk does."""
    page.evaluate(
        """() => {
          const {edition} = document.documentElement.dataset;
          const job = {format: 1, id: "abcdef", guide: "g", version: "1.0", build: edition};
          Object.assign(job, {tree: "t", page: "trees/site/t.html", title: "T", reviewBy: "2027-01-01"});
          Object.assign(job, {begun: 1, changed: 1, count: 1, carry: {}, note: ""});
          Object.assign(job, {answers: [], before: [], dangers: []});
          const root = new URL(".", location.href).pathname;
          localStorage.setItem(`lost-neutral:job:${root}:abcdef`, JSON.stringify(job));
          localStorage.setItem(`lost-neutral:open:${root}`, "abcdef");
          dispatchEvent(new Event("ln-job"));
        }"""
    )


def version_of(page: Page) -> str:
    return page.locator("[data-part=edition]").inner_text().partition("version ")[2].partition(",")[0]


def pages_of(site: Path) -> list[str]:
    return sorted(path.relative_to(site).as_posix() for path in site.rglob("*.html"))


def test_once_visited_every_page_opens_without_a_network(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    page = kept(device, server)
    expect(page.locator("[data-now]")).to_contain_text(f"Version {FIRST} is on this device since")
    server.stop()
    for where in pages_of(editions[FIRST]):
        answered = page.goto(f"{server.address}/{where}")
        assert answered and answered.ok, where
        expect(page.locator("h1").first).to_be_visible()
    page.goto(f"{server.address}/nothing-like-this.html")
    expect(page.locator("h1").first).to_have_text("Not in this version")
    server.start()


def test_a_calculator_answers_without_a_network(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    page = kept(device, server)
    server.stop()
    where = next(page for page in pages_of(editions[FIRST]) if page.startswith("calculators/two"))
    page.goto(f"{server.address}/{where}")
    page.get_by_label("Our load").fill("3,5")
    expect(page.locator("[data-part=status]").first).to_have_text("Calculated on this device", timeout=60_000)
    server.start()


def test_a_newer_edition_waits_until_it_is_let(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    page = kept(device, server)
    server.publish(editions[SECOND])
    page.reload()
    assert version_of(page) == FIRST
    bar(page).to_have_attribute("data-state", "newer", timeout=WAIT_MS)
    page.get_by_role("button", name="Use the newer version").click()
    expect(page.locator("[data-part=edition]")).to_contain_text(f"version {SECOND}", timeout=WAIT_MS)
    page.wait_for_function(
        "async () => (await caches.keys()).filter((k) => k.includes(':copy:')).length === 1"
    )


def test_a_job_keeps_the_edition_that_it_was_begun_with(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    page = kept(device, server)
    job_on(page)
    server.publish(editions[SECOND])
    page.reload()
    bar(page).to_have_attribute("data-state", "newer", timeout=WAIT_MS)
    page.get_by_role("button", name="Use the newer version").click()
    bar(page).to_have_attribute("data-state", "job-first")
    other = opened(device, server, "trees/site/tingle-visit.html")
    assert version_of(other) == FIRST
    page.close()
    other.close()
    again = opened(device, server, "trees/site/tingle-visit.html")  # the newer worker may have taken over now
    assert version_of(again) == FIRST, "as long as the job is open"
    again.evaluate("() => { localStorage.clear(); dispatchEvent(new Event('ln-job')); }")
    again.wait_for_timeout(300)
    again.goto(f"{server.address}/index.html")
    button = again.get_by_role("button", name="Use the newer version")
    if version_of(again) == FIRST:
        button.click(timeout=WAIT_MS)
    expect(again.locator("[data-part=edition]")).to_contain_text(f"version {SECOND}", timeout=WAIT_MS)


def test_half_a_copy_is_none_and_is_finished_later(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    server.failing.add("glossary.html")
    page = opened(device, server)
    bar(page).to_have_attribute("data-state", "broken", timeout=WAIT_MS)
    expect(page.locator("[data-now]")).to_contain_text("keeps none of it yet")
    assert page.evaluate("() => !navigator.serviceWorker.controller")
    server.failing.clear()
    server.asked.clear()
    page.reload()
    bar(page).to_have_attribute("data-state", "kept", timeout=WAIT_MS)
    again = [name for name, times in server.asked.items() if name.endswith(".bin")]
    assert len(again) <= 2, "what was kept before is not fetched again"


def test_a_file_that_another_edition_brought_is_refused(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    """The server is given another edition while the first is being fetched."""
    (server.folder / WHERE / "glossary.html").write_text("<p>of another edition", "utf-8")
    page = opened(device, server)
    bar(page).to_have_attribute("data-state", "broken", timeout=WAIT_MS)


def test_a_damaged_file_is_fetched_anew_or_not_shown(
    device: BrowserContext, server: Server, editions: dict[str, Path]
) -> None:
    page = kept(device, server)
    spoil = """async (name) => {
      const cache = await caches.open((await caches.keys()).find((key) => key.includes(":copy:")));
      const at = new URL(name, location.href), was = await cache.match(at);
      await cache.put(at, new Response("<p>spoilt", {headers: was.headers}));
    }"""
    page.evaluate(spoil, "glossary.html")
    page.goto(f"{server.address}/glossary.html")
    expect(page.locator("h1").first).to_have_text("Glossary")
    page.goto(f"{server.address}/index.html")
    page.evaluate(spoil, "glossary.html")
    server.stop()
    page.goto(f"{server.address}/glossary.html")
    expect(page.locator("h1").first).to_have_text("Not in this version")
    server.start()


def test_a_browser_that_keeps_nothing_says_so_and_the_guide_works(started: Browser, server: Server) -> None:
    context = started.new_context()
    context.add_init_script(
        "delete Navigator.prototype.serviceWorker;"
        "const get = () => { throw new DOMException('no', 'SecurityError'); };"
        "Object.defineProperty(window, 'localStorage', {get});"
    )
    page = context.new_page()
    page.goto(f"{server.address}/trees/site/tingle-visit.html")
    bar(page).to_have_attribute("data-state", "unkept")
    page.keyboard.press("1")
    expect(page.locator("[data-node]:visible")).to_have_count(1)
    context.close()


def test_signs_of_an_older_kind_are_no_trouble(device: BrowserContext, server: Server) -> None:
    page = kept(device, server)
    page.evaluate(
        """async () => {
          const name = (await caches.keys()).find((key) => key.includes(":signs:"));
          await (await caches.open(name)).put("./", new Response("not json"));
          const root = new URL('.', location.href).pathname;
          localStorage.setItem(`lost-neutral:job:${root}:abcdef`, "{half");
          localStorage.setItem(`lost-neutral:open:${root}`, "abcdef");
        }"""
    )
    page.goto(f"{server.address}/glossary.html")
    bar(page).to_have_attribute("data-state", "kept", timeout=WAIT_MS)


def test_a_clock_before_the_guides_own_day_is_called_wrong(device: BrowserContext, server: Server) -> None:
    page = device.new_page()
    page.clock.set_fixed_time("2001-01-01T00:00:00Z")
    page.goto(f"{server.address}/index.html")
    expect(page.get_by_text("The clock of this device looks wrong.")).to_be_visible()


def test_from_a_folder_none_is_needed(device: BrowserContext, editions: dict[str, Path]) -> None:
    page = device.new_page()
    said: list[str] = []
    page.on("console", lambda message: said.append(message.text))
    page.goto((editions[FIRST] / "index.html").as_uri())
    bar(page).to_have_attribute("data-state", "folder")
    assert said == []


def test_the_manifest_and_the_list_name_what_is_there(editions: dict[str, Path]) -> None:
    site = editions[FIRST]
    manifest = json.loads((site / "manifest.webmanifest").read_text("utf-8"))
    for icon in manifest["icons"]:
        assert (site / icon["src"]).read_bytes().startswith(b"\x89PNG")
    worker = (site / "service-worker.js").read_text("utf-8").partition(";\n")[0]
    files = json.loads(worker.partition("=")[2])["files"]
    assert all((site / name).stat().st_size == bytes_ for name, (_, bytes_) in files.items())
    assert {"index.html", "build.js", "missing.html", "assets/python/memory.bin"} <= files.keys()


def test_the_same_guide_makes_the_same_edition(editions: dict[str, Path]) -> None:
    ids = {name: (site / "build.js").read_text("utf-8") for name, site in editions.items()}
    assert ids[FIRST] != ids[SECOND]
