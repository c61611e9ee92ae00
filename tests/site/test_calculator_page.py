"""Calculators in a real browser: over HTTP below a sub-path, and from a folder.

What the pages must show is worked out here, by CPython; the pages work it out with the Python they carry.
"""

from __future__ import annotations

import importlib.util
import os
import re
import shutil
import subprocess
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import browsing
import pytest
from playwright.sync_api import Browser, ConsoleMessage, Page, Route, expect

from build_tools.bench.local_server import served
from build_tools.cli import calculate
from build_tools.guide import loading
from build_tools.pages.calculator_page import render
from build_tools.setup import environment
from build_tools.site.assets import write_browser_assets
from calc import calculators
from calc.address import fragment
from calc.calculator import Answer, Calculator
from calc.drawn_streets import draw
from calc.form import default_raw, parse

pytestmark = pytest.mark.browser

ROOT = Path(__file__).parents[2]
TRIAL = ROOT / "tests" / "calculators" / "trial.py"
STREETS = {
    "streets": {
        "short-row": {"title": "Short Row </script>", "premises": {"1": {}, "3": {}}},
        "long-lane": {"title": "Long Lane", "premises": {"20": {}, "22": {}}},
    }
}
START_MS = 60_000
expect.set_options(timeout=20_000)
SHOWN = """() => [...document.querySelectorAll(".ln-answer :is(output span, li, rect, caption, th, td)")]
    .map((element) => `${element.localName} ${element.getAttribute("width")} ${element.textContent}`)"""
PAGE = """<!doctype html><html lang="en"><meta charset="utf-8"><title>Trial</title>
<link rel="icon" href="data:,"><meta name="viewport" content="width=device-width">
<link rel="stylesheet" href="../assets/guide.css"><link rel="stylesheet" href="../assets/calculator.css">
<main>{}</main></html>"""


def _trial() -> Calculator:
    spec = importlib.util.spec_from_file_location("trial", TRIAL)
    assert spec and spec.loader
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module.CALCULATOR  # type: ignore[no-any-return]


CALCULATOR = _trial()


def answer_to(**raw: str) -> Answer:
    """What CPython answers to the form with these inputs changed."""
    values, problems = parse(CALCULATOR, default_raw(CALCULATOR, STREETS) | raw, STREETS)
    assert not problems
    return CALCULATOR.run(values, STREETS)


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A web server's folder; the guide is in its sub-folder intranet/guide."""
    root = tmp_path_factory.mktemp("root")
    shutil.copytree(ROOT / "calc", root / "calc", ignore=shutil.ignore_patterns("__pycache__"))
    shutil.copy(TRIAL, root / "calc" / "calculators")
    (root / ".lost-neutral").mkdir()
    (root / ".lost-neutral" / "node").symlink_to(ROOT / ".lost-neutral" / "node")
    folder = root / "www" / "intranet" / "guide"
    (folder / "calculators").mkdir(parents=True)
    write_browser_assets(folder, root)
    streets = loading.load(ROOT / "tests" / "guides" / "small").streets
    shipped = {"streets": {name: street.to_data() for name, street in streets.items()}}
    (folder / "calculators" / "trial.html").write_text(PAGE.format(render(CALCULATOR, STREETS)))
    for id_, calculator in calculators.CALCULATORS.items():
        page = PAGE.format(render(calculator, shipped))
        (folder / "calculators" / f"{id_}.html").write_text(page, encoding="utf-8")
    return root / "www"


@pytest.fixture(scope="module")
def server(site: Path) -> Iterator[str]:
    with served(site) as address:
        yield f"{address}/intranet/guide/"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with browsing.browser() as running:
        yield running


@dataclass
class Visit:
    """A page opened in a fresh browser profile, with all that it asked for and complained of."""

    browser: Browser
    base: str
    options: dict[str, Any] = field(default_factory=dict)
    asked: list[str] = field(default_factory=list)
    complaints: list[str] = field(default_factory=list)

    def open(self, calculator: str = "trial") -> Page:
        self.prepared().goto(f"{self.base}calculators/{calculator}.html")
        return self.page

    def prepared(self) -> Page:
        context = self.browser.new_context(**self.options)
        context.on("request", lambda request: self.asked.append(request.url))
        self.page = context.new_page()
        self.page.on("console", self._heard)
        self.page.on("pageerror", lambda error: self.complaints.append(str(error)))
        return self.page

    def _heard(self, message: ConsoleMessage) -> None:
        if message.type in ("error", "warning"):
            self.complaints.append(message.text)

    @property
    def asked_outside(self) -> list[str]:
        return [url for url in self.asked if not url.startswith((self.base, "blob:", "data:"))]


