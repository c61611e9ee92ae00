"""The reference for authors: it has everything, its examples hold, page and terminal tell the same."""

from __future__ import annotations

import dataclasses
import html as html_lib
import re
import shutil
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import Annotated, Any, get_args, get_type_hints

import pytest
import yaml
from pydantic import BaseModel, TypeAdapter

from build_tools import checks
from build_tools.cli import command_line
from build_tools.guide import loading, models, schemas, source, wording
from build_tools.guide.findings import text_report
from build_tools.guide.trees import Guide
from build_tools.pages.authors import authors_page
from build_tools.pages.page import Book
from build_tools.proof import promises
from build_tools.reference import book, example, meanings
from build_tools.reference.demands import declared
from build_tools.reference.entries import Entry, ReferencePart, unlinked
from build_tools.reference.file_fields import OPTIONAL
from build_tools.setup import environment
from build_tools.site import translation
from calc import joint_law, minutes, sampling, street
from calc.conductor import CABLES, PIPES
from calc.faults import KINDS, catalogue
from calc.instruments import CLAMPED, INSTRUMENTS, TOUCHED
from calc.street import network
from calc.symptoms import CALLERS, FACTS, fact
from calc.work import ACTIONS

MOST_BYTES = 250_000
README = (environment.ROOT / "README.md").read_text("utf-8")


def parts(chapter: str) -> dict[str, ReferencePart]:
    return {part.id: part for one in book.chapters() if one.id == chapter for part in one.parts}


def names(chapter: str, part: str) -> set[str]:
    return {entry.name for entry in parts(chapter)[part].entries}


def properties(schema: Any) -> Iterator[tuple[str, str, Any]]:
    """Every property of a schema: its shape, its name and itself; a node's kinds are no properties of it."""
    if isinstance(schema, list):
        for one in schema:
            yield from properties(one)
    elif isinstance(schema, dict):
        shape = schema.get("title") or "spreads"
        if "minProperties" not in schema:
            yield from ((shape, name, one) for name, one in schema.get("properties", {}).items())
        for key, one in schema.items():
            if key not in ("default", "enum"):
                yield from properties(one)


@cache
def fields() -> dict[tuple[str, str], Entry]:
    """By shape and name, as the page orders them."""
    return {(part.title, entry.name): entry for part in parts("fields").values() for entry in part.entries}


def in_parts(shape: str) -> str:
    """What a part is called that is about a shape."""
    titles = {"Tree": "tree", "Street": "street", "Settings": "guide", "Operator": "operator"}
    titles |= {"Synonyms": "synonyms", "Sampling": "sampling", "spreads": "spreads", "Minutes": "minutes"}
    if shape in titles:
        return parts("fields")[titles[shape]].title
    return re.sub(r"(?<=[a-z])([A-Z])", lambda found: f" {found[1].lower()}", shape)


@pytest.mark.parametrize("kind", schemas.FILES)
def test_every_field_is_told_with_an_example(kind: str) -> None:
    found = list(properties(schemas.schema(kind)))
    assert found or kind in ("glossary", "sources")
    for shape, name, schema in found:
        entry = fields()[in_parts(shape), name]
        assert entry.words == schema["description"], name
        facts = dict(entry.facts)
        assert facts["holds"] and facts["needed"], name
        assert entry.example.startswith(f"{name}:"), (shape, name)


def test_no_field_is_told_that_no_file_has() -> None:
    known = {(in_parts(s), n) for kind in schemas.FILES for s, n, _ in properties(schemas.schema(kind))}
    assert fields().keys() == known
    assert len(known) > 180


@pytest.fixture(scope="module")
def guide_of_examples() -> Guide:
    return loading.load(example.FOLDER)


def test_the_examples_are_a_guide_that_passes_every_check(guide_of_examples: Guide) -> None:
    found = [*checks.check_guide(guide_of_examples), *promises.as_written(guide_of_examples)]
    assert text_report(found) == ""
    assert {kind for kind, files in example.file_kinds().items() if files} == set(schemas.FILES)


def every_model() -> dict[str, type]:
    """Every model and dataclass that a file is made into, by name."""
    every = [
        one for module in (models, street, sampling, minutes, joint_law) for one in vars(module).values()
    ]
    return {
        one.__name__: one
        for one in every
        if isinstance(one, type) and (issubclass(one, BaseModel) or dataclasses.is_dataclass(one))
    }


def loaded(shape: str, name: str, value: Any) -> Any:
    """What the model makes of one field. Raises ValidationError."""
    if shape == "spreads":
        return TypeAdapter(sampling.Spread).validate_python(value)
    model = every_model()[shape]
    if issubclass(model, BaseModel):
        ((_, field),) = [one for one in model.model_fields.items() if (one[1].alias or one[0]) == name]
        return TypeAdapter(Annotated[field.annotation, *field.metadata, None]).validate_python(value)
    return TypeAdapter(get_type_hints(model, include_extras=True)[name]).validate_python(value)


@pytest.mark.parametrize(("shape", "name"), sorted(example.found()))
def test_each_example_is_read_and_taken_by_its_model(shape: str, name: str, tmp_path: Path) -> None:
    file = tmp_path / "example.yaml"
    file.write_text(fields()[in_parts(shape), name].example, "utf-8")
    read = source.read(file)
    assert read.findings == ()
    assert read.data == {name: example.found()[shape, name]}
    loaded(shape, name, read.data[name])
    with pytest.raises(ValueError):
        loaded(shape, name, {"not": {"what": ["it", "holds"]}})


