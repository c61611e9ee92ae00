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
from unicodedata import category

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
    "Danger",
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


def _on_one_line(text: str) -> str:
    if any(category(letter) in ("Cc", "Zl", "Zp") for letter in text):
        raise PydanticCustomError("one-line", "words on one line")
    return text


_NAME = re.compile(r"\{([a-z][a-z0-9-]*)\}")
Text = Annotated[str, StringConstraints(min_length=1, strip_whitespace=True), AfterValidator(_named)]
Line = Annotated[Text, AfterValidator(_on_one_line)]
"""Words that stand in settings of servers and names of files, too: nothing that ends a line, and no control
character."""
Id = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9-]*$", max_length=80)]
Number = Annotated[float, BeforeValidator(_number), Field(allow_inf_nan=False)]
NumberAboveZero = Annotated[float, Field(gt=0, allow_inf_nan=False), BeforeValidator(_number)]
Colour = Annotated[str, Field(pattern=_COLOUR.pattern), BeforeValidator(_colour)]
Flag = Annotated[bool, BeforeValidator(_flag)]
Day = Annotated[date, BeforeValidator(_day)]

Audience = Literal["call", "site"]
Priority = Literal["emergency", "urgent", "soon", "routine", "unsettled"]
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
    model_config = ConfigDict(frozen=True, extra="forbid", use_attribute_docstrings=True)


class Answer(_Shape):
    """One answer to a question."""

    answer: Text
    """The words to pick."""
    is_: Text | None = Field(None, alias="is")
    """The word of the question's `fact` or `caller`, or of what it remembers, that this answer stands for.
    An answer without one (`not sure`) may be given whatever is so."""
    go: Id
    """The node that follows."""


class Question(_Shape):
    """Pick an answer."""

    question: Text
    """What is asked. In a call tree it is said to the caller as it stands."""
    help: Text | None = None
    """What helps to answer it."""
    why: Text | None = None
    """Why it is asked, and what else to know: folded away on the page until somebody opens it. What keeps
    people safe belongs into `help`."""
    fact: FactName | None = None
    """What of the home the walks answer it by. Without it they follow every answer."""
    remember: Id | None = None
    """The name that the answer is carried on by, from a call tree to the site trees that remember the same,
    and that rules know it by."""
    caller: CallerFact | None = None
    """What a simulated caller answers it by, in a call tree that a promise speaks of."""
    matter: Id | None = None
    """What it asks about, the same word where that is asked again in other words: a simulated caller's
    mistakes about one matter are shared. Without it: what `caller` says, and of `other` this question
    alone."""
    answers: tuple[Answer, ...] = Field(min_length=1)
    """Every answer, in the order in which they are shown."""


class Range(_Shape):
    """What a display from `from` (included) up to `to` (excluded) means."""

    low: Number = Field(0.0, alias="from", ge=0)
    """The lowest figure that counts, in the unit of the reading."""
    high: NumberAboveZero | None = Field(None, alias="to")
    """The first figure that counts no more, in the unit of the reading. Absent: the range has no end."""
    label: Text
    """What such a figure means, in a few words."""
    go: Id
    """The node that follows."""


class Exit(_Shape):
    """Where to go when there is no figure to place in a range."""

    go: Id
    """The node that follows."""
    label: Text | None = None
    """Words to pick, in place of the usual ones."""


class Reading(_Shape):
    """Type what the instrument shows."""

    reading: Text
    """What is measured, and how."""
    instrument: InstrumentName
    """The tester that shows it."""
    on: tuple[Text, ...] = Field(min_length=1)
    """What it is held to: for a clamp the conductors in one jaw, for an indicator that touches a single
    point that point, for the others two points."""
    unit: Text
    """What the figure is in: the unit of the instrument."""
    same_as: Id | None = None
    """The reading of this tree whose figure this is: asked for again, and not measured again. Paths on
    which it would be another figure are not looked at."""
    change_from: Id | None = None
    """The reading of this tree that was taken before it at the same home, with the same instrument at the
    same points: the ranges speak of how far this figure has moved from that one, up or down."""
    help: Text | None = None
    """What helps to take it."""
    why: Text | None = None
    """Why it is taken, and where its limits come from: folded away on the page until somebody opens it."""
    ranges: tuple[Range, ...] = Field(min_length=1)
    """What the figures mean: together they cover all from 0 up, once."""
    not_taken: Exit | None = None
    """When the reading could not be taken; a loop tester that refuses to test counts so. Every reading needs
    it."""
    over_range: Exit | None = None
    """When the figure is above all that the instrument shows. Every reading needs it."""
    not_steady: Exit | None = None
    """When the display does not hold still. Every reading needs it."""


