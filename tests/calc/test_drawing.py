"""A street's drawing: its figures are the solution's, its breaks are marked in words, its text has room."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from xml.etree import ElementTree
from xml.etree.ElementTree import Element

import pytest
from browsing import browser
from playwright.sync_api import Page
from questions import questions
from streets import mixed, overhead, pair, terrace

from calc.calculators import CALCULATORS, Calculator
from calc.circuit import OPEN
from calc.drawing import phasors_svg, street_svg, street_text
from calc.drawing.seen import amps, see
from calc.faults import Fault, catalogue, parse
from calc.figures import figure
from calc.form import parse as parse_form
from calc.instruments import read
from calc.street import Electrode, Network, Premises, Service, Span, Street, Supply, network

SVG = "{http://www.w3.org/2000/svg}"
CABLE = Service(20, "service-25-al-cne")


def forked() -> Street:
    """A main with a branch, long names, and homes straight from the substation."""
    return Street(
        "A forked lane",
        Supply(200, 4.5, 2),
        tuple(
            Span(ends, 50, "mains-95-al-cne")
            for ends in (
                ("substation", "Link box 4"),
                ("Link box 4", "J2"),
                ("Link box 4", "J3"),
                ("J3", "J4"),
            )
        ),
        {
            "Kelder Cottage, rear": Premises("substation", CABLE, ("L1",), (1.0,)),
            "1": Premises("J2", CABLE, ("L2",), (14.0,)),
            "3": Premises("J3", CABLE, ("L3",), (0.0,)),
            "5": Premises("J4", CABLE, ("L1", "L2", "L3"), (3.0, 5.0, 9.0), electrode_ohm=20),
        },
        electrodes=(Electrode("J2", 15), Electrode("J4", 30)),
    )


STREETS = {
    "pair": pair(pipe_earth_ohm=40),
    "terrace": terrace(12),
    "mixed": mixed(),
    "overhead": overhead(),
    "forked": forked(),
}
CASES = [(name, fault) for name, street in STREETS.items() for fault in catalogue(street)]
SOME = [(name, fault) for number, (name, fault) in enumerate(CASES) if number % 5 == 0]


def faulty(street: str, fault: Fault | str) -> Network:
    fault = parse(fault) if isinstance(fault, str) else fault
    return fault.applied_to(network(STREETS[street]))


def drawn(network_: Network, **how: str) -> Element:
    return ElementTree.fromstring(street_svg(network_, **how))


def words(root: Element) -> list[str]:
    return ["".join(text.itertext()) for text in root.iter(f"{SVG}text")]


def conductors(root: Element) -> dict[str, Element]:
    return {g.attrib["data-conductor"]: g for g in root.iter(f"{SVG}g") if "data-conductor" in g.attrib}


def without_colours(root: Element) -> str:
    return re.sub(r"var\(--ln-[a-z]+, #[0-9a-f]+\)", "black", ElementTree.tostring(root, "unicode"))


@pytest.mark.parametrize(("street", "fault"), SOME, ids=str)
def test_every_current_in_the_drawing_is_the_solutions(street: str, fault: Fault) -> None:
    network_ = faulty(street, fault)
    groups = conductors(drawn(network_))
    assert len(groups) > 2 * len(network_.street.premises)
    for name, group in groups.items():
        current = abs(network_.solution.current(name))
        assert float(group.attrib["data-amps"]) == pytest.approx(current, rel=1e-5, abs=1e-9), name


def test_every_way_home_is_drawn() -> None:
    for street in STREETS.values():
        healthy = network(street)
        way = re.compile(r"/(PEN|N|E|service\.(PEN|N|E)|main_earth|electrode|bond\..*|soil\..*|water|gas)$")
        there = {n for n, b in healthy.branches.items() if way.search(n) and b.impedance != OPEN}
        assert there <= set(conductors(drawn(healthy))), street.title


def test_a_wider_line_carries_more() -> None:
    groups = conductors(drawn(faulty("terrace", "service-pen-open@4")))
    strokes = {name: float(g[0].attrib["stroke-width"]) for name, g in groups.items()}
    currents = {name: float(g.attrib["data-amps"]) for name, g in groups.items()}
    by_current = sorted(currents, key=lambda name: currents[name])
    assert [strokes[n] for n in by_current] == sorted(strokes.values())
    assert max(strokes.values()) > 2 * min(strokes.values())


def test_volts_in_the_drawing_are_the_voltmeters() -> None:
    network_ = faulty("overhead", "mains-pen-open@substation-P1")
    said = "\n".join(words(drawn(network_)))
    for home, points in (("Mill", ("line", "neutral")), ("Mill", ("earth", "independent_earth"))):
        assert figure(read(network_, home, "voltmeter", points).value or 0, 1, "V") in said


def test_the_way_home_is_the_currents_own_where_one_load_is_on() -> None:
    # One load: every current on the street is in phase with it or against it, so the sign is plain.
    street = terrace(6)
    alone = {n: replace(p, load_kw=(2.0 if n == "6" else 0.0,)) for n, p in street.premises.items()}
    network_ = parse("service-pen-open@6").applied_to(network(replace(street, premises=alone)))
    load = network_.solution.current("6/load.L3")
    running = [flow for flow in see(network_).flows.values() if flow.runs]
    assert len(running) > 8
    for flow in running:
        assert flow.whose == "6"
        assert flow.forward == ((network_.solution.current(flow.name) / load).real > 0), flow.name


def test_the_neighbours_current_is_told_from_ours() -> None:
    # Common practice, no source: the main earth next door carries the current of the home without its PEN.
    flows = see(faulty("terrace", "service-pen-open@6")).flows
    assert flows["6/main_earth"].whose == "6" and flows["6/main_earth"].forward
    assert flows["4-6/water"].whose == "6" and not flows["4-6/water"].forward
    assert flows["6-8/water"].whose == "6" and flows["6-8/water"].forward


MARKS = {
    "service-pen-open": "broken",
    "service-pen-high": "bad joint",
    "mains-pen-open": "broken",
    "mains-pen-high": "bad joint",
    "mains-neutral-open": "broken",
    "mains-sheath-open": "sheath broken",
    "service-neutral-open": "broken",
    "sheath-open": "broken",
    "line-open": "broken",
    "mains-line-open": "broken",
    "reversed-polarity": "Reversed",
    "reversed-polarity-earth-live": "earth on the line",
    "main-earth-lost": "earth broken",
    "bond-lost": "bond broken",
    "loose-neutral-tail": "N tail +1.0 Ω",
    "loose-line-tail": "tail +1.0 Ω",
    "mains-neutral-high": "bad joint",
    "mains-sheath-high": "sheath bad joint",
    "service-neutral-high": "bad joint",
    "sheath-high": "bad joint",
    "service-line-high": "bad joint",
    "mains-line-high": "bad joint",
    "crossed-neutrals": "N tail crossed",
    "borrowed-neutral": "N borrowed",
    "neutral-earth-joined": "N joined to E",
    "earth-leak": "Leak to earth",
    "protective-conductor-lost": "A case floats",
}


@pytest.mark.parametrize(("street", "fault"), CASES, ids=str)
def test_every_fault_is_marked_with_its_word_and_told_in_the_text(street: str, fault: Fault) -> None:
    network_ = faulty(street, fault)
    healthy, now = drawn(network(STREETS[street])), drawn(network_)
    told = [
        line
        for line in street_text(network_)
        if line.startswith(("Open:", "Bad joint:", "On the wrong", "In a home:"))
    ]
    if fault.kind in MARKS:
        assert any(MARKS[fault.kind] in said for said in words(now))
        assert not any(MARKS[fault.kind] in said for said in words(healthy))
        assert told
    else:
        assert fault.kind in ("healthy", "high-volts")
        assert told == []


@pytest.mark.parametrize(("street", "fault"), SOME, ids=str)
def test_nothing_is_said_by_colour_alone(street: str, fault: Fault) -> None:
    root = drawn(faulty(street, fault))
    danger = [e for e in root.iter() if "danger" in e.attrib.get("stroke", "") + e.attrib.get("fill", "")]
    said = [e for e in danger if e.tag == f"{SVG}text"]
    hatched = [e for e in root.iter() if "hatch" in e.attrib.get("fill", "")]
    crosses = [e for e in danger if e.tag == f"{SVG}path" and e.attrib.get("fill") == "none"]
    assert len(said) >= len(hatched) + (len(crosses) > 0)
    if fault.kind not in ("healthy", "high-volts"):
        assert without_colours(root) != without_colours(drawn(network(STREETS[street])))


def test_a_danger_is_hatched_and_named() -> None:
    said = words(drawn(faulty("pair", "mains-pen-open@substation-J1")))
    assert "Live metalwork" in said
    hatched = drawn(faulty("overhead", "mains-pen-open@substation-P1"))
    assert sum("hatch" in e.attrib.get("fill", "") for e in hatched.iter()) == words(hatched).count(
        "Over 253 V"
    )


def test_the_visited_home_and_a_lifted_earth_are_named() -> None:
    lifted = faulty("pair", "healthy").opened("12/main_earth")
    said = words(ElementTree.fromstring(street_svg(lifted, home="12", lifted=("12",))))
    assert "visited home" in said and "main earth lifted" in said


def test_a_gap_in_a_pipe_is_named_and_told() -> None:
    said = words(drawn(network(mixed())))
    assert said.count("gap") == 1
    assert "Pipe water: a gap between 3 and 5." in street_text(network(mixed()))


def test_a_joint_that_belongs_to_the_street_is_no_fault() -> None:
    with_joint = network(pair()).with_added_ohm("12-14/water", 2)
    assert not any("bad joint" in said for said in words(drawn(with_joint, healthy=with_joint)))


@pytest.mark.parametrize("street", STREETS)
def test_a_screen_reader_finds_one_picture_with_its_figures(street: str) -> None:
    network_ = network(STREETS[street])
    root = drawn(network_, name="here")
    ids = {e.attrib["id"]: e.text for e in root.iter() if "id" in e.attrib}
    assert root.attrib["role"] == "img"
    assert root.attrib["aria-labelledby"] == "here-title"
    assert root.attrib["aria-describedby"] == "here-desc"
    assert ids["here-title"] == STREETS[street].title
    assert ids["here-desc"] == " ".join(street_text(network_))
    assert all(name.startswith("here-") for name in ids)


def test_a_hostile_name_stays_text() -> None:
    street = pair()
    premises = {"<script>": street.premises["12"], '"&': street.premises["14"]}
    hostile = replace(street, title="</svg><b>", premises=premises, metalwork=())
    assert "<script>" in words(drawn(network(hostile)))


def test_text_tells_the_same_figures() -> None:
    network_ = faulty("terrace", "service-pen-open@4")
    told = "\n".join(street_text(network_))
    assert told.startswith("Open: service PEN of 4.\n")
    for name in ("2-4/water", "4-6/water", "substation-J1/PEN", "4/main_earth"):
        assert amps(abs(network_.solution.current(name))) in told


def boxes(root: Element) -> dict[str, tuple[float, float, float, float]]:
    """Left, top, right and foot of each home's box."""
    found = {}
    for rect in root.iter(f"{SVG}rect"):
        if home := rect.attrib.get("data-home"):
            x, y, width, height = (float(rect.attrib[key]) for key in ("x", "y", "width", "height"))
            found[home] = (x, y, x + width, y + height)
    return found


