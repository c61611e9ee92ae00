"""Figures and drawings that a page of words asks the model for, so that none is ever typed.

In a Markdown page an author writes, between double braces, one of:

    {{ reading street="tannery-row" fault="service-pen-open@4" at="2" test="clamp-main-earth" }}
    {{ readings street="tannery-row" fault="service-pen-open@4" at="2" tests="loop-line-earth ..." }}
    {{ street street="tannery-row" fault="service-pen-open@4" at="2" }}
    {{ limit id="touch-volts" }}
    {{ operator name="services" }}

`reading` gives what one test shows, in the line; `readings` a table, healthy beside faulty (every test
unless `tests` names some); `street` the drawing with its currents; `limit` a published figure and its
source; `operator` what operator.yaml calls by that name, as words, whatever marks are in them. `fault` may
be left out (a healthy street) or name several faults, with ; between them. `lifted="2"` lifts the main earth
of a home besides.
"""

from __future__ import annotations

import html
import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TypeVar

from build_tools.guide.findings import nearest, shown
from build_tools.guide.trees import Guide
from calc import faults
from calc.drawing import street_svg, street_text
from calc.limits import LIMITS
from calc.readings import TESTS, readings
from calc.street import Network, Street, network
from calc.work import as_worked, done

__all__ = ["FIGURES", "WrongFigure", "with_figures", "wrong_figures"]

_Kind = TypeVar("_Kind")

_ASKED = re.compile(r"\{\{\s*(?P<kind>[\w-]*)(?P<rest>[^{}]*)\}\}")
_BEGUN = re.compile(r"\{\{")
_ARGUMENT = re.compile(r'\s*(?P<name>[\w-]+)\s*=\s*"(?P<value>[^"]*)"')
_MARKS = re.compile(r"[\\`*_{}\[\]<>&\"'#|~!]")
_TEST_IDS = {test.id: test for test in TESTS}


class WrongFigure(Exception):
    """What is wrong with one figure, and how to mend it."""

    def __init__(self, what: str, mend: str) -> None:
        super().__init__(what)
        self.mend = mend


class _Waits(WrongFigure):
    """Of a file that was refused: nothing is known of the figure until that is mended."""


@dataclass(frozen=True, slots=True)
class _Asked:
    """The arguments of one figure."""

    guide: Guide
    arguments: Mapping[str, str]

    def need(self, name: str) -> str:
        if name not in self.arguments:
            raise WrongFigure(f"this figure lacks `{name}`", f'write {name}="..."')
        return self.arguments[name]

    def street(self) -> Street:
        name, streets = self.need("street"), self.guide.streets
        if name in self.guide.written("streets") - streets.keys():
            raise _Waits(f"the street {shown(name)} was refused", "mend the street")
        return _named("street", name, streets)

    def home(self) -> str:
        return _named("home", self.need("at"), {home: home for home in self.street().premises})

    def networks(self) -> tuple[Network, Network]:
        """The healthy street, and the street as it is asked for."""
        healthy = faulty = network(self.street())
        try:
            for text in filter(None, self.arguments.get("fault", "").split(";")):
                faulty = faults.parse(text.strip()).applied_to(faulty)
        except ValueError as problem:
            raise WrongFigure(str(problem), "correct the fault") from None
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
        except WrongFigure as wrong:
            raise ValueError(f"{match[0]}: {wrong}") from None

    return _ASKED.sub(figure, markdown)


def wrong_figures(markdown: str, guide: Guide) -> Iterator[tuple[int, WrongFigure]]:
    """Every figure of a page that cannot be made, with the position in the text where it begins. Those of a
    file that was refused wait for it."""
    for begun in _BEGUN.finditer(markdown):
        try:
            if asked := _ASKED.match(markdown, begun.start()):
                _made(asked, guide)
            else:
                raise WrongFigure("this figure has no end", "close it with }}, and use no braces inside it")
        except _Waits:
            continue
        except WrongFigure as wrong:
            yield begun.start(), wrong


def _made(match: re.Match[str], guide: Guide) -> str:
    figure = _named("figure", match["kind"], FIGURES)
    arguments: dict[str, str] = {}
    for found in _ARGUMENT.finditer(match["rest"]):
        name = _named("argument", found["name"], {name: name for name in figure.arguments})
        if name in arguments:
            raise WrongFigure(f"{shown(name)} is given twice", "delete one of the two")
        arguments[name] = found["value"]
    if leftover := _ARGUMENT.sub("", match["rest"]).strip():
        raise WrongFigure(
            f"this is not an argument: {shown(leftover)}", 'write each argument as name="value"'
        )
    return figure.make(_Asked(guide, arguments))


def _named(what: str, name: str, known: Mapping[str, _Kind]) -> _Kind:
    if name not in known:
        raise WrongFigure(
            f"no {what} is called {shown(name)}{nearest(name, known)}", f"write one of: {', '.join(known)}"
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
    return "\n".join(
        ["", f"| At {_as_words(home)} | Healthy | As described |", "| --- | ---: | ---: |", *rows, ""]
    )


def _street(asked: _Asked) -> str:
    healthy, faulty = asked.networks()
    home = asked.home() if "at" in asked.arguments else None
    told = "".join(f"<li>{html.escape(line)}</li>" for line in street_text(faulty, healthy=healthy))
    lifted = [asked.arguments["lifted"]] if "lifted" in asked.arguments else []
    name = "-".join(re.findall("[a-z0-9]+", " ".join(asked.arguments.values()).lower()))
    drawing = street_svg(faulty, healthy, home, lifted, name)
    return (
        f'\n<figure class="ln-drawing">{drawing}<details><summary>The same in words</summary>'
        f"<ul>{told}</ul></details></figure>\n"
    )


def _limit(asked: _Asked) -> str:
    limit = _named("limit", asked.need("id"), LIMITS)
    return f"{limit.value:g} {limit.unit} ({limit.source})"


def _operator(asked: _Asked) -> str:
    if asked.guide.operator is None:
        raise _Waits("operator.yaml was refused", "mend it")
    return _as_words(_named("name", asked.need("name"), asked.guide.operator.names))


def _as_words(text: str) -> str:
    """What Markdown and HTML show as the text itself."""
    return _MARKS.sub(lambda mark: f"&#{ord(mark[0])};", " ".join(text.split()))


@dataclass(frozen=True, slots=True)
class _Figure:
    """One kind of figure: what makes it, and the arguments that it understands."""

    make: Callable[[_Asked], str]
    arguments: tuple[str, ...]


FIGURES: dict[str, _Figure] = {
    "reading": _Figure(_reading, ("street", "fault", "lifted", "at", "test")),
    "readings": _Figure(_readings, ("street", "fault", "lifted", "at", "tests")),
    "street": _Figure(_street, ("street", "fault", "lifted", "at")),
    "limit": _Figure(_limit, ("id",)),
    "operator": _Figure(_operator, ("name",)),
}
"""The kinds of figure, by name."""
