"""What a reader waits for in a real browser, the first view, the next question, Python; and what a tab takes.

The reference for a page is the theme's plain page with the same words; for Python, Pyodide as its makers
publish it, with the same `calc` imported, from the same server.
"""

from __future__ import annotations

import gzip
import io
import itertools
import mimetypes
import shutil
import statistics
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

from playwright.sync_api import Browser, BrowserContext, Locator, Page

from build_tools.bench.row import BenchRow, NotMeasured
from build_tools.pages.server_policy import COMPRESSED
from build_tools.setup.environment import NODE, ROOT

__all__ = ["measure"]

_TURNS = 5
_PAINTS = 15
_SLOWER = 4
_CALCULATOR = "calculators/bonding.html"
_ASKED = "#pen_mm2=25"  # an address with a value is answered at once
_WAIT_MS = 120_000

_BARE = """<!doctype html><meta charset="utf-8"><title>Bare</title><script type="module">
import { loadPyodide } from "./pyodide.mjs";
const calc = fetch("calc.zip").then((response) => response.arrayBuffer());
const python = await loadPyodide({
  fsInit: async (FS) => FS.writeFile("/calc.zip", new Uint8Array(await calc)),
  env: { PYTHONPATH: "/calc.zip" },
});
python.pyimport("calc.calculators").answer_json;
globalThis.ready = performance.now();
</script>"""
_READY = """new MutationObserver(() => {
  if (document.querySelector("[data-state=here]")) globalThis.ready ??= performance.now();
}).observe(document, { subtree: true, attributes: true, attributeFilter: ["data-state"] });"""
_SEEN = """Object.assign(globalThis, { longest: 0, shifted: 0, painted: [] });
const watch = (type, take, more) =>
  new PerformanceObserver((list) => list.getEntries().forEach(take)).observe({ type, ...more });
watch("longtask", (task) => { longest = Math.max(longest, task.duration); });
watch("layout-shift", (shift) => { if (!shift.hadRecentInput) shifted += shift.value; });
const click = (event) => { if (event.name === "click") painted.push(event.duration); };
watch("event", click, { durationThreshold: 16 });"""
_BEGIN_AGAIN = """async () => {
  const before = shifted;
  location.hash = document.querySelector("[data-node]").dataset.node;
  await new Promise((done) => setTimeout(done, 500));
  shifted = before; // nobody has touched anything, so every change would count
}"""
_WALKS = """async (walks) => {
  const shown = () => [...document.querySelectorAll("[data-node]")].find((node) => node.checkVisibility());
  const turn = () => new Promise((done) => setTimeout(done));
  const start = shown().dataset.node;
  for (let walk = 0; walk < walks; walk++) {
    location.hash = start;
    while (shown().dataset.node !== start) await turn();
    for (let step = 0; step < 40; step++) {
      const answers = [...shown().querySelectorAll("a[data-go]")];
      if (!answers.length) break;
      answers[(walk + step) % answers.length].click();
      await turn();
    }
  }
}"""


def measure(browser: Browser, address: str, folder: Path) -> Iterator[BenchRow]:
    """`folder` is served at `address`, and has our pages in site/ and the theme's plain ones in plain/."""
    site = folder / "site"
    tree = min((site / "trees" / "site").glob("[!i]*.html"), key=lambda path: path.stat().st_size)
    where = tree.relative_to(site).as_posix()
    yield from _first_view(browser, address, folder, where)
    yield from _python(browser, address, folder)
    yield from _next_question(browser, f"{address}/site/{where}")
    yield from _tab(browser, address, where)


def _first_view(browser: Browser, address: str, folder: Path, where: str) -> Iterator[BenchRow]:
    pages = [f"{address}/{part}/{where}" for part in ("site", "plain")]
    ours, plain = (_moved(browser, page, folder) for page in pages)
    yield BenchRow(
        "a tree page's first view, compressed",
        ours / plain,
        "at most 1.25",
        f"{ours / 1000:.0f} kB (aim: 250); the theme's plain page with the same words {plain / 1000:.0f} kB",
    )
    paints: list[list[float]] = [[], []]
    for _ in range(_PAINTS):
        for page, times in zip(pages, paints, strict=True):
            times.append(_first_paint(browser, page))
    ours_ms, plain_ms = map(statistics.median, paints)
    of = f"{ours_ms:.0f} ms; the theme's plain page {plain_ms:.0f} ms"
    yield BenchRow("first paint of a tree page", ours_ms / plain_ms, "at most 1.1", of)