@pytest.fixture(params=["http", "folder"])
def visit(request: pytest.FixtureRequest, browser: Browser, server: str, site: Path) -> Iterator[Visit]:
    """Holds every test to this: nothing asked outside, no complaint."""
    base = server if request.param == "http" else (site / "intranet" / "guide").as_uri() + "/"
    made = Visit(browser, base)
    yield made
    made.page.context.close()
    assert made.asked_outside == []
    assert made.complaints == []


@pytest.fixture
def troubled(browser: Browser, server: str) -> Iterator[Visit]:
    """Over HTTP only, and it may complain: for what is the same from a folder, or about to go wrong."""
    made = Visit(browser, server)
    yield made
    made.page.context.close()
    assert made.asked_outside == []


def start(page: Page) -> None:
    """Touch the form and wait for Python."""
    page.locator("form :is(input, select)").first.focus()
    wait_for(page, "here", START_MS)


def wait_for(page: Page, state: str, timeout: float = 20_000) -> None:
    expect(page.locator("[data-calculator]")).to_have_attribute("data-state", state, timeout=timeout)


def said(page: Page, selector: str) -> list[str]:
    """What stands there, whatever keeps figures and units together."""
    return [text.replace("\u00a0", " ") for text in page.locator(selector).all_text_contents()]


def summary(page: Page) -> Any:
    return expect(page.locator("output"))


@pytest.mark.parametrize("calculator", ["trial", *calculators.CALCULATORS])
def test_the_figures_of_the_build_are_those_of_the_page(visit: Visit, calculator: str) -> None:
    page = visit.open(calculator)
    built = page.evaluate(SHOWN)
    assert len(built) > 3
    expect(page.get_by_role("status").first).to_have_text("Figures from the build")
    assert not [url for url in visit.asked if "/python/" in url], "Python came before anybody wanted it"
    start(page)
    expect(page.get_by_role("status").first).to_have_text("Calculated on this device")
    assert page.evaluate(SHOWN) == built


def test_commas_ticks_and_units_are_understood(troubled: Visit) -> None:
    page = troubled.open()
    page.get_by_label("Current").fill("2,75")
    page.get_by_label("Resistance").fill("19 ohm")
    page.get_by_label("There are two of them").check()
    expected = answer_to(amps="2.75", ohms="19", twice="yes")
    summary(page).to_have_text(expected.summary[0], timeout=START_MS)
    cells = said(page, ".ln-answer td")
    assert cells == [cell for row in expected.tables[0].rows for cell in row.cells]
    warnings = page.locator(".ln-warnings li")
    assert said(page, ".ln-warnings li") == ["Above 50 V: <b>dangerous</b>."], "as text, never as markup"
    page.get_by_label("Current").fill("1")
    expect(warnings).to_have_count(0)


def test_a_load_of_the_street_that_could_be_two_is_refused(visit: Visit) -> None:
    page = visit.open("one-street")
    page.locator(".ln-edit summary").click()
    load, before = page.locator(".ln-edit-homes input").first, page.url
    for typed, words in (
        ("50,000", "50,000 can mean 50.000 or 50000."),
        ("1 0", "has a space inside"),
        ("101", "0 to 100"),
        ("0x10", "0 to 100"),
        ("", "0 to 100"),
    ):
        load.fill(typed)
        load.press("Tab")
        expect(load).to_have_attribute("aria-invalid", "true")
        assert words in (load.get_attribute("title") or "")
        assert page.url == before
    load.fill("2,5")
    load.press("Tab")
    expect(load).to_have_attribute("aria-invalid", "false")
    expect(page).not_to_have_url(before)


