"""The worst street for a broken promise: found, cut down, kept in a file that shows it again, and linked."""

from __future__ import annotations

import base64
import json
import shutil
import zlib
from dataclasses import replace
from functools import partial
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from streets import by_the_book

from build_tools.cli import command_line
from build_tools.guide.findings import Refused, text_report
from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.proof import counterexample, counterexample_search, evidence, shrinking
from build_tools.proof.counterexample import Counterexample
from build_tools.proof.counterexample_replay import retell_counterexample
from build_tools.setup import environment
from build_tools.walks.walk_report import as_text
from calc.address import fragment, street_address, street_at
from calc.calculators import answer_json
from calc.drawn_streets import draw
from calc.faults import parse
from calc.readings import TESTS, readings
from calc.shaped import plain, shaped
from calc.street import Street, network

GUIDE = Path(__file__).parents[2] / "guide_src"
TREE = "neighbour-comes-and-goes"


SHIPPED = load(GUIDE)


@pytest.fixture
def guide() -> Guide:
    return SHIPPED


def with_limit(folder: Path, amperes: float) -> Guide:
    """The guide with a fixed clamp value that closes the job."""
    shutil.copytree(GUIDE, folder)
    path = folder / "trees/site/test-one-home.yaml"
    text = path.read_text()
    start = text.index("    ranges:", text.index("  clamp-main-earth:"))
    fixed = (
        f"    ranges:\n      - {{to: {amperes}, label: safe, go: carries}}\n"
        f"      - {{from: {amperes}, label: not safe, go: not-proven}}\n"
    )
    path.write_text(text[:start] + fixed + text[text.index("    not_taken:", start) :])
    return load(folder)


def drawn(guide: Guide, number: int) -> Counterexample:
    """A drawn street whole, as a case."""
    assert guide.sampling is not None
    street = draw(guide.sampling, number)
    home, premises = next(iter(street.street.premises.items()))
    earthing = premises.earthing
    return Counterexample(
        "found",
        TREE,
        f"{'service-pen-open' if earthing == 'tn-c-s' else 'main-earth-lost'}@{home}",
        home,
        guide.sampling.seed,
        number,
        street.meters,
        street.caller,
        street.known_load_kw,
        street.later_kw,
        street.street,
    )


@pytest.mark.parametrize("amperes", [0.1, 0.5, 2, 10])
def test_a_fixed_clamp_limit_gets_a_street_that_shows_it(tmp_path: Path, amperes: float) -> None:
    damaged = with_limit(tmp_path / "guide", amperes)
    (promise,) = (each for each in damaged.promises if each.id == "found")
    first = counterexample_search.find(damaged, promise, TREE, "service-pen-open")
    assert first is not None
    file, told, link = counterexample_search.attach(
        damaged, tmp_path / "worst", promise, TREE, "service-pen-open"
    )
    path = tmp_path / "worst" / f"service-pen-open-{TREE}-found.yaml"
    assert (file.place.file, file.place.line) == (str(path), 1)
    assert [each.name for each in path.parent.iterdir()] == [path.name]

    kept = counterexample.read(path)
    assert counterexample.fails(damaged, kept)
    assert len(kept.street.premises) < len(first.street.premises)
    assert (kept.home, kept.fault) == (first.home, first.fault)

    command = told.what.split("build_tools ")[1].split()
    assert command_line.parse(command).street == str(path)
    text = as_text(retell_counterexample(damaged, kept, str(path)))
    assert "is broken here" in text
    assert "! the job is closed beside a fault that endangers this home" in text

    assert link.what.endswith(counterexample.link(kept)) and len(counterexample.link(kept)) < 2_000
    assert "only because the meters err" not in text


def test_a_broken_promise_is_a_finding_with_its_street(tmp_path: Path) -> None:
    damaged = with_limit(tmp_path / "guide", 0.5)
    rows = (evidence.Row("found", TREE, "service-pen-open", "", 100, 50, 0.4, 1.0),)
    assert damaged.sampling is not None
    measured = evidence.Evidence(
        evidence.grounds(damaged), damaged.sampling.seed, damaged.sampling.streets, "", rows
    )
    evidence.write(damaged, replace(measured, digest=measured.own_key))
    (found,) = evidence.findings_of(
        damaged, partial(counterexample_search.attach, damaged, tmp_path / "worst")
    )
    report = text_report([found])
    assert found.check == "promise-broken"
    for part in (f"service-pen-open-{TREE}-found.yaml", "build_tools walk", "one-street.html#street=1."):
        assert part in report


def test_the_shipped_guide_keeps_its_promise_there(guide: Guide, tmp_path: Path) -> None:
    """What was cut down shows the damage to the tree and not a street that no tree can deal with."""
    damaged = with_limit(tmp_path / "guide", 0.5)
    assert damaged.sampling is not None
    damaged = replace(damaged, sampling=by_the_book(damaged.sampling))
    (promise,) = (each for each in damaged.promises if each.id == "found")
    first = counterexample_search.find(damaged, promise, TREE, "service-pen-open")
    assert first is not None
    small = shrinking.shrunk(first, lambda each: counterexample.fails(damaged, each))
    assert not counterexample.fails(guide, small)
    assert "is kept here" in as_text(retell_counterexample(guide, small, "small"))