def estimated(root: Element) -> Iterator[tuple[str, float, float, float, float]]:
    """Each text with its left, right, base line and size, at 0.54 em a character: an ordinary sans serif."""
    for text in root.iter(f"{SVG}text"):
        said, size = "".join(text.itertext()), float(text.attrib["font-size"])
        width = 0.54 * size * len(said)
        x, y = float(text.attrib["x"]), float(text.attrib["y"])
        left = {"start": x, "middle": x - width / 2, "end": x - width}[
            text.attrib.get("text-anchor", "start")
        ]
        if (x, y) != (0, 0):  # turned
            yield said, left, left + width, y, size


@pytest.mark.parametrize(("street", "fault"), SOME, ids=str)
def test_text_has_room(street: str, fault: Fault) -> None:
    root = drawn(faulty(street, fault), home=next(iter(STREETS[street].premises)))
    width, height = (float(n) for n in root.attrib["viewBox"].split()[2:])
    assert width == 360
    inside = boxes(root).values()
    for said, left, right, y, size in estimated(root):
        assert left >= -1 and right <= width + 1 and size <= y <= height, said
        assert size >= 12.5, f"{said} is too small on a telephone"
        for box_left, top, box_right, foot in inside:
            if box_left < left < box_right and top < y < foot:
                assert right <= box_right, said


