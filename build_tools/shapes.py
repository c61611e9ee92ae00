"""What the files of a guide may hold.

Every value arrives as the text that the author wrote; a shape that needs a number, a date or a flag makes
one of it, and takes nothing else. Street files have no shape here: theirs is `calc.street.Street`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import Annotated, Any, Literal, Self, TypeAlias

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Discriminator,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    StringConstraints,
    Tag,
    ValidationInfo,
    model_validator,
)
from pydantic_core import CoreSchema, PydanticCustomError, core_schema

from calc.faults import KINDS as FAULT_KINDS
from calc.instruments import INSTRUMENTS
from calc.symptoms import CALLERS, FACTS
from calc.work import ACTIONS

__all__ = [
    "Action",
    "Answer",
    "Audience",
    "Call",
    "Condition",
    "Exit",
    "Hazard",
    "Loop",
    "Node",
    "Outcome",
    "Priority",
    "PriorityWords",
    "Promise",
    "Question",
    "QuestionCondition",
    "Range",
    "Reading",
    "ReadingCondition",
    "ReadingEase",
    "Reference",
    "Rule",
    "Settings",
    "StandsOn",
    "Step",
    "Telephone",
    "Term",
    "Tree",
]

NUMBER = re.compile(r"[+-]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][+-]?[0-9]{1,4})?")
"""A number as an author may write it."""

_LONGEST_NUMBER = 40


def _number(written: object) -> object:
    """A finite number written in digits, and nothing that merely could be read as one."""
    if isinstance(written, str):
        if not NUMBER.fullmatch(written):
            raise PydanticCustomError("number", "a number in digits")
        if len(written) > _LONGEST_NUMBER or not math.isfinite(float(written)):
            raise PydanticCustomError("huge-number", "a number of a size that can be measured")
        return float(written)
    return written


def _flag(written: object) -> object:
    if isinstance(written, str):
        if written not in ("true", "false"):
            raise PydanticCustomError("flag", "`true` or `false`")
        return written == "true"
    return written


_COLOUR = re.compile("^#[0-9a-fA-F]{6}$")


def _colour(written: object) -> object:
    if not (isinstance(written, str) and _COLOUR.match(written)):
        raise PydanticCustomError("colour", "a colour")
    return written.lower()


def _day(written: object) -> object:
    if isinstance(written, str):
        try:
            if not re.fullmatch(r"[0-9]{4}-[0-9]{2}-[0-9]{2}", written):
                raise ValueError
            return date.fromisoformat(written)
        except ValueError:
            raise PydanticCustomError("day", "a day of the calendar") from None
    return written


@dataclass(frozen=True)
class _OneOf:
    """A text that is one of these names; the schema for editors lists them."""

    known: tuple[str, ...]

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._check, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        return {**handler(schema), "type": "string", "enum": list(self.known)}

    def _check(self, name: str) -> str:
        if name not in self.known:
            raise PydanticCustomError("not-one-of", "one of the known names", {"known": list(self.known)})
        return name


def _in_a_list(written: object) -> object:
    return [written] if isinstance(written, dict) else written


def _named(text: str, info: ValidationInfo) -> str:
    """The operator's own words in place of `{operator}`, `{services}` and the like, once they are known."""
    names: Mapping[str, str] | None = info.context
    if names is None:
        return text
    for name in _NAME.findall(text):
        if name not in names:
            context = {"name": name, "known": sorted(names)}
            raise PydanticCustomError("not-the-operators", "a name of operator.yaml", context)
    return _NAME.sub(lambda found: names[found[1]], text)


