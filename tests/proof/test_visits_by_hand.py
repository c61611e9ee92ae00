"""Visits of a few hand-made streets by trees of a few nodes: every end, minute and exposure is known
beforehand."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
import streets
from batches import as_drawn, batch_of
from batches import parted as without_pipe
from made_trees import made_trees

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide, Tree
from build_tools.proof.crews import Crews
from build_tools.proof.lasting import Lasting
from build_tools.proof.street_batch import StreetBatch, faulty_batches
from build_tools.proof.visit_table import VisitCase
from build_tools.proof.visits import Followed, Visited, count_visits, visit_batch
from calc.drawn_streets import Drawn
from calc.joint_law import JointLaw
from calc.minutes import ACTS, CHANCES, MADE_SAFE, Minutes, Stated
from calc.work import Condition

OTHERWISE = "not_taken: {go: urgent}, over_range: {go: soon}, not_steady: {go: routine}"
TREES = {
    "work": f"""
  warn: {{step: Warn., go: clamp}}
  clamp: {{reading: Clamp., instrument: clamp, on: [main_earth], unit: A,
    ranges: [{{label: any, go: load}}], {OTHERWISE}}}
  load: {{step: Load., does: [switch-on-known-load], go: "off"}}
  "off": {{step: Switch off., does: [quieten-home, open-main-switch], go: probe}}
  probe: {{reading: Probe., instrument: voltmeter, on: [earth, independent_earth], unit: V,
    ranges: [{{label: any, go: again}}], {OTHERWISE}}}
  again: {{reading: Again., instrument: voltmeter, on: [earth, independent_earth], unit: V,
    ranges: [{{label: any, go: emergency}}], {OTHERWISE}}}
""",
    "tail": f"""
  load: {{step: Load., does: [switch-on-known-load], go: clamp}}
  clamp: {{reading: Clamp., instrument: clamp, on: [neutral_tail], unit: A,
    ranges: [{{to: 12, label: little, go: unsettled}}, {{from: 12, label: much, go: emergency}}],
    {OTHERWISE}}}
""",
    "pen": """
  warn: {step: Warn., go: loop}
  loop: {reading: Loop., instrument: loop, on: [line, neutral], unit: ohm,
    ranges: [{to: 1, label: whole, go: touch}, {from: 1, label: high, go: open}],
    not_taken: {go: open}, over_range: {go: open}, not_steady: {go: routine}}
  touch: {step: Switch off., does: [open-main-switch], go: again}
  again: {reading: Loop., instrument: loop, on: [line, neutral], unit: ohm,
    ranges: [{to: 1, label: whole, go: closed}, {from: 1, label: high, go: emergency}],
    not_taken: {go: emergency}, over_range: {go: emergency}, not_steady: {go: routine}}
  open: {step: Leave it., go: again-open}
  again-open: {reading: Loop., instrument: loop, on: [line, neutral], unit: ohm,
    ranges: [{to: 1, label: whole, go: soon}, {from: 1, label: high, go: urgent}],
    not_taken: {go: urgent}, over_range: {go: urgent}, not_steady: {go: routine}}
""",
    "late": """
  first: {step: Switch off., does: [open-main-switch], go: loop}
  loop: {reading: Loop., instrument: loop, on: [line, neutral], unit: ohm,
    ranges: [{to: 1, label: whole, go: good}, {from: 1, label: high, go: bad}],
    not_taken: {go: bad}, over_range: {go: bad}, not_steady: {go: bad}}
  good: {step: Wait., does: [quieten-home], go: good-then}
  good-then: {reading: Loop., instrument: loop, on: [line, neutral], unit: ohm,
    ranges: [{to: 1, label: whole, go: closed}, {from: 1, label: high, go: soon}],
    not_taken: {go: soon}, over_range: {go: soon}, not_steady: {go: soon}}
  bad: {step: Wait., does: [quieten-home], go: bad-then}
  bad-then: {reading: Loop., instrument: loop, on: [line, neutral], unit: ohm,
    ranges: [{to: 1, label: whole, go: routine}, {from: 1, label: high, go: emergency}],
    not_taken: {go: emergency}, over_range: {go: emergency}, not_steady: {go: emergency}}