class Step(_Shape):
    """Do this."""

    step: Text
    """What is to be done."""
    help: Text | None = None
    """What helps to do it."""
    why: Text | None = None
    """Why it is done: folded away on the page until somebody opens it."""
    hazards: tuple[Hazard, ...] = ()
    """What can hurt in it: signs on the page and rules go by these tags."""
    does: tuple[Action, ...] = ()
    """What the walks do to the street in it, in this order."""
    proved_by: Text | None = None
    """How one sees that it was done, put behind `Done when`."""
    go: Id
    """The node that follows."""


class Call(_Shape):
    """Go through another tree of the same audience."""

    call: Id
    """The tree that is gone through: its file's name without .yaml."""
    back: dict[Id, Id] = Field(min_length=1)
    """What an outcome of that tree `returns` -> the node of this tree that follows it. Its other outcomes
    end the walk."""


class Outcome(_Shape):
    """Where a walk ends: how urgent it is, what to say, what to do, and to whom it is handed over."""

    outcome: Text
    """What was found or decided."""
    help: Text | None = None
    """What helps to understand it."""
    priority: Priority
    """How pressing it is; operator.yaml says what each is called. `unsettled`: this alone settles nothing."""
    dangers: Flag = False
    """Whether what to do at once in each danger (guide.yaml) is told here too."""
    say: tuple[Text, ...] = ()
    """Sentences to say to the caller as they stand."""
    advice: tuple[Text, ...] = ()
    """What to do now, or in a call tree what to advise the caller, one thing an entry."""
    hand_over: Text | None = None
    """To whom it is handed over, and with what. An end that a danger can lead to has it."""
    next: Text | None = None
    """What is to be done next, where this alone settles nothing (priority `unsettled`)."""
    not_proven: Text | None = None
    """What this outcome does not show."""
    closes: Flag = False
    """Whether the job may be closed on it."""
    holds: tuple[FaultKind, ...] = ()
    """The kinds of fault that it takes to be there."""
    returns: Id | None = None
    """The name that a tree which calls this one knows this outcome by."""


NODE_SHAPES: Mapping[str, type[_Shape]] = {
    "question": Question,
    "reading": Reading,
    "step": Step,
    "call": Call,
    "outcome": Outcome,
}
"""The kinds of node, each told by a key of its own name; where two are there, the first counts."""
KINDS = tuple(NODE_SHAPES)


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
    """A loop that is meant."""

    through: Id
    """A node that every round passes through."""
    at_most: Annotated[int, BeforeValidator(_number)] = Field(ge=1, le=20)
    """How often it may be passed, 1 to 20. After that the page says to go round no more."""


class Tree(_Shape):
    """A decision tree about one symptom or task."""

    title: Text
    """What it is called in lists and at the head of its page."""
    audience: Audience
    """Who follows it: `call` for call handlers, `site` for operatives. The same as the folder that it lies
    in."""
    about: Text
    """When to use it."""
    review_by: Day
    """The last day before it has to be reviewed again."""
    sources: tuple[Id, ...] = Field(min_length=1)
    """Where it is taken from: ids in sources.yaml."""
    heard_as: tuple[Text, ...] = ()
    """Words that people use for what it is about; finding knows them."""
    cautions: tuple[Text, ...] = ()
    """Cautions of its own, told before the guide's."""
    start: Id
    """The node that it begins with."""
    nodes: dict[Id, Node] = Field(min_length=1)
    """Id -> node. A node is a question, a reading, a step, a call or an outcome."""
    loops: tuple[Loop, ...] = ()
    """Every loop that is meant; any other is refused."""


