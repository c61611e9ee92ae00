"""The thin edge: words typed into a terminal become a call of one function in `commands`.

Standard library only. Help and wrong use are answered at once; anything else first makes sure of the
environment, and goes on inside it.
"""

import argparse
import gc
import os
import sys
from pathlib import Path

from build_tools import environment


class WrongUse(Exception):
    """What was asked for cannot be; the text says why, and what can be."""


VERBS = {
    "serve": "build the guide, serve it on localhost, and build again on every change",
    "build": "build the guide into a folder; a refused build leaves the folder as it was",
    "publish": "build what was committed into one archive, with all that whoever serves it must know",
    "check": "walk every branch and print what is to be mended (exit 0: nothing, 1: something)",
    "readings": "show what each instrument would show on a street, healthy and with faults",
    "walk": "tell step by step where a tree leads, with one fault on a street and one home visited",
    "diff": "tell what a change to the guide does to behaviour, in Markdown for a review",
    "calculate": "ask a calculator: the answer to its inputs, as its page gives it",
    "test": "run linter, format, types and all tests; with pytest's arguments, only those tests",
    "prove": "measure what the guide promises over drawn streets, and keep the evidence with it",
    "calibrate": "draw the sampled readings behind Explain, and measure how well fresh streets are explained",
    "schemas": "write a JSON Schema for each kind of file, for editors",
    "mutate": "damage the guide in every way that a slip can, and say which check refuses it",
    "bench": "measure speed and size, as ratios within one run",
    "words": "write a catalogue of the guide's words, for a translator to fill in",
    "new": "write the smallest guide that works into a new folder",
    "lock": "renew the locks from the newest releases (needs the network)",
}
"""What each verb does, in its own help and in the list."""

_RARELY = (100_000, 50, 50)
"""A guide is a million small objects that stay until the end: looking for rubbish among them so rarely saves
a fifth of the time of a check, and costs some megabytes."""

_EXITS = "exit: 0 done, 1 findings or a refused build, 2 wrong use, 3 something outside the project failed"


def main(words: list[str]) -> int:
    """Do what the words ask; gives the exit code."""
    asked = parse(words)
    try:
        if not environment.is_inside():
            environment.prepare(test=_counts(asked))
            environment.run_again_inside(words)
        from build_tools import commands

        gc.set_threshold(*_RARELY)
        return commands.run(asked)
    except WrongUse as wrong:
        environment.say(str(wrong))
        return 2
    except environment.SetUpFailed as failure:
        environment.say(str(failure))
        return 3
    except BrokenPipeError:  # who reads the pipe has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    except KeyboardInterrupt:
        environment.say("stopped")
        return 130


def _counts(asked: argparse.Namespace) -> bool:
    """Whether numpy and what else the tests use is needed: to test, to count, to tell a drawn street."""
    drawn = str(getattr(asked, "street", "")).endswith(".yaml")
    part = getattr(asked, "part", None) is not None
    return asked.verb in ("test", "bench", "prove", "calibrate") or part or drawn


