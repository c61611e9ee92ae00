"""How figures move with what is judged: cases whose answer is known exactly, and scipy's binomial."""

from __future__ import annotations

import json
import random
import re
import shutil
from collections import Counter
from collections.abc import Callable
from dataclasses import astuple, replace
from pathlib import Path

import numpy as np
import pytest
from scipy.stats import binomtest

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.pages.joint_curve import joint_tables
from build_tools.pages.judged import Judged
from build_tools.pages.page import Book
from build_tools.pages.proof import proof_page
from build_tools.proof import corners, evidence
from build_tools.proof.binomial import bounds, is_beyond
from build_tools.proof.cases import Case, Counts
from build_tools.proof.corners import count_corners, worst_corners
from build_tools.proof.counting import count_batch
from build_tools.proof.detection_rates import see_batch
from build_tools.proof.detection_table import Seen, SeenAt, SeenRow, Sight
from build_tools.proof.doubts import AS_DRAWN, OHMS, End, ends_of, put, weight
from build_tools.proof.evidence import Counted, Evidence, Part, Row, with_corners
from build_tools.proof.moved import AT_LEAST, Corner, Moved, judged
from build_tools.proof.procedures import PLAIN, procedures
from build_tools.proof.street_batch import batches, faulty_batches
from build_tools.proof.weighing import Weighing
from calc.drawn_streets import Drawn, draw
from calc.sampling import Sampling

GUIDE = Path(__file__).parents[2] / "guide_src"
CASE = Case("made-up", "tree", "healthy")
MANY = 3000


def only(sampling: Sampling, *layouts: str) -> Sampling:
    """The sampling with some of its shapes of street."""
    return replace(sampling, layouts=tuple(each for each in sampling.layouts if each.id in layouts))


def weighed(sampling: Sampling, event: Callable[[Drawn], bool], many: int = MANY) -> tuple[float, Moved]:
    """How often the event is so as drawn, and how that moves."""
    weighing = Weighing(sampling)
    asked = so = 0
    for batch in batches(sampling, range(many)):
        happened = np.array([event(each) for each in batch.drawn])
        weighing.add(CASE, np.ones(batch.size, bool), happened)
        weighing.count(batch)
        asked, so = asked + batch.size, so + int(happened.sum())
    return so / asked, judged("healthy", so / asked, weighing.sums[CASE].tolist())[0]


def joined(drawn: Drawn, *pairs: tuple[str, str]) -> bool:
    """Whether the pipe is whole between these neighbours."""
    return not set(pairs) & set(drawn.street.metalwork[0].gaps)


def test_a_pipe_passes_the_joint_as_often_as_it_is_put(sampling: Sampling) -> None:
    """Drawn once a street there, at a chance of 0.3, doubted by 0.05 and 0.9: known without any street."""
    spread = sampling.spreads["pipe-passes-the-joint"]
    assert (spread.chance, spread.doubt) == (0.3, (0.05, 0.9))
    small = only(sampling, "three-and-three")
    share, moved = weighed(small, lambda drawn: joined(drawn, ("3", "4")))
    ends = ends_of(small)
    assert share == pytest.approx(0.3, abs=0.03)
    there = {ends[place]: found for place, found in moved.ends}
    assert there == {
        End("pipe-passes-the-joint", "high"): pytest.approx(0.9, abs=0.02),
        End("pipe-passes-the-joint", "low"): pytest.approx(0.05, abs=0.01),
    }, "nor does anything else move it"
    assert ends[moved.ends[0][0]] == End("pipe-passes-the-joint", "high"), "the greatest move first"
    assert moved.between(share) == (there[End("pipe-passes-the-joint", "low")], moved.ends[0][1])


def test_several_draws_of_a_street_move_together(sampling: Sampling) -> None:
    """Four homes at one joint, whole at each of the three gaps with 0.6, or with 0.2 or 0.95: cubed."""
    small = only(sampling, "four-on-one-joint")
    share, moved = weighed(small, lambda drawn: not drawn.street.metalwork[0].gaps)
    assert share == pytest.approx(0.6**3, abs=0.025)
    there = {ends_of(small)[place]: found for place, found in moved.ends}
    assert there == {
        End("pipe-is-whole", "high"): pytest.approx(0.95**3, abs=0.03),
        End("pipe-is-whole", "low"): pytest.approx(0.2**3, abs=0.002),
    }