@pytest.mark.parametrize("volts", [0j, 66 + 10j, -120j, 239 + 0j])
def test_phasors_say_their_volts(volts: complex) -> None:
    emfs = (240 + 0j, -120 - 207.8j, -120 + 207.8j)
    root = ElementTree.fromstring(phasors_svg(emfs, volts))
    said = words(root)
    for emf in emfs:
        assert figure(abs(emf - volts), 1, "V") in said
    for text, left, right, y, _ in estimated(root):
        assert left >= -1 and right <= 361 and 0 < y < 346, text


FITTED = "body { margin: 16px } svg { max-width: 100%; height: auto }"  # as in the styles of pages
OVERLAPS = """() => {
  const shown = [...document.querySelectorAll("svg")].map((svg) => {
    const frame = svg.getBoundingClientRect();
    const texts = [...svg.querySelectorAll("text")]
      .map((text) => [text.textContent, text.getBoundingClientRect()]);
    const out = texts.filter(([, at]) => at.left < frame.left - 1 || at.right > frame.right + 1);
    const over = texts.flatMap(([one, a], i) => texts.slice(i + 1).filter(([, b]) =>
      Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2 &&
      Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 5).map(([other]) => `${one} / ${other}`));
    const spilt = [...svg.querySelectorAll("rect[data-home]")].map((box) => box.getBoundingClientRect())
      .flatMap((box) => texts.filter(([, at]) => box.left < at.left && at.left < box.right - 10 &&
        box.top < at.top && at.bottom < box.bottom && at.right > box.right)).map(([words]) => words);
    return {out: out.map(([words]) => words), over, spilt};
  });
  return shown;
}"""