""",
    "lift": """
  lift: {step: Lift., does: [lift-main-earth], go: soon}
""",
    "whole": """
  look: {question: Whole?, fact: main-earth-looks-whole, answers: [
    {answer: Yes, is: "yes", go: closed}, {answer: No, is: "no", go: emergency},
    {answer: Cannot see, go: urgent}]}
""",
    "record": """
  ask: {question: Shares?, fact: shares-metalwork, answers: [
    {answer: Yes, is: "yes", go: emergency}, {answer: No, is: "no", go: closed},
    {answer: No record, go: urgent}]}
""",
    "earthing": """
  ask: {question: Earthing?, fact: earthing, answers: [
    {answer: PEN, is: tn-c-s, go: closed}, {answer: Sheath, is: tn-s, go: soon},
    {answer: Cannot tell, go: urgent}]}
""",
    "phases": """
  ask: {question: Lines?, fact: phases, answers: [
    {answer: One, is: "1", go: closed}, {answer: Cannot tell, go: urgent}]}
""",
    "quiet": """
  calm: {step: Calm., does: [quieten-home], go: soon}
""",
    "next": f"""
  probe: {{reading: Probe., instrument: voltmeter, on: [earth, independent_earth], unit: V,
    ranges: [{{label: any, go: ask}}], {OTHERWISE}}}
  ask: {{question: Another?, fact: another-home-to-test, answers: [
    {{answer: No, is: "no", go: closed}}, {{answer: Nobody in, go: unsettled}},
    {{answer: Yes, is: "yes", go: there}}]}}
  there: {{step: Next door., does: [go-next-door], go: clamp}}
  clamp: {{reading: Clamp., instrument: clamp, on: [main_earth], unit: A,
    ranges: [{{label: any, go: probe-there}}], {OTHERWISE}}}
  probe-there: {{reading: Probe., instrument: voltmeter, on: [earth, independent_earth], unit: V,
    ranges: [{{label: any, go: back}}], {OTHERWISE}}}
  back: {{step: Back., does: [come-back], go: emergency}}
""",
    "asked": """
  ask: {question: Another?, fact: another-home-to-test, answers: [
    {answer: Yes, is: "yes", go: tell}, {answer: No, is: "no", go: closed},
    {answer: No record, go: urgent}]}
  tell: {step: Tell them., go: emergency}
""",
    "told": """
  lights: {question: Lights?, remember: lights, answers: [
    {answer: Too bright, is: bright, go: emergency}, {answer: Dim, is: dim, go: urgent},
    {answer: Not sure, go: soon}, {answer: Cannot tell, go: emergency}]}
""",
    "guessed": """
  guess: {question: Which?, answers: [
    {answer: One, go: emergency}, {answer: Two, go: wait}, {answer: Three, go: unsettled},
    {answer: Four, go: wait-too}, {answer: Five, go: round}]}
  wait: {step: Wait., go: closed}
  wait-too: {step: Wait., go: either}
  either: {question: Either?, answers: [{answer: One, go: emergency}, {answer: Two, go: closed}]}
  round: {step: Go round., go: round}
""",
    "unfit": """
  look: {question: Whole?, fact: main-earth-looks-whole, answers: [{answer: No, is: "no", go: emergency}]}
""",
    "round": """
  round: {step: Go round., go: round-on}
  round-on: {step: On., go: round}
