"""Figures and drawings that a page of words asks the model for, so that none is ever typed.

In a Markdown page an author writes, between double braces, one of:

    {{ reading street="tannery-row" fault="service-pen-open@4" at="2" test="clamp-main-earth" }}
    {{ readings street="tannery-row" fault="service-pen-open@4" at="2" tests="loop-line-earth ..." }}
    {{ street street="tannery-row" fault="service-pen-open@4" at="2" }}
    {{ limit id="touch-volts" }}

`reading` gives what one test shows, in the line; `readings` a table, healthy beside faulty (every test
unless `tests` names some); `street` the drawing with its currents; `limit` a published figure and its
source. `fault` may be left out (a healthy street) or name several faults, with ; between them.
`lifted="2"` lifts the main earth of a home besides.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TypeVar

from build_tools.findings import Finding, Place, nearest
from build_tools.guide import Guide
from build_tools.source import as_given
from calc import faults
from calc.drawing import street_svg, street_text
from calc.limits import LIMITS
from calc.readings import TESTS, readings
from calc.street import Network, Street, network
from calc.work import as_worked, done

__all__ = ["FIGURES", "findings_of", "with_figures"]

_Kind = TypeVar("_Kind")

_ASKED = re.compile(r"\{\{\s*(?P<kind>[\w-]*)(?P<rest>[^{}]*)\}\}")
_ARGUMENT = re.compile(r'\s*(?P<name>[\w-]+)\s*=\s*"(?P<value>[^"]*)"')
_TEST_IDS = {test.id: test for test in TESTS}


class _Wrong(Exception):
    """What is wrong with one figure, and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(what)
        self.mend = mend


@dataclass(frozen=True, slots=True)
class _Asked:
    """The arguments of one figure."""

    guide: Guide
    arguments: Mapping[str, str]

    def need(self, name: str) -> str:
        if name not in self.arguments:
            raise _Wrong(f"this figure lacks `{name}`", f'write {name}="..."')
        return self.arguments[name]

    def street(self) -> Street:
        return _named("street", self.need("street"), self.guide.streets)

    def home(self) -> str:
        return _named("home", self.need("at"), {home: home for home in self.street().premises})

    def networks(self) -> tuple[Network, Network]:
        """The healthy street, and the street as it is asked for."""
        healthy = faulty = network(self.street())
        try:
            for text in filter(None, self.arguments.get("fault", "").split(";")):
                faulty = faults.parse(text.strip()).applied_to(faulty)
        except ValueError as problem:
            raise _Wrong(str(problem), "correct the fault") from None
        if "lifted" in self.arguments:
            _named("home", self.arguments["lifted"], {home: home for home in self.street().premises})
            conditions = done(frozenset(), "lift-main-earth", self.arguments["lifted"])
            faulty = as_worked(faulty, conditions)
        return healthy, faulty


def with_figures(markdown: str, guide: Guide) -> str:
    """The page with each figure that it asks for. Raises ValueError for one that cannot be made."""

    def figure(match: re.Match[str]) -> str:
        try:
            return _made(match, guide)
        except _Wrong as wrong:
            raise ValueError(f"{match[0]}: {wrong}") from None

    return _ASKED.sub(figure, markdown)


def findings_of(page: Path, guide: Guide) -> Iterator[Finding]:
    """What is wrong with the figures that one page asks for."""
    try:
        lines = page.read_text(encoding="utf-8").splitlines()
    except UnicodeDecodeError as problem:
        what = f"this page is not UTF-8 text: {problem.reason} at byte {problem.start}"
        yield Finding("not-utf-8", Place(as_given(page), 1, 1), what, mend="save it as UTF-8")
        return
    for number, line in enumerate(lines, 1):
        for match in _ASKED.finditer(line):
            try:
                _made(match, guide)
            except _Wrong as wrong:
                place = Place(as_given(page), number, match.start() + 1)
                expected = "a figure that the model can make"
                yield Finding("figure", place, str(wrong), (), expected, wrong.mend)


def _made(match: re.Match[str], guide: Guide) -> str:
    make = _named("figure", match["kind"], FIGURES)
    rest = match["rest"]
    arguments = {found["name"]: found["value"] for found in _ARGUMENT.finditer(rest)}
    if leftover := _ARGUMENT.sub("", rest).strip():
        raise _Wrong(f"this is not an argument: {leftover}", 'write each argument as name="value"')
    return make(_Asked(guide, arguments))


def _named(what: str, name: str, known: Mapping[str, _Kind]) -> _Kind:
    if name not in known:
        raise _Wrong(
            f"no {what} is called {name!r}{nearest(name, known)}", f"write one of: {', '.join(known)}"
        )
    return known[name]


def _reading(asked: _Asked) -> str:
    test = _named("test", asked.need("test"), _TEST_IDS)
    return readings(asked.networks()[1], asked.home())[test.id].text


def _readings(asked: _Asked) -> str:
    wanted = asked.arguments.get("tests", "").split() or list(_TEST_IDS)
    tests = [_named("test", name, _TEST_IDS) for name in wanted]
    home, (healthy, faulty) = asked.home(), asked.networks()
    whole, broken = readings(healthy, home), readings(faulty, home)
    rows = [f"| {test.title} | {whole[test.id].text} | {broken[test.id].text} |" for test in tests]
    return "\n".join(["", f"| At {home} | Healthy | As described |", "| --- | ---: | ---: |", *rows, ""])


def _street(asked: _Asked) -> str:
    healthy, faulty = asked.networks()
    home = asked.home() if "at" in asked.arguments else None
    told = "".join(f"<li>{html.escape(line)}</li>" for line in street_text(faulty, healthy=healthy))
    lifted = [asked.arguments["lifted"]] if "lifted" in asked.arguments else []
    name = "-".join(re.findall("[a-z0-9]+", " ".join(asked.arguments.values()).lower()))
    drawing = street_svg(faulty, healthy, home, lifted, name)
    return (
        f'\n<figure class="ln-drawing">{drawing}<figcaption><details><summary>The same in words</summary>'
        f"<ul>{told}</ul></details></figcaption></figure>\n"
    )


def _limit(asked: _Asked) -> str:
    limit = _named("limit", asked.need("id"), LIMITS)
    return f"{limit.value:g} {limit.unit} ({limit.source})"


FIGURES: dict[str, Callable[[_Asked], str]] = {
    "reading": _reading,
    "readings": _readings,
    "street": _street,
    "limit": _limit,
}
"""The kinds of figure, by name."""
