"""Figures of the model that the trees give in words, held to the model as it is now.

The words of a tree cannot ask the model for a figure, as a page can. So each sentence that quotes one stands
here with the way to reckon it: when the streets change, the words have to follow.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import cache
from pathlib import Path

import pytest

from build_tools.guide.loading import load
from build_tools.guide.trees import Guide
from calc.faults import parse
from calc.instruments import read
from calc.readings import readings
from calc.street import Street, network
from calc.work import Condition, as_worked

SHIPPED = Path(__file__).parents[2] / "guide_src"
TREE = "test-one-home"
NUMBER = r"([0-9]+(?:\.[0-9]+)?)"


@cache
def guide() -> Guide:
    return load(SHIPPED)


@cache
def figure(street: str, home: str, test: str, fault: str = "healthy") -> float:
    """What one test shows at a home, in the unit of its instrument."""
    faulty = parse(fault).applied_to(network(guide().streets[street]))
    value = readings(faulty, home)[test].value
    assert value is not None
    return value


def homes(wanted: Callable[[Street, str], bool]) -> Iterator[tuple[str, str]]:
    """Every home of every street that is wanted, with its street's id."""
    for id_, street in guide().streets.items():
        yield from ((id_, home) for home in street.premises if wanted(street, home))


def sharing(street: Street, home: str) -> bool:
    return bool(street.sharing_metalwork(home))


def sharing_with_a_pen(street: Street, home: str) -> bool:
    return sharing(street, home) and street.premises[home].earthing == "tn-c-s"


def earthed_by_the_supply(street: Street, home: str) -> bool:
    return street.premises[home].earthing != "tt"


def healthy(test: str, wanted: Callable[[Street, str], bool]) -> list[float]:
    return [figure(street, home, test) for street, home in homes(wanted)]


def high_pen(ohm: float) -> list[float]:
    """The pair with the known load on, at each home with this resistance in its own PEN."""
    return [
        figure(street, home, "known-load-neutral-and-earth", f"service-pen-high@{home}={ohm}")
        for street, home in homes(sharing_with_a_pen)
    ]


def beside_an_open_pen() -> list[float]:
    return [
        figure(street, home, "clamp-main-earth", f"service-pen-open@{beside}")
        for street, home in homes(sharing)
        for beside in guide().streets[street].sharing_metalwork(home)
        if guide().streets[street].premises[beside].earthing == "tn-c-s"
    ]


def neutral_under_load() -> Iterator[float]:
    for street, home in homes(lambda *_: True):
        loaded = as_worked(network(guide().streets[street]), frozenset({Condition("known-load-on", home)}))
        value = read(loaded, home, "voltmeter", ("neutral", "earth")).value
        assert value is not None
        yield value


def spread(values: list[float]) -> tuple[float, float]:
    return min(values), max(values)


CLAIMS: dict[str, tuple[str, str, Callable[[], tuple[float, ...]]]] = {
    "clamp, healthy": (
        "clamp-main-earth",
        rf"homes that share a metal pipe show {NUMBER} to {NUMBER} A;",
        lambda: spread(healthy("clamp-main-earth", sharing)),
    ),
    "clamp, beside an open PEN": (
        "clamp-main-earth",
        rf"beside a neighbour's open PEN they show {NUMBER} to {NUMBER} A",
        lambda: spread(beside_an_open_pen()),
    ),
    "probe": (
        "probe",
        rf"Healthy homes of the model show {NUMBER} V or less",
        lambda: (max(healthy("volts-earth-probe", earthed_by_the_supply)),),
    ),
    "neutral to earth": (
        "neutral-to-earth",
        rf"Healthy homes of the model show {NUMBER} V or less",
        lambda: (max(healthy("volts-neutral-earth", earthed_by_the_supply)),),
    ),
    "neutral under load": (
        "neutral-under-load",
        rf"Healthy homes of the model show {NUMBER} V or less",
        lambda: (max(neutral_under_load()),),
    ),
    "loop to earth": (
        "loop-to-earth",
        rf"Healthy homes of the model show {NUMBER} ohm or less",
        lambda: (max(healthy("loop-line-earth", earthed_by_the_supply)),),
    ),
    "loop to neutral": (
        "loop-to-neutral",
        rf"Healthy homes of the model show {NUMBER} ohm or less",
        lambda: (max(healthy("loop-line-neutral", earthed_by_the_supply)),),
    ),
    "pair, healthy": (
        "known-load-both",
        rf"healthy ones show {NUMBER} A or more",
        lambda: (min(healthy("known-load-neutral-and-earth", sharing_with_a_pen)),),
    ),
    "pair, 0.1 ohm in the PEN": (
        "known-load-both",
        rf"those with 0\.1 ohm in the PEN {NUMBER} to {NUMBER} A",
        lambda: spread(high_pen(0.1)),
    ),
}


def words_of(node: str) -> str:
    """What a node says in `help` and `why`, in one line, without the marks of glossary terms."""
    spec = guide().tree_files[TREE].spec.nodes[node]
    text = " ".join(getattr(spec, key, None) or "" for key in ("help", "why"))
    return re.sub(r"\[\[(?:[^\]|]+\|)?([^\]]+)\]\]", r"\1", " ".join(text.split()))


@pytest.mark.parametrize("name", CLAIMS)
def test_a_figure_in_words_is_the_models(name: str) -> None:
    node, sentence, reckon = CLAIMS[name]
    said = re.search(sentence, words_of(node))
    assert said, f"{node} no longer says this: {words_of(node)}"
    for written, value in zip(said.groups(), reckon(), strict=True):
        places = len(written.partition(".")[2])
        assert f"{value:.{places}f}" == written


def test_a_pen_of_0_3_ohm_stays_below_the_least_that_passes() -> None:
    assert "with 0.3 ohm less than 3 A" in words_of("known-load-both")
    assert max(high_pen(0.3)) < 3


def test_every_figure_of_the_model_in_words_is_held_here() -> None:
    """A sentence of this tree that says what the model gives, and that no test reckons."""
    held = {node for node, _, _ in CLAIMS.values()}
    quoting = {
        name
        for name in guide().tree_files[TREE].spec.nodes
        if re.search(r"of the model (?:show|give) [0-9]", words_of(name))
    }
    assert quoting - held == set()
