"""Verbs for who writes a guide: what names mean, to people and to editors."""

import argparse
import sys

from build_tools.cli.verb import Verb, a_path
from build_tools.setup import environment
from build_tools.setup.environment import WrongUse


def _schemas_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("folder", nargs="?", type=a_path, default=environment.CACHE / "schemas",
                         metavar="FOLDER", help="default: .lost-neutral/schemas")  # fmt: skip


def _schemas(asked: argparse.Namespace) -> int:
    from build_tools.guide import schemas

    for file in schemas.write(asked.folder):
        print(file)
    return 0


SCHEMAS = Verb(
    "schemas",
    "write a JSON Schema for each kind of file, for editors",
    "schemas",
    _schemas,
    _schemas_options,
)


def _reference_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("name", nargs="?", metavar="NAME",
                           help="such as holds, reading.on, clamp, range-gap")  # fmt: skip


def _reference(asked: argparse.Namespace) -> int:
    from build_tools.reference import book

    try:
        print(book.as_text(asked.name) if asked.name is not None else book.contents())
    except ValueError as error:  # a name that is not there
        raise WrongUse(str(error)) from error
    return 0


REFERENCE = Verb(
    "reference",
    "tell what a field, a finding or another name means; without a name, list them all",
    "reference range-gap",
    _reference,
    _reference_options,
)


def _language_server_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--stdio", action="store_true", help="speak over stdin and stdout: as it does anyway")


def _language_server(asked: argparse.Namespace) -> int:
    from build_tools.language_server import server

    if sys.stdin.isatty():
        raise WrongUse(
            "an editor starts this verb and speaks with it; to see what is to be mended use: check"
        )
    server.serve()
    return 0


LANGUAGE_SERVER = Verb(
    "language-server",
    "answer an editor while it writes a guide: findings, completion, what a field means",
    "language-server",
    _language_server,
    _language_server_options,
)