class ReadingCondition(_Shape):
    """A reading that was taken: a figure was placed in a range, or the display was over range."""

    instrument: InstrumentName
    """The tester that it was taken with."""
    on: tuple[Text, ...] | None = None
    """What the tester was held to, in any order. Absent: anything."""
    answered: Text | None = None
    """The label of the range that the figure fell in."""
    not_answered: Text | None = None
    """The label of a range that the figure did not fall in."""
    at_least: Number | None = None
    """The figure was this or more, in the instrument's unit."""
    below: Number | None = None
    """The figure was below this, in the instrument's unit."""
    change: Flag = False
    """Whether it is a reading that is judged by its change from an earlier one, and the bounds are of the
    change."""


class QuestionCondition(_Shape):
    """A question that was answered, told by its `fact`, the name that it is remembered by, or both."""

    fact: FactName | None = None
    """The fact that it asks."""
    remember: Id | None = None
    """The name that it is remembered by."""
    is_: Text | None = Field(None, alias="is")
    """The word that the answer stands for. Absent: any answer."""

    @model_validator(mode="after")
    def _names_one(self) -> Self:
        if self.fact is None and self.remember is None:
            raise ValueError("question must name a `fact` or what it is `remember`ed as")
        return self


class Condition(_Shape):
    """A node, and for readings and questions the answer that it was left by. All that is given must hold."""

    node: Id | None = None
    """The id of a node, as in its own file."""
    answer: Text | None = None
    """The label of the answer or range that the node was left by."""
    node_kind: Literal["question", "reading", "step", "outcome"] | None = None
    """What kind of node it is."""
    hazard: Hazard | None = None
    """A step with this tag."""
    does: Action | None = None
    """A step that does this."""
    priority: Priority | None = None
    """An outcome of this priority."""
    outcome_closes: Flag | None = None
    """An outcome that closes the job, or one that does not."""
    reading: ReadingCondition | None = None
    """A reading, and what it showed."""
    question: QuestionCondition | None = None
    """A question, and how it was answered."""
    any_of: tuple[Condition, ...] = ()
    """Conditions of which one is enough."""

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
    `never_after` may have been. A node that meets `unless` in between makes both start afresh.

    A need counts as met only by an answer that surely meets it (a range that lies wholly inside the
    bounds); what forbids does so already when the answer may meet it.

    A path that cannot be is no path: a reading that is `same_as` another gives the figure that was read
    there, and a fact of the records the word that was given, until something is done that could change it.
    """

    id: Id
    """Its name. The finding of a path that breaks it is called `rule-` and this."""
    title: Text
    """What it demands, in a sentence."""
    audience: Audience | None = None
    """The audience in whose trees it holds. Absent: in every tree."""
    every: Condition
    """The nodes that it is about: nodes only, and not the answers they are left by."""
    needs_earlier: OneOrMore = ()
    """What must have been met before such a node, each of the list: one condition, or a list."""
    never_after: OneOrMore = ()
    """What may not have been met before such a node, none of the list: one condition, or a list."""
    unless: Condition | None = None
    """After a node that meets this, what was needed is needed again, and what forbade forbids no longer."""
    because: Text
    """Why: told to the author with the finding, and to readers on the page of rules."""
    sources: tuple[Id, ...] = Field(min_length=1)
    """Where it is taken from: ids in sources.yaml."""

    @model_validator(mode="after")
    def _can_be_broken(self) -> Self:
        if not self.needs_earlier and not self.never_after:
            raise ValueError("a rule must say what it `needs_earlier` or what it comes `never_after`")
        if self.every.about_answers:
            raise ValueError("every must name nodes, not the answers they are left by")
        return self


class Term(_Shape):
    """A word of the glossary."""

    meaning: Text
    """What it means."""
    also: tuple[Text, ...] = ()
    """Other spellings, which may be linked too."""
    caller_words: tuple[Text, ...] = ()
    """What callers say for it; finding knows them."""


class Synonyms(_Shape):
    """What finding knows of words."""

    same: tuple[tuple[Text, ...], ...] = ()
    """Groups of single words that mean the same to whoever looks for something."""
    telling: tuple[Text, ...] = ()
    """Words that tell of danger: they weigh more than what is said beside them."""
    kinds: dict[Id, tuple[Text, ...]] = Field(default_factory=dict)
    """Name -> the words that `<name>` stands for in what is heard of a danger (guide.yaml)."""


class Reference(_Shape):
    """Where something is taken from, and what kind of source that is."""

    title: Text
    """What it is called."""
    kind: Literal["published", "common-practice", "from-memory", "project-choice"]
    """Whether it was published, is common practice without a source, is from memory, or is this project's
    own choice."""
    where: Text | None = None
    """Where it stands: journal, chapter, page."""
    edition: Text | None = None
    """Which edition, or its date."""
    url: Text | None = None
    """Where it can be read."""


class Telephone(_Shape):
    """A line to ring in an emergency."""

    who: Text
    """Who answers."""
    number: Text
    """What to dial, between quotes."""
    called: Id | None = None
    """The name that stands for the number in texts: `{services}` where this is `services`."""
    invented: Flag = False
    """Whether nobody answers it, since the guide is only for show; pages say so beside the number."""


class PriorityWords(_Shape):
    """What this distributor calls a priority."""

    label: Text
    """What it is called."""
    means: Text
    """What it means, in a sentence."""


class ReadingEase(_Shape):
    """The reading ease that is asked for."""

    at_least: Number = Field(ge=0, le=100)
    """The least Flesch reading ease of each call tree: 100 very easy, 0 very hard."""
    source: Id
    """Where that comes from: an id in sources.yaml."""


class StandsOn(_Shape):
    """What a guide may not lose without a word: said here a second time, so that a slip shows."""

    cautions: Annotated[int, BeforeValidator(_number)] = Field(ge=1)
    """How many cautions guide.yaml has."""
    dangers: tuple[Id, ...] = ()
    """The dangers that guide.yaml has."""
    rules: dict[Id, Annotated[int, BeforeValidator(_number)]]
    """Id of each rule -> how many conditions it has in `needs_earlier` and `never_after` together."""


class Signature(_Shape):
    """Who has read what people act on in danger, and stands behind it."""

    by: Line
    """Who signs: name and office."""
    day: Day
    """The day on which it was read."""
    words: dict[Text, dict[Text, Text]] = Field(default_factory=dict)
    """File of the guide -> place of each text in it -> the mark of the words that were read."""
    rules: dict[Id, Annotated[int, BeforeValidator(_number)]] = Field(default_factory=dict)
    """Id of a rule -> how many nodes it bound then."""


class Colours(_Shape):
    """The operator's colours. Those of danger, caution and good news are the guide's own."""

    light: Colour = "#0b5b70"
    """Of links and keys on light paper."""
    dark: Colour = "#74c7de"
    """Of links and keys on dark paper."""
    head: Colour = "#12303b"
    """Of the head of each page."""


class Operator(_Shape):
    """Whose guide this is; everything that another operator would put otherwise."""

    name: Line
    """Who publishes the guide. `{operator}` in any text stands for it."""
    emergency: tuple[Telephone, ...] = Field(min_length=1)
    """Lines to ring in an emergency, the first to ring first."""
    clear_of_wires_m: Annotated[int, BeforeValidator(_number)] = Field(10, ge=1, le=100)
    """How far people are kept from a fallen or low wire, in metres; `{clear-of-wires}` in any text. Common
    practice: network operators ask the public for 5 to 10 m."""
    priorities: dict[Priority, PriorityWords]
    """Each priority -> what it is called here. All five are needed."""
    local_rules: Text
    """What is said of the local safety rules, under every list of cautions and at the foot of each page."""
    rules: dict[Id, Text] = Field(default_factory=dict)
    """Name -> the local rule that it stands for: `{rules-live-work}` in any text is what `live-work`
    says."""
    colours: Colours = Colours()
    """The operator's colours."""

    @property
    def names(self) -> dict[str, str]:
        """What stands for `{...}` in the guide's texts."""
        numbers = {line.called: line.number for line in self.emergency if line.called}
        return {
            "operator": self.name,
            "clear-of-wires": str(self.clear_of_wires_m),
            **numbers,
            **{f"rules-{name}": text for name, text in self.rules.items()},
        }

    @model_validator(mode="after")
    def _says_every_priority(self) -> Self:
        missing = [name for name in PRIORITIES if name not in self.priorities]
        if missing:
            raise ValueError(f"priorities must also name {', '.join(missing)}")
        return self


