"""How well calc.explain explains fresh streets: is its 80 % right 80 % of the time, and how soon it knows."""

from __future__ import annotations

import random
from collections import defaultdict
from collections.abc import Sequence
from statistics import median

from build_tools.explained.explained_file import Calibration, Reliability
from build_tools.explained.localisation import placed
from build_tools.explained.reading_table import drawn_table
from build_tools.guide.trees import Guide
from build_tools.proof.binomial import bounds
from build_tools.proof.evidence import MODEL
from build_tools.proof.procedures import PREPARED, procedures
from build_tools.setup.environment import ROOT
from build_tools.setup.progress import counted
from build_tools.setup.result_cache import code_of, key_of
from calc.explain import ASKED, NO_READING, PRIORS, STATES, Explained, Sampled
from calc.readings import TESTS
from calc.sampling import Sampling
from calc.work import ACTIONS

__all__ = ["calibrated", "fixed_order", "fresh", "grounds_of", "steps", "table"]

_DRAWN, _EACH = 2500, 400
"""Streets drawn for the table, and how many are kept for each fault."""

_FRESH, _FRESH_EACH, _FRESH_FROM = 1200, 200, 1_000_000
"""The same for fresh streets, whose numbers no table comes to."""

_PLACED_FROM = 2_000_000
"""Numbers of the streets on which Locate is tried."""

_STEPPED = 152
"""Fresh streets on which the order of tests is tried."""

_SURE = 0.95
_SYMPTOMS = frozenset(ASKED) - {test.id for test in TESTS}


def table(sampling: Sampling) -> Sampled:
    """The table that is shipped: of homes of one line, earthed from the PEN."""
    return drawn_table(sampling.plain, counted(range(_DRAWN)), _EACH)


def fresh(sampling: Sampling) -> Sampled:
    """As the table, of streets that are not in it."""
    return drawn_table(sampling.plain, counted(range(_FRESH_FROM, _FRESH_FROM + _FRESH)), _FRESH_EACH)


def steps(cases: int) -> int:
    """How much work all of it is: streets drawn, streets explained."""
    return _DRAWN + _FRESH + 2 * cases + _STEPPED


def grounds_of(sampling: Sampling) -> str:
    """The key of all that the table depends on."""
    sources = [ROOT / "calc" / f"{name}.py" for name in (*MODEL, "explain")]
    sources += [
        ROOT / "build_tools" / name
        for name in ("proof/street_batch.py", "proof/detection_rates.py", "explained/reading_table.py")
    ]
    return key_of(sampling, [code_of(path) for path in sources])


def fixed_order(guide: Guide) -> tuple[str, ...]:
    """The tests in the order in which the guide's site trees come to them, then the others."""
    order = []
    for one in procedures(guide).values():
        for test in TESTS:
            done = {ACTIONS[action][0] for action in test.after}
            same = (test.instrument, test.on, done) == (
                one.how.instrument,
                one.how.on,
                set(one.how.conditions) - PREPARED,
            )
            if same and test.id in ASKED and test.id not in order:
                order.append(test.id)
    return tuple(order)