_NAME = re.compile(r"\{([a-z][a-z0-9-]*)\}")
Text = Annotated[str, StringConstraints(min_length=1, strip_whitespace=True), AfterValidator(_named)]
Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=80)]
Number = Annotated[float, BeforeValidator(_number), Field(allow_inf_nan=False)]
NumberAboveZero = Annotated[float, Field(gt=0, allow_inf_nan=False), BeforeValidator(_number)]
Colour = Annotated[str, BeforeValidator(_colour), Field(pattern=_COLOUR.pattern)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Day = Annotated[date, BeforeValidator(_day)]

Audience = Literal["call", "site"]
Priority = Literal["emergency", "urgent", "soon", "routine", "none"]
PRIORITIES: tuple[str, ...] = Priority.__args__  # type: ignore[attr-defined]
"""The most pressing first."""
Hazard = Literal[
    "opens-earth-path",
    "opens-neutral",
    "touches-metalwork",
    "loads-the-neutral",
    "re-energises",
    "opens-cover",
    "works-live",
]
Action = Annotated[str, _OneOf((*ACTIONS, "go-next-door", "come-back"))]
InstrumentName = Annotated[str, _OneOf(tuple(INSTRUMENTS))]
FactName = Annotated[str, _OneOf((*FACTS, "another-home-to-test"))]
CallerFact = Annotated[str, _OneOf(tuple(CALLERS))]
FaultKind = Annotated[str, _OneOf(tuple(FAULT_KINDS))]


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Answer(_Shape):
    """One answer to a question. `is`: the word of the fact, or of what is remembered, that it stands for."""

    answer: Text
    is_: Text | None = Field(None, alias="is")
    go: Id


class Question(_Shape):
    """Pick an answer. `fact`: what the simulation answers it by; `remember`: the name it is carried on by;
    `caller`: what a simulated caller answers it by (calc.symptoms.CALLERS)."""

    question: Text
    help: Text | None = None
    fact: FactName | None = None
    remember: Id | None = None
    caller: CallerFact | None = None
    answers: tuple[Answer, ...] = Field(min_length=1)


class Range(_Shape):
    """What a display from `from` (included) up to `to` (excluded) means. Absent: from 0, and without end."""

    low: Number = Field(0.0, alias="from", ge=0)
    high: NumberAboveZero | None = Field(None, alias="to")
    label: Text
    go: Id


class Exit(_Shape):
    """Where to go when there is no figure to place in a range."""

    go: Id
    label: Text | None = None


class Reading(_Shape):
    """Type what the instrument shows. `same_as`: this is the figure read at that node, asked for again and
    not measured again; paths on which it would be another figure are not looked at."""

    reading: Text
    instrument: InstrumentName
    on: tuple[Text, ...] = Field(min_length=1)
    unit: Text
    same_as: Id | None = None
    help: Text | None = None
    ranges: tuple[Range, ...] = Field(min_length=1)
    not_taken: Exit | None = None
    over_range: Exit | None = None
    not_steady: Exit | None = None


class Step(_Shape):
    """Do this. `proved_by` says how one sees that it was done."""

    step: Text
    help: Text | None = None
    hazards: tuple[Hazard, ...] = ()
    does: tuple[Action, ...] = ()
    proved_by: Text | None = None
    go: Id


class Call(_Shape):
    """Go through another tree of the same audience; its outcomes with `returns: NAME` go on at `back`."""

    call: Id
    back: dict[Id, Id] = Field(min_length=1)


class Outcome(_Shape):
    """Where a walk ends: how urgent it is, what to say, what to do, and to whom it is handed over."""

    outcome: Text
    help: Text | None = None
    priority: Priority
    say: tuple[Text, ...] = ()
    advice: tuple[Text, ...] = ()
    hand_over: Text | None = None
    not_proven: Text | None = None
    closes: Flag = False
    holds: tuple[FaultKind, ...] = ()
    returns: Id | None = None


KINDS = ("question", "reading", "step", "call", "outcome")


def tag(kind: str) -> str:
    """The name of a node's kind in pydantic's errors; no key of a file is written so."""
    return f"<{kind}>"


def _kind(written: Any) -> str | None:
    """The kind of a node, told by the key that is there."""
    if isinstance(written, dict):
        return next((tag(kind) for kind in KINDS if kind in written), None)
    return tag(type(written).__name__.lower())


Node: TypeAlias = Annotated[
    Annotated[Question, Tag(tag("question"))]
    | Annotated[Reading, Tag(tag("reading"))]
    | Annotated[Step, Tag(tag("step"))]
    | Annotated[Call, Tag(tag("call"))]
    | Annotated[Outcome, Tag(tag("outcome"))],
    Discriminator(_kind, custom_error_type="node-kind", custom_error_message="a node of one kind"),
]


class Loop(_Shape):
    """A loop that is meant: it passes through this node, and is walked at most so many times."""

    through: Id
    at_most: Annotated[int, BeforeValidator(_number)] = Field(ge=1, le=20)


class Tree(_Shape):
    """A decision tree about one symptom or task. `heard_as`: words people use for it. `cautions`: its own,
    besides the guide's."""

    title: Text
    audience: Audience
    about: Text
    review_by: Day
    sources: tuple[Id, ...] = Field(min_length=1)
    heard_as: tuple[Text, ...] = ()
    cautions: tuple[Text, ...] = ()
    start: Id
    nodes: dict[Id, Node] = Field(min_length=1)
    loops: tuple[Loop, ...] = ()


class ReadingCondition(_Shape):
    """A reading with this instrument, held here (order does not matter), that was taken.

    Taken: a figure was placed in a range, or the display was over range. `answered` and `not_answered`
    name a range by its label; `at_least` and `below` bound the figure.
    """

    instrument: InstrumentName
    on: tuple[Text, ...] | None = None
    answered: Text | None = None
    not_answered: Text | None = None
    at_least: Number | None = None
    below: Number | None = None


class QuestionCondition(_Shape):
    """A question, told by its `fact` or the name it is remembered by, that was answered; `is`: so."""

    fact: FactName | None = None
    remember: Id | None = None
    is_: Text | None = Field(None, alias="is")

    @model_validator(mode="after")
    def _names_one(self) -> Self:
        if self.fact is None and self.remember is None:
            raise ValueError("question must name a `fact` or what it is `remember`ed as")
        return self


class Condition(_Shape):
    """A node, and for readings and questions the answer it was left by. All that is given must hold;
    `any_of` holds when one of its conditions does. `node` names a node as in its own file, `answer` the label
    it is left by."""

    node: Id | None = None
    answer: Text | None = None
    node_kind: Literal["question", "reading", "step", "outcome"] | None = None
    hazard: Hazard | None = None
    does: Action | None = None
    priority: Priority | None = None
    outcome_closes: Flag | None = None
    reading: ReadingCondition | None = None
    question: QuestionCondition | None = None
    any_of: tuple[Condition, ...] = ()

    @model_validator(mode="after")
    def _says_something(self) -> Self:
        if not self.model_fields_set:
            raise ValueError(f"a condition must name one of: {', '.join(type(self).model_fields)}")
        return self

    @property
    def about_answers(self) -> bool:
        """Whether the answer decides, and not the node alone."""
        reading, question = self.reading, self.question
        return (
            any(condition.about_answers for condition in self.any_of)
            or self.answer is not None
            or (question is not None and question.is_ is not None)
            or (reading is not None and bool(reading.model_fields_set - {"instrument", "on"}))
        )


OneOrMore: TypeAlias = Annotated[
    tuple[Condition, ...],
    BeforeValidator(_in_a_list, json_schema_input_type=Condition | tuple[Condition, ...]),
]
"""Conditions in a list, or one alone."""


class Rule(_Shape):
    """A condition on the order of nodes along every path of every tree (of one audience, when it says so).

    Before `every` node that it names, each condition of `needs_earlier` must have been met, and none of
    `never_after` may have been. A node that meets `unless` in between makes both start afresh: what was
    needed is needed again, and what forbade forbids no longer.

    A need counts as met only by an answer that surely meets it (a range that lies wholly inside the
    bounds); what forbids does so already when the answer may meet it.

    A path that cannot be is no path: a reading that is `same_as` another gives the figure that was read
    there, and a fact of the records the word that was given, until something is done that could change it.
    """

    id: Id
    title: Text
    audience: Audience | None = None
    every: Condition
    needs_earlier: OneOrMore = ()
    never_after: OneOrMore = ()
    unless: Condition | None = None
    because: Text
    sources: tuple[Id, ...] = Field(min_length=1)

    @model_validator(mode="after")
    def _can_be_broken(self) -> Self:
        if not self.needs_earlier and not self.never_after:
            raise ValueError("a rule must say what it `needs_earlier` or what it comes `never_after`")
        if self.every.about_answers:
            raise ValueError("every must name nodes, not the answers they are left by")
        return self


class Term(_Shape):
    """A word of the glossary. `also`: other spellings; `caller_words`: what callers say for it."""

    meaning: Text
    also: tuple[Text, ...] = ()
    caller_words: tuple[Text, ...] = ()


class Synonyms(_Shape):
    """What finding knows of words. `same`: groups of single words that mean the same to whoever looks for
    something; `telling`: words that tell of danger, which weigh more than what is said beside them."""

    same: tuple[tuple[Text, ...], ...] = ()
    telling: tuple[Text, ...] = ()


class Reference(_Shape):
    """Where something is taken from, and what kind of source that is."""

    title: Text
    kind: Literal["published", "common-practice", "from-memory", "project-choice"]
    where: Text | None = None
    edition: Text | None = None
    url: Text | None = None


class Telephone(_Shape):
    """A line to ring in an emergency. `called`: the name that stands for its number in texts."""

    who: Text
    number: Text
    called: Id | None = None


class PriorityWords(_Shape):
    """What this distributor calls a priority, and what it means."""

    label: Text
    means: Text


class ReadingEase(_Shape):
    """The least Flesch reading ease of what callers are told (100 very easy, 0 very hard), and its source."""

    at_least: Number = Field(ge=0, le=100)
    source: Id


class StandsOn(_Shape):
    """What a guide may not lose without a word: said here a second time, so that a slip shows."""

    cautions: Annotated[int, BeforeValidator(_number)] = Field(ge=1)
    rules: dict[Id, Annotated[int, BeforeValidator(_number)]]


class Colours(_Shape):
    """The operator's colours, as `#rrggbb`: of links and keys on light and on dark paper, and of the head
    of a page. Those of danger, caution and good news are the guide's own."""

    light: Colour = "#0b5b70"
    dark: Colour = "#74c7de"
    head: Colour = "#12303b"


class Operator(_Shape):
    """Whose guide this is; everything that another operator would put otherwise.

    `rules`: names of local rules by what texts call them: `{rules-live-work}` is what `live-work` says.
    """

    name: Text
    emergency: tuple[Telephone, ...] = Field(min_length=1)
    priorities: dict[Priority, PriorityWords]
    local_rules: Text
    rules: dict[Id, Text] = Field(default_factory=dict)
    colours: Colours = Colours()

    @property
    def names(self) -> dict[str, str]:
        """What stands for `{...}` in the guide's texts."""
        numbers = {line.called: line.number for line in self.emergency if line.called}
        return {
            "operator": self.name,
            **numbers,
            **{f"rules-{name}": text for name, text in self.rules.items()},
        }

    @model_validator(mode="after")
    def _says_every_priority(self) -> Self:
        missing = [name for name in PRIORITIES if name not in self.priorities]
        if missing:
            raise ValueError(f"priorities must also name {', '.join(missing)}")
        return self


class Settings(_Shape):
    """What holds for the whole guide, whoever publishes it.

    `review_by`: the day by which the whole is reviewed again; pages without a day of their own go by it.
    `first`: the trees that lists begin with, in this order. `danger_now`: for each audience, what to do at
    once when something dangerous is found in the middle of a tree; without it the cautions are told.
    `stands_on`: how many cautions the guide has, and how many conditions each of its rules has.
    """

    title: Text
    version: Text
    reviewed: Day
    review_by: Day | None = None
    cautions: tuple[Text, ...] = ()
    reading_ease: ReadingEase
    first: tuple[Id, ...] = ()
    danger_now: dict[Audience, tuple[Text, ...]] = Field(default_factory=dict)
    stands_on: StandsOn | None = None


class Promise(_Shape):
    """What the guide claims, measured over drawn streets with each kind of fault.

    Of site trees: `no-harm`: some walk hurts or closes beside a danger. `robust`: some walk with one wrong
    answer does. `found`: a danger at the visited home ends in an open job. `elsewhere`: a danger that is
    not at the visited home does. `useful`: a healthy street can be closed.
    Of call trees: `heard`: a caller who has `noticed` what a dangerous fault does there is given
    `priority` or a higher one. `calm`: a caller on a street without danger is given it.

    `at_most` or `at_least` bounds the share of streets. `why` says why no more is promised.
    """

    id: Id
    kind: Literal["no-harm", "robust", "found", "elsewhere", "useful", "heard", "calm"]
    title: Text
    words: Text
    trees: tuple[Id, ...] = Field(min_length=1)
    noticed: Literal["tingle", "bright", "dim", "off"] | None = None
    priority: Priority = "emergency"
    at_least: Number | None = Field(None, ge=0, le=1)
    at_most: Number | None = Field(None, ge=0, le=1)
    why: Text | None = None

    @property
    def is_upper(self) -> bool:
        """Whether the less often it happens the better."""
        return self.kind in ("no-harm", "robust", "calm")

    @property
    def audience(self) -> Audience:
        """For whom the trees are that it speaks of."""
        return "call" if self.kind in ("heard", "calm") else "site"

    @model_validator(mode="after")
    def _has_its_bound(self) -> Self:
        needed, other = ("at_most", "at_least") if self.is_upper else ("at_least", "at_most")
        if getattr(self, needed) is None or getattr(self, other) is not None:
            raise ValueError(f"a promise of kind `{self.kind}` must give `{needed}` and not `{other}`")
        if (self.noticed is None) == (self.kind == "heard"):
            raise ValueError("a promise of kind `heard`, and no other, must say what is `noticed`")
        return self


Promises: TypeAlias = tuple[Promise, ...]
Glossary: TypeAlias = dict[Text, Term]
References: TypeAlias = dict[Id, Reference]
Rules: TypeAlias = tuple[Rule, ...]
