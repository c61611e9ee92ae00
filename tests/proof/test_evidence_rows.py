"""What becomes of counts: rows with bounds on the promise's side, and which promises they break."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from math import comb
from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import evidence
from build_tools.proof.cases import ANY, Case
from build_tools.proof.detection_table import Seen
from build_tools.proof.evidence import Row

GUIDE = Path(__file__).parents[2] / "guide_src"


@pytest.fixture(scope="module")
def guide() -> Guide:
    return load(GUIDE)


def chance_of_at_most(happened: int, asked: int, share: float) -> float:
    """By the definition of the binomial distribution."""
    return sum(comb(asked, k) * share**k * (1 - share) ** (asked - k) for k in range(happened + 1))


def of(counts: Mapping[tuple[Case | Seen, str], int]) -> evidence.Counted:
    """Plain counts, with nothing weighed."""
    return evidence.Counted(Counter(counts))


def promise_of(guide: Guide, kind: str) -> Promise:
    """The first promise of a kind."""
    return next(one for one in guide.promises if one.kind == kind)


def counted(guide: Guide, **counts: int) -> tuple[Row, ...]:
    """The rows of one case of a promise of kind `found`."""
    case = Case(promise_of(guide, "found").id, "tingle-on-pipework", "service-pen-open")
    return evidence.of_counts(guide, of({(case, what): n for what, n in counts.items()})).rows


def test_what_is_to_happen_often_has_a_lower_bound_and_no_upper_one(guide: Guide) -> None:
    (row,) = counted(guide, asked=400, happened=390)
    assert (row.asked, row.happened, row.high) == (400, 390, 1.0)
    assert row.low < 390 / 400
    assert 1 - chance_of_at_most(389, 400, row.low) == pytest.approx(0.05)


def test_what_is_to_happen_seldom_has_an_upper_bound_and_no_lower_one(guide: Guide) -> None:
    case = Case(promise_of(guide, "no-harm").id, "tingle-on-pipework", "service-pen-open")
    (row,) = evidence.of_counts(guide, of({(case, "asked"): 400, (case, "happened"): 3})).rows
    assert (row.asked, row.happened, row.low) == (400, 3, 0.0)
    assert row.high > 3 / 400
    assert chance_of_at_most(3, 400, row.high) == pytest.approx(0.05)


def test_a_case_of_which_no_street_was_asked_is_no_row(guide: Guide) -> None:
    assert counted(guide, asked=0, happened=0) == ()
    assert len(counted(guide, asked=1, happened=0)) == 1


def test_the_detail_of_a_case_is_of_all_its_streets(guide: Guide) -> None:
    whole = Case(promise_of(guide, "robust").id, "tingle-on-pipework", "service-pen-open")
    part = replace(whole, detail="another: No")
    counts = {(whole, "asked"): 50, (whole, "happened"): 4, (part, "asked"): 3, (part, "happened"): 3}
    rows = {row.detail: row for row in evidence.of_counts(guide, of(counts)).rows}
    assert (rows[""].asked, rows[""].happened) == (50, 4)
    assert (rows["another: No"].asked, rows["another: No"].happened) == (50, 3)


def test_an_end_that_every_open_street_can_come_to_is_not_told(guide: Guide) -> None:
    """Such an end comes of a question that nothing there decides, and says nothing of a test."""
    whole = Case(promise_of(guide, "useful").id, "tingle-on-pipework", "healthy")
    told, silent = replace(whole, detail="hand-over"), replace(whole, detail="not-known")
    ends = {(told, "happened"): 5, (silent, "happened"): 6}
    counts = {(whole, "asked"): 50, (whole, "happened"): 44, **ends}
    assert {row.detail for row in evidence.of_counts(guide, of(counts)).rows} == {"", "hand-over"}
    mistakes = {
        (replace(case, promise=promise_of(guide, "robust").id), what): n for (case, what), n in counts.items()
    }
    assert len(evidence.of_counts(guide, of(mistakes)).rows) == 3


def row_of(promise: Promise, **more: object) -> Row:
    return replace(Row(promise.id, promise.trees[0], "service-pen-open", "", 400, 396, 0.0, 1.0), **more)  # type: ignore[arg-type]


def test_a_promise_is_broken_by_its_bound_and_not_by_its_share(guide: Guide) -> None:
    least, most = (promise_of(guide, kind) for kind in ("found", "no-harm"))
    share, limit = least.at_least or 0, most.at_most or 0
    assert share > 0 and limit > 0
    for low, broken in ((0.999 * share, True), (share, False), (1.001 * share, False)):
        assert list(evidence.broken(least, [row_of(least, low=low)])) == [row_of(least, low=low)] * broken
    for high, broken in ((1.01 * limit, True), (limit, False), (0.0, False)):
        assert list(evidence.broken(most, [row_of(most, high=high)])) == [row_of(most, high=high)] * broken


def test_only_its_own_rows_break_a_promise(guide: Guide) -> None:
    site, call = (promise_of(guide, kind) for kind in ("found", "heard"))
    assert list(evidence.broken(site, [row_of(call)])) == []
    assert list(evidence.broken(site, [row_of(site, detail="another: No")])) == []
    assert list(evidence.broken(site, [row_of(site, fault=ANY)])) == [row_of(site, fault=ANY)]
    assert list(evidence.broken(call, [row_of(call)])) == []
    assert list(evidence.broken(call, [row_of(call, fault=ANY)])) == [row_of(call, fault=ANY)]


def test_few_streets_bear_out_little(guide: Guide) -> None:
    """Three of three is no proof of much: with so few, the bound is the cube root of 5 %."""
    (row,) = counted(guide, asked=3, happened=3)
    assert row.low == pytest.approx(0.05 ** (1 / 3))
    promise = promise_of(guide, "found")
    assert list(evidence.broken(promise, [row])) == [row]
    (sure,) = counted(guide, asked=400, happened=400)
    assert list(evidence.broken(promise, [sure])) == []


def test_evidence_that_was_changed_is_known_by_its_digest(guide: Guide) -> None:
    case = Case(promise_of(guide, "found").id, "tingle-on-pipework", "service-pen-open")
    kept = evidence.of_counts(guide, of({(case, "asked"): 40, (case, "happened"): 40}))
    assert kept.is_as_measured
    assert not replace(kept, rows=(replace(kept.rows[0], happened=39),)).is_as_measured
    assert guide.sampling is not None
    assert (kept.seed, kept.streets) == (guide.sampling.seed, guide.sampling.streets)


@pytest.mark.parametrize("of", [1, 2, 8])
def test_parts_are_told_as_they_are_written(of: int) -> None:
    parts = evidence.Part.all(of)
    assert [str(part) for part in parts] == [f"{n}/{of}" for n in range(1, of + 1)]
    assert [evidence.Part.parse(str(part)) for part in parts] == parts
    for wrong in ("0/2", "3/2", "1", "1/0", "one/2", "1/two", "/2", ""):
        with pytest.raises(ValueError, match=r"part"):
            evidence.Part.parse(wrong)
