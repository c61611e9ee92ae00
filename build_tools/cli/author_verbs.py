"""Verbs for who writes a guide: what names mean, to people and to editors."""

import argparse
import sys
from datetime import date

from build_tools.cli.guide_asked import guide_folder
from build_tools.cli.verb import Verb, a_day, a_name, a_path
from build_tools.setup import environment, whole
from build_tools.setup.environment import WrongUse
from build_tools.setup.progress import say


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


def _sign_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("files", nargs="*", type=a_name, metavar="FILE",
                      help="of the guide, such as trees/call/lights.yaml (default: all)")  # fmt: skip
    verb.add_argument("--by", type=a_name, metavar="NAME",
                      help="who has read them: name and office; without it, they are only told")  # fmt: skip
    verb.add_argument("--day", type=a_day, default=date.today(), metavar="DAY",
                      help="when they were read, as year-month-day (default: today)")  # fmt: skip


def _sign(asked: argparse.Namespace) -> int:
    from build_tools.checks.rules import bound
    from build_tools.checks.signed import FILE
    from build_tools.guide import loading, signing
    from build_tools.guide.findings import text_report

    folder = guide_folder(asked.guide)
    guide = loading.load(folder)
    if guide.findings:
        print(text_report(guide.findings))
        return 1
    if strange := [file for file in asked.files if file not in guide.files]:
        raise WrongUse(f"the guide has no file {strange[0]}; name it as it lies in {folder}")
    texts, rules = signing.unsigned(guide, bound(guide))
    wanted = asked.files or guide.files
    texts = [text for text in texts if text.file in wanted]
    rules = rules if "rules.yaml" in wanted else {}
    for text in texts:
        print(f"{guide.files[text.file].place(text.keys, key=True)}: {text.place}")
        print(*(f"  {line}" for line in text.says), sep="\n")
    for id_, nodes in rules.items():
        print(f"rules.yaml: {id_} binds {nodes} nodes")
    many = f"{len(texts)} texts and {len(rules)} rules"
    if not asked.by:
        say(f"{many} to be read and signed")
        return 1 if texts or rules else 0
    signed = signing.renewed(guide, texts, rules, asked.by, asked.day)
    whole.write_whole(folder / FILE, signing.as_yaml(signed))
    say(f"{many} signed by {asked.by} in {folder / FILE}")
    return 0


SIGN = Verb(
    "sign",
    "show what people act on in danger and nobody has signed as it is; with a name, sign it",
    'sign --by "N. Ekwall, network earthing engineer"',
    _sign,
    _sign_options,
    takes_guide=True,
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
