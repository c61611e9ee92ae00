"""What a calculator is: the inputs it asks for, the answer it gives, and the function between them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["Answer", "Calculator", "Choice", "Example", "Input", "Number", "Output", "Row", "Table", "Tick"]


@dataclass(frozen=True, slots=True)
class Number:
    """A number to type, in `unit`, from `low` to `high`, both included; a `slider` can be dragged besides.
    One that is `optional` may be left empty (None), and the form opens so.

    Raises ValueError when the default is outside.
    """

    name: str
    label: str
    unit: str
    low: float
    high: float
    default: float
    step: float
    help: str = ""
    slider: bool = False
    optional: bool = False

    def __post_init__(self) -> None:
        if not self.low <= self.default <= self.high:
            raise ValueError(f"{self.name}: {self.default!r} is not from {self.low!r} to {self.high!r}")


@dataclass(frozen=True, slots=True)
class Choice:
    """One of some options, each a value and its words.

    `options_from` names what fills the options instead: `streets`, or the `homes` or `faults` of the
    street in the input called `street`. The default of such a choice is the first option that begins
    with `default`, or the one so many `after` it, as far as there are so many. Raises ValueError when the
    default of a fixed choice is not an option.
    """

    name: str
    label: str
    options: tuple[tuple[str, str], ...]
    default: str
    help: str = ""
    options_from: str = ""
    after: int = 0

    def __post_init__(self) -> None:
        if not self.options_from and self.default not in dict(self.options):
            raise ValueError(f"{self.name}: {self.default!r} is not an option")


@dataclass(frozen=True, slots=True)
class Tick:
    """A yes or no."""

    name: str
    label: str
    default: bool
    help: str = ""


Input = Number | Choice | Tick


@dataclass(frozen=True, slots=True)
class Output:
    """One figure that an answer gives, with `digits` decimals.

    `limit` is an id of calc.limits.LIMITS, shown beside the figure; `side` says on which side of it the
    figure should be.
    """

    name: str
    label: str
    unit: str
    digits: int
    limit: str = ""
    side: Literal["", "at-most", "at-least"] = ""
    help: str = ""


@dataclass(frozen=True, slots=True)
class Example:
    """A worked example: the inputs that differ from the defaults, as typed; of options that a street fills,
    how the one meant begins."""

    title: str
    values: Mapping[str, str]


@dataclass(frozen=True, slots=True)
class Row:
    """One line of a table: its label, and a cell for each column after the first, unit included."""

    label: str
    cells: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table. `columns` has one heading more than a row has cells: the first stands over the labels.

    Raises ValueError when a row does not fit.
    """

    title: str
    columns: tuple[str, ...]
    rows: tuple[Row, ...]

    def __post_init__(self) -> None:
        for row in self.rows:
            if len(row.cells) + 1 != len(self.columns):
                raise ValueError(f"{self.title}: {row.label!r} does not fit {len(self.columns)} columns")


@dataclass(frozen=True, slots=True)
class Answer:
    """What a calculator says: sentences, tables, a drawing (inline SVG, or ""), and what to beware of."""

    summary: tuple[str, ...]
    tables: tuple[Table, ...]
    drawing: str
    warnings: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Calculator:
    """One calculator.

    `run(values, data)` takes checked values by input name (float, str or bool; None for an
    optional number left empty) and what the build
    ships, `{"streets": {id: Street.to_data()}}`; it raises nothing. `sources` and `cautions` are
    sentences for the page; the first caution is the one that a life may hang on, and is never folded.
    `outputs` are the rows of the answer's first table (calc.results); `examples` are
    printed by the build.
    """

    id: str
    title: str
    about: str
    inputs: tuple[Input, ...]
    run: Callable[[Mapping[str, Any], Mapping[str, Any]], Answer]
    sources: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    outputs: tuple[Output, ...] = ()
    examples: tuple[Example, ...] = ()
