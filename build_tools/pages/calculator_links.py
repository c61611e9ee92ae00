"""Ways from a reading or a street into the calculators that ask for it, and back."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from build_tools.guide import models
from calc.calculator import Choice
from calc.calculators import CALCULATORS
from calc.readings import TESTS, Test
from calc.work import ACTIONS

__all__ = ["CalculatorLink", "for_reading", "for_street"]


@dataclass(frozen=True, slots=True)
class CalculatorLink:
    """A link to a calculator, with the input that the figure typed at a reading goes into, or ""."""

    title: str
    address: str
    input: str = ""


def for_reading(
    spec: models.Reading, done: Collection[frozenset[str]], page: str
) -> Iterator[CalculatorLink]:
    """The calculators with an input named after the test that is read; `page` is where to come back.

    `done` holds the conditions of calc.work under which walks come to the reading: a figure under load is
    another test than one at rest, and where they differ it is none.
    """
    asked = {(spec.instrument, tuple(spec.on), conditions - _AS_USUAL) for conditions in done}
    names = [test.id for test in TESTS if {(test.instrument, test.on, _before(test))} == asked]
    for calculator in CALCULATORS.values():
        for shape in calculator.inputs:
            if shape.name in names:
                yield CalculatorLink(calculator.title, _address(calculator.id, {}, page), shape.name)


_AS_USUAL = frozenset({"home-quiet"})
"""What is done to make ready, and leaves the test the same."""


def _before(test: Test) -> frozenset[str]:
    """The conditions that a test is made under."""
    return frozenset(ACTIONS[action][0] for action in test.after)


def for_street(street: str, page: str) -> Iterator[CalculatorLink]:
    """The calculators that ask for a street, with this one filled in."""
    for calculator in CALCULATORS.values():
        if any(isinstance(shape, Choice) and shape.options_from == "streets" for shape in calculator.inputs):
            yield CalculatorLink(calculator.title, _address(calculator.id, {"street": street}, page))


def _address(calculator: str, fields: dict[str, str], page: str) -> str:
    return f"calculators/{calculator}.html#{urlencode(fields | {'from': page})}"
