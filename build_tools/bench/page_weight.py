"""What a page moves and how soon a calculator answers, in a real browser."""

from __future__ import annotations

import json
import os
import re
import statistics
import tempfile
import time
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode

from playwright.sync_api import Browser, Page, Route, sync_playwright

from build_tools.bench import reader
from build_tools.bench.builds import GUIDE, built, plain_site
from build_tools.bench.local_server import served
from build_tools.bench.row import BenchRow
from build_tools.guide import loading
from build_tools.pages.sections import calculator_data
from build_tools.setup.programs import BROWSER_VARIABLE
from calc.calculators import CALCULATORS, default_answer
from calc.locate import located
from calc.shaped import shaped
from calc.street import Street

__all__ = ["measure"]

_INPUTS = 20
_SLOWER = 4
"""How many times slower Chromium runs the page's own thread; the worker of Python is not slowed."""

_DATA = re.compile(r'(?<=data-part="data">)(.*?)(?=</script>)', re.DOTALL)

_LONGEST = """globalThis.longest = 0;
new PerformanceObserver((list) => {
  for (const task of list.getEntries()) longest = Math.max(longest, task.duration);
}).observe({ type: "longtask" });"""


def measure() -> list[BenchRow]:
    """What `reader` measures, and the time from an input to its answer."""
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        aside = Path(folder)
        built(aside / "site")
        plain_site(aside / "site", aside / "plain")
        arguments = ["--no-sandbox", "--disable-gpu", "--disable-background-networking"]
        browser = playwright.chromium.launch(executable_path=os.environ[BROWSER_VARIABLE], args=arguments)
        with served(aside) as address:
            rows = [*reader.measure(browser, address, aside), *_answers(browser, address)]
        browser.close()
    return rows


def _answers(browser: Browser, address: str) -> Iterator[BenchRow]:
    loaded = loading.load(GUIDE)
    for calculator in CALCULATORS.values():
        data = calculator_data(loaded, calculator)
        began = time.perf_counter()
        default_answer(calculator, data)
        here = time.perf_counter() - began
        aim = "300 ms" if calculator.id in ("explain", "locate") else "50 ms"
        page = browser.new_page()
        yield _answered(page, f"{address}/site/calculators/{calculator.id}.html", calculator.id, here, aim)
    street = _twice(calculator_data(loaded, CALCULATORS["locate"])["streets"]["tannery-row"])
    seen = {"2": "bright", "8": "dim", "16": "normal", "24 b": "off"}
    began = time.perf_counter()
    located(shaped(Street, street), seen)
    here = time.perf_counter() - began
    asked = {f"home_{n}": home for n, home in enumerate(seen, 1)} | {
        f"seen_{n}": said for n, said in enumerate(seen.values(), 1)
    }
    page = browser.new_page()
    page.route("**/locate.html", lambda route: _with_street(route, street))
    said = urlencode({"street": "tannery-row", **asked}, quote_via=quote)
    where = f"{address}/site/calculators/locate.html#{said}"
    yield _answered(page, where, f"locate on {len(street['premises'])} homes", here, "300 ms")


def _answered(page: Page, address: str, name: str, here: float, aim: str) -> BenchRow:
    """`here`: seconds that CPython took."""
    page.add_init_script(_LONGEST)
    page.goto(address)
    _answer(page, 1)  # waits for Python to start
    usual = statistics.median(_answer(page, n) for n in range(_INPUTS))
    page.context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": _SLOWER})
    page.evaluate("() => { longest = 0 }")
    slow = statistics.median(_answer(page, n) for n in range(_INPUTS))
    longest = page.evaluate("() => longest")
    page.close()
    return BenchRow(
        f"answer of {name} after an input",
        usual / here,
        aim,
        f"{usual * 1000:.0f} ms in the browser, {slow * 1000:.0f} ms with the page's thread {_SLOWER} "
        f"times slower, its longest task {longest:.0f} ms (0: none over 50); CPython {here * 1000:.0f} ms",
    )


def _twice(street: Mapping[str, Any]) -> dict[str, Any]:
    """A street with each home and each pipe a second time, at the same joints."""
    homes = {f"{home} b": premises for home, premises in street["premises"].items()}
    pipes = [{**pipe, "joins": [f"{home} b" for home in pipe["joins"]]} for pipe in street["metalwork"]]
    return {
        **street,
        "premises": {**street["premises"], **homes},
        "metalwork": [*street["metalwork"], *pipes],
    }


def _with_street(route: Route, street: Mapping[str, Any]) -> None:
    """The page as it is, but for one street in its data."""
    before, held, after = _DATA.split(route.fetch().text(), 1)
    data = json.loads(held)
    told = json.dumps(data | {"streets": data["streets"] | {"tannery-row": street}})
    route.fulfill(body=before + told.replace("<", "\\u003c") + after, content_type="text/html")


def _answer(page: Page, turn: int) -> float:
    """Seconds from a changed input to the answer in the page."""
    result: Any = page.evaluate(
        """turn => new Promise(done => {
          const root = document.querySelector('[data-calculator]'), form = root.querySelector('form');
          const number = form.querySelector('input[inputmode=decimal]');
          const field = number ?? form.querySelector('select');
          const before = performance.now();
          new MutationObserver((_, watch) => {
            if (root.dataset.state !== 'here') return;
            watch.disconnect(); done((performance.now() - before) / 1000);
          }).observe(root, {attributeFilter: ['data-state']});
          if (number) number.value = String(Number(number.defaultValue) + (turn % 2 ? 0 : 0.1));
          else field.selectedIndex = turn % field.options.length;
          field.dispatchEvent(new Event('input', {bubbles: true}));
        })""",
        turn,
    )
    return float(result)
