"""Every figure that can be shown has one place to go."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from build_tools.checks import ranges
from calc.instruments import INSTRUMENTS

SITE = "trees/site/main-earth.yaml"
WRITTEN = """\
      - {to: 0.5, label: little or none, go: lift}
      - {from: 0.5, label: current is flowing, go: leave}
"""


def found(guide):
    return [(f.check, ".".join(f.path[2:]), f.what) for f in ranges.check(guide, ())]


def test_a_shared_end_counts_once(small_guide):
    assert found(small_guide.sound()) == []


@pytest.mark.parametrize(
    ("written", "findings"),
    [
        ("[{label: a, go: lift}]", []),
        ("[{from: 0.5, label: b, go: lift}, {to: 0.5, label: a, go: lift}]", []),
        ("[{from: 0.5, label: a, go: lift}]", [("range-gap", "ranges.1.from", "nothing covers 0 to 0.5 A")]),
        ("[{to: 60, label: a, go: lift}]", [("range-gap", "ranges.1.to", "nothing covers 60 A and above")]),
        (
            "[{to: 0.5, label: a, go: lift}, {from: 0.8, label: b, go: lift}]",
            [("range-gap", "ranges.2.from", "nothing covers 0.5 to 0.8 A")],
        ),
        (
            "[{to: 0.8, label: a, go: lift}, {from: 0.5, label: b, go: lift}]",
            [("range-overlap", "ranges.2.from", "0.5 to 0.8 A has two answers")],
        ),
        (
            "[{label: a, go: lift}, {label: b, go: lift}]",
            [("range-overlap", "ranges.2.from", "0 A and above has two answers")],
        ),
        (
            "[{label: a, go: lift}, {from: 2, to: 1, label: b, go: lift}]",
            [("empty-range", "ranges.2", "no figure lies from 2 up to 1")],
        ),
        (
            "[{to: 201, label: a, go: lift}, {from: 201, label: b, go: lift}]",
            [("range-never-shown", "ranges.2.from", "the clamp meter never shows 201 A")],
        ),
    ],
)
def test_the_line_is_covered_once(small_guide, written, findings):
    small_guide.edit(SITE, "\n" + WRITTEN, f" {written}\n")
    assert found(small_guide.sound()) == findings


CUTS = st.lists(st.floats(0.001, 150).map(lambda cut: round(cut, 3)), unique=True, max_size=6).map(sorted)


@given(CUTS, st.data())
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=60, deadline=None)
def test_any_line_cut_in_pieces_is_covered_and_without_a_piece_it_is_not(small_guide, cuts, data):
    ends = [0.0, *cuts, math.inf]
    pieces = list(pairwise(ends))
    order = data.draw(st.permutations(pieces))
    text = (small_guide.folder / SITE).read_text()

    def checked(kept):
        entries = "".join(
            f"      - {{from: {low}, {'' if math.isinf(high) else f'to: {high}, '}label: r{i}, go: lift}}\n"
            for i, (low, high) in enumerate(kept)
        )
        small_guide.write(SITE, text.replace(WRITTEN, entries))
        try:
            return [check for check, *_ in found(small_guide.sound())]
        finally:
            small_guide.write(SITE, text)

    assert checked(order) == []
    if len(order) > 1:
        assert checked(order[1:]) == ["range-gap"]
        assert "range-overlap" in checked([*order, order[0]])


@pytest.mark.parametrize("key", ["not_taken", "over_range", "not_steady"])
def test_there_is_a_way_on_without_a_figure(small_guide, key):
    small_guide.edit(SITE, f"    {key}: {{go: leave}}\n", "")
    ((check, _, what),) = found(small_guide.sound())
    assert check == "no-way-on"
    assert f"add `{key}: {{go: ...}}`" in next(ranges.check(small_guide.load(), ())).mend
    assert what.startswith("nothing says where to go when")


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_the_unit_is_the_instruments(small_guide, name):
    on = "[main_earth]" if name == "clamp" else "[earth]" if "contact" in name else "[line, earth]"
    small_guide.edit(SITE, "instrument: clamp\n    on: [main_earth]", f"instrument: {name}\n    on: {on}")
    unit = INSTRUMENTS[name].unit
    assert found(small_guide.load()) == ([] if unit == "A" else [("unit", "unit", "unit is `A`")])
    small_guide.edit(SITE, "unit: A", f"unit: {unit}")
    assert found(small_guide.load()) == []


@pytest.mark.parametrize(
    ("instrument", "on", "check"),
    [
        ("clamp", "[main-earth]", "unknown-point"),
        ("clamp", "[earth]", "unknown-point"),
        ("clamp", "[main_earth, main_earth]", "same-point"),
        ("voltmeter", "[main_earth, line]", "unknown-point"),
        ("voltmeter", "[line]", "points"),
        ("two-pole", "[line, neutral, earth]", "points"),
        ("contact", "[line, earth]", "points"),
    ],
)
def test_instruments_are_held_where_they_can_be(small_guide, instrument, on, check):
    small_guide.edit(
        SITE, "instrument: clamp\n    on: [main_earth]", f"instrument: {instrument}\n    on: {on}"
    )
    small_guide.edit(SITE, "unit: A", f"unit: {INSTRUMENTS[instrument].unit}")
    assert [one for one, *_ in found(small_guide.load())] == [check]