def _moved(browser: Browser, address: str, folder: Path, asked: str = "") -> int:
    """Bytes of all that a page asks for, where the server compresses what is worth it."""
    with _visit(browser) as context:
        page = context.new_page()
        paths: list[str] = []
        page.on("requestfinished", lambda request: paths.append(urlsplit(request.url).path))
        page.add_init_script(_READY)
        page.goto(address + asked, wait_until="networkidle")
        if asked:
            page.wait_for_function("globalThis.ready", timeout=_WAIT_MS)
    return sum(_sent(folder / path[1:]) for path in paths if (folder / path[1:]).is_file())


def _sent(file: Path) -> int:
    content = file.read_bytes()
    return len(gzip.compress(content, 6) if mimetypes.guess_type(file.name)[0] in COMPRESSED else content)


def _first_paint(browser: Browser, address: str) -> float:
    with _visit(browser) as context:
        page = context.new_page()
        page.goto(address, wait_until="load")
        page.wait_for_function("performance.getEntriesByName('first-contentful-paint').length")
        return float(page.evaluate("performance.getEntriesByName('first-contentful-paint')[0].startTime"))


def _python(browser: Browser, address: str, folder: Path) -> Iterator[BenchRow]:
    _write_bare(folder / "bare")
    page = f"{address}/site/{_CALCULATOR}"
    moved = _moved(browser, page, folder, _ASKED)
    with _visit(browser) as context:
        places = {
            "bare": f"{address}/bare/index.html",
            "served": page + _ASKED,
            "folder": (folder / "site" / _CALCULATOR).as_uri() + _ASKED,
        }
        times: dict[str, list[float]] = {place: [] for place in places}
        for _ in range(_TURNS + 1):
            for place, at in places.items():
                times[place].append(_ready(context, at))
    bare, served, from_folder = (
        statistics.median(each[1:]) for each in times.values()
    )  # the first fills caches
    of = f"bare loadPyodide with the same code imported is ready in {bare:.0f} ms"
    yield BenchRow(
        "first answer from navigation, warm", served / bare, "at most 0.4", f"{served:.0f} ms; {of}"
    )
    yield BenchRow("the same from a folder", from_folder / bare, "below 1", f"{from_folder:.0f} ms; the same")
    bare_moved = sum(map(_sent, (folder / "bare").iterdir()))
    of = f"{moved / 1e6:.2f} MB (aim: 6), Python and all; bare Pyodide and calc {bare_moved / 1e6:.2f} MB"
    yield BenchRow("a calculator's page, cold, compressed", moved / bare_moved, "", of)


def _write_bare(bare: Path) -> None:
    bare.mkdir()
    for name in (
        "pyodide.mjs",
        "pyodide.asm.mjs",
        "pyodide.asm.wasm",
        "python_stdlib.zip",
        "pyodide-lock.json",
    ):
        shutil.copyfile(NODE / "node_modules" / "pyodide" / name, bare / name)
    zipped = io.BytesIO()
    with zipfile.ZipFile(zipped, "w") as archive:
        for path in sorted((ROOT / "calc").rglob("*.py")):
            archive.write(path, path.relative_to(ROOT))
    (bare / "calc.zip").write_bytes(zipped.getvalue())
    (bare / "index.html").write_text(_BARE, encoding="utf-8")


def _ready(context: BrowserContext, address: str) -> float:
    page = context.new_page()
    page.add_init_script(_READY)
    page.goto(address)
    page.wait_for_function("globalThis.ready", timeout=_WAIT_MS)
    taken = float(page.evaluate("globalThis.ready"))
    page.close()
    return taken


