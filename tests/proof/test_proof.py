"""Drawn streets, walks over many of them at once, and the evidence that is kept."""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import yaml

from build_tools.guide import source
from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from build_tools.guide.validation import conform
from build_tools.proof import corners, evidence, promises, proving
from build_tools.proof.cases import ANY, Case
from build_tools.proof.counting import count
from build_tools.proof.sampled_bands import band
from build_tools.proof.street_batch import StreetBatch, batches
from calc.danger import measured, new_harms
from calc.drawn_streets import draw
from calc.faults import KINDS
from calc.instruments import read
from calc.sampling import SPREADS, Sampling, Spread
from calc.street import network
from calc.symptoms import FACTS, fact
from calc.work import Condition, as_worked

GUIDE = Path(__file__).parents[2] / "guide_src"
SOME = range(60)


@pytest.fixture
def changed(tmp_path: Path) -> Callable[..., Path]:
    """A copy of the guide with changes in its files: (file, old, new)."""

    def change(*changes: tuple[str, str, str]) -> Path:
        folder = tmp_path / "guide"
        shutil.copytree(GUIDE, folder)
        for file, old, new in changes:
            text = (folder / file).read_text()
            assert old in text, old
            (folder / file).write_text(text.replace(old, new))
        return folder

    return change


def test_a_draw_depends_on_its_seed_and_number_only(sampling: Sampling) -> None:
    alone = draw(sampling, 17)
    assert [draw(sampling, number) for number in (3, 17, 4)][1] == alone
    assert draw(replace(sampling, seed=sampling.seed + 1), 17) != alone
    assert draw(sampling, 18) != alone


def test_draws_keep_to_their_spreads(sampling: Sampling) -> None:
    for number in SOME:
        drawn = draw(sampling, number)
        low, high = sampling.spreads["supply-volts"].uniform or (0, 0)
        assert low <= drawn.street.supply.volts <= high
        assert drawn.layout in {layout.id for layout in sampling.layouts}
        assert drawn.meters.keys() < SPREADS.keys()


@pytest.mark.parametrize(
    ("spread", "says"),
    [
        ({}, "got 0 of them"),
        ({"uniform": (2, 1)}, "the lower first"),
        ({"log_uniform": (-1, 1)}, "needs ends above 0"),
        ({"chance": 1.5}, "from 0 to 1"),
        ({"choice": {}}, "weights above 0"),
        ({"uniform": (1, 2), "chance": 0.5}, "got 2 of them"),
    ],
)
def test_a_spread_that_cannot_be_drawn_from_is_refused(spread: dict[str, object], says: str) -> None:
    with pytest.raises(ValueError, match=says):
        Spread("engineering judgement", **spread)  # type: ignore[arg-type]


def test_a_missing_parameter_is_told_at_its_file(changed: Callable[..., Path]) -> None:
    folder = changed(("sampling.yaml", "  star-point-ohm:", "  star-point-ohms:"))
    (finding,) = conform(Sampling, source.read(folder / "sampling.yaml"))[1]
    assert "star-point-ohm" in finding.what
    assert finding.place.line > 1


def test_a_band_lies_between_its_neighbours() -> None:
    assert band([1, 2, 3, 4, 5], 0.0, 1.0) == (1.0, 5.0)
    assert band([5, 1], 0.25, 0.75) == band([1, 2, 3, 4, 5], 0.25, 0.75) == (2.0, 4.0)


@pytest.mark.parametrize(
    "kind",
    [
        "healthy",
        "service-pen-open",
        "mains-pen-high",
        "mains-line-high",
        "reversed-polarity-earth-live",
        "borrowed-neutral",
        "crossed-neutrals",
        "neutral-earth-joined",
        "earth-leak",
        "protective-conductor-lost",
    ],
)
def test_many_streets_at_once_read_as_each_alone(sampling: Sampling, kind: str) -> None:
    perfect = {name: replace(s, uniform=(0, 0)) for name, s in sampling.spreads.items() if "-error" in name}
    perfect |= {
        name: replace(sampling.spreads[name], uniform=(0, 0)) for name in ("clamp-stray-a", "loop-offset-ohm")
    }
    exact = replace(sampling, spreads={**sampling.spreads, **perfect})
    compared = 0
    for whole in batches(exact, range(24)):
        for batch in whole.with_fault(kind):
            compared += sum(_compared(batch, index) for index in range(0, batch.size, 3))
    assert compared >= 40


