"""The figures that visits go by: every one stated with its source, and no other."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from build_tools.guide import models, source
from build_tools.guide.loading import load
from build_tools.guide.validation import conform
from calc.instruments import INSTRUMENTS
from calc.minutes import ACTS, MADE_SAFE, Minutes, Stated
from calc.work import ACTIONS

GUIDE = Path(__file__).parents[2] / "guide_src"


@pytest.fixture(scope="module")
def minutes() -> Minutes:
    stated = load(GUIDE).minutes
    assert stated is not None
    return stated


def test_everything_that_a_tree_can_do_takes_time(minutes: Minutes) -> None:
    assert {*INSTRUMENTS, *ACTIONS, "go-next-door", "come-back"} < set(ACTS) == set(minutes.acts)
    assert all(minutes.act(name) > 0 for name in ACTS)


def test_every_priority_has_its_time(minutes: Minutes) -> None:
    assert set(MADE_SAFE) == {*models.PRIORITIES, "closed"}
    waits = [minutes.made_safe[name].value for name in ("emergency", "urgent", "soon", "routine")]
    assert waits == sorted(waits)


def test_every_figure_has_its_source(minutes: Minutes) -> None:
    for stated in (minutes.acts, minutes.made_safe, minutes.persons, minutes.chances):
        assert all(figure.source.strip() for figure in stated.values())
    assert all(law.source.strip() for law in minutes.laws.values())


@pytest.mark.parametrize(
    ("field", "change", "says"),
    [
        ("acts", {"clamp": None}, "acts must also state clamp"),
        ("acts", {"clamps": Stated(1, "ours")}, "acts: nothing is called clamps"),
        ("made_safe", {"closed": None}, "made_safe must also state closed"),
        ("chances", {"no-soil": Stated(1.2, "ours")}, "no-soil must be from 0 to 1"),
        ("persons", {"touch-wet": Stated(0.99, "ours")}, "shares of the time"),
    ],
)
def test_what_cannot_be_is_refused(
    minutes: Minutes, field: str, change: dict[str, Stated | None], says: str
) -> None:
    altered = {name: one for name, one in {**getattr(minutes, field), **change}.items() if one is not None}
    with pytest.raises(ValueError, match=says):
        replace(minutes, **{field: altered})


def test_no_law_and_no_figure_below_zero(minutes: Minutes) -> None:
    with pytest.raises(ValueError, match="at least one"):
        replace(minutes, laws={})
    with pytest.raises(ValueError, match="0 or more"):
        Stated(-1, "ours")


def test_a_slip_is_told_at_its_place(tmp_path: Path) -> None:
    file = tmp_path / "minutes.yaml"
    written = (GUIDE / "minutes.yaml").read_text("utf-8")
    for old, new, says in (
        ("bad_minutes: 20,", "", "needs bad_minutes"),
        ("  no-soil:", "  no-soils:", "must also state no-soil"),
        ("when: with-load", "when: with-loads", "with-loads"),
        ("{value: 4, source: project choice}", "{value: four, source: project choice}", "four"),
    ):
        file.write_text(written.replace(old, new, 1), "utf-8")
        (finding, *_) = conform(Minutes, source.read(file))[1]
        assert says in str(finding), (says, finding)
        assert finding.place.line > 1