class Danger(_Shape):
    """What to do at once in one kind of danger."""

    title: Text
    """What is the matter, as a heading."""
    heard_as: tuple[Text, ...] = Field(min_length=1)
    """What people say of it, as `build_tools/guide/phrases.py` describes. Who says so is led here before any
    tree."""
    say: tuple[Text, ...] = Field(min_length=1)
    """What is said to a caller, in this order."""
    do: tuple[Text, ...] = Field(min_length=1)
    """What a crew does, in this order."""
    may_switch_off: Literal["to-free", "to-stop-fire"] | None = None
    """The one thing that a caller may be asked to do, from a dry place: to switch off at a plug or the main
    switch, and, `to-free` somebody who is held, to push them clear."""
    sources: tuple[Id, ...] = Field(min_length=1)
    """Where the advice is from: ids of sources.yaml."""


class Settings(_Shape):
    """What holds for the whole guide, whoever publishes it."""

    title: Line
    """What the guide is called."""
    version: Line
    """The edition; every page names it."""
    reviewed: Day
    """The day of the last review of the whole."""
    review_by: Day | None = None
    """The last day before the whole has to be reviewed again. Pages without a day of their own go by it."""
    cautions: tuple[Text, ...] = ()
    """What everybody is told first, the most important on top."""
    reading_ease: ReadingEase
    """How easy the words said to callers have to be."""
    first: tuple[Id, ...] = ()
    """The trees that lists begin with, in this order."""
    danger_now: dict[Audience, tuple[Text, ...]] = Field(default_factory=dict)
    """Audience -> what to do at once when something dangerous is found in the middle of a tree. Without it
    the cautions are told."""
    dangers: dict[Id, Danger] = Field(default_factory=dict)
    """What to do at once in each kind of danger, by its id."""
    opening: tuple[Text, ...] = ()
    """What is said to every caller first."""
    stands_on: StandsOn | None = None
    """How many cautions and conditions of rules the guide has: said a second time, so that a slip shows."""