def test_cutting_down_is_the_same_every_time_and_bounded(guide: Guide) -> None:
    tried: list[Counterexample] = []

    def has_two_homes(each: Counterexample) -> bool:
        tried.append(each)
        return len(each.street.premises) >= 2

    whole = drawn(guide, 5)
    assert shrinking.shrunk(whole, has_two_homes) == (small := shrinking.shrunk(whole, has_two_homes))
    assert len(small.street.premises) == 2
    assert not any(small.meters.values())
    assert {each.load_kw for each in small.street.premises.values()} <= {(0.1,), (1.0,)}
    tried.clear()
    shrinking.shrunk(whole, has_two_homes, most=7)
    assert len(tried) == 7


def test_what_needs_the_meters_errors_says_so(guide: Guide, monkeypatch: pytest.MonkeyPatch) -> None:
    broken_by_errors = replace(drawn(guide, 3), meters={**drawn(guide, 3).meters, "clamp-error": 0.03})
    monkeypatch.setattr(
        "build_tools.proof.counterexample_replay.fails", lambda _, each: any(each.meters.values())
    )
    assert "only because the meters err" in as_text(retell_counterexample(guide, broken_by_errors, "x"))


@settings(max_examples=30, deadline=None)
@given(number=st.integers(0, 4999))
def test_every_drawn_street_comes_back_from_its_file_and_its_address(number: int) -> None:
    whole = drawn(SHIPPED, number)
    with TemporaryDirectory() as folder:
        assert counterexample.read(counterexample.write(whole, SHIPPED.promises[0], Path(folder))) == whole
    assert street_at(street_address(whole.street)) == whole.street


def test_the_shipped_streets_travel_in_an_address(guide: Guide) -> None:
    for street in guide.streets.values():
        assert street_at(street_address(street)) == street
        assert len(street_address(street)) < 2_000


def test_a_call_is_told_with_its_wrong_answers(guide: Guide, tmp_path: Path) -> None:
    """Told as it is counted: the call of every street ends where proof.callers says that it does."""
    (promise,) = (each for each in guide.promises if each.id == "calm")
    first = counterexample_search.find(guide, promise, "caller-lights", "any")
    assert first is not None  # one answer in twenty is wrong, so some calm caller is made an emergency
    told = retell_counterexample(guide, first, "x")
    assert told.ways[0].priority == "emergency"
    assert any("answered wrongly" in stage.shown for stage in told.ways[0].stages)
    assert counterexample.read(counterexample.write(first, promise, tmp_path)) == first


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("fault: service-pen-open@1", "fault: service-pen-open@99", "cannot be on this street"),
        ("fault: service-pen-open@1", "fault: service-pen-opened@1", "did you mean service-pen-open"),
        ("home: '1'", "home: '77'", "is not on this street"),
        ("known_load_kw: ", "known_load: ", "known_load"),
        ("  title: ", "  titel: ", "titel"),
    ],
)
def test_a_damaged_file_is_told_by_its_place(
    guide: Guide, tmp_path: Path, old: str, new: str, says: str
) -> None:
    path = counterexample.write(drawn(guide, 2), guide.promises[0], tmp_path)
    text = path.read_text()
    assert old in text
    path.write_text(text.replace(old, new))
    with pytest.raises(Refused) as refused:
        counterexample.read(path)
    assert any(says in f"{f.what} {f.expected} {f.mend}" for f in refused.value.findings)


def test_walk_wants_a_file_that_is_there_and_a_home() -> None:
    for words, says in (
        (["walk", TREE, "--street", "nowhere.yaml"], "no file nowhere.yaml"),
        (["walk", TREE, "--street", "tannery-row"], "--at HOME"),
    ):
        with pytest.raises(environment.WrongUse, match=says):
            command_line.run(command_line.parse(words))


# Addresses


def asked(**raw: str) -> dict[str, dict[str, object]]:
    data = {"streets": {name: street.to_data() for name, street in SHIPPED.streets.items()}}
    reply = answer_json("one-street", json.dumps(raw), json.dumps(data))
    assert "Traceback" not in reply
    return json.loads(reply)  # type: ignore[no-any-return]


def test_a_street_in_an_address_is_calculated_like_any_other(guide: Guide) -> None:
    whole = drawn(guide, 11)
    reply = asked(street=street_address(whole.street), home=whole.home, fault=whole.fault, besides="healthy")
    shown = readings(parse(whole.fault).applied_to(network(whole.street)), whole.home)
    table = reply["ok"]["tables"][1]  # type: ignore[index]
    assert [row["cells"][1] for row in table["rows"]] == [
        shown[test.id].text.replace("ohm", "Ω") for test in TESTS
    ]
    (first, *others) = reply["options"]["street"]  # type: ignore[misc]
    assert first[1] == whole.street.title and len(others) == len(guide.streets)