@pytest.mark.parametrize(
    "kind",
    [
        "healthy",
        "service-pen-open",
        "mains-pen-open",
        "loose-neutral-tail",
        "reversed-polarity",
        "borrowed-neutral",
        "crossed-neutrals",
        "protective-conductor-lost",
    ],
)
def test_many_streets_at_once_hurt_and_are_noticed_as_each_alone(sampling: Sampling, kind: str) -> None:
    """Fuses blown, volts across a body, harms raised by lifting an earth, and words of every fact."""
    harms = 0
    for whole in batches(sampling, range(24)):
        for batch in whole.with_fault(kind):
            for index in range(0, batch.size, 3):
                harms += _noticed_as_alone(batch, index)
    assert bool(harms) == kind.endswith("pen-open")


def _noticed_as_alone(batch: StreetBatch, index: int) -> int:
    """One street alone and among the others; how many harms lifting an earth raises there."""
    drawn = batch.drawn[index]
    alone = batch.fault(index).applied_to(network(drawn.street))
    home = list(drawn.street.premises)[index % len(drawn.street.premises)]
    nothing, lifted = frozenset[Condition](), frozenset({Condition("main-earth-lifted", home)})
    now, then = measured(as_worked(alone, lifted)), measured(alone)
    among = batch.measured(lifted, False)
    for name, volts in now.items():
        for what, figure in volts.items():
            of_all = np.broadcast_to(among[name][what], (batch.size,))
            assert of_all[index] == pytest.approx(figure, rel=1e-6, abs=1e-4), (name, what)
    raised = {(harm.home, harm.what) for harm in new_harms(then, now)}
    assert {harm for harm, mask in batch.new_harms(nothing, lifted).items() if mask[index]} == raised
    for name in FACTS:
        for conditions in (nothing, lifted):
            word = fact(name, as_worked(alone, conditions), home)
            assert batch.words(name, home, conditions)[index] == word, name
    return len(raised)


def _compared(batch: StreetBatch, index: int) -> int:
    """One street's displays, alone and in the batch; they may differ by one step of the display."""
    drawn = batch.drawn[index]
    faulty = batch.fault(index).applied_to(network(drawn.street))
    home = list(drawn.street.premises)[index % len(drawn.street.premises)]
    lifted = frozenset({Condition("main-earth-lifted", home)})
    tests = [
        ("clamp", ("main_earth",), frozenset()),
        ("clamp", ("neutral_tail", "main_earth"), frozenset()),
        ("voltmeter", ("earth", "independent_earth"), lifted),
        ("loop", ("line", "earth"), frozenset()),
    ]
    for instrument, on, conditions in tests:
        alone = read(as_worked(faulty, conditions), home, instrument, on)
        among = batch.readings(home, conditions, instrument, on)[index]
        if alone.state == "shown":
            assert among == pytest.approx(alone.value, abs=1.001 * alone.instrument.resolution), (home, on)
        else:
            assert not np.isfinite(among)
    return len(tests)


def test_counts_of_parts_are_the_count_of_the_whole(guide: Guide) -> None:
    kinds = ("healthy", "service-pen-open")
    whole = count(guide, SOME, kinds)
    parts = count(guide, SOME[::2], kinds) + count(guide, SOME[1::2], kinds)
    assert +whole == +parts
    assert whole[Case("useful", "bright-and-dim-lights", "healthy"), "asked"] == len(SOME)


