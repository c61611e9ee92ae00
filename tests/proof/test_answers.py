"""What a simulated caller sees, and which answer stands for it, but for a mistake now and then."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import streets
from batches import as_drawn
from changed_trees import asking

from build_tools.guide.loading import load
from build_tools.guide.trees import Node
from build_tools.proof.caller_model import Caller, answers, chance
from build_tools.proof.counting import visited_streets
from build_tools.proof.street_batch import batched, batches
from calc.street import network
from calc.symptoms import OFF_BELOW_VOLTS, home_volts

WORDS = np.array(["none", "felt", "none", "felt", "felt", "none"])


def question(*words: str | None) -> Node:
    """A question with an answer for each word."""
    visit = load(Path(__file__).parents[1] / "guides" / "pair").trees["visit"]
    asked = asking(visit, "tingle", "danger", "not-proven").nodes["tingle"]
    return replace(asked, exits=tuple(replace(asked.exits[0], is_=word) for word in words))


def test_a_caller_who_makes_no_mistake_says_what_is_so() -> None:
    """The first answer that stands for it; one that stands for nothing is never given."""
    lot = np.linspace(0, 0.99, 6)
    assert answers(question(None, "felt", "none", "felt"), WORDS, lot, 0.0).tolist() == [2, 1, 2, 1, 1, 2]


def test_a_mistake_is_any_other_answer_as_likely_as_the_next() -> None:
    """Those whose lot is below the chance of a mistake, parted evenly among the other answers."""
    lot = np.array([0.0, 0.04, 0.08, 0.09, 0.12, 0.119])
    given = answers(question("felt", "none", "maybe", "yes"), WORDS, lot, 0.12)
    assert given.tolist() == [0, 2, 3, 3, 0, 3]


@pytest.mark.parametrize("errs", [0.0, 1.0])
def test_of_one_answer_there_is_no_other(errs: float) -> None:
    assert answers(question("usual"), np.full(3, "usual"), np.zeros(3), errs).tolist() == [0, 0, 0]


def test_what_no_answer_stands_for_is_told_with_its_words() -> None:
    with pytest.raises(KeyError, match=r"tingle: no answer stands for .*'none'"):
        answers(question("felt", "maybe"), WORDS, np.ones(6), 0.05)


def test_chance_is_one_for_a_street_wherever_it_is_drawn() -> None:
    """And another for each question, tree and seed."""

    def chances(
        numbers: tuple[int, ...], tree: str = "tree", node: str = "node", seed: int = 1
    ) -> list[float]:
        (batch,) = batched(as_drawn(streets.pair(), number=number) for number in numbers)
        found: list[float] = chance(tree, node, batch, seed).tolist()
        return found

    whole = chances(tuple(range(300)))
    assert chances((7, 3, 299)) == [whole[7], whole[3], whole[299]]
    others = [chances((0,), **other) for other in ({}, {"tree": "node"}, {"node": "tree"}, {"seed": 2})]
    assert len({each for (each,) in others}) == 4
    assert all(sum(low <= each < low + 0.25 for each in whole) > 50 for low in (0, 0.25, 0.5, 0.75))


def test_lights_are_dim_or_bright_by_the_volts_that_a_caller_sees() -> None:
    """Each street by itself, where nobody sees a dip: whoever sees the change calls it by its side."""
    sampling = load(Path(__file__).parents[2] / "guide_src").sampling
    assert sampling is not None
    seen = {"dim": 0, "bright": 0, "off": 0}
    for batch in (
        part for whole in batches(sampling, range(20)) for part in whole.with_fault("mains-pen-open")
    ):
        drawn_so = tuple(
            replace(drawn, caller={**drawn.caller, "caller-sees-dip": 1.0}) for drawn in batch.drawn
        )
        caller = Caller(replace(batch, drawn=drawn_so), visited_streets(batch))
        lights = {home: caller.lights(home) for home in batch.street.premises}
        for place, drawn in enumerate(drawn_so):
            sound = network(drawn.street)
            alone = batch.fault(place).applied_to(sound)
            for home, words in lights.items():
                volts, word = home_volts(alone, home), words[place]
                change, sees = volts - home_volts(sound, home), drawn.caller["caller-sees-volts"]
                if volts < OFF_BELOW_VOLTS:
                    assert word == "steady"
                    seen["off"] += 1
                elif change >= sees:
                    assert word == "bright"
                    seen["bright"] += 1
                elif change <= -sees:
                    assert word in ("dim", "bright")  # bright: once the loads have changed
                    seen["dim"] += word == "dim"
    assert min(seen["dim"], seen["bright"]) > 5
