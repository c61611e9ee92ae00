"""Flesch reading ease against scores and syllables from outside."""

from __future__ import annotations

import pytest

from build_tools.guide.reading_ease import flesch, reading_age, syllables


@pytest.mark.parametrize(
    ("text", "score", "within"),
    [
        # Both are the stock examples of encyclopedia articles on the formula; from memory.
        ("The cat sat on the mat.", 116, 0.5),
        ("This sentence, taken as a reading passage unto itself, is being used to prove a point.", 69, 0.5),
    ],
)
def test_well_known_scores(text, score, within):
    assert flesch([text]) == pytest.approx(score, abs=within)


@pytest.mark.parametrize(
    ("text", "age"),
    [
        # One sentence each, of 6 words and 6 syllables, and of 16 and 23: by hand into the published formula.
        ("The cat sat on the mat.", 5),
        ("This sentence, taken as a reading passage unto itself, is being used to prove a point.", 12.61),
    ],
)
def test_reading_age(text, age):
    assert reading_age([text]) == pytest.approx(age, abs=0.1)


# Counts as an English dictionary divides the words when spoken; from memory.
SPOKEN = {
    1: "smoke pipes touched lights homes here leave called the eye fire house",
    2: "open metal water cupboard supply being people table houses wanted little quiet danger safety police",
    3: "area idea conductor engineer flickering appliance property dangerous",
    4: "emergency radiator disconnected",
    5: "electricity immediately",
}


def test_syllables_are_near_enough():
    """Hyphenation is not speech, so one word in twenty may be one out; a mean over a text bears it."""
    words = [(word, count) for count, all_ in SPOKEN.items() for word in all_.split()]
    wrong = {word: syllables(word) for word, count in words if syllables(word) != count}
    assert len(wrong) <= len(words) / 20, wrong


def test_longer_sentences_and_words_are_harder():
    plain = flesch(["Stay away from the taps.", "We will come now."])
    assert (
        plain
        > flesch(["Stay away from the taps and we will come now."])
        > flesch(["Avoid metallic installations."])
    )


def test_no_words_are_no_trouble():
    assert flesch([]) == flesch(["...", ""]) == 100
