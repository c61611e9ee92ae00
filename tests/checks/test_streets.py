"""A street that is walked on could be there, and is healthy when nothing is wrong."""

import pytest

from build_tools.checks import streets

STREET = "streets/short-row.yaml"


@pytest.mark.parametrize(
    ("old", "new", "check"),
    [
        ("metres: 90", "metres: 90000", "implausible-length"),
        ("volts: 240", "volts: 24", "healthy-volts"),
    ],
)
def test_a_slip_of_the_unit_is_refused(small_guide, old, new, check):
    text = (small_guide.folder / STREET).read_text("utf-8")
    if old not in text:
        old, new = "supply: {", "supply: {volts: 24, "
    small_guide.edit(STREET, old, new)
    found = list(streets.check(small_guide.sound(), []))
    assert {f.check for f in found} == {check}


def test_the_small_street_is_left_alone(small_guide):
    assert list(streets.check(small_guide.sound(), [])) == []
