"""Schemas for editors: sound by the published meta-schema, kind to what is right, hard on what is not."""

from __future__ import annotations

import json
import re
from functools import cache
from pathlib import Path

import pytest
import yaml
from broken_yaml import as_an_editor_reads, broken
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st
from jsonschema import Draft202012Validator, ValidationError
from jsonschema.validators import validator_for

from build_tools.cli import command_line
from build_tools.guide import models, schemas
from build_tools.guide.source import read
from build_tools.guide.validation import conform
from build_tools.setup.environment import CACHE, ROOT

GUIDES = ("guide_src", "build_tools/starter/guide", "build_tools/reference/example", "tests/guides")
SETTINGS = json.loads((ROOT / ".vscode/settings.json").read_text("utf-8"))["yaml.schemas"]


def kind_of(file: Path) -> str:
    """Which schema a file belongs to, by where it lies."""
    if file.parent.name == "streets":
        return "street"
    return "tree" if file.parent.parent.name == "trees" else file.stem


FILES = sorted(
    file.relative_to(ROOT)
    for folder in GUIDES
    for file in (ROOT / folder).rglob("*.yaml")
    if kind_of(file) in schemas.FILES
)


@cache
def validator(kind: str) -> Draft202012Validator:
    return Draft202012Validator(schemas.schema(kind))


def refusals(kind: str, text: str) -> list[str]:
    return [error.message for error in validator(kind).iter_errors(as_an_editor_reads(text))]


def test_every_kind_of_file_is_there() -> None:
    assert {kind_of(file) for file in FILES} == set(schemas.FILES)


@pytest.mark.parametrize("kind", schemas.FILES)
def test_each_schema_fits_its_published_meta_schema(kind: str) -> None:
    """The meta-schema of draft 2020-12 comes with the jsonschema library."""
    made = schemas.schema(kind)
    assert validator_for(made, default=None) is Draft202012Validator
    Draft202012Validator.check_schema(made)


def keywords(schema: object) -> set[str]:
    """Every keyword used, names of properties and definitions left out."""
    if isinstance(schema, list):
        return set().union(*map(keywords, schema))
    if not isinstance(schema, dict):
        return set()
    named = ("properties", "$defs")
    inner = [
        *(one for key in named for one in schema.get(key, {}).values()),
        *(one for key, one in schema.items() if key not in (*named, "default", "enum", "dependentRequired")),
    ]
    return set(schema) | keywords(inner)


@pytest.mark.parametrize("kind", schemas.FILES)
def test_no_keyword_is_unknown_to_validators(kind: str) -> None:
    known = {*Draft202012Validator.VALIDATORS, "$schema", "$defs", "default", "description", "title"}
    known |= {"then", "else"}  # read by `if`
    assert keywords(schemas.schema(kind)) <= known


@pytest.mark.parametrize("file", FILES, ids=str)
def test_every_guide_file_fits_its_schema(file: Path) -> None:
    assert refusals(kind_of(file), (ROOT / file).read_text("utf-8")) == []


TREE = (ROOT / "tests/guides/small/trees/site/main-earth.yaml").read_text("utf-8")
STREET = (ROOT / "tests/guides/small/streets/short-row.yaml").read_text("utf-8")


@pytest.mark.parametrize(
    ("kind", "text", "old", "new"),
    [
        ("tree", TREE, "audience: site", "audience: home"),
        ("tree", TREE, "instrument: clamp", "instrument: clmap"),
        ("tree", TREE, "title:", "titel:"),
        ("tree", TREE, "to: 0.5", "to: a half"),
        ("tree", TREE, "to: 0.5", "to: -0.5"),
        ("tree", TREE, "2099-01-01", "1 January"),
        ("tree", TREE, "not_taken: {go: leave}", "not_taken: {go: Leave!}"),
        ("street", STREET, "metres: 90", "metres: ninety"),
        ("street", STREET, "supply:", "suply:"),
    ],
)
def test_what_a_schema_can_see_it_refuses(kind: str, text: str, old: str, new: str) -> None:
    assert refusals(kind, text) == []
    assert old in text
    assert refusals(kind, text.replace(old, new, 1))


@pytest.mark.parametrize(
    ("old", "new"),
    [("to: 0.5", "to: '0.5'"), ("not_taken: {go: leave}", "not_taken: {go: 12}"), ("title: ", "title: 12 #")],
)
def test_other_ways_to_write_the_same_are_let_through(old: str, new: str) -> None:
    assert old in TREE
    assert refusals("tree", TREE.replace(old, new, 1)) == []


def described(schema: object, at: str = "") -> dict[str, str]:
    """Where each property stands -> its description."""
    if isinstance(schema, list):
        return {k: v for i, one in enumerate(schema) for k, v in described(one, f"{at}/{i}").items()}
    if not isinstance(schema, dict):
        return {}
    found = {
        f"{at}/{name}": str(one.get("description", "")) for name, one in schema.get("properties", {}).items()
    }
    for key, one in schema.items():
        if key not in ("default", "enum"):
            found |= described(one, f"{at}/{key}")
    return found


@pytest.mark.parametrize("kind", schemas.FILES)
def test_every_property_is_described(kind: str) -> None:
    words = described(schemas.schema(kind))
    assert words
    assert [at for at, said in words.items() if not said.strip() or "\n" in said.replace("\n\n", "")] == []