def _next_question(browser: Browser, address: str) -> Iterator[BenchRow]:
    """Real clicks, as far as a walk goes, begun again until there are enough."""
    usual, slow = (_clicks(browser, address, slower) for slower in (1, _SLOWER))
    median = {each: statistics.median(seen["painted"]) for each, seen in (("usual", usual), ("slow", slow))}
    of = (
        f"{median['slow']:.0f} ms (aim: 50) with the page's thread {_SLOWER} times slower, at most "
        f"{max(slow['painted']):.0f} ms, longest task {slow['longest']:.0f} ms (0: none over 50), layout "
        f"shift {slow['shifted']:.3f}; {median['usual']:.0f} ms else; told in steps of 8 ms"
    )
    yield BenchRow("next question painted after a click", median["slow"] / median["usual"], "", of)


def _clicks(browser: Browser, address: str, slower: int) -> Any:
    with _visit(browser) as context:
        page = context.new_page()
        page.add_init_script(_SEEN)
        page.goto(address, wait_until="load")
        page.wait_for_timeout(500)
        context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slower})
        page.evaluate("longest = shifted = 0")
        for turn in range(20):
            answers = page.locator("[data-node] a[data-go]:visible")
            if found := answers.count():
                page.mouse.click(*_middle(answers.nth(turn % found)))
            else:
                page.evaluate(_BEGIN_AGAIN)
            page.wait_for_timeout(300)
        seen = page.evaluate("() => ({ longest, shifted, painted })")
        seen["painted"] = seen["painted"] or [16.0]  # quicker than the browser tells
        return seen


def _middle(answer: Locator) -> tuple[float, float]:
    """Where to click; the library's own click would look for what covers it, in the page's time."""
    answer.scroll_into_view_if_needed()
    box = answer.bounding_box()
    assert box
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def _tab(browser: Browser, address: str, where: str) -> Iterator[BenchRow]:
    """What a calculator's tab takes, and whether a day of use makes a tree's tab grow."""
    with _visit(browser) as context:
        context.new_page().goto(f"{address}/plain/{where}", wait_until="networkidle")
        plain = _memory(browser)
    with _visit(browser) as context:
        _hold(context, f"{address}/site/{_CALCULATOR}{_ASKED}")
        calculator = _memory(browser)
    of = f"{calculator / 1e6:.0f} MB, Python in it; with the theme's plain page {plain / 1e6:.0f} MB"
    yield BenchRow("memory of the browser's pages, a calculator open", calculator / plain, "", of)
    with _visit(browser) as context:
        page = context.new_page()
        page.goto(f"{address}/site/{where}", wait_until="load")
        taken = []
        for walks in (100, 900):
            page.evaluate(_WALKS, walks)
            taken.append(_held(page))
    first, later = taken
    of = f"{later / 1e6:.2f} MB of the page's own after 1,000 walks of a tree, {first / 1e6:.2f} MB after 100"
    yield BenchRow("memory that 1,000 walks take", later / first, "at most 1.1", of)


def _hold(context: BrowserContext, address: str) -> None:
    page = context.new_page()
    page.add_init_script(_READY)
    page.goto(address)
    page.wait_for_function("globalThis.ready", timeout=_WAIT_MS)


def _memory(browser: Browser) -> int:
    """Bytes of all processes that hold pages, each page of memory that several share in equal parts."""
    processes = browser.new_browser_cdp_session().send("SystemInfo.getProcessInfo")["processInfo"]
    told = [Path(f"/proc/{each['id']}/smaps_rollup") for each in processes if each["type"] == "renderer"]
    if not told or not told[0].exists():
        raise NotMeasured("this system does not say what memory a process takes")
    lines = itertools.chain.from_iterable(each.read_text().splitlines() for each in told)
    return sum(int(line.split()[1]) * 1024 for line in lines if line.startswith("Pss:"))


def _held(page: Page) -> float:
    session = page.context.new_cdp_session(page)
    session.send("HeapProfiler.collectGarbage")
    return float(session.send("Runtime.getHeapUsage")["usedSize"])


def _visit(browser: Browser) -> BrowserContext:
    """A fresh profile that keeps no copy of the guide meanwhile; use it in a `with`."""
    return browser.new_context(service_workers="block")