def test_a_value_out_of_limits_is_told_beside_its_field(visit: Visit) -> None:
    page = visit.open()
    current = page.get_by_label("Current")
    current.fill("12")
    summary(page).to_have_text(answer_to(amps="12").summary[0], timeout=START_MS)
    before = page.evaluate(SHOWN)
    current.fill("1200")
    wait_for(page, "stale")
    _, problems = parse(CALCULATOR, default_raw(CALCULATOR, STREETS) | {"amps": "1200"}, STREETS)
    expect(page.get_by_role("alert").filter(has_text=problems["amps"])).to_be_visible()
    expect(current).to_have_attribute("aria-invalid", "true")
    expect(current).to_have_accessible_description(re.compile(re.escape(problems["amps"])))
    assert page.evaluate(SHOWN) == before, "the last good answer stays"
    current.fill("nonsense")
    expect(page.get_by_role("alert").filter(has_text="nonsense")).to_be_visible()
    current.fill("14")
    summary(page).to_have_text(answer_to(amps="14").summary[0])
    expect(current).to_have_attribute("aria-invalid", "false")
    expect(page.locator(".ln-problem:visible")).to_have_count(0)


def test_an_answer_nobody_waits_for_is_never_shown(visit: Visit) -> None:
    page = visit.open()
    start(page)
    page.evaluate(
        """() => { window.seen = []; const output = document.querySelector("output");
        const watch = new MutationObserver(() =>
          window.seen.push(output.textContent.replaceAll("\u00a0", " ")));
        watch.observe(output, {childList: true}); }"""
    )
    page.get_by_label("Time to think").fill("5")
    wait_for(page, "waiting")
    page.get_by_label("Current").fill("20")
    page.wait_for_timeout(400)
    page.get_by_label("Current").fill("30")
    page.get_by_label("Time to think").fill("0")  # last: whatever stood before it takes its five seconds
    summary(page).to_have_text(answer_to(amps="30").summary[0])
    assert page.evaluate("window.seen") == list(answer_to(amps="30").summary)


def test_on_a_telephone_the_answer_is_in_sight_while_values_are_typed(troubled: Visit) -> None:
    troubled.options["viewport"] = {"width": 360, "height": 740}
    page = troubled.open("lost-neutral")
    page.get_by_label("Load on L1").fill("9")
    wait_for(page, "here", START_MS)
    headline = page.locator("[data-part=headline]")
    expect(headline).to_have_text(page.locator("output span").first.text_content() or "no answer")
    page.evaluate("scrollTo(0, 0)")
    expect(page.locator("output")).not_to_be_in_viewport()
    expect(headline).to_be_in_viewport(ratio=1)
    page.set_viewport_size({"width": 1180, "height": 820})
    expect(headline).to_be_hidden()


CHANGE = """([name, value]) => {
  const field = document.querySelector("form").elements[name];
  field.value = value;
  field.dispatchEvent(new Event("input", {bubbles: true}));
}"""
"""A new answer that leaves the keys where they are, as one that comes late does."""


def test_an_answer_that_comes_leaves_the_keys_where_they_were(troubled: Visit) -> None:
    """Source: WCAG 2.2, 2.4.3 and 3.2.2."""
    page = troubled.open("two-homes")
    start(page)
    fold = page.locator(".ln-frame").nth(1).locator("summary")
    fold.press("Enter")
    told = page.locator(".ln-frame").nth(1).locator("details")
    before = told.text_content()
    page.evaluate(CHANGE, ["our_load", "7"])
    expect(told).not_to_have_text(before or "")
    wait_for(page, "here")
    expect(fold).to_be_focused()
    expect(told).to_have_attribute("open", "")
    table = page.get_by_role("region", name="Next door")
    table.focus()
    before = table.text_content()
    page.evaluate(CHANGE, ["our_load", "3"])
    expect(table).not_to_have_text(before or "")
    wait_for(page, "here")
    expect(table).to_be_focused()


def test_what_has_the_focus_stays_in_sight_of_a_taller_answer(troubled: Visit) -> None:
    """Source: WCAG 2.2, 2.4.11."""
    page = troubled.open("loop-and-disconnection")
    page.set_viewport_size({"width": 360, "height": 740})
    start(page)
    tables = page.locator(".ln-answer .ln-table")
    many = tables.count()
    page.evaluate(CHANGE, ["earthing", "tn-s"])  # not on a cable that has a PEN
    expect(tables).not_to_have_count(many)
    copy = page.locator("[data-export=text]")
    copy.focus()
    copy.evaluate("button => button.scrollIntoView({block: 'end'})")
    page.evaluate(CHANGE, ["earthing", "tn-c-s"])
    expect(tables).to_have_count(many)
    wait_for(page, "here")
    expect(copy).to_be_in_viewport()