@pytest.fixture
def without_pairs(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every two faults at once take minutes, and are not drawn; of the kinds of fault, some."""
    some = {kind: KINDS[kind] for kind in ("healthy", "service-pen-open", "mains-pen-high", "sheath-open")}
    monkeypatch.setattr(proving, "_pairs", lambda *_: [])
    for module in (proving, corners):
        monkeypatch.setattr(module, "KINDS", some)


LONG = ("terrace-of-24", "eight-on-two-joints", "flats", "looped-pairs", "overhead-village", "pairs-on-three")
WITHOUT_LONG = [
    ("sampling.yaml", line, "")
    for line in (GUIDE / "sampling.yaml").read_text().splitlines(keepends=True)
    if any(f"id: {layout}" in line for layout in LONG)
]
"""Changes that leave the shapes of street that are quickly walked."""


@pytest.mark.usefixtures("without_pairs")
def test_evidence_is_the_same_whoever_does_the_work(changed: Callable[..., Path]) -> None:
    small = load(changed(*WITHOUT_LONG, ("sampling.yaml", "streets: 5000", "streets: 12")))
    with ThreadPoolExecutor(1) as threads:
        first = proving.prove(small, threads)
    path = evidence.write(small, first)
    written = path.read_bytes()
    path.unlink()
    assert evidence.write(small, proving.prove(small)).read_bytes() == written
    assert evidence.read(small) == first


def test_words_may_be_put_better_without_measuring_anew(guide: Guide, changed: Callable[..., Path]) -> None:
    folder = changed()
    for path in (folder / "trees").rglob("*.yaml"):
        tree = yaml.load(path.read_text(), yaml.BaseLoader)
        tree |= {"title": f"Other words {path.stem}", "about": "Other words.", "review_by": "2031-01-01"}
        for node in tree["nodes"].values():
            for key in evidence.WORDS_OF_NODES & node.keys():
                node[key] = ["Other words."] if isinstance(node[key], list) else "Other words."
        path.write_text(yaml.safe_dump(tree, sort_keys=False))
    promises = yaml.load((folder / "promises.yaml").read_text(), yaml.BaseLoader)
    for promise in promises:
        promise |= dict.fromkeys({"title", "words", "why"} & promise.keys(), "Other words.")
    (folder / "promises.yaml").write_text(yaml.safe_dump(promises, sort_keys=False))
    reworded = load(folder)
    assert reworded.trees.keys() == guide.trees.keys()
    assert evidence.grounds(reworded) == evidence.grounds(guide)
    kinds = ("healthy", "mains-pen-open")
    assert count(reworded, SOME[:20], kinds) == count(guide, SOME[:20], kinds)


@pytest.mark.parametrize("amperes", [0.1, 0.5, 2, 10])
def test_a_fixed_safe_clamp_limit_breaks_a_promise(changed: Callable[..., Path], amperes: float) -> None:
    """No single clamp value is proof: with one that closes the job dangers are closed over, or it is so low
    that healthy streets are not closed."""
    folder = changed()
    path = folder / "trees/site/test-one-home.yaml"
    text = path.read_text()
    start = text.index("  clamp-main-earth:")
    ranges = text.index("    ranges:", start)
    rest = text.index("    not_taken:", ranges)
    safe, unsafe = (
        f"to: {amperes}, label: safe, go: carries",
        f"from: {amperes}, label: not safe, go: not-proven",
    )
    fixed = f"    ranges:\n      - {{{safe}}}\n      - {{{unsafe}}}\n"
    path.write_text(text[:ranges] + fixed + text[rest:])
    damaged = load(folder)
    assert "neighbour-comes-and-goes" in damaged.trees
    counts = count(damaged, range(150), ["service-pen-open", "healthy"])
    found = Case("found", "neighbour-comes-and-goes", "service-pen-open")
    useful = Case("useful", "neighbour-comes-and-goes", "healthy")
    assert counts[found, "asked"] > 30
    assert counts[useful, "asked"] == 150
    is_missed = counts[found, "happened"] < 0.99 * counts[found, "asked"]
    assert is_missed or counts[useful, "happened"] < 0.5 * counts[useful, "asked"]


def test_the_shipped_promises_are_borne_out(guide: Guide) -> None:
    assert list(promises.check(guide)) == []


def test_missing_stale_and_altered_evidence_is_told(changed: Callable[..., Path]) -> None:
    folder = changed()
    kept = folder / evidence.FILE

    def told() -> list[str]:
        return [finding.check for finding in promises.check(load(folder))]

    assert told() == []
    data = json.loads(kept.read_text())
    data["rows"][0]["happened"] -= 1
    kept.write_text(json.dumps(data))
    assert told() == ["altered-evidence"]
    shutil.copy(GUIDE / evidence.FILE, kept)
    sampling = folder / "sampling.yaml"
    sampling.write_text(sampling.read_text().replace("seed: 2026", "seed: 2027", 1))
    assert told() == ["stale-evidence"]
    kept.unlink()
    assert told() == ["no-evidence"]


def test_a_promise_that_is_not_kept_stops_the_guide(guide: Guide) -> None:
    kept = evidence.read(guide)
    assert kept is not None
    for promise in guide.promises:
        worst = [replace(row, low=0.0, high=1.0) for row in kept.rows if row.promise == promise.id]
        judged = [row for row in worst if not row.detail and (promise.audience == "site" or row.fault == ANY)]
        assert judged
        assert list(evidence.broken(promise, worst)) == (judged if promise.at_least != 0 else [])


def test_evidence_depends_on_every_module_that_counting_imports() -> None:
    code = (
        "import sys; from build_tools.proof import corners, counting, detection_rates, fault_pairs, visits;"
        "print(*sorted(name for name in sys.modules if name.startswith('calc.')))"
    )
    told = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=GUIDE.parent
    )
    assert told.stdout.split() == [f"calc.{name}" for name in evidence.MODEL]


def test_an_unknown_tree_gets_its_nearest_neighbour(changed: Callable[..., Path]) -> None:
    folder = changed(("promises.yaml", "test-one-home]", "test-one-hom]"))
    findings = list(promises.check(load(folder)))
    assert {finding.check for finding in findings} == {"unknown-tree"}
    assert "test-one-home" in findings[0].what


def test_an_unknown_kind_of_fault_gets_its_nearest_neighbour(changed: Callable[..., Path]) -> None:
    folder = changed(("promises.yaml", "faults: [service-pen-high,", "faults: [mains-pen-hi,"))
    findings = list(promises.check(load(folder)))
    assert {finding.check for finding in findings} == {"unknown-fault"}
    assert "no kind of fault is called 'mains-pen-hi' - did you mean `mains-pen-high`" in findings[0].what


@pytest.mark.usefixtures("without_pairs")
def test_counts_kept_by_parts_merge_to_the_same_evidence(
    changed: Callable[..., Path], tmp_path: Path
) -> None:
    small = load(changed(*WITHOUT_LONG, ("sampling.yaml", "streets: 5000", "streets: 9")))
    with ThreadPoolExecutor(1) as threads:
        whole = proving.prove(small, threads)
    parts = evidence.Part.all(4)
    files = [
        evidence.write_part(small, part, proving.count_part(small, part), tmp_path / "parts")
        for part in parts
    ]
    with ThreadPoolExecutor(1) as threads:
        assert proving.evidence_of(small, evidence.merge(small, files[::-1]), threads) == whole
    with pytest.raises(ValueError, match=r"missing: 2/4"):
        evidence.merge(small, [files[0], *files[2:]])
    with pytest.raises(ValueError, match=r"is part 1/4, and so is"):
        evidence.merge(small, [*files, files[0]])
    files[0].write_text(files[0].read_text().replace('"grounds": "', '"grounds": "0'))
    with pytest.raises(ValueError, match="other grounds"):
        evidence.merge(small, files)
    files[0].write_text("[]")
    with pytest.raises(ValueError, match="is not the counts of a part"):
        evidence.merge(small, files)


@pytest.mark.parametrize(
    ("text", "says"), [("9/8", "the last is 8/8"), ("0/8", "no part 0/8"), ("3", "write a part as 3/8")]
)
def test_a_part_that_there_is_not_is_refused(text: str, says: str) -> None:
    with pytest.raises(ValueError, match=says):
        evidence.Part.parse(text)
