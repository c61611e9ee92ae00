"""The record of a job as a tablet saves it and reads it in again: its shape, published as a JSON Schema.

A tree's page makes it (`browser/job/job-of-walk.js`), keeps it on the device, and the page of jobs writes it
into a file. It holds no name, address or number of anybody; `note` is what a person typed besides.
"""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field
from pydantic.alias_generators import to_camel

__all__ = ["JobRecord", "schema"]

Words = Annotated[str, Field(max_length=4000)]
Name = Annotated[str, Field(max_length=200)]
Moment = Annotated[int, Field(ge=0, le=8_640_000_000_000_000, description="milliseconds since 1970, UTC")]
Count = Annotated[int, Field(ge=0, le=1_000_000)]


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", alias_generator=to_camel)


class Answered(_Part):
    """One answer. `at`: the node's id; `exit`: which of its answers, from 0; `typed`: the reading as shown;
    `said`: taken over from what the caller said."""

    at: Name
    exit: Count
    asked: Words
    answer: Words
    typed: Name | None = None
    said: Literal[True] | None = None
    when: Moment


class Danger(_Part):
    """Something dangerous was found while `at` was asked."""

    at: Name
    asked: Words
    when: Moment


class Outcome(_Part):
    """Where the answers led, in the words of the page."""

    priority: Words
    title: Words
    say: tuple[Words, ...] = Field(max_length=100)
    advice: tuple[Words, ...] = Field(max_length=100)
    hand_over: Words
    not_proven: Words
    closes: Words
    links: tuple[Words, ...] = Field(max_length=100)


class JobRecord(_Part):
    """A job. `guide`: the guide's title; `build`: the edition's name; `page`: from the site's root; `count`:
    how often it was kept; `from`: the node it began at, when that was not the start; `carry`: what a
    caller had answered; `before`: answers that were taken back."""

    format: Literal[1]
    id: Annotated[str, Field(pattern="^[a-z0-9]{6,40}$")]
    guide: Name
    version: Name
    build: Name
    review_by: Annotated[str, Field(pattern="^[0-9]{4}-[0-9]{2}-[0-9]{2}$")]
    tree: Name
    page: Annotated[str, Field(pattern=r"^trees/(call|site)/[a-z0-9._-]+\.html$")]
    title: Name
    begun: Moment
    changed: Moment
    count: Count
    from_: Name | None = Field(None, alias="from")
    carry: dict[Name, Name] = Field(max_length=100)
    answers: tuple[Answered, ...] = Field(max_length=1000)
    before: tuple[Answered, ...] = Field(max_length=1000)
    dangers: tuple[Danger, ...] = Field(max_length=1000)
    outcome: Outcome | None = None
    note: Words


def schema() -> dict[str, Any]:
    """The JSON Schema (draft 2020-12) of a saved record."""
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | JobRecord.model_json_schema()