def parse(words: list[str]) -> argparse.Namespace:
    """The words as a namespace with `verb` and that verb's options; leaves with 2 when they are wrong."""
    parser = _parser()
    asked, rest = parser.parse_known_args(words)
    if asked.verb == "test":
        asked.arguments = rest
    elif rest:
        parser.error(
            f"{asked.verb} does not know {' '.join(rest)} (see: python3 -m build_tools {asked.verb} --help)"
        )
    return asked


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="python3 -m build_tools",
        description="Build, check and serve decision guides about a broken PEN conductor.",
        epilog=_EXITS,
        allow_abbrev=False,
    )
    parser.add_argument(
        "--guide", type=Path, metavar="FOLDER", help="the guide's folder (default: guide_src)"
    )
    parser.set_defaults(guide=environment.ROOT / "guide_src")
    verbs = parser.add_subparsers(dest="verb", metavar="VERB", required=True)

    serve = _verb(verbs, "serve", "serve --port 8001")
    serve.add_argument("--port", type=_port, default=8000, metavar="N", help="default: 8000")
    _looks(serve)

    build = _verb(verbs, "build", "build --to /srv/guide")
    build.add_argument("--to", type=Path, default=Path("site"), metavar="FOLDER", help="default: site")
    build.add_argument("--strict", action="store_true", help="refuse what is past its review date, too")
    build.add_argument("--draft", action="store_true", help="show steps that were not measured since they "
                       "were changed, as a draft (as serve does)")  # fmt: skip
    _looks(build)

    publish = _verb(verbs, "publish", "publish --since v2026.10")
    publish.add_argument("--to", type=Path, default=Path("release"), metavar="FOLDER",
                         help="default: release")  # fmt: skip
    publish.add_argument("--since", metavar="OLD", help="the release before, for the notes: a git revision "
                         "or a guide folder")  # fmt: skip
    publish.add_argument("--cards", action="store_true", help="with each tree as a card on paper (PDF), "
                         "which a browser prints")  # fmt: skip
    publish.add_argument("--unclean", action="store_true", help="publish what was not committed as well")
    _looks(publish)

    check = _verb(verbs, "check", "check guide_src/trees/site/tingle.yaml")
    check.add_argument(
        "trees",
        nargs="*",
        type=Path,
        metavar="TREE",
        help="follow the paths of these trees only (files or ids)",
    )
    check.add_argument("--as", choices=("text", "json", "lines", "sarif"), default="text", dest="form",
                       help="lines: an object a line; sarif: for code hosts (default: text)")  # fmt: skip
    check.add_argument("--json", action="store_const", const="json", dest="form", help="as JSON")
    check.add_argument("--part", metavar="K/N", help="count the promises over one of N parts of the drawn "
                       "streets, and keep the counts for prove --merge")  # fmt: skip

    readings = _verb(verbs, "readings", "readings tannery-row --fault service-pen-open@12 --at 14")
    readings.add_argument("street", metavar="STREET", help="the street's id: its file's name without .yaml")
    readings.add_argument("--fault", action="append", default=[], metavar="KIND@PLACE", dest="faults",
                          help="a fault on it; may be given again")  # fmt: skip
    readings.add_argument("--at", metavar="PREMISES", help="one home only (default: every home)")
    readings.add_argument("--json", action="store_true", help="as JSON")

    walk = _verb(
        verbs, "walk", "walk tingle-on-pipework --street tannery-row --fault service-pen-open@4 --at 2"
    )
    walk.add_argument("tree", metavar="TREE", help="the id of a site tree: its file's name without .yaml")
    walk.add_argument("--street", required=True, metavar="STREET",
                      help="the street's id, or a file of .lost-neutral/worst")  # fmt: skip
    walk.add_argument("--fault", metavar="KIND@PLACE", help="default: healthy, or the file's own")
    walk.add_argument("--at", metavar="HOME", help="the home that is visited (default: the file's own)")
    walk.add_argument("--json", action="store_true", help="as JSON")

    diff = _verb(verbs, "diff", "diff HEAD~3")
    diff.add_argument("old", nargs="?", default="HEAD", metavar="OLD",
                      help="a guide folder or a git revision (default: HEAD)")  # fmt: skip
    diff.add_argument("new", nargs="?", metavar="NEW", help="the same (default: the guide as it stands)")

    calculate = _verb(verbs, "calculate", "calculate lost-neutral load_1=6 electrode_ohm=20")
    calculate.add_argument("name", metavar="NAME", help="the calculator's id: the last word of its page")
    calculate.add_argument(
        "inputs", nargs="*", metavar="KEY=VALUE", help="an input that differs from the first values"
    )
    forms = calculate.add_mutually_exclusive_group()
    forms.add_argument("--json", action="store_true", help="as JSON, with the drawing")
    forms.add_argument("--csv", action="store_true", help="a line for each figure")

    test = _verb(verbs, "test", "test -k clamp -x")
    test.usage = f"{parser.prog} test [-h] [PYTEST ARGUMENT ...]"

    prove = _verb(verbs, "prove", "prove --merge .lost-neutral/parts/*.json")
    prove.add_argument("--merge", nargs="+", type=Path, metavar="FILE",
                       help="merge the counts of all parts instead of counting")  # fmt: skip
    calibrate = _verb(verbs, "calibrate", "calibrate --cases 200")
    calibrate.add_argument("--cases", type=_count, default=1000, metavar="N",
                           help="fresh streets that are explained (default: 1000)")  # fmt: skip
    schemas = _verb(verbs, "schemas", "schemas")
    schemas.add_argument("folder", nargs="?", type=Path, default=environment.CACHE / "schemas",
                         metavar="FOLDER", help="default: .lost-neutral/schemas")  # fmt: skip
    mutate = _verb(verbs, "mutate", "mutate --sample 60 --seed 1")
    mutate.add_argument("--sample", type=_count, metavar="N", help="only so many, drawn by the seed")
    mutate.add_argument("--seed", type=int, default=1, metavar="S", help="default: 1")
    mutate.add_argument("--json", action="store_true", help="as JSON")

    words = _verb(verbs, "words", "words welsh.yaml")
    words.add_argument("file", type=Path, metavar="FILE")
    _verb(verbs, "bench", "bench")
    new = _verb(verbs, "new", "new ../my-guide")
    new.add_argument("folder", type=Path, metavar="FOLDER")
    _verb(verbs, "lock", "lock")
    return parser


def _verb(
    verbs: "argparse._SubParsersAction[argparse.ArgumentParser]", name: str, example: str
) -> argparse.ArgumentParser:
    does = VERBS[name]
    verb = verbs.add_parser(
        name,
        help=does,
        description=f"{does[0].upper()}{does[1:]}.",
        epilog=f"example:\n  python3 -m build_tools {example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    if name in (
        "serve",
        "build",
        "publish",
        "check",
        "readings",
        "walk",
        "diff",
        "calculate",
        "prove",
        "mutate",
        "words",
    ):
        verb.add_argument(
            "--guide", type=Path, metavar="FOLDER", default=argparse.SUPPRESS,
            help="the guide's folder (default: guide_src)",
        )  # fmt: skip
    if name in ("serve", "build", "publish", "check"):
        verb.add_argument(
            "--operator", type=Path, metavar="FILE",
            help="whose guide it is (default: the guide's operator.yaml)",
        )  # fmt: skip
    return verb


def _looks(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--language", default="", metavar="FILE",
                      help="a catalogue of words, or pseudo, or pseudo-rtl")  # fmt: skip
    verb.add_argument("--theme", choices=("material", "mkdocs"), default="material",
                      help="mkdocs: MkDocs's own (default: material, as mkdocs.yml has it)")  # fmt: skip


def _count(text: str) -> int:
    if not (text.isdecimal() and int(text) >= 1):
        raise argparse.ArgumentTypeError(f"a whole number from 1 up, not {text!r}")
    return int(text)


def _port(text: str) -> int:
    if not (text.isdecimal() and 1 <= int(text) <= 65535):
        raise argparse.ArgumentTypeError(f"a port is a whole number from 1 to 65535, not {text!r}")
    return int(text)