def test_a_scroll_that_comes_with_the_taller_answer_loses_no_focus(troubled: Visit) -> None:
    """As on a slow device, where the page has grown before the scroll of a moment ago is told. Source: WCAG
    2.2, 2.4.11."""
    page = troubled.open("loop-and-disconnection")
    page.set_viewport_size({"width": 360, "height": 740})
    start(page)
    copy = page.locator("[data-export=text]")
    copy.focus()
    copy.evaluate("button => button.scrollIntoView({block: 'end'})")
    page.evaluate(
        """() => new Promise(done => requestAnimationFrame(() => {
            document.querySelector('.ln-answer').style.paddingTop = '3000px';
            window.dispatchEvent(new Event('scroll'));
            requestAnimationFrame(() => requestAnimationFrame(done));
        }))"""
    )
    expect(copy).to_be_in_viewport()


def test_keys_on_a_table_that_goes_are_left_at_the_answer(troubled: Visit) -> None:
    page = troubled.open("loop-and-disconnection")
    start(page)
    tables = page.locator(".ln-answer .ln-table")
    many = tables.count()
    tables.last.focus()
    page.evaluate(CHANGE, ["earthing", "tn-s"])  # not on a cable that has a PEN
    expect(tables).not_to_have_count(many)
    wait_for(page, "here")
    assert page.evaluate("document.activeElement.closest('.ln-answer') !== null")


def test_homes_follow_the_street_and_reset_brings_the_first_values_back(visit: Visit) -> None:
    page = visit.open()
    built = page.evaluate(SHOWN)
    start(page)
    page.get_by_label("Street").select_option("long-lane")
    summary(page).to_have_text(answer_to(street="long-lane", home="20").summary[0])
    assert page.get_by_label("Home").locator("option").all_text_contents() == ["20", "22"]
    page.get_by_label("Home").select_option("22")
    summary(page).to_have_text(answer_to(street="long-lane", home="22").summary[0])
    page.get_by_role("button", name="first values").click()
    summary(page).to_have_text(answer_to().summary[0])
    expect(page.get_by_label("Home")).to_have_value("3")
    assert page.evaluate(SHOWN) == built


def test_a_link_opens_the_street_that_it_carries(visit: Visit) -> None:
    drawn = loading.load(ROOT / "guide_src")
    assert drawn.sampling is not None
    street = draw(drawn.sampling, 7).street
    home = list(street.premises)[1]
    page = visit.prepared()
    page.goto(
        f"{visit.base}calculators/one-street.html#{fragment(street, home=home, fault='line-open@1.L1')}"
    )
    wait_for(page, "here", START_MS)
    raw = {"street": "it", "home": home, "fault": "line-open@1.L1", "besides": "healthy"}
    answer = calculators.CALCULATORS["one-street"].run(raw, {"streets": {"it": street.to_data()}})
    assert said(page, "output span") == list(answer.summary)
    cells = [cell for table in answer.tables for row in table.rows for cell in row.cells]
    assert said(page, ".ln-answer td") == cells
    assert page.locator("select[name=street] option:checked").text_content() == street.title
    page.select_option("select[name=fault]", "healthy")  # the street stays when another field changes
    summary(page).to_contain_text(f"Healthy street, tested at {home}.")


def test_a_link_that_was_cut_short_is_told_beside_the_street(visit: Visit) -> None:
    drawn = loading.load(ROOT / "guide_src")
    assert drawn.sampling is not None
    address = fragment(draw(drawn.sampling, 7).street)
    page = visit.prepared()
    page.goto(f"{visit.base}calculators/one-street.html#{address[:-30]}")
    wait_for(page, "stale", START_MS)
    expect(page.locator("[data-field=street] .ln-problem")).to_contain_text("is cut short or damaged")
    page.get_by_role("button", name="Back to the first values").click()
    wait_for(page, "here")


def test_a_case_lives_in_the_address(visit: Visit) -> None:
    page = visit.open("volts-within-limits")
    page.get_by_label("Volts, line to neutral").fill("254,5")
    wait_for(page, "here", START_MS)
    page.wait_for_url("**#volts=254%2C5")
    told = page.locator("output").text_content()
    again = page.context.new_page()
    again.goto(page.url)
    wait_for(again, "here", START_MS)
    expect(again.locator("output")).to_have_text(told or "")
    page.get_by_role("button", name="first values").click()
    page.wait_for_url(lambda url: "#" not in url)


