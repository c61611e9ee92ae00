"""Who has the job at each end, in the guides that are here; one meaning of what is not settled."""

from __future__ import annotations

from pathlib import Path

import pytest

from build_tools.checks import CHECKS, outcomes
from build_tools.guide import loading
from build_tools.guide.models import PRIORITIES, Outcome

ROOT = Path(__file__).parent.parent.parent
GUIDES = ["guide_src", "build_tools/starter/guide", "tests/guides/small", "tests/guides/walked"]


def test_it_is_among_the_checks() -> None:
    assert outcomes.check in CHECKS


@pytest.mark.parametrize("name", GUIDES)
def test_every_end_of_ours_says_who_has_the_job(name: str) -> None:
    assert list(outcomes.check(loading.load(ROOT / name), ())) == []


@pytest.mark.parametrize("name", [*GUIDES, "tests/operators/harrowfen.yaml"])
def test_what_is_not_settled_means_the_same_everywhere(name: str) -> None:
    """No guide of ours, and none that `new` writes, says of it that no work follows."""
    file = ROOT / name if name.endswith(".yaml") else None
    operator = loading.load(ROOT / ("guide_src" if file else name), operator=file).operator
    assert operator and list(operator.priorities)[-1] == PRIORITIES[-1] == "unsettled"
    words = operator.priorities["unsettled"]
    assert not {"nothing to do", "no work", "no further"} & {words.label.lower(), words.means.lower()[:10]}
    assert "none" not in PRIORITIES


def test_one_home_that_carries_is_handed_over_and_says_what_comes_next() -> None:
    """The tests of one home end so where the home next door has the broken PEN."""
    carries = loading.load(ROOT / "guide_src").tree_files["test-one-home"].spec.nodes["carries"]
    assert isinstance(carries, Outcome) and carries.priority == "unsettled" and not carries.closes
    assert carries.next and "every home that shares metalwork" in carries.next
    assert carries.hand_over and carries.hand_over.startswith("The control room:")


@pytest.mark.parametrize(
    "words", ["Nobody", "nobody yet.", "No one", "N/A", "-", "None: it is open", "Someone"]
)
def test_nobody_is_no_somebody(small_guide, words: str) -> None:
    small_guide.edit("trees/site/main-earth.yaml", "hand_over: The control room.", f'hand_over: "{words}"')
    found = list(outcomes.check(small_guide.sound(), ()))
    assert [one.check for one in found] == ["handed-to-nobody"]


@pytest.mark.parametrize("words", ["The control room.", "Nonesuch Networks", "Whoever sent you: the figures"])
def test_somebody_is(small_guide, words: str) -> None:
    small_guide.edit("trees/site/main-earth.yaml", "hand_over: The control room.", f'hand_over: "{words}"')
    assert list(outcomes.check(small_guide.sound(), ())) == []