def test_a_third_of_a_range_a_choice_and_a_shape_of_street(sampling: Sampling) -> None:
    """Each is a condition on the draw itself: in the lower third of a range nothing is above its middle."""
    small = only(sampling, "four-on-one-joint", "three-and-three")

    def at(end: End, event: Callable[[Drawn], bool]) -> float:
        place = ends_of(small).index(end)
        return dict(weighed(small, event, 600)[1].ends)[place]

    volts = End("supply-volts", "low")
    assert at(volts, lambda drawn: drawn.street.supply.volts > 240) == 0
    assert at(replace(volts, at="high"), lambda drawn: drawn.street.supply.volts > 240) == 1
    assert at(End("pipe", "lead"), lambda drawn: drawn.street.metalwork[0].pipe == "lead") == 1
    assert at(End("layout", "three-and-three"), lambda drawn: len(drawn.street.premises) == 6) == 1


def test_streets_weigh_as_drawn_on_the_whole(sampling: Sampling) -> None:
    """Weights are how much likelier a street is at an end, so their mean is 1 whatever the end."""
    drawn = [draw(sampling, number) for number in range(MANY)]
    for end in ends_of(sampling):
        if not end.is_walked_anew:
            weights = np.array([weight(sampling, end, each) for each in drawn], float)
            error = weights.std() / len(weights) ** 0.5
            assert abs(weights.mean() - AS_DRAWN) < 4.5 * error + 0.02 * AS_DRAWN, end


def test_what_is_weighed_agrees_with_streets_drawn_so(sampling: Sampling) -> None:
    small = only(sampling, "three-and-three", "pairs-on-three-joints")
    end = End("pipe-passes-the-joint", "high")

    def event(each: Drawn) -> bool:
        return each.street.premises["1"].load_kw[0] > 0.5 and not each.street.metalwork[0].gaps

    _, moved = weighed(small, event)
    drawn = [event(draw(put(small, [end]), number)) for number in range(MANY)]
    low, high = bounds(MANY, sum(drawn), 0.001)
    assert low - 0.02 < dict(moved.ends)[ends_of(small).index(end)] < high + 0.02


def test_what_has_no_effect_shows_none(sampling: Sampling) -> None:
    """An event that nothing drawn decides; of some hundred ends none is taken for one that moves it."""
    lot = random.Random("no effect")
    told = [lot.random() < 0.9 for _ in range(MANY)]
    share, moved = weighed(sampling, lambda drawn: told[drawn.number])
    assert moved.ends == () and moved.between(share) == (share, share)


def test_an_end_of_which_few_streets_speak_is_not_known() -> None:
    some = [[45_000, 60_000, 50_000], [4_000, 60_000, 25_000], [45_000_000, 60_000_000, 1_250_000_000]]
    assert Moved.by_weights(0.5, some) == Moved(((1, 1.0),), (0, 2))
    assert AT_LEAST == 50, "45 and 60 streets of one weight; 50 of which some weigh so much that two speak"
    assert Moved.by_weights(0.5, [[0], [0], [0]]) == Moved((), (0,))


def test_a_share_at_an_end_is_kept_with_four_places() -> None:
    third = [[90_000_000], [30_000_000], [90_000_000_000]]
    assert Moved.by_weights(0.5, third).ends == ((0, 0.3333),)


def test_the_bounds_at_a_corner_are_kept_with_six_places() -> None:
    exact = bounds(70, 33, 0.05)
    corner = Corner.of(70, 33)
    assert (corner.low, corner.high) == tuple(float(f"{bound:.6f}") for bound in exact)
    assert corner.low != exact[0] and corner.high != exact[1]


def test_beyond_the_bounds_is_what_scipy_says() -> None:
    """scipy.stats.binomtest, the interval of Clopper and Pearson at 99.9 %."""
    for happened, asked in ((0, 150), (3, 150), (75, 150), (149, 150), (150, 150)):
        exact = binomtest(happened, asked).proportion_ci(0.999, "exact")
        for share in (0.0, 0.001, 0.01, 0.05, 0.2, 0.45, 0.62, 0.95, 0.99, 1.0):
            assert is_beyond(share, asked, happened, 0.0005) == (not exact.low <= share <= exact.high)


def test_counts_of_parts_are_the_counts_of_the_whole(guide: Guide, sampling: Sampling) -> None:
    """Weighed sums and corners, split in 1, 2 and 4, to the same numbers."""
    kinds, tests = ("healthy", "mains-pen-open"), procedures(guide)

    def counted(part: Part) -> Counted:
        counts: Counts = Counter()
        seen: Sight = Counter()
        weighing = Weighing(sampling)
        for batch in faulty_batches(sampling, range(part.number - 1, 24, part.of), kinds):
            count_batch(guide, batch, counts, weighing)
            see_batch(tests, batch, seen, weighing)
            weighing.count(batch)
        return Counted(Counter(), {key: rows.tolist() for key, rows in weighing.sums.items()})

    whole = counted(Part(1, 1)).sums
    assert any(sum(rows[1]) for rows in whole.values())
    for of in (2, 4):
        total = Counted()
        for part in Part.all(of):
            total += counted(part)
        assert total.sums == whole
        assert all(type(n) is int for rows in total.sums.values() for row in rows for n in row)


