"""Shapes: what an author wrote becomes numbers, flags and dates, or a finding at the value itself."""

from __future__ import annotations

from datetime import date
from typing import Any, get_args

import pytest
from pydantic import TypeAdapter

from build_tools.guide import models
from build_tools.guide.source import read
from build_tools.guide.validation import conform
from calc.street import Conductor, Street


@pytest.fixture
def conforming(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def conforming_(shape: Any, text: str):
        (tmp_path / "case.yaml").write_text(text, "utf-8")
        value, findings = conform(shape, read("case.yaml"))
        return value, [f"{f.place.line}:{f.place.column} {f.check}: {f.what}" for f in findings]

    return conforming_


@pytest.mark.parametrize(
    ("shape", "written", "means"),
    [
        (models.Number, "0.5", 0.5),
        (models.Number, "1e3", 1000.0),
        (models.Number, "'12'", 12.0),
        (models.Number, "-.5", -0.5),
        (models.Flag, "true", True),
        (models.Flag, "false", False),
        (models.Day, "2027-06-01", date(2027, 6, 1)),
        (models.Id, "12", "12"),
        (models.Text, "no", "no"),
    ],
)
def test_text_becomes_what_the_shape_needs(conforming, shape, written, means):
    value, findings = conforming(dict[str, shape], f"a: {written}\n")
    assert (value, findings) == ({"a": means}, [])


@pytest.mark.parametrize(
    ("shape", "written"),
    [
        *(
            (models.Number, text)
            for text in [
                "nan",
                ".nan",
                "inf",
                "-inf",
                "1_000",
                "0x10",
                "1,5",
                "12:30",
                "on",
                "1e999",
                "'",
                "1'",
                "٣",
            ]
        ),
        *((models.Flag, text) for text in ["yes", "no", "on", "off", "1", "0", "True", "FALSE", "t"]),
        *(
            (models.Day, text)
            for text in [
                "2027-02-30",
                "1e9",
                "0",
                "2027-6-1",
                "01.06.2027",
                "2027-06-01T00:00:00",
                "20270601",
            ]
        ),
        *((models.Id, text) for text in ["A", "a_b", "a.b", "-a", "a/b", "<b>", "''"]),
        (models.Text, ""),
        (models.Text, "'  '"),
    ],
)
def test_what_merely_could_be_read_so_is_refused(conforming, shape, written):
    value, findings = conforming(dict[str, shape], f"a: {written}\n")
    assert value is None
    assert len(findings) == 1
    assert findings[0].startswith("1:")


def test_a_misspelt_key_is_told_once_with_its_nearest_neighbour(conforming):
    _, findings = conforming(models.References, "a: {titel: b, kind: published}\n")
    assert findings == ["1:5 unknown-key: the key `titel` is not known here - did you mean `title`?"]


def test_a_missing_key_is_placed_at_its_parent(conforming):
    _, findings = conforming(models.References, "a:\n  title: b\n")
    assert findings == ["1:1 missing-key: `kind` is missing"]


def test_what_a_dataclass_refuses_is_placed_at_the_value(conforming):
    _, findings = conforming(Conductor, "metres: 3\nsize_mm2: -16\n")
    assert [finding.partition(":")[0] for finding in findings] == ["2"]
    _, findings = conforming(Conductor, "metres: 0\nsize_mm2: 16\n")
    assert findings == ["1:9 value: metres must be above 0, got 0"]


def test_every_number_of_a_street_is_one_the_author_wrote_in_digits(conforming, small_guide):
    text = (small_guide.folder / "streets/short-row.yaml").read_text()
    value, findings = conforming(Street, text)
    assert findings == []
    assert value.supply.rating_kva == 315
    assert list(value.premises) == ["12", "14"]
    for spoilt in ("3_15", "nan", "inf", "' 315'"):
        _, findings = conforming(Street, text.replace("rating_kva: 315", f"rating_kva: {spoilt}"))
        assert [f.partition(" ")[0] for f in findings] == ["2:22"]


@pytest.mark.parametrize(
    "shape", [models.Tree, models.Rules, models.Settings, models.Glossary, models.References, Street]
)
@pytest.mark.parametrize(
    "text", ["a", "[]", "[a]", "{}", "{a: b}", "{a: [b]}", "[{}]", "[[[]]]", "{title: {a: {}}}"]
)
def test_no_shape_of_data_raises(conforming, shape, text):
    value, findings = conforming(shape, text)
    assert value is not None or findings


@pytest.mark.parametrize("kind", models.KINDS)
def test_the_kind_of_a_node_follows_from_its_key(conforming, kind):
    _, findings = conforming(models.Tree, f"nodes: {{a: {{{kind}: b, x: c}}}}\n")
    assert any("the key `x` is not known here" in finding for finding in findings)
    model = {m.__name__.lower(): m for m in (get_args(one)[0] for one in get_args(get_args(models.Node)[0]))}[
        kind
    ]
    required = {name for name, field in model.model_fields.items() if field.is_required()} - {kind}
    assert {f.split("`")[1] for f in findings if "1:9 missing-key" in f} == required


def test_models_are_frozen_and_hashable():
    tree = TypeAdapter(models.Answer).validate_python({"answer": "Yes", "go": "a"})
    assert hash(tree) == hash(tree.model_copy())
    with pytest.raises(ValueError, match="frozen"):
        tree.go = "b"