def calibrated(
    known: Sampled,
    new: Sampled,
    order: Sequence[str],
    sampling: Sampling,
    cases: int = 1000,
    stepped: int = _STEPPED,
) -> Calibration:
    """Measured over `cases` of the fresh streets, drawn by the priors; the order of tests over `stepped`
    of them, as many of each state."""
    chance = random.Random(f"{sampling.seed}/calibrate")
    drawn = [
        _case(new, chance.choices(range(len(PRIORS)), list(PRIORS.values()))[0], chance) for _ in range(cases)
    ]
    tests = [name for name in ASKED if name not in _SYMPTOMS]
    said: list[tuple[float, bool]] = []
    right: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    alarms = 0
    for true, row in counted(drawn):
        some = [name for name in ASKED if chance.random() < 0.6]
        said += [(one.probability, one.place == true) for one in _told(known, new, row, some).states()]
        whole = _told(known, new, row, tests)
        alarms += not whole.fits
        tally = right[STATES[true][0]]
        tally[0] += 1
        tally[1] += true in {one.place for one in whole.states()[:2]}
    strangers = sum(
        not Explained(known, {name: new.columns[name][chance.choice(drawn)[1]] for name in tests}).fits
        for _ in range(cases // 4)
    )
    top_two = sum(tally[1] for tally in right.values())
    steps = _steps(known, new, order, chance, stepped)
    return Calibration(
        sampling.seed,
        _reliability(said),
        cases,
        top_two,
        _rounded(cases, top_two),
        {title: (asked, found) for title, (asked, found) in sorted(right.items())},
        *steps,
        stepped,
        round(alarms / cases, 4),
        round(strangers / (cases // 4), 4),
        placed(sampling.plain, counted(range(_PLACED_FROM, _PLACED_FROM + cases))),
    )


def _case(new: Sampled, kind: int, chance: random.Random) -> tuple[int, int]:
    """The true state and the row of a fresh street with one of PRIORS."""
    start = sum(new.counts[:kind])
    row = start + chance.randrange(new.counts[kind])
    state = next(place for place, end in enumerate(new.starts[1:]) if row < end)
    return state, row


def _told(known: Sampled, new: Sampled, row: int, names: Sequence[str]) -> Explained:
    return Explained(known, {name: new.columns[name][row] for name in names})


def _steps(
    known: Sampled, new: Sampled, order: Sequence[str], chance: random.Random, cases: int
) -> tuple[dict[str, float], dict[str, float], float, float, tuple[int, int]]:
    proposed: dict[str, list[int]] = defaultdict(list)
    fixed: dict[str, list[int]] = defaultdict(list)
    most = len(ASKED)
    for number in counted(range(cases)):
        true, row = _case(new, number % len(PRIORS), chance)
        proposed[STATES[true][0]].append(_until_sure(known, new, row, None, most))
        fixed[STATES[true][0]].append(_until_sure(known, new, row, order, most))
    of_proposed = {title: float(median(many)) for title, many in proposed.items()}
    of_fixed = {title: float(median(many)) for title, many in fixed.items()}
    never = tuple(sum(many.count(most + 1) for many in each.values()) for each in (proposed, fixed))
    return (
        of_proposed,
        of_fixed,
        float(median(of_proposed.values())),
        float(median(of_fixed.values())),
        (never[0], never[1]),
    )


def _until_sure(known: Sampled, new: Sampled, row: int, order: Sequence[str] | None, most: int) -> int:
    """Tests until one state has _SURE, in the order given, or each time the one that tells the most; one
    more than there are when none comes to have it."""
    told, tried = Explained(known), set[str]()
    for number in range(most):
        if told.states()[0].probability >= _SURE:
            return number
        if order is None:
            names = [name for name, bits in told.telling() if name not in tried]
        else:
            names = [name for name in order if name not in tried]
        if not names:
            return most + 1
        tried.add(names[0])
        if new.columns[names[0]][row] != NO_READING:
            told.add(names[0], new.columns[names[0]][row])
    return most if told.states()[0].probability >= _SURE else most + 1


def _reliability(said: Sequence[tuple[float, bool]]) -> tuple[Reliability, ...]:
    rows = []
    for low in (0.0, 0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95):
        high = min(
            [end for end in (0.01, 0.05, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9, 0.95, 1.0) if end > low]
        )
        some = [(p, true) for p, true in said if low <= p < high or p == high == 1.0]
        if some:
            right = sum(true for _, true in some)
            mean = sum(p for p, _ in some) / len(some)
            rows.append(Reliability(low, high, round(mean, 4), len(some), right, *_rounded(len(some), right)))
    return tuple(rows)


def _rounded(asked: int, right: int) -> tuple[float, float]:
    """The two-sided 95 % bounds of a share, to four places."""
    low, high = bounds(asked, right, 0.025)
    return round(low, 4), round(high, 4)
