"""The page about the two traps, as built: its words and its figures are what the model says now.

What the page claims is trade knowledge (common practice, no source): a lifted earth can stand at mains
voltage while an indicator from line to it stays dark, or shows 400 V, the voltage between two phases; and
a healthy street carries current in its main earths too.
"""

from __future__ import annotations

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

from build_tools.guide.trees import Guide
from build_tools.site import building
from calc.faults import parse
from calc.limits import LIMITS
from calc.readings import TESTS, readings
from calc.street import network

SHIPPED = Path(__file__).parents[2] / "guide_src"

LIFTED = ("lifted-line-to-loose-earth", "lifted-loose-earth-probe")
LOADED = ("known-load-neutral-tail", "known-load-neutral-and-earth")
CLAMP = "clamp-main-earth"

Table = dict[str, list[str]]
"""The texts of the cells of each row, by the first of them."""


class _Tables(HTMLParser):
    """Every table of a page, row by row."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.tables: list[Table] = []
        self._row: list[str] | None = None
        self.feed(page)

    def handle_starttag(self, tag: str, _: object) -> None:
        if tag == "table":
            self.tables.append({})
        elif tag == "tr":
            self._row = []
        elif tag in ("td", "th") and self._row is not None:
            self._row.append("")

    def handle_data(self, data: str) -> None:
        if self._row:
            self._row[-1] += data

    def handle_endtag(self, tag: str) -> None:
        if tag == "tr" and self._row:
            first, *others = (cell.strip() for cell in self._row)
            self.tables[-1][first] = others
            self._row = None


@pytest.fixture(scope="module")
def page(tmp_path_factory: pytest.TempPathFactory) -> str:
    site = tmp_path_factory.mktemp("web") / "site"
    assert building.build(SHIPPED, site) == 0
    return (site / "two-traps.html").read_text("utf-8")


@pytest.fixture(scope="module")
def tables(page: str) -> list[Table]:
    return _Tables(page).tables


def shown(guide: Guide, street: str, fault: str, home: str, *tests: str) -> list[str]:
    """What the tests at a home show, by the model as it is now."""
    at_home = readings(parse(fault).applied_to(network(guide.streets[street])), home)
    return [at_home[test].text for test in tests]


def amps(text: str) -> float:
    assert text.endswith(" A"), text
    return float(text.removesuffix(" A"))


def volts(text: str) -> float:
    assert text.endswith(" V"), text
    return float(text.removesuffix(" V"))


NAMED = re.compile(r"(?:\(|^)(?:Tannery Row )?(?P<home>[\w ]+?)(?:, | \()PEN of (?P<beside>[\w ]+?) open")
"""How a row names a home, and whose PEN is open beside it."""


def named(guide: Guide, words: str) -> tuple[str, str, str]:
    """The street, the home and the home beside it that a row speaks of."""
    found = NAMED.search(words)
    assert found, words
    home, beside = found["home"], found["beside"]
    street = "tannery-row" if "Tannery Row" in words else "high-fold-lane"
    return street, home, beside


def rows(table: Table) -> dict[str, list[str]]:
    """A table without its head."""
    return dict(list(table.items())[1:])


def test_each_lifted_earth_shows_what_the_model_shows(guide: Guide, tables: list[Table]) -> None:
    """And the words of each row, phases and pipe, are those of the street."""
    table = rows(tables[0])
    for words, cells in table.items():
        id_, home, beside = named(guide, words)
        street = guide.streets[id_]
        assert cells == shown(guide, id_, f"service-pen-open@{beside}", home, *LIFTED)
        same = street.premises[home].phases == street.premises[beside].phases
        assert words.startswith("Same phase" if same else "Different phases")
        assert beside in street.sharing_metalwork(home)
        (pipe,) = (pipe for pipe in street.metalwork if {home, beside} <= set(pipe.joins))
        assert ("no earth of its own" in words) == (pipe.earth_ohm_each is None)
    assert len(table) >= 3


def test_the_lamp_shows_400_v_or_nothing_at_mains_voltage(tables: list[Table]) -> None:
    lamps = {words.partition(" (")[0]: cells for words, cells in tables[0].items()}
    different = lamps["Different phases, pipe with no earth of its own"]
    same = lamps["Same phase, pipe with no earth of its own"]
    assert different[0] == "400 V lamp"
    assert same[0] == "no lamp"
    for _, loose_earth in (different, same):
        assert volts(loose_earth) == pytest.approx(240, abs=5)


def test_a_poorly_earthed_pipe_shows_what_a_sound_earth_shows(guide: Guide, tables: list[Table]) -> None:
    (words,) = (words for words in tables[0] if "poorly earthed" in words)
    street, home, _ = named(guide, words)
    lamp, loose_earth = tables[0][words]
    assert [lamp] == shown(guide, street, "healthy", home, LIFTED[0])
    assert volts(loose_earth) > LIMITS["touch-volts"].value


def test_with_more_homes_on_a_pipe_lifting_one_earth_changes_almost_nothing(guide: Guide, page: str) -> None:
    (here,) = shown(guide, "tannery-row", "service-pen-open@22", "20", LIFTED[1])
    assert len(guide.streets["tannery-row"].sharing_metalwork("20")) == 3
    assert "22" in guide.streets["tannery-row"].sharing_metalwork("20")
    assert volts(here) < 5
    said = r"Tannery Row 20, in a row of four, with the PEN of 22 open, the loose earth stands at\s+"
    assert re.search(said + re.escape(here), page)


def test_a_healthy_clamp_reading_lies_above_a_faulty_one(guide: Guide, tables: list[Table]) -> None:
    table = rows(tables[1])
    for words, cells in table.items():
        street, home, beside = named(guide, words)
        faults = ("healthy", f"service-pen-open@{beside}")
        assert cells == [text for fault in faults for text in shown(guide, street, fault, home, CLAMP)]
    whole, broken = zip(*((amps(one), amps(other)) for one, other in table.values()), strict=True)
    assert max(whole) > min(broken)


def test_a_clamp_reading_even_falls_when_a_pen_opens(page: str, tables: list[Table]) -> None:
    words = re.sub(r"<[^>]+>", "", " ".join(page.split()))
    said = re.search(r"at number (\w+) the figure even falls when the PEN of (\w+) opens", words)
    assert said
    whole, broken = tables[1][f"Tannery Row {said[1]} (PEN of {said[2]} open)"]
    assert amps(broken) < amps(whole)


PAIRED = {
    "Healthy": "healthy",
    "Its PEN open": "service-pen-open@4",
    "1 ohm in its PEN": "service-pen-high@4=1",
    "0.1 ohm in its PEN": "service-pen-high@4=0.1",
    "The PEN of number 2 open": "service-pen-open@2",
}


def test_the_pair_shows_nothing_at_the_home_whose_pen_is_open(guide: Guide, tables: list[Table]) -> None:
    assert "Tannery Row 4, known load on" in tables[2]
    table = rows(tables[2])
    expected = {name: shown(guide, "tannery-row", fault, "4", *LOADED) for name, fault in PAIRED.items()}
    assert table == expected
    pair = {name: amps(cells[1]) for name, cells in table.items()}
    assert table["Its PEN open"][1] == "0.00 A"
    assert pair["Its PEN open"] < pair["1 ohm in its PEN"] < pair["0.1 ohm in its PEN"] < pair["Healthy"]
    assert pair["The PEN of number 2 open"] >= pair["Healthy"], "it speaks for no other home"
    assert all(amps(tail) > 8 for tail, _ in table.values())


def test_the_pipe_that_the_page_names_passes_the_joint(guide: Guide, page: str) -> None:
    street = guide.streets["tannery-row"]
    said = re.search(r"the pipe of (\w+) and (\w+) passes joint J3\.", page)
    assert said
    assert [pipe for pipe in street.metalwork if {*said.groups()} <= set(pipe.joins)]
    assert len(set(said.groups()) & set(street.beyond("J2-J3"))) == 1
    assert "24" in street.beyond("J2-J3")
    assert not set(said.groups()) & set(street.sharing_metalwork("24"))


def test_a_pipe_past_a_joint_makes_every_test_look_healthy(guide: Guide, tables: list[Table]) -> None:
    titles = {test.title: test for test in TESTS}
    assert tables[3]["At 24"] == ["Healthy", "As described"]
    table = rows(tables[3])
    assert len(table) >= 5
    for title, cells in table.items():
        test = titles[title]
        whole, broken = (
            shown(guide, "tannery-row", fault, "24", test.id)[0]
            for fault in ("healthy", "mains-pen-open@J2-J3")
        )
        assert cells == [whole, broken]
        low, high = PASSES[test.id]
        assert low <= float(broken.split()[0]) < high, title


PASSES = {
    "volts-line-neutral": (LIMITS["volts-low"].value, LIMITS["volts-high"].value),
    "volts-earth-probe": (0, 10),
    "loop-line-earth": (0, 0.35),
    "loop-line-neutral": (0, 0.35),
    "known-load-neutral-tail": (8, 100),
    "known-load-neutral-and-earth": (6, 100),
}
"""What passes in the guide's own trees; the band of volts is published, the others are project choices."""


def test_the_drawings_say_what_is_open_and_what_is_lifted(page: str) -> None:
    drawings = re.findall(r'<figure class="ln-drawing">.*?</figure>', page, re.DOTALL)
    lifted, *_ = drawings
    for drawing in drawings:
        assert 'role="img"' in drawing
        assert "broken" in drawn_words(drawing)
    assert {"main earth lifted", "Live metalwork", "Gap is live"} <= set(drawn_words(lifted))
    told = re.findall(r"<li>(.*?)</li>", lifted)
    assert told[:2] == ["Open: main earthing conductor of 6.", "Open: service PEN of 8."]


def drawn_words(drawing: str) -> list[str]:
    """The texts that a reader sees in a drawing."""
    svg = drawing[drawing.index("<svg") : drawing.index("</svg>")]
    return [re.sub(r"<[^>]+>", "", text) for text in re.findall(r"<text.*?</text>", svg, re.DOTALL)]
