"""Catalogues of a guide's words for translators: PO files, which every tool of theirs reads.

A catalogue has an entry for each run of words, with the first pages on which it stands. Renewed, it keeps all
that was given: what is no longer said stays at its end, and words that were changed a little get what was
given for the old ones, marked `fuzzy`, until a translator has looked at it and takes the mark away.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from babel.core import Locale, UnknownLocaleError
from babel.messages.catalog import Catalog, Message
from babel.messages.pofile import PoFileError, read_po, write_po

from build_tools.setup.whole import whole_file

__all__ = ["Counted", "WrongCatalogue", "begun", "counted", "given", "read", "renew", "tongue", "write"]

_PLACES = 5
_HEAD = "# The words of a guide. The command that wrote this renews it, and keeps what was given."


class WrongCatalogue(Exception):
    """What is wrong with a catalogue, and how to mend it."""


@dataclass(frozen=True, slots=True)
class Counted:
    """How many runs of words are given, marked `fuzzy` and missing, and how many are no longer said."""

    given: int
    fuzzy: int
    missing: int
    unsaid: int

    def __str__(self) -> str:
        now = f"{self.given:,} given, {self.fuzzy:,} to look at again, {self.missing:,} missing"
        return f"{now}; {self.unsaid:,} kept that are no longer said"


def read(file: Path) -> Catalog:
    """The catalogue in a file. Raises WrongCatalogue."""
    try:
        catalog = read_po(io.StringIO(file.read_bytes().decode("utf-8-sig")), abort_invalid=True)
    except OSError as error:
        raise WrongCatalogue(
            f"{file} cannot be read: {error.strerror}; name a file that `words` wrote"
        ) from error
    except UnicodeDecodeError as error:
        raise WrongCatalogue(f"{file} is not UTF-8 text; save it again with that encoding") from error
    except PoFileError as error:
        line = f":{error.lineno + 1}" if error.lineno is not None else ""
        why = f"{file}{line} is not a PO file: {error}"
        raise WrongCatalogue(f"{why}; `words` writes one, beside this if need be") from error
    except (ValueError, LookupError) as error:
        raise WrongCatalogue(f"{file}: its header cannot be read: {error}; correct that line") from error
    for message in catalog:  # Babel takes the old words beside what is fuzzy for a remark
        message.user_comments = [remark for remark in message.user_comments if not remark.startswith("|")]
    if not catalog.locale:
        raise WrongCatalogue(
            f'{file}: its header names no language; write "Language: cy\\n" there, for Welsh'
        )
    return catalog


def begun(file: Path) -> Catalog:
    """A catalogue without words, of the language that its file is named after. Raises WrongCatalogue."""
    try:
        locale = Locale.parse(file.stem.replace("-", "_"))
    except (ValueError, UnknownLocaleError):
        locale = None
    if locale is None or file.suffix != ".po":
        raise WrongCatalogue(
            f"{file} is named after no language; name it by the language's code, such as cy.po for Welsh"
        )
    if not file.resolve().parent.is_dir():
        raise WrongCatalogue(f"there is no folder {file.parent}; make it first")
    return Catalog(locale=locale, header_comment=_HEAD, charset="utf-8", fuzzy=False)


def tongue(catalog: Catalog) -> tuple[str, str]:
    """The language as in HTML's `lang`, and its direction."""
    assert catalog.locale
    return str(catalog.locale).replace("_", "-"), catalog.locale.text_direction


def given(catalog: Catalog) -> dict[str, str]:
    """What stands for each run of words, but for what a translator has still to look at."""
    return {
        message.id: message.string
        for message in _messages(catalog)
        if isinstance(message.id, str)
        and isinstance(message.string, str)
        and message.string
        and not message.fuzzy
    }


def counted(catalog: Catalog) -> Counted:
    """How far a catalogue is."""
    messages = list(_messages(catalog))
    fuzzy = sum(bool(message.fuzzy and message.string) for message in messages)
    there = len(given(catalog))
    return Counted(there, fuzzy, len(messages) - there - fuzzy, len(catalog.obsolete))


def renew(catalog: Catalog, runs: Mapping[str, Sequence[str]], title: str, version: str) -> None:
    """Bring a catalogue up to the `runs` of words of a guide, each with the pages where it stands."""
    catalog.project, catalog.version = title, version
    template = Catalog()
    for words, pages in runs.items():
        template.add(words, locations=[(page, 0) for page in pages[:_PLACES]])
    for key, message in list(catalog.obsolete.items()):  # said once: may be said again
        if key not in catalog:
            message.flags.add("fuzzy")
            catalog[message.id] = message
    before = {str(message.id): message for message in _messages(catalog) if message.string}
    catalog.update(template, update_creation_date=False)
    catalog.obsolete.clear()
    catalog.obsolete.update({id_: message for id_, message in before.items() if id_ not in catalog})
    _name_the_old_words(catalog)


def _name_the_old_words(catalog: Catalog) -> None:
    """Beside what is `fuzzy`, the words that it was given for."""
    given_for = {str(message.string): str(message.id) for message in catalog.obsolete.values()}
    for message in _messages(catalog):
        if message.fuzzy and str(message.string) in given_for:
            message.previous_id = [given_for[str(message.string)]]


def write(catalog: Catalog, file: Path) -> None:
    """Write a catalogue, whole or not at all."""
    for message in catalog:
        message.flags -= {"python-format", "python-brace-format"}  # guessed from a % or a {
    with whole_file(file.resolve()) as fresh, fresh.open("wb") as stream:
        write_po(stream, catalog, include_previous=True)


def _messages(catalog: Catalog) -> Iterator[Message]:
    return (message for message in catalog if message.id)