def test_which_files_a_guide_needs(tmp_path: Path) -> None:
    for kind in schemas.FILES.keys() - {"tree", "street"}:
        folder = tmp_path / kind
        shutil.copytree(example.FOLDER, folder)
        (folder / f"{kind}.yaml").unlink()
        missing = "missing-file" in {finding.check for finding in loading.load(folder).findings}
        assert missing == (kind not in OPTIONAL), kind
        assert ("need not have it" in parts("fields")[kind].words) == (kind in OPTIONAL)


def test_every_finding_is_told_with_what_it_expects_and_how_it_is_mended() -> None:
    told = {entry.name: dict(entry.facts) for part in parts("findings").values() for entry in part.entries}
    assert told == {id_: {"expects": one.demands, "mend": one.mend} for id_, one in declared().items()}


def test_every_name_that_a_file_may_hold_is_told() -> None:
    told = {part: names("names", part) for part in parts("names")}
    allowed = schemas.schema("tree")["$defs"]
    assert told == {
        "instruments": set(INSTRUMENTS),
        "conductors": set(CLAMPED),
        "points": set(TOUCHED),
        "actions": set(allowed["Step"]["properties"]["does"]["items"]["enum"]),
        "hazards": set(get_args(models.Hazard)),
        "facts": set(allowed["Question"]["properties"]["fact"]["enum"]) - {None},
        "callers": set(CALLERS),
        "faults": set(KINDS),
        "cables": set(CABLES),
        "pipes": set(PIPES),
    }
    assert set(ACTIONS) < told["actions"]
    assert set(FACTS) < told["facts"]
    assert wording.HAZARDS.keys() == meanings.HAZARDS.keys()
    assert all(entry.words for part in parts("names").values() for entry in part.entries)


def test_a_fact_is_answered_in_the_words_that_are_told(guide_of_examples: Guide) -> None:
    """With every fault at every home of the street; each word of yes and no comes up."""
    (one,) = guide_of_examples.streets.values()
    given: dict[str, set[str]] = {name: set() for name in FACTS}
    for fault in catalogue(one):
        faulty = fault.applied_to(network(one))
        for home in one.premises:
            for name, words_given in given.items():
                words_given.add(fact(name, faulty, home))
    for name, words_given in given.items():
        assert words_given <= set(meanings.FACTS[name][1]), name
    assert given["lights"] >= {"bright", "normal", "off"}
    assert given["supply-on"] == {"yes", "no"}


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("range-gap", declared()["range-gap"].mend),
        ("rule-clamp-first", "rules.yaml"),
        ("reading.on", "two points"),
        ("ON", "on: [main_earth]"),
        ("clamp", "0 to 200 A, by steps of 0.01"),
        ("service-pen-open", "service-pen-open@2"),
        ("tree", "heard_as"),
        ("Question", "remember"),
        ("copper-22", "22.0 mm"),
    ],
)
def test_the_terminal_tells_of_a_name(name: str, told: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert command_line.run(command_line.parse(["reference", name])) == 0
    assert " ".join(told.split()) in " ".join(capsys.readouterr().out.split())


def test_the_terminal_lists_every_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert command_line.run(command_line.parse(["reference"])) == 0
    told = capsys.readouterr().out
    every = {entry.name for one in book.chapters() for part in one.parts for entry in part.entries}
    assert [name for name in every if name not in told] == []
    assert max(map(len, told.splitlines())) <= 100


@pytest.mark.parametrize(
    ("name", "mend"), [("rangegap", "range-gap"), ("", "lists all"), ("\x1b[31m", "lists")]
)
def test_an_unknown_name_is_wrong_use(
    name: str, mend: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setattr(environment, "is_inside", lambda: True)
    assert command_line.main(["reference", name]) == 2
    (line,) = capsys.readouterr().err.splitlines()
    assert mend in line and "\x1b" not in line


@pytest.fixture
def html(small_guide) -> str:
    small = small_guide.sound()
    return str(authors_page(Book(small, small.settings, small.operator)).html)


def test_the_page_has_every_name_once_and_its_links_lead_somewhere(html: str) -> None:
    anchors = re.findall(r' id="([^"]+)"', html)
    assert len(anchors) == len(set(anchors))
    assert set(re.findall(r'href="#([^"]+)"', html)) <= set(anchors)
    for one in book.chapters():
        for part in one.parts:
            assert {part.anchor(entry) for entry in part.entries} <= set(anchors)


def test_the_page_tells_what_the_terminal_tells(html: str) -> None:
    page = " ".join(html_lib.unescape(re.sub(r"<[^>]+>", "", html)).split())
    for one in book.chapters():
        for part in one.parts:
            for entry in part.entries:
                for said in (entry.words, entry.example, *(said for _, said in entry.facts)):
                    plain = said if said is entry.example else unlinked(said).replace("`", "")
                    assert " ".join(plain.split()) in page, entry.name
    assert len(html.encode()) < MOST_BYTES


def test_the_page_stays_in_the_authors_language(html: str) -> None:
    assert translation.runs_of(html) == {}
    assert list(translation.runs_of(f"{html}<p>After it</p>")) == ["After it"]


def test_the_readme_shows_each_kind_of_node_in_a_tree_that_loads(guide_of_examples: Guide) -> None:
    (block,) = [one for one in re.findall(r"```yaml\n(.*?)```", README, re.S) if "nodes:" in one]
    file = example.FOLDER / "trees/site/before-an-earth-is-touched.yaml"
    assert block == file.read_text("utf-8")
    nodes = yaml.safe_load(block)["nodes"].values()
    assert {kind for node in nodes for kind in models.KINDS if kind in node} == set(models.KINDS)
    assert file.stem in guide_of_examples.trees