""",
}  # fmt: skip
LASTS = {
    "question": 1, "record": 2, "step": 4, "probe": 8, "clamp": 16, "voltmeter": 32, "loop": 64,
    "switch-on-known-load": 128, "quieten-home": 256, "open-main-switch": 512, "go-next-door": 1024,
    "come-back": 2048, "end": 4096,
}  # fmt: skip
SAFE = {"emergency": 10, "urgent": 20, "soon": 30, "routine": 40, "unsettled": 50, "closed": 60}
LAWS = {
    "always": JointLaw("by hand", "always"),
    "loaded": JointLaw("by hand", "with-load", above_a=12),
    "shaken": JointLaw("by hand", "after-disturbance", bad_share=0, opens=1, closes=0),
    "mended": JointLaw("by hand", "after-disturbance", bad_share=1, opens=0, closes=1),
    "comes-and-goes": JointLaw("by hand", "at-times", bad_share=0.5, bad_minutes=50),
}


@pytest.fixture(scope="module")
def trees(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Tree]:
    return made_trees(tmp_path_factory.mktemp("guide"), "site", **TREES)


def stated(known: Any, figures: dict[str, float]) -> dict[str, Stated]:
    """Figures by hand; what is not named is no part of any test here."""
    return {name: Stated(figures.get(name, 0.0), "by hand") for name in known}


MINUTES = Minutes(
    stated(ACTS, LASTS),  # type: ignore[arg-type]
    stated(MADE_SAFE, SAFE),  # type: ignore[arg-type]
    stated(("at-home", "touch-dry", "touch-wet"), {"at-home": 1, "touch-dry": 0.25, "touch-wet": 0.25}),
    stated(CHANCES, {}),
    LAWS,
)


def crews(batch: StreetBatch, **wanting: Any) -> Crews:
    """Crews that want and err as said: whole numbers are the bits of streets."""
    some = Crews(batch.size, 0.5)
    for name, value in wanting.items():
        getattr(some, name).update(value) if isinstance(value, dict) else setattr(some, name, value)
    return some


def visited(tree: Tree, batch: StreetBatch, law: str = "always", **wanting: Any) -> Visited:
    return visit_batch(Followed(tree), Lasting(batch, MINUTES), crews(batch, **wanting), 1, law)


def ends(came: Visited) -> list[str]:
    """The end of each street, and that it has just one."""
    assert (np.sum(list(came.ends.values()), axis=0) == 1).all()
    return [next(name for name, mask in came.ends.items() if mask[n]) for n in range(len(came.hurt))]


def total(*acts: str) -> float:
    return sum(LASTS[act] for act in acts)


PAIR = as_drawn(streets.pair())
NEXT_DOOR = as_drawn(streets.pair(), "14")
"""The same street, visited at the other home."""


def parted(visited: str = "12", kw: tuple[float, float] = (1.4, 2.0)) -> Drawn:
    """The same, with no pipe from one home to the other: nothing else carries what a broken PEN does not."""
    return as_drawn(without_pipe(streets.pair(kw=kw)), visited)


def test_minutes_screens_and_states_of_a_visit(trees: dict[str, Tree]) -> None:
    batch = batch_of(parted(), parted("14"), kind="service-pen-open")
    came = visited(trees["work"], batch)
    before, loaded = ["step", "clamp", "switch-on-known-load"], ["quieten-home", "open-main-switch"]
    quiet = ["probe", "voltmeter", "voltmeter", "end"]
    assert ends(came) == ["emergency"] * 2
    assert came.minutes.tolist() == [total(*before, *loaded, *quiet)] * 2
    assert came.screens.tolist() == [7, 7]
    lasting = Lasting(batch, MINUTES)
    for place, home in enumerate(("12", "14")):
        load, calm, off = (
            Condition(name, home) for name in ("known-load-on", "home-quiet", "main-switch-open")
        )
        states = {(): before, (load,): loaded, (load, calm, off): quiet}
        for number, kind in enumerate(came.during):
            spent = sum(
                lasting.costs(frozenset(state))[number, place] * total(*acts)
                for state, acts in states.items()
            )
            assert came.during[kind][place] == pytest.approx(spent)
            left = lasting.costs(frozenset({off}))[number, place]
            assert came.after[kind][place] == pytest.approx(left * SAFE["emergency"]), kind
        assert came.during["touch-wet"][place] > 0


def test_a_probe_is_put_in_once_at_each_home(trees: dict[str, Tree]) -> None:
    batch = batch_of(PAIR, PAIR, NEXT_DOOR)
    came = visited(trees["next"], batch)
    acts = [
        "probe",
        "voltmeter",
        "question",
        "go-next-door",
        "clamp",
        "probe",
        "voltmeter",
        "come-back",
        "end",
    ]
    assert ends(came) == ["emergency"] * 3
    assert came.minutes.tolist() == [total(*acts)] * 3


def test_where_there_is_no_soil_there_is_no_probe(trees: dict[str, Tree]) -> None:
    batch = batch_of(PAIR, PAIR, NEXT_DOOR)
    came = visited(trees["work"], batch, no_soil={"12": 0b110})
    assert ends(came) == ["emergency", "urgent", "emergency"]
    sound, wanting, _ = came.minutes
    assert sound - wanting == total("probe", "voltmeter") and came.screens.tolist() == [7, 6, 7]
    there = visited(trees["next"], batch, no_soil={"14": 0b011})
    assert ends(there) == ["urgent", "urgent", "emergency"]


def test_what_is_hidden_or_does_not_hold_still_takes_its_exit(trees: dict[str, Tree]) -> None:
    batch = batch_of(PAIR, PAIR, NEXT_DOOR)
    assert ends(visited(trees["work"], batch, hidden={"12": 0b110})) == ["emergency", "urgent", "emergency"]
    assert ends(visited(trees["next"], batch, hidden={"14": 0b111})) == ["urgent", "urgent", "emergency"]
    assert ends(visited(trees["tail"], batch, hidden={"12": 0b111})) == ["emergency"] * 3, "not clamped there"
    for screen, end in ((0, "emergency"), (1, "routine"), (2, "emergency"), (5, "routine"), (6, "emergency")):
        came = visited(trees["work"], batch, unsteady={screen: 0b010})
        assert ends(came) == ["emergency", end, "emergency"], screen


def test_a_flat_tester_shows_0_or_nothing_and_an_open_jaw_a_share(trees: dict[str, Tree]) -> None:
    """Known load and home carry 16 A and more: half of it is little."""
    batch = batch_of(PAIR, PAIR, PAIR, NEXT_DOOR)
    assert ends(visited(trees["tail"], batch)) == ["emergency"] * 4
    flat = visited(trees["tail"], batch, flat={"clamp": (0b0010, 0b0100)})
    assert ends(flat) == ["emergency", "unsettled", "urgent", "emergency"]
    other = visited(trees["tail"], batch, flat={"voltmeter": (0b0010, 0b0100)})
    assert ends(other) == ["emergency"] * 4
    assert ends(visited(trees["tail"], batch, jaw_open=0b1001)) == [
        "unsettled",
        *["emergency"] * 2,
        "unsettled",
    ]
    nearly = visited(trees["tail"], batch, jaw_open=0b1111, jaw_share=0.9)
    assert ends(nearly) == ["emergency"] * 4
    assert ends(visited(trees["pen"], batch, jaw_open=0b1111)) == ["closed"] * 4, "no clamp is used"


def test_what_is_looked_for_can_be_missed_or_hidden_and_no_record_tells_of_it(trees: dict[str, Tree]) -> None:
    batch = batch_of(PAIR, PAIR, NEXT_DOOR, kind="main-earth-lost")
    assert ends(visited(trees["whole"], batch)) == ["emergency", "emergency", "closed"]
    assert visited(trees["whole"], batch).minutes.tolist() == [total("question", "end")] * 3
    assert ends(visited(trees["whole"], batch, eye_misses=0b110)) == ["emergency", "closed", "closed"]
    assert ends(visited(trees["whole"], batch, hidden={"12": 0b110})) == ["emergency", "urgent", "closed"]
    records = {"no_record": 0b111, "record_wrong": 0b111, "says_nothing": 0b111, "stays_here": 0b111}
    assert ends(visited(trees["whole"], batch, **records)) == ["emergency", "emergency", "closed"]


def test_what_is_read_can_be_wanting_wrong_or_kept_back(trees: dict[str, Tree]) -> None:
    batch = batch_of(*[PAIR] * 6)
    wanting = {"no_record": 0b001010, "record_wrong": 0b001100, "says_nothing": 0b100000}
    expected = ["emergency", "urgent", "closed", "urgent", "emergency", "closed"]
    for tree, act in (("record", "record"), ("asked", "question")):
        came = visited(trees[tree], batch, **wanting, eye_misses=0, stays_here=0)
        assert ends(came) == expected, tree
        told = [total("step") if end == "emergency" and tree == "asked" else 0 for end in expected]
        assert came.minutes.tolist() == [total(act, "end") + more for more in told]
        blind = visited(trees[tree], batch, eye_misses=0b111111, stays_here=0b111111, hidden={"12": 0b111111})
        assert ends(blind) == ["emergency"] * 6, tree
    for tree in ("earthing", "phases"):
        seen = visited(trees[tree], batch, **wanting, eye_misses=0b111111)
        assert ends(seen) == ["closed"] * 6, "it is seen at the home"
        assert seen.minutes.tolist() == [total("question", "end")] * 6


def test_next_door_is_looked_for(trees: dict[str, Tree]) -> None:
    """Nobody in is nobody at just that home; who stays here or looks past it finds none."""
    batch = batch_of(PAIR, PAIR, parted(), NEXT_DOOR)
    assert ends(visited(trees["next"], batch)) == ["emergency", "emergency", "closed", "emergency"]
    out = visited(trees["next"], batch, out={"14": 0b1110})
    assert ends(out) == ["emergency", "unsettled", "closed", "emergency"]
    for habit in ("eye_misses", "stays_here"):
        came = visited(trees["next"], batch, **{habit: 0b0010})
        assert ends(came) == ["emergency", "closed", "closed", "emergency"], habit
    records = {"no_record": 0b1111, "record_wrong": 0b1111, "says_nothing": 0b1111, "hidden": {"12": 0b1111}}
    assert ends(visited(trees["next"], batch, **records))[:3] == ["emergency", "emergency", "closed"]


def test_what_the_caller_said_is_carried_on(trees: dict[str, Tree]) -> None:
    """Who says what no answer stands for is led on where the end is least pressing."""
    told = (
        as_drawn(streets.pair(), caller={"caller-sees-volts": 0.0}),
        as_drawn(streets.pair(), caller={"caller-sees-dip": 0.0}),
        PAIR,
    )
    assert ends(visited(trees["told"], batch_of(*told))) == ["emergency", "urgent", "soon"]


def test_a_question_that_nothing_decides_leads_on_to_the_least_pressing_end(trees: dict[str, Tree]) -> None:
    """Two of five answers can come to a closed job: every other street, as chance has it, goes by each."""
    followed = Followed(trees["guessed"])
    assert followed.leading_on(trees["guessed"].nodes["guess"]) == [1, 3]
    assert followed.leading_on(trees["guessed"].nodes["either"]) == [1]
    assert followed.leading_on(trees["guessed"].nodes["guess"]) == [1, 3], "and as often as it is asked"
    batch = batch_of(*[PAIR] * 400)
    came = visited(trees["guessed"], batch)
    assert ends(came) == ["closed"] * 400
    longer = came.screens == 4
    assert ((came.screens == 3) | longer).all() and 150 < longer.sum() < 250
    worse = {**trees["guessed"].nodes, "closed": trees["guessed"].nodes["emergency"]}
    rest = Followed(replace(trees["guessed"], nodes=worse))
    assert rest.leading_on(worse["guess"]) == [2]
    first, *_, last = worse["guess"].exits
    assert rest.leading_on(replace(worse["guess"], id="two", exits=(last, first))) == [1], (
        "not round and round"
    )


def test_a_home_that_was_quietened_does_not_stay_so(trees: dict[str, Tree]) -> None:
    batch = batch_of(parted(kw=(9.0, 2.0)), kind="service-pen-high")
    came = visited(trees["quiet"], batch)
    lasting = Lasting(batch, MINUTES)
    left, quiet = lasting.costs(frozenset()), lasting.costs(frozenset({Condition("home-quiet", "12")}))
    assert np.array(list(came.after.values())) == pytest.approx(left * SAFE["soon"])
    assert left.tolist() != quiet.tolist()


def test_how_a_visit_ends(trees: dict[str, Tree]) -> None:
    followed = Followed(trees["work"])
    told = {name: followed.how_it_ends(name) for name in (*SAFE, "clamp", "lost")}
    assert told == {**{name: name for name in SAFE}, "clamp": "lost", "lost": "lost"}


def test_where_no_answer_fits_the_visit_is_lost_and_what_was_found_left_unsettled(
    trees: dict[str, Tree],
) -> None:
    batch = batch_of(PAIR, PAIR, NEXT_DOOR, kind="service-pen-open")
    came = visited(trees["unfit"], batch)
    assert ends(came) == ["lost"] * 3
    costs = Lasting(batch, MINUTES).costs(frozenset())
    for number, kind in enumerate(came.after):
        assert came.after[kind] == pytest.approx(costs[number] * SAFE["unsettled"])
    mixed = batch_of(PAIR, NEXT_DOOR, kind="main-earth-lost")
    assert ends(visited(trees["unfit"], mixed)) == ["emergency", "lost"]


def test_a_visit_that_goes_round_is_lost_after_2000_screens(trees: dict[str, Tree]) -> None:
    came = visited(trees["round"], batch_of(PAIR, NEXT_DOOR))
    assert ends(came) == ["lost"] * 2
    assert came.screens.tolist() == [2000] * 2 and came.minutes.tolist() == [2000 * LASTS["step"]] * 2


def test_a_joint_that_parts_with_load_is_bad_where_it_carries_much(trees: dict[str, Tree]) -> None:
    """The same fault in two streets, one at 6 A and one at 17: each is walked, costs and hurts as its own
    joint is."""
    light, heavy = parted(), parted(kw=(4.0, 2.0))
    batch = batch_of(light, heavy, light, kind="service-pen-open")
    always, sound = (visited(trees["pen"], each) for each in (batch, batch.sound))
    came = visited(trees["pen"], batch, "loaded")
    assert (ends(always), ends(sound)) == (["urgent"] * 3, ["closed"] * 3)
    assert ends(came) == ["closed", "urgent", "closed"]
    for kind in came.during:
        for spent, bad, good in (
            (came.during[kind], always.during[kind], sound.during[kind]),
            (came.after[kind], always.after[kind], sound.after[kind]),
        ):
            assert spent == pytest.approx([good[0], bad[1], good[2]]), kind
    assert always.during["touch-wet"][1] > 0 and sound.after["supply-lost"][0] == SAFE["closed"]
    lifted = [visited(trees["lift"], batch, law).hurt.tolist() for law in ("always", "loaded")]
    assert lifted == [[True] * 3, [False, True, False]]
    assert not visited(trees["lift"], batch.sound).hurt.any()


def test_a_joint_turns_once_its_own_home_is_disturbed(trees: dict[str, Tree]) -> None:
    """And not by a warning, nor by what is done next door."""
    batch = batch_of(parted(), parted("14"), kind="service-pen-open")
    shaken = visited(trees["pen"], batch, "shaken")
    assert ends(shaken) == ["emergency", "closed"]
    costs = [Lasting(batch, MINUTES).costs(frozenset({Condition("main-switch-open", home)}), bad)
             for home, bad in (("12", True), ("14", False))]  # fmt: skip
    for number, kind in enumerate(shaken.after):
        assert shaken.after[kind][0] == pytest.approx(costs[0][number, 0] * SAFE["emergency"])
        assert shaken.after[kind][1] == pytest.approx(costs[1][number, 1] * SAFE["closed"])
    left = visited(trees["lift"], batch, "mended")
    always = visited(trees["lift"], batch)
    assert left.hurt.tolist() == always.hurt.tolist() and left.hurt[0]
    assert ends(visited(trees["pen"], batch, "mended")) == ["urgent", "closed"]


def test_a_joint_that_comes_and_goes_does_so_all_through_a_long_visit(trees: dict[str, Tree]) -> None:
    """Bad for half of the time: after half a thousand minutes as often as not, and after three hundred more
    with no regard to what it was then."""
    many = 400
    batch = batch_of(*[parted()] * many, kind="service-pen-open")
    came = ends(visited(trees["late"], batch, "comes-and-goes"))
    assert {end: came.count(end) for end in ("closed", "soon", "routine", "emergency")} == pytest.approx(
        dict.fromkeys(("closed", "soon", "routine", "emergency"), many / 4), abs=30
    )


@pytest.fixture(scope="module")
def guide(trees: dict[str, Tree]) -> Guide:
    """A guide of these trees, one of them of calls, with streets of six homes."""
    shipped = load(Path(__file__).parents[2] / "guide_src")
    assert shipped.sampling is not None
    small = tuple(each for each in shipped.sampling.layouts if each.id == "three-and-three")
    call = replace(trees["guessed"], audience="call")
    return replace(
        shipped,
        trees={"pen": trees["pen"], "guessed": call, "whole": trees["whole"], "lift": trees["lift"]},
        sampling=replace(shipped.sampling, layouts=small),
        minutes=replace(MINUTES, chances=stated(CHANCES, {"eye-misses": 1, "main-earth-hidden": 0.5})),
    )


def test_visits_are_counted_by_tree_fault_law_and_access(guide: Guide) -> None:
    """Site trees only, the others by name; a joint's law where there is a joint."""
    kinds, laws = ("healthy", "service-pen-high", "reversed-polarity"), ("always", "loaded")
    every = {case for case, _ in count_visits(guide, range(3), kinds, laws)}
    assert every == {
        VisitCase(tree, kind, law, access)
        for tree in ("pen", "whole", "lift")
        for kind, law in ((kinds[0], laws[0]), (kinds[1], laws[0]), (kinds[1], laws[1]), (kinds[2], laws[0]))
        for access in ("perfect", "chances")
    }
    some = count_visits(guide, range(3), kinds[:1], laws, ["chances"], ["whole", "guessed"])
    assert {case for case, _ in some} == {VisitCase("whole", "healthy", "always", "chances")}