def test_corners_of_parts_add_up(guide: Guide, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(corners, "KINDS", ("healthy", "service-pen-open"))
    monkeypatch.setattr(corners, "CORNER_STREETS", 8)
    ends = {"useful": (End("pipe-passes-the-joint", "high"), End("layout", "three-and-three"))}

    def counted(of: int) -> Counts:
        total: Counts = Counter()
        for part in Part.all(of):
            for batch, counts in count_corners(guide, ends, part):
                assert {each.layout for each in batch.drawn} == {"three-and-three"}
                total.update(counts)
        return total

    whole = counted(1)
    assert whole[Case("useful", "bright-and-dim-lights", "healthy"), "asked"] == 8
    seen = {key.cell.test for key, _ in whole if isinstance(key, SeenAt) and key.ends == ends["useful"]}
    assert seen == {test.id for test in procedures(guide).values() if PLAIN in test.limits}
    assert +counted(2) == +counted(4) == +whole


@pytest.mark.parametrize(("fault", "worst"), [("service-pen-open", 1), ("healthy", 0)])
def test_a_test_is_told_at_the_corner_where_it_does_worst(guide: Guide, fault: str, worst: int) -> None:
    """Where it shows least of a fault, or alarms oftenest on healthy streets; not where few were drawn."""
    cell = Seen("loop", fault, "alone")
    ends = made_up(guide).ends[:3]
    counted = [(200, 190), (100, 20), (40, 0 if worst else 40)]
    counts = Counter()
    for end, (asked, shown) in zip(ends, counted, strict=True):
        counts[SeenAt(cell, (end,)), "asked"] = asked
        counts[SeenAt(cell, (end,)), "happened"] = shown
    row = SeenRow(cell.test, cell.fault, cell.where, 500, 300, 0.0, 1.0)
    kept = with_corners(
        replace(made_up(guide), seen=(row,)), {f"promise {end.at}": (end,) for end in ends}, counts
    )
    (told,) = kept.seen
    assert (told.corner.asked, told.corner.happened) == counted[worst]
    assert told.corner_at == (worst,)
    assert SeenRow.of(json.loads(json.dumps(astuple(told)))) == told


def row(promise: str, tree: str, fault: str, share: float, *ends: tuple[int, float]) -> Row:
    return Row(promise, tree, fault, "", 1000, round(1000 * share), 0.0, 1.0, Moved(ends))


def made_up(guide: Guide, *rows: Row) -> Evidence:
    """Evidence of a guide with these rows."""
    assert guide.sampling is not None
    ends = ends_of(guide.sampling)
    return Evidence(evidence.grounds(guide), 1, 1000, "", rows, (), ends)


def test_a_corner_takes_the_worse_end_of_the_few_spreads_that_matter_most(
    guide: Guide, sampling: Sampling
) -> None:
    place = ends_of(sampling).index
    passes, pipe = End("pipe-passes-the-joint", "high"), End("pipe", "lead")
    volts, load = End("supply-volts", "high"), End("load-kw", "low")
    found = made_up(
        guide,
        row("useful", "bright-and-dim-lights", "healthy", 0.8, (place(passes), 0.5), (place(load), 0.75)),
        row("useful", "tingle-on-pipework", "healthy", 0.8, (place(End(passes.spread, "low")), 0.95)),
        row("useful", "tingle-on-pipework", "healthy", 0.8, (place(End("pipe", "copper-22")), 0.7)),
        row("useful", "tingle-on-pipework", "healthy", 0.8, (place(pipe), 0.6), (place(volts), 0.7)),
        row("calm", "caller-lights", "healthy", 0.2, (place(load), 0.4)),
    )
    worst = worst_corners(guide, found)
    assert worst["useful"] == (passes, pipe, volts)
    assert worst["no-harm"] == worst["useful"], "nothing is seen to move it"
    assert "calm" not in worst, "a promise of calls is of all faults together"


@pytest.mark.parametrize(
    ("corner", "breaks"),
    [((400, 200), True), ((400, 280), False), ((400, 265), False), ((400, 250), True), ((5, 2), False)],
)
def test_a_corner_breaks_a_promise_only_beyond_chance(
    guide: Guide, corner: tuple[int, int], breaks: bool
) -> None:
    useful = next(promise for promise in guide.promises if promise.id == "useful")
    promise = useful.model_copy(update={"at_least": 0.7})
    low, high = bounds(*corner, 0.05)
    one = replace(row("useful", "bright-and-dim-lights", "healthy", 0.8), corner=Corner(*corner, low, high))
    assert one.breaks(promise) == breaks


def test_the_proof_page_says_what_moves_a_figure_and_where_it_breaks(
    guide: Guide, sampling: Sampling, tmp_path: Path
) -> None:
    folder = tmp_path / "guide"
    shutil.copytree(GUIDE, folder)
    copy = load(folder)
    assert copy.settings is not None
    place = ends_of(sampling).index(End("pipe-passes-the-joint", "high"))
    moved = row("useful", "bright-and-dim-lights", "healthy", 0.8, (place, 0.493))
    still = row("useful", "tingle-on-pipework", "healthy", 0.8)
    lost = replace(
        still, tree="neighbour-comes-and-goes", moved=Moved((), tuple(range(len(ends_of(sampling)))))
    )
    kept = replace(
        made_up(copy, replace(moved, corner=Corner(400, 150, 0.33, 0.42)), still, lost),
        corners={"useful": (place,)},
    )
    evidence.write(copy, replace(kept, digest=kept.own_key))
    assert evidence.current(copy) == replace(kept, digest=kept.own_key)
    page = proof_page(Book(copy, copy.settings, copy.operator))
    assert page is not None
    section = re.sub(r"<[^>]+>", " ", page.html.partition('id="useful"')[2].partition("<h2")[0])
    said = " ".join(section.split())
    assert "Worst corner: pipe passes the joint 90 %." in said
    assert "49.3 to 80.0 % pipe passes the joint 90 % 150 of 400 33.0 to 42.0 % breaks it" in said
    assert "no move seen no such street there" in said and "not known no such street there" in said


def test_what_moves_a_figure_is_told_by_spread(guide: Guide, sampling: Sampling) -> None:
    place = ends_of(sampling).index
    ends = [
        (End("pipe-passes-the-joint", "high"), 0.5),
        (End("layout", "terrace-of-24"), 0.95),
        (End("pipe-passes-the-joint", "low"), 0.85),
        (End("pipe", "copper-22"), 0.83),
        (End("load-kw", "low"), 0.82),
        (End("supply-volts", "low"), 0.81),
    ]
    one = row("useful", "tree", "healthy", 0.8, *((place(end), share) for end, share in ends))
    assert Judged(sampling, made_up(guide, one)).by_spread(one) == (
        "pipe passes the joint 90 % 50.0 %, pipe passes the joint 5 % 85.0 %; only terrace of 24 95.0 %; "
        "pipe copper 22 83.0 %; load kw low 82.0 %; and 1 more"
    )


def test_a_bad_joint_is_told_by_its_size() -> None:
    parts = tuple((40, shows) for shows in range(0, 40, 5))
    assert len(parts) == len(OHMS) - 1
    seen = SeenRow("loop", "service-pen-high", "alone", 320, 140, 0.0, 1.0, (), Moved(), parts)
    few = replace(seen, where="sharing", by_joint=((0, 0),) * 7 + ((40, 40),))
    dark = replace(seen, test="dark", by_joint=((40, 0),) * 8)
    held = replace(row("found", "visit", "service-pen-high", 1.0), by_joint=((29, 29),) + ((40, 40),) * 7)
    (table,) = joint_tables(
        [seen, few, dark], [held], {"loop": "Loop", "dark": "Dark"}, ["loop"], ["found"], {"visit": "Visit"}
    )
    ((letter, _, title, shares),) = table.tests
    assert (letter, title) == ("A", "Loop")
    assert shares == pytest.approx([0, 5 / 40, 10 / 40, 15 / 40, 20 / 40, 25 / 40, 30 / 40, 75 / 80])
    assert table.trees == (("Visit", (None,) + (1.0,) * 7),)
    assert "A, Loop: 0% at 0.032 ohm" in table.curve


def test_joints_are_counted_by_their_size(guide: Guide, sampling: Sampling) -> None:
    """Each street once, in the part of its joint; and the loop sees the worse of a home's own PEN more."""
    tests = procedures(guide)
    seen: Sight = Counter()
    weighing = Weighing(sampling)
    for batch in faulty_batches(sampling, range(150), ["service-pen-high"]):
        see_batch(tests, batch, seen, weighing)
        weighing.count(batch)
    for cell, rows in weighing.sums.items():
        _, joints = judged("service-pen-high", 0.5, rows.tolist())
        assert sum(asked for asked, _ in joints) == seen[cell, "asked"]  # type: ignore[index]
        assert sum(shows for _, shows in joints) == seen[cell, "shows"]  # type: ignore[index]
        if cell.test == "loop-line-earth" and cell.where == "alone":  # type: ignore[union-attr]
            (asked, shows), (all_asked, all_shows) = np.sum(joints[:3], 0), np.sum(joints[5:], 0)
            assert all_shows / all_asked > 0.8 > 0.5 > shows / asked
    assert judged("service-pen-open", 0.5, rows.tolist())[1] == ()
