"""The trees that lists begin with."""

from __future__ import annotations

import pytest

from build_tools.checks import first


@pytest.mark.parametrize(
    ("listed", "finding"),
    [
        ("main-earth, tingle-told", []),
        (
            "main-earth, tingle-tolt",
            ["guide.yaml:4:21: no tree is called `tingle-tolt` - did you mean `tingle-told`?"],
        ),
    ],
)
def test_what_is_put_first_is_a_tree(small_guide, listed, finding):
    guide = small_guide.edit(
        "guide.yaml", "reviewed: 2026-06-01", f"reviewed: 2026-06-01\nfirst: [{listed}]"
    ).sound()
    assert [f"{f.place}: {f.what}" for f in first.check(guide, ())] == finding