@pytest.mark.browser
@pytest.mark.parametrize("font", ["sans-serif", "'DejaVu Sans'"])  # the second is the widest that is common
def test_in_a_browser_no_text_is_cut_off_or_lies_on_another(font: str) -> None:
    drawings = [
        street_svg(faulty(street, fault), home=next(iter(STREETS[street].premises)), name=f"d{number}")
        for number, (street, fault) in enumerate(SOME)
    ]
    with browser() as started:
        page = started.new_page(viewport={"width": 360, "height": 800})
        page.set_content(f"<style>{FITTED}</style><body style='font-family:{font}'>{''.join(drawings)}")
        found = {
            case: seen for case, seen in zip(SOME, page.evaluate(OVERLAPS), strict=True) if any(seen.values())
        }
        assert found == {}


DATA = {"streets": {"terrace": terrace(4).to_data(), "overhead": overhead().to_data()}}


@pytest.mark.browser
@pytest.mark.parametrize("calculator", CALCULATORS.values(), ids=CALCULATORS)
def test_in_a_browser_the_drawings_of_calculators_keep_their_words_apart(
    page: Page, calculator: Calculator
) -> None:
    raws = list(questions(calculator, DATA, 12))
    page.set_viewport_size({"width": 360, "height": 800})
    page.set_content(f"<style>{FITTED}</style><body style='font-family:DejaVu Sans'>")
    found = {}
    for raw in raws:
        values, _ = parse_form(calculator, raw, DATA)
        page.locator("body").evaluate(
            "(one, svg) => one.innerHTML = svg", calculator.run(values, DATA).drawing
        )
        for seen in page.evaluate(OVERLAPS):
            found |= {words: raw for kind in seen.values() for words in kind}
    assert found == {}
