"""Ways from a reading or a street into the calculators that ask for it, and back."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlencode

from build_tools import shapes
from calc.calculator import Choice
from calc.calculators import CALCULATORS
from calc.readings import TESTS

__all__ = ["Ask", "for_reading", "for_street"]


@dataclass(frozen=True, slots=True)
class Ask:
    """A link to a calculator, with the input that the figure typed at a reading goes into, or ""."""

    title: str
    address: str
    input: str = ""


def for_reading(spec: shapes.Reading, page: str) -> Iterator[Ask]:
    """The calculators with an input named after the test that is read; `page` is where to come back."""
    names = [test.id for test in TESTS if (test.instrument, test.on) == (spec.instrument, tuple(spec.on))]
    for calculator in CALCULATORS.values():
        for shape in calculator.inputs:
            if names[:1] == [shape.name]:
                yield Ask(calculator.title, _address(calculator.id, {}, page), shape.name)


def for_street(street: str, page: str) -> Iterator[Ask]:
    """The calculators that ask for a street, with this one filled in."""
    for calculator in CALCULATORS.values():
        if any(isinstance(shape, Choice) and shape.options_from == "streets" for shape in calculator.inputs):
            yield Ask(calculator.title, _address(calculator.id, {"street": street}, page))


def _address(calculator: str, fields: dict[str, str], page: str) -> str:
    return f"calculators/{calculator}.html#{urlencode(fields | {'from': page})}"