ADDRESS = street_address(next(iter(SHIPPED.streets.values())))


@pytest.mark.parametrize(
    ("address", "says"),
    [
        (ADDRESS[:-20], "cut short or damaged"),
        (ADDRESS[:30] + "x" + ADDRESS[31:], "cut short or damaged"),
        ("1.", "cut short or damaged"),
        ("1.%%", "is damaged"),
        ("0.abcd", "another edition"),
        ("27.abcd", "another edition"),
        ("1." + "A" * 9_000, "is damaged"),
    ],
)
def test_a_bad_address_gets_a_kind_sentence(address: str, says: str) -> None:
    problem = asked(street=address, home="1", fault="healthy")["problems"]["street"]
    assert says in str(problem)


@settings(max_examples=200, deadline=None)
@given(st.integers(2, len(ADDRESS) - 1), st.sampled_from("Aa0_-z"))
def test_no_slip_in_an_address_goes_unnoticed(place: int, letter: str) -> None:
    slipped = ADDRESS[:place] + letter + ADDRESS[place + 1 :]
    try:
        assert street_at(slipped) == street_at(ADDRESS)  # the same letter, or bits that base64 leaves unused
    except ValueError as error:
        assert "The street in this link" in str(error)


def packed(data: object) -> str:
    """Any JSON as the address of a street."""
    return "1." + base64.urlsafe_b64encode(zlib.compress(json.dumps(data).encode(), 9)).decode().rstrip("=")


def spoilt(**changes: object) -> object:
    return plain(drawn(SHIPPED, 4).street) | changes


@pytest.mark.parametrize(
    ("data", "says"),
    [
        ([], "must be names with values"),
        ({}, "must also have mains, premises, supply, title"),
        (spoilt(titel="x"), "nothing is called 'titel'"),
        (spoilt(title=3), "title must be text"),
        (spoilt(premises={}), "at least one home"),
        (spoilt(premises={"1": None}), "premises 1 must be names with values"),
        (spoilt(supply={"rating_kva": -1, "impedance_percent": 4, "star_point_earth_ohm": 1}), "above 0"),
        (spoilt(supply={"rating_kva": True, "impedance_percent": 4, "star_point_earth_ohm": 1}), "a number"),
        (
            spoilt(supply={"rating_kva": 1e300, "impedance_percent": 4, "star_point_earth_ohm": 1}),
            "a number",
        ),
        (spoilt(mains=[{"between": ["substation"], "metres": 1, "cable": "x"}]), "a list of 2"),
        (spoilt(electrodes=[{"at": "nowhere", "ohm": 2}]), "'nowhere' is not known"),
        ("x" * 70_000, "cut short or damaged"),  # a few bytes that unpack to many
    ],
)
def test_a_street_of_the_wrong_shape_gets_a_kind_sentence(data: object, says: str) -> None:
    assert says in str(asked(street=packed(data), home="1", fault="healthy")["problems"]["street"])


_JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner, max_size=3),
    max_leaves=6,
)


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(sorted(spoilt())), _JSON)  # type: ignore[call-overload]
def test_whatever_is_in_an_address_never_raises_but_a_sentence(part: str, value: object) -> None:
    try:
        street_at(packed(spoilt(**{part: value})))
    except ValueError as error:
        assert str(error).startswith("The street in this link")


def test_shaped_takes_back_what_plain_gives(guide: Guide) -> None:
    for street in guide.streets.values():
        assert shaped(Street, json.loads(json.dumps(plain(street)))) == street
        assert shaped(Street, street.to_data()) == street


def test_a_street_too_large_to_travel_is_refused(guide: Guide) -> None:
    street = drawn(guide, 1).street
    home = next(iter(street.premises.values()))
    with pytest.raises(ValueError, match="too large"):
        street_address(replace(street, premises={str(n): home for n in range(90)}, metalwork=()))
    assert "street=1." in fragment(street, home="1", fault="healthy")


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("power-factor: {uniform: [0.9, 1]", "power-factor: {uniform: [1.5, 2]", "power_factor"),
        (
            'transformer-kva: {choice: {"200": 1',
            'transformer-kva: {choice: {"two hundred": 100',
            "two hundred",
        ),
    ],
)
def test_a_drawn_street_without_an_answer_stops_the_proof_and_is_named(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], old: str, new: str, says: str
) -> None:
    folder = tmp_path / "guide"
    shutil.copytree(GUIDE, folder)
    path = folder / "sampling.yaml"
    text = path.read_text().replace("streets: 5000", "streets: 4")
    assert old in text
    path.write_text(text.replace(old, new))
    before = (folder / "evidence.json").read_bytes()
    assert command_line.run(command_line.parse(["--guide", str(folder), "prove"])) == 1
    report = capsys.readouterr().out
    assert "unsolvable-draw: drawn street 0 of seed" in report and says in report
    assert (folder / "evidence.json").read_bytes() == before
