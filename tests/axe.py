"""axe-core in a page: every rule of WCAG 2.2 A and AA that a program can decide, and axe's own good practice.

Source of the rules: axe-core (npm, pinned in build_tools/setup/node/page-checks), each with its criterion.
"""

from __future__ import annotations

from collections import Counter
from functools import cache

from playwright.sync_api import Page

from build_tools.setup import programs

RUN = """([include, also]) => {
  const context = {exclude: ["svg *"], ...(include ? {include: [include]} : {})};
  const rules = Object.fromEntries(["target-size", ...also].map((id) => [id, {enabled: true}]));
  const options = {resultTypes: ["violations"], preload: false, rules};
  const told = (id) => ({target, html, failureSummary}) => [
    `${id}: ${target.join(" ")}`, html.slice(0, 200), failureSummary.replaceAll("\\n", " ")].join("\\n  ");
  return axe.run(context, options)
    .then(({violations}) => violations.flatMap(({id, nodes}) => nodes.map(told(id))));
}"""
"""The inside of a drawing is left out: to a screen reader it is one picture, and axe cannot tell what its
words stand on. `target-size` of WCAG 2.2 is asked for by name, since axe leaves it out unless asked."""


@cache
def _script() -> str:
    return programs.accessibility_rules().read_text("utf-8")


class Axe:
    """Looks at states of pages and keeps what it finds; `visited` counts the states by page.

    `also`: rules that axe leaves out unless they are asked for by name.
    """

    def __init__(self, *also: str) -> None:
        self.also = also
        self.found: list[str] = []
        self.visited: Counter[str] = Counter()

    def look(self, page: Page, state: str, within: str = "") -> None:
        """Every rule on the page as it stands now, or inside one element."""
        if not page.evaluate("'axe' in window"):
            page.evaluate(_script())
        self.visited[page.url.partition("#")[0]] += 1
        found = page.evaluate(RUN, [within, self.also])
        self.found += [f"{page.url} ({state}): {one}" for one in found]