class Promise(_Shape):
    """What the guide claims, measured over drawn streets with each kind of fault.

    Of site trees: `no-harm`: some walk, whatever the answers, comes to a step that hurts. `closed-beside`:
    some walk closes the job beside a danger. `robust`: some walk with one wrong answer does either. `found`:
    a danger at the visited home ends in an open job. `elsewhere`: one that is not at the visited home does.
    `useful`: a healthy street can be closed.
    Of call trees: `heard`: a caller who has `noticed` what a dangerous fault does there is given
    `priority` or a higher one. `calm`: a caller on a street without danger is given it.
    """

    id: Id
    """Its name."""
    kind: Literal["no-harm", "closed-beside", "robust", "found", "elsewhere", "useful", "heard", "calm"]
    """What is claimed: no-harm, closed-beside, robust, found, elsewhere or useful of site trees, heard or
    calm of call trees."""
    title: Text
    """What is promised, in a few words."""
    words: Text
    """The same in full, for the page of proof."""
    trees: tuple[Id, ...] = Field(min_length=1)
    """The trees that it is measured on, each by itself."""
    faults: tuple[Text, ...] = ()
    """The kinds of fault that it speaks of. Without it: all that its kind can speak of."""
    noticed: Literal["tingle", "bright", "dim", "off"] | None = None
    """What the caller notices. A promise of kind `heard` needs it, and no other has it."""
    priority: Priority = "emergency"
    """The priority that is given, or a higher one. It counts for `heard` and `calm`."""
    at_least: Number | None = Field(None, ge=0, le=1)
    """The least share of streets, 0 to 1, in which it happens (the lower 95 % bound is held to it): for
    found, elsewhere, useful and heard."""
    at_most: Number | None = Field(None, ge=0, le=1)
    """The largest share of streets, 0 to 1, in which it happens (the upper 95 % bound is held to it): for
    no-harm, closed-beside, robust and calm."""
    why: Text | None = None
    """Why no more is promised."""

    @property
    def is_upper(self) -> bool:
        """Whether the less often it happens the better."""
        return self.kind in ("no-harm", "closed-beside", "robust", "calm")

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
Signatures: TypeAlias = tuple[Signature, ...]
