"""YAML is read as text, and every value keeps its place."""

from __future__ import annotations

import tempfile
import time
from pathlib import Path

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st

from build_tools.guide.findings import Place
from build_tools.guide.source import Source, read


def reading(text: str | bytes) -> Source:
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "case.yaml"
        file.write_bytes(text if isinstance(text, bytes) else text.encode())
        return read(file)


def at(place: Place) -> tuple[int, int]:
    return place.line, place.column


@pytest.mark.parametrize(
    "written", ["no", "on", "y", "12:30", "012", "12", "0x1F", "1e3", "1_000", ".inf", "null"]
)
def test_what_yaml_1_1_would_convert_stays_text(written):
    """Each is a boolean, a number to the base 60, 8 or 16, or nothing at all in YAML 1.1 (yaml.org/type)."""
    source = reading(f"{written}: {written}\n")
    assert source.findings == ()
    assert source.data == {written: written}


@pytest.mark.parametrize("written", ["", "~"])
def test_nothing_is_none_and_quoted_nothing_is_text(written):
    assert reading(f"a: {written}\nb: '{written}'\n").data == {"a": None, "b": written}


def test_places_of_values_and_keys():
    source = reading(
        "title: Tingle\nnodes:\n  clamp:\n    ranges:\n      - {to: 0.5, go: a}\n      - {go: b}\n"
    )
    assert at(source.place(("title",))) == (1, 8)
    assert at(source.place(("nodes", "clamp"), key=True)) == (3, 3)
    assert at(source.place(("nodes", "clamp", "ranges", 0, "to"))) == (5, 14)
    assert at(source.place(("nodes", "clamp", "ranges", 1))) == (6, 9)


def test_a_path_that_leads_too_far_gives_the_nearest_value():
    source = reading("a:\n  - b: 1\n")
    assert at(source.place(("a", 0, "missing", "more"))) == (2, 5)
    assert at(source.place(("a", 7))) == (2, 3)
    assert source.value(("a", 7)) is None


def test_columns_count_characters_and_a_byte_order_mark_is_none():
    assert at(reading("é: ü\n".encode()).place(("é",))) == (1, 4)
    assert at(reading("\ufeffa: b\n".encode()).place(("a",))) == (1, 4)


def test_an_alias_repeats_a_value_and_points_to_where_it_is_written():
    source = reading("a: &words [one, two]\nb: *words\n")
    assert source.findings == ()
    assert source.data == {"a": ["one", "two"], "b": ["one", "two"]}
    assert at(source.place(("b", 1))) == (1, 17)


def test_the_file_is_named_from_the_working_folder(tmp_path, monkeypatch):
    (tmp_path / "case.yaml").write_text("a: b")
    monkeypatch.chdir(tmp_path)
    assert read(tmp_path / "case.yaml").file == "case.yaml"
    assert read(Path("case.yaml")).file == "case.yaml"


def test_a_file_that_is_not_there(tmp_path):
    assert [finding.check for finding in read(tmp_path / "none.yaml").findings] == ["missing-file"]
    assert [finding.check for finding in read(tmp_path).findings] == ["unreadable"]


BIDI = "\u061c\u200e\u200f\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069"
"""Characters that turn the direction of what follows: refused anywhere. Unicode's Bidi_Control, UAX 9."""
TEXT = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cs", "Cc"], exclude_characters=BIDI), max_size=12
)
KEYS = TEXT.filter(lambda key: key not in ("", "<<", "~"))
DATA = st.recursive(
    TEXT, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(KEYS, inner, max_size=4)
)


@given(st.dictionaries(KEYS, DATA, min_size=1, max_size=4), st.booleans())
@settings(deadline=None)
def test_dumped_data_comes_back_with_right_places(data, flow):
    """pyyaml writes it; each place must be where the value's own text, parsed alone, starts."""
    text = yaml.safe_dump(data, allow_unicode=True, default_flow_style=flow, default_style='"', width=10_000)
    source = reading(text)
    assert source.findings == ()
    assert source.data == data
    lines = text.split("\n")
    for keys, value in _leaves(data):
        line, column = at(source.place(keys))
        rest = yaml.safe_load(_first_quoted(lines[line - 1][column - 1 :]))
        assert rest == value


def _leaves(data, keys=()):
    if isinstance(data, str):
        yield keys, data
    for key, inner in (
        data.items() if isinstance(data, dict) else enumerate(data) if isinstance(data, list) else ()
    ):
        yield from _leaves(inner, (*keys, key))


def _first_quoted(text: str) -> str:
    end = 1
    while text[end] != '"':
        end += 2 if text[end] == "\\" else 1
    return text[: end + 1]


@given(st.binary(max_size=200) | st.text("[]{}:,-&*!|>'\"#%@` \n\tab~?<", max_size=60).map(str.encode))
@settings(deadline=None, max_examples=400)
def test_no_bytes_raise(raw):
    source = reading(raw)
    assert source.data is not None or source.findings


@pytest.mark.parametrize(
    "unit", ["[", "{a: ", "- ", "? ", "&a ", "*a ", "!a ", "'", '"', "a: ", "a:\n", "a,", "#", "%", "|\n"]
)
def test_a_million_of_anything_costs_little_time(unit):
    started = time.process_time()
    source = reading((unit * 1_000_000)[: 1 << 20])
    assert time.process_time() - started < 5
    assert source.data is not None or source.findings