NODES = {
    "question": "{question: Is it?, fact: lights, answers: [{answer: It is, go: end}]}",
    "reading": "{reading: Clamp it., instrument: clamp, on: [main_earth], unit: A, "
    "ranges: [{label: any, go: end}], not_taken: {go: end}}",
    "step": "{step: Stop., hazards: [opens-cover], does: [end-quiet], go: end}",
    "call": "{call: other, back: {found: end}}",
    "outcome": "{outcome: Done, priority: soon, closes: false, say: [Go.]}",
}
"""A node of each kind. Each is given the slips of SLIPS."""

SLIPS = {
    "question": [("fact: lights", "fact: light", "fact"), ("answer: It", "answr: It", "answr")],
    "reading": [
        ("instrument: clamp", "instrument: clmap", "instrument"),
        ("on: [main_earth]", "on: main_earth", "on"),
        ("{label: any", "{to: many, label: any", "to"),
        ("not_taken: {go: end}", "not_taken: {gone: end, go: end}", "gone"),
        ("not_taken: {go: end}", "not_taken: {go: [end]}", "go"),
    ],
    "step": [
        ("[opens-cover]", "[opens-covers]", "hazards"),
        ("[end-quiet]", "[endquiet]", "does"),
        (", go: end", "", "go"),
        ("go: end", "go: end, outcome: x", "outcome"),
    ],
    "call": [("back: ", "bakc: ", "bakc"), ("found: end", "found: [end]", "found")],
    "outcome": [
        ("priority: soon", "priority: sooon", "priority"),
        ("closes: false", "closes: maybe", "closes"),
        ("[Go.]", "[[Go.]]", "say"),
        ("priority: soon, ", "", "priority"),
        ("outcome: Done", "outcom: Done", "outcom"),
        ("outcome: Done, ", "", "outcome"),
    ],
}


@pytest.mark.parametrize(
    ("kind", "old", "new", "field"), [(kind, *slip) for kind, slips in SLIPS.items() for slip in slips]
)
def test_a_wrong_field_of_a_node_is_named(kind: str, old: str, new: str, field: str) -> None:
    """By the jsonschema library: a step of the place names the field, or a word that the message quotes."""
    node = NODES[kind]
    assert old in node
    assert errors(node) == []
    found = errors(node.replace(old, new, 1))
    assert not [error for error in found if "under any of the given schemas" in error.message]
    named = {
        name
        for error in found
        for name in (*list(error.absolute_path)[2:], *re.findall(r"'([^']*)'", error.message))
    }
    assert field in named, [error.message for error in found]


def errors(node: str) -> list[ValidationError]:
    """What the schema of a tree says of a node in it."""
    tree = f"{TREE}  wrong: {node}\n"
    return list(validator("tree").iter_errors(as_an_editor_reads(tree)))


def test_a_condition_alone_is_told_what_is_wrong_in_it() -> None:
    """A rule may need one condition or a list of them."""
    rule = "[{id: a, title: b, every: {hazard: opens-cover}, %s, because: c, sources: [d]}]"
    for needs in ("needs_earlier: {hazards: x}", "needs_earlier: [{hazards: x}]"):
        (message,) = refusals("rules", rule % needs)
        assert "'hazards' was unexpected" in message


def test_every_name_that_a_schema_offers_is_one_that_the_check_takes() -> None:
    """Completion of cables and pipes comes from the tables in calc, like the check's own list."""
    defs = schemas.schema("street")["$defs"]
    for place, field in (("Span", "cable"), ("Service", "cable"), ("Metalwork", "pipe")):
        assert len(defs[place]["properties"][field]["enum"]) > 2
    assert set(models.FACTS) < set(schemas.schema("tree")["$defs"]["Question"]["properties"]["fact"]["enum"])


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("broken") / "file.yaml"


@given(st.sampled_from(FILES).flatmap(lambda f: st.tuples(st.just(f), broken((ROOT / f).read_text("utf-8")))))
@settings(
    max_examples=250, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True, database=None
)
def test_a_schema_is_never_stricter_than_the_check(scratch: Path, case: tuple[Path, str]) -> None:
    """What the check takes gets no mark in an editor. Words that only YAML 1.2 converts are left out."""
    file, text = case
    scratch.write_text(text, "utf-8", errors="surrogatepass")
    source = read(scratch)
    assume(not source.findings)
    _, found = conform(schemas.FILES[kind_of(file)], source)
    assume(not found)
    try:
        refused = refusals(kind_of(file), text)
    except yaml.composer.ComposerError:  # a name given twice: YAML allows it, pyyaml does not
        assume(False)
    assert refused == []


def test_the_verb_writes_them_all(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:

    assert command_line.run(command_line.parse(["schemas", str(tmp_path / "made")])) == 0
    told = [Path(line) for line in capsys.readouterr().out.splitlines()]
    assert [file.stem for file in told] == list(schemas.FILES)
    for file in told:
        assert json.loads(file.read_text("utf-8")) == schemas.schema(file.stem)


def test_the_editor_settings_name_each_schema_where_the_verb_writes_it() -> None:
    folder = command_line.parse(["schemas"]).folder
    assert folder == CACHE / "schemas"
    assert [ROOT / name for name in SETTINGS] == [folder / f"{kind}.json" for kind in schemas.FILES]
    for file in FILES:
        matched = [Path(name).stem for name, pattern in SETTINGS.items() if file.match(pattern)]
        assert matched == [kind_of(file)], file
