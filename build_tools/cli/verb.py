"""What a verb is: one record says its name, what it does, its options and what is done."""

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date
from pathlib import Path


def _nothing_more(_: argparse.ArgumentParser) -> None:
    """No options of its own."""


@dataclass(frozen=True)
class Verb:
    """One verb of the command line."""

    name: str
    does: str
    """What it does, in its own help and in the list."""

    example: str
    run: Callable[[argparse.Namespace], int]
    """Does it; gives the exit code. Raises WrongUse and environment.SetUpFailed."""

    options: Callable[[argparse.ArgumentParser], None] = _nothing_more
    takes_guide: bool = False
    takes_operator: bool = False
    counts: bool = False
    """Whether numpy and what else the tests use is needed."""

    at_home: bool = False
    """Whether it is for whoever works on the program itself, in its repository."""

    bare: bool = False
    """Whether it can be done before there is an environment."""

    passes_on: bool = False
    """Whether the words that it does not know are for a program that it starts."""


def looks(verb: argparse.ArgumentParser) -> None:
    """How the pages look and speak."""
    verb.add_argument("--language", default="", metavar="FILE",
                      help="a catalogue of words (PO), or pseudo, or pseudo-rtl")  # fmt: skip
    verb.add_argument("--theme", choices=("material", "mkdocs"), default="material",
                      help="mkdocs: MkDocs's own (default: material, as mkdocs.yml has it)")  # fmt: skip


def a_name(text: str) -> str:
    """A text that says something."""
    if not text.strip():
        raise argparse.ArgumentTypeError("write a name, and not nothing")
    return text


def a_day(text: str) -> date:
    """A day that has been or is today."""
    try:
        day = date.fromisoformat(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"write a day as year-month-day, not {text!r}") from error
    if day > date.today():
        raise argparse.ArgumentTypeError(f"{day} is yet to come")
    return day


def a_path(text: str) -> Path:
    """A file or a folder."""
    return Path(a_name(text))


def a_count(text: str) -> int:
    """A whole number from 1 up."""
    if not (text.isdecimal() and int(text) >= 1):
        raise argparse.ArgumentTypeError(f"a whole number from 1 up, not {text!r}")
    return int(text)


def a_port(text: str) -> int:
    """A port."""
    if not (text.isdecimal() and 1 <= int(text) <= 65535):
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535, not {text!r}")
    return int(text)
