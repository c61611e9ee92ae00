"""One table of figures as people type them, held to both who read them: Python and the pages' script."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import yaml
from browsing import browser, watched
from playwright.sync_api import Page

from build_tools.bench.local_server import served
from calc.calculator import Answer, Calculator, Number
from calc.form import parse

ROOT = Path(__file__).parents[2]
WORDS = ROOT / "build_tools/pages"
TABLE = yaml.safe_load(Path(__file__).parents[1].joinpath("typed_figures.yaml").read_text("utf-8"))


@pytest.fixture(scope="module")
def scripts() -> Iterator[Page]:
    """A page that can import the modules of build_tools/site/browser as they stand."""
    with (
        served(ROOT / "build_tools/site/browser") as host,
        browser() as running,
        watched(running) as context,
    ):
        page = context.new_page()
        page.route("**/favicon.ico", lambda route: route.fulfill(status=204))
        page.goto(f"{host}/reading/reading.js")
        yield page


def by_python(typed: str, unit: str) -> tuple[float | None, str]:
    calculator = Calculator(
        "one", "", "", (Number("n", "N", unit, -1e9, 1e9, 1, 1),), lambda *_: Answer((), (), "")
    )
    values, problems = parse(calculator, {"n": typed}, {})
    return values.get("n"), problems.get("n", "")


def by_script(page: Page, typed: str, unit: str) -> tuple[float | None, str]:
    """The value, or the words of the page with their blanks filled."""
    script = "async ([typed, unit]) => (await import('./reading.js')).readTyped(typed, unit)"
    found: dict[str, Any] = page.evaluate(script, [typed, unit])
    if "problem" not in found:
        return found["value"], ""
    said = "".join(
        (WORDS / name).read_text("utf-8") for name in ("tree-words.html", "typed-figure-words.html")
    )
    words = re.search(rf'says\("{found["problem"]}"\) %}}(.*?){{% endcall', said)
    assert words, found
    text = words[1].replace("does not read as a number", "is not a number")
    return None, re.sub(r"{(\w+)}", lambda blank: str(found.get("values", {})[blank[1]]), text)


@pytest.mark.parametrize("case", TABLE, ids=lambda case: case["typed"])
def test_a_figure_is_read_alike_in_calculators_and_in_readings(case: dict[str, Any], scripts: Page) -> None:
    typed, unit = case["typed"], case.get("unit", "V")
    for value, said in (by_python(typed, unit), by_script(scripts, typed, unit)):
        if "says" in case:
            assert value is None and case["says"] in said
        else:
            assert said == "" and value == pytest.approx(case["gives"], rel=1e-12)
