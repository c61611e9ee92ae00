"""What becomes of counts: rows with bounds on the promise's side, and which promises they break."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from math import comb
from pathlib import Path

import pytest

from build_tools.guide.models import Promise
from build_tools.guide.trees import Guide
from build_tools.proof import evidence
from build_tools.proof.cases import ANY, Case
from build_tools.proof.detection_table import THRESHOLDS, Seen, SeenRow
from build_tools.proof.evidence import Row
from build_tools.proof.moved import Moved
from build_tools.proof.pairs_row import PairsRow
from build_tools.proof.visit_table import VisitCase


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


def test_parts_add_up_to_all_that_either_counted(guide: Guide) -> None:
    one, two, three = (Case(promise_of(guide, "found").id, tree, "healthy") for tree in ("a", "b", "c"))
    first = evidence.Counted(Counter({(one, "asked"): 3, (two, "asked"): 1}), {one: [[1, 2], [3, 4]]})
    second = evidence.Counted(Counter({(two, "asked"): 2}), {one: [[10, 20], [30, 40]], three: [[5, 6]]})
    whole = first + second
    assert whole.counts == {(one, "asked"): 3, (two, "asked"): 3}
    assert whole.sums == {one: [[11, 22], [33, 44]], three: [[5, 6]]}
    assert (first.sums, second.sums[one]) == ({one: [[1, 2], [3, 4]]}, [[10, 20], [30, 40]])


def test_evidence_comes_back_as_it_was_kept(guide: Guide, tmp_path: Path) -> None:
    """With every kind of row, and whole: whoever changes a figure in the file is found out."""
    there = replace(guide, folder=tmp_path)
    assert evidence.read(there) is None
    found = promise_of(guide, "found")
    case = Case(found.id, "tingle-on-pipework", "service-pen-high")
    made = evidence.of_counts(guide, of({(case, "asked"): 40, (case, "happened"): 39}))
    corners = {found.id: made.ends[1:3]}
    made = evidence.with_corners(made, corners, Counter({(case, "asked"): 9, (case, "happened"): 8}))
    pairs = PairsRow("tree", "street", 9, 3, 2, (("one and two", 2),), ("one@1+two@2 from 3",))
    visits = Counter({(VisitCase("tree", "healthy", "always", "perfect"), "visits"): 2})
    made = evidence.with_visits(evidence.with_pairs(made, [pairs]), visits)
    moved = Moved(((0, 0.25),), (2,))
    seen = SeenRow("loop", "service-pen-high", "alone", 8, 5, 0.1, 0.9, (), moved, ((4, 1), (4, 4)))
    rows = (replace(made.rows[0], moved=moved, by_joint=((20, 20), (20, 19))),)
    made = replace(made, rows=rows, seen=(seen,))
    made = replace(made, digest=made.own_key)
    evidence.write(there, made)
    kept = evidence.read(there)
    assert kept == made and kept.is_as_measured
    assert kept.rows[0].corner and (kept.rows[0].corner.asked, kept.rows[0].corner.happened) == (9, 8)
    assert kept.corners == {found.id: (1, 2)} and kept.pairs == (pairs,) and len(kept.visits) == 1
    file = tmp_path / evidence.FILE
    for old, new in (('"happened": 39', '"happened": 40'), ('"corners": {', '"corners": {"calm": [0], ')):
        text = file.read_text("utf-8")
        assert old in text
        file.write_text(text.replace(old, new, 1), "utf-8")
        spoilt = evidence.read(there)
        assert spoilt and not spoilt.is_as_measured
        evidence.write(there, made)
    file.write_text("{}", "utf-8")
    assert evidence.read(there) is None


def test_what_each_test_shows_is_told_apart_from_what_is_promised(guide: Guide) -> None:
    """In order; a clamp with how many read from each threshold to the next."""
    case = Case(promise_of(guide, "found").id, "tingle-on-pipework", "service-pen-open")
    clamp, loop = (Seen(test, "service-pen-open", "alone") for test in ("clamp-tails", "loop-line-earth"))
    counts = {(case, "asked"): 40, (loop, "asked"): 30, (loop, "shows"): 3, (clamp, "asked"): 20}
    read = {(clamp, "shows"): 15, (clamp, "from 0"): 5, (clamp, "from 20"): 15}
    nobody = {(replace(loop, where="sharing"), "asked"): 0}
    made = evidence.of_counts(guide, of({**counts, **read, **nobody}))
    one, two = made.seen
    assert [(row.test, row.asked, row.shows, row.share) for row in made.seen] == [
        ("clamp-tails", 20, 15, 0.75),
        ("loop-line-earth", 30, 3, 0.1),
    ]
    assert len(made.rows) == 1 and two.by_amperes == two.above == ()
    assert one.by_amperes == (5, *(0,) * (len(THRESHOLDS) - 2), 15)
    assert one.above == (1, *(0.75,) * (len(THRESHOLDS) - 1))
    assert chance_of_at_most(15, 20, one.high) == pytest.approx(0.025, abs=1e-4)
    assert 1 - chance_of_at_most(14, 20, one.low) == pytest.approx(0.025, abs=1e-4)


def test_a_corner_has_one_sided_bounds_and_a_detail_has_none(guide: Guide) -> None:
    whole = Case(promise_of(guide, "robust").id, "tingle-on-pipework", "service-pen-open")
    part = replace(whole, detail="another: No")
    rows = {(whole, "asked"): 50, (whole, "happened"): 4, (part, "asked"): 3, (part, "happened"): 3}
    made = evidence.of_counts(guide, of(rows))
    told = evidence.with_corners(
        made, {}, Counter({(whole, "asked"): 10, (whole, "happened"): 2, (part, "asked"): 9})
    )
    corners = {row.detail: row.corner for row in told.rows}
    assert corners["another: No"] is None
    assert (corner := corners[""]) and (corner.asked, corner.happened) == (10, 2)
    assert 1 - chance_of_at_most(1, 10, corner.low) == pytest.approx(0.05, abs=1e-4)
    assert chance_of_at_most(2, 10, corner.high) == pytest.approx(0.05, abs=1e-4)