def test_what_is_counted_is_what_came_of_each_visit(guide: Guide) -> None:
    assert guide.sampling is not None
    kind, numbers = "main-earth-lost", range(12)
    counts = count_visits(guide, numbers, [kind])
    (batch,) = faulty_batches(guide.sampling, numbers, [kind])
    (alike,) = faulty_batches(guide.sampling, numbers, ["service-pen-open"])
    here = np.array([drawn.visited == batch.fault(n).at for n, drawn in enumerate(batch.drawn)])
    for tree, missed in (("whole", 0b111111111111), ("whole", 0)):
        case = VisitCase(tree, kind, "always", "chances" if missed else "perfect")
        closed = counts[case, "closed"]
        assert counts[case, "visits"] == 12 and counts[case, "hurt"] == 0
        assert closed == (12 if missed else 12 - here.sum())
        assert counts[case, "emergency"] == 12 - closed
        assert counts[case, "closed-beside-danger"] == (counts[case, "endangered"] if missed else
            counts[case, "endangered"] - here.sum())  # fmt: skip
        lasted = total("question", "end") * 60
        assert (counts[case, "seconds"], counts[case, "seconds squared"]) == (12 * lasted, 12 * lasted**2)
        assert (counts[case, "screens"], counts[case, "screens squared"]) == (24, 48)
    assert 0 < here.sum() < 12
    lifted = count_visits(guide, numbers, ["service-pen-open"], access=["perfect"], trees=["lift"])
    case = VisitCase("lift", "service-pen-open", "always", "perfect")
    came = visit_batch(
        Followed(guide.trees["lift"]),
        Lasting(alike, guide.minutes),
        crews(alike),
        1,  # type: ignore[arg-type]
    )
    assert 0 < lifted[case, "hurt"] == came.hurt.sum() < 12
    for when, spent in (("during", came.during), ("after", came.after)):
        spent = {**spent, "touch": spent["touch-dry"] + spent["touch-wet"]}
        for what, minutes in spent.items():
            seconds = np.round(minutes * 60)
            assert lifted[case, f"{what} {when}"] == seconds.sum(), (what, when)
            assert lifted[case, f"{what} {when} squared"] == (seconds**2).sum()
    assert lifted[case, "touch after"] > lifted[case, "touch-wet after"] > 0