def test_a_link_from_another_edition_is_told_kindly_and_the_rest_is_filled_in(visit: Visit) -> None:
    page = visit.prepared()
    page.goto(
        f"{visit.base}calculators/volts-within-limits.html#volts=254&colour=red&from=trees/site/a.html%23b.c"
    )
    wait_for(page, "here", START_MS)
    expect(page.locator("[data-part=notice]")).to_contain_text("names colour, which is not asked for here")
    expect(page.locator("output")).to_contain_text("254.0 V")
    back = page.get_by_role("link", name="Back to where you came from")
    assert (back.get_attribute("href") or "").endswith("/trees/site/a.html#b.c")


@pytest.mark.parametrize("away", ["//elsewhere.example/a.html", "javascript:alert(1)", "trees/../../a.html"])
def test_the_way_back_stays_within_the_guide(troubled: Visit, away: str) -> None:
    page = troubled.prepared()
    page.goto(f"{troubled.base}calculators/volts-within-limits.html#volts=254&from={away}")
    wait_for(page, "here", START_MS)
    expect(page.locator("[data-part=back] a")).to_have_count(0)


def test_a_street_that_is_not_there_is_told_and_the_last_good_answer_stays(visit: Visit) -> None:
    page = visit.prepared()
    page.goto(f"{visit.base}calculators/trial.html#street=nowhere")
    wait_for(page, "stale", START_MS)
    expect(page.locator("[data-field=street] .ln-problem")).to_contain_text("Choose one of these")
    summary(page).to_have_text(answer_to().summary[0])


def test_an_answer_is_taken_away_as_text_csv_and_card(visit: Visit) -> None:
    page = visit.open("volts-within-limits")
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    page.get_by_label("Volts, line to neutral").fill("254,5")
    wait_for(page, "here", START_MS)
    with page.expect_download() as saving:
        page.get_by_role("button", name="Save as CSV").click()
    small = loading.load(ROOT / "tests" / "guides" / "small")
    asked = calculate.ask("volts-within-limits", ["volts=254,5"], small)
    assert saving.value.path().read_bytes().decode("utf-8-sig") == calculate.as_csv(asked)
    page.get_by_role("button", name="Copy as text").click()
    expect(page.locator("[data-part=exported]")).to_have_text("Copied.")
    copied = page.evaluate("navigator.clipboard.readText()")
    assert "Volts, line to neutral: 254,5 V" in copied and asked.answer.summary[0] in copied


@pytest.mark.parametrize("calculator", calculators.CALCULATORS)
def test_the_card_is_one_page(troubled: Visit, calculator: str) -> None:
    page = troubled.open(calculator)
    printed = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1


def test_without_scripts_the_page_reads_as_the_build_wrote_it(visit: Visit) -> None:
    visit.options["java_script_enabled"] = False
    page = visit.open()
    expected = answer_to()
    summary(page).to_have_text(expected.summary[0])
    assert "\u00a0V" in (page.locator(".ln-answer").text_content() or ""), "a unit stays on its figure's line"
    cells = [cell for row in expected.tables[0].rows for cell in row.cells]
    assert said(page, ".ln-answer td") == cells
    expect(page.get_by_label("Current")).to_have_value("13")
    expect(page.get_by_label("Current")).to_be_disabled()
    expect(page.get_by_text("allow scripts")).to_be_visible()


def test_an_answer_that_never_comes_is_given_up_and_the_page_stays_usable(troubled: Visit) -> None:
    page = troubled.prepared()
    page.clock.install()
    page.goto(f"{troubled.base}calculators/trial.html")
    start(page)
    page.get_by_label("Time to think").fill("600")
    wait_for(page, "waiting")
    assert page.evaluate("1 + 1") == 2
    page.clock.fast_forward(25_000)
    wait_for(page, "failed")
    expect(page.get_by_role("status").first).to_contain_text("could not calculate")
    summary(page).to_have_text(answer_to().summary[0])
    assert [text for text in troubled.complaints if "no answer in time" in text]
    page.get_by_label("Time to think").fill("0")
    page.get_by_label("Current").fill("20")
    summary(page).to_have_text(answer_to(amps="20").summary[0], timeout=START_MS)


def test_a_missing_file_is_told_kindly_and_tried_again(troubled: Visit) -> None:
    page = troubled.open()
    built = page.evaluate(SHOWN)
    page.route("**/pyodide.asm.wasm.bin", lambda route: route.fulfill(status=404))
    page.get_by_label("Current").focus()
    wait_for(page, "failed")
    expect(page.get_by_role("status").first).to_contain_text("could not calculate")
    assert page.evaluate(SHOWN) == built
    page.unroute_all()
    page.get_by_label("Current").fill("20")
    summary(page).to_have_text(answer_to(amps="20").summary[0], timeout=START_MS)


def test_where_no_worker_can_be_had_the_page_itself_calculates(troubled: Visit) -> None:
    page = troubled.prepared()
    page.add_init_script("globalThis.Worker = class { constructor() { throw new Error('no worker') } }")
    page.goto(f"{troubled.base}calculators/trial.html")
    page.get_by_label("Current").fill("20")
    summary(page).to_have_text(answer_to(amps="20").summary[0], timeout=START_MS)


def unpacked(file: Path) -> bytes:
    """By Node, as it was packed."""
    script = "process.stdout.write(zlib.zstdDecompressSync(fs.readFileSync(process.argv[1])))"
    return subprocess.run([environment.node(), "-e", script, file], capture_output=True, check=True).stdout


def test_a_server_that_unpacks_on_the_way_does_no_harm(troubled: Visit, site: Path, tmp_path: Path) -> None:
    shutil.copytree(site, tmp_path / "www", copy_function=os.link)
    memory = tmp_path / "www" / "intranet" / "guide" / "assets" / "python" / "memory.bin"
    whole = unpacked(memory)
    memory.unlink()  # the link, not the site's own
    memory.write_bytes(whole)
    with served(tmp_path / "www") as address:
        troubled.base = f"{address}/intranet/guide/"
        start(troubled.open())
    assert f"{troubled.base}assets/python/memory.bin" in troubled.asked


def under_policy(page: Page, policy: str, asked: str) -> None:
    """Answer what matches `asked` with a content security policy."""

    def strict(route: Route) -> None:
        answer = route.fetch()
        route.fulfill(response=answer, headers=answer.headers | {"content-security-policy": policy})

    page.route(re.compile(asked), strict)


def test_pages_may_be_strict_as_long_as_the_worker_may_evaluate(troubled: Visit) -> None:
    page = troubled.prepared()
    under_policy(page, "default-src 'self'; img-src 'self' data:", r"\.html$")
    page.goto(f"{troubled.base}calculators/trial.html")
    start(page)
    assert troubled.complaints == []


def test_where_a_policy_bars_webassembly_the_figures_of_the_build_stay(troubled: Visit) -> None:
    page = troubled.prepared()
    under_policy(page, "script-src 'self' blob:", r"\.html$|-worker\.js$")
    page.goto(f"{troubled.base}calculators/trial.html")
    built = page.evaluate(SHOWN)
    page.get_by_label("Current").fill("20")
    wait_for(page, "failed", START_MS)
    assert page.evaluate(SHOWN) == built


def test_what_the_pages_carry_names_no_other_host(site: Path) -> None:
    python = site / "intranet" / "guide" / "assets" / "python"
    texts = [unpacked(path).decode() for path in python.glob("pyodide*[ns].bin")]
    texts += [path.read_text() for path in (site / "intranet" / "guide" / "assets").glob("*.js")]
    assert len(texts) >= 5
    assert [found for text in texts for found in re.findall(r"(?:https?:)?//[\w-]+\.[\w.-]+", text)] == []


def test_the_same_sources_make_the_same_bytes(
    site: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("TZ", "Asia/Tokyo")  # Python reads it when it starts
    root = site.parent
    written = root / "www" / "intranet" / "guide" / "assets"
    shutil.rmtree(root / ".lost-neutral" / "cache")
    write_browser_assets(tmp_path, root)
    names = sorted(path.relative_to(written) for path in written.rglob("*") if path.is_file())
    assert len(names) > 10
    assert [
        name for name in names if (written / name).read_bytes() != (tmp_path / "assets" / name).read_bytes()
    ] == []
