"""The thin edge: words typed into a terminal become a call of one verb.

Standard library only. Help and wrong use are answered at once; in the repository anything else first makes
sure of the environment, and goes on inside it.
"""

import argparse
import contextlib
import errno
import gc
import os
import re
import sys
from pathlib import Path
from typing import NoReturn

from build_tools.cli.ask_verbs import CALCULATE, READINGS, WALK
from build_tools.cli.author_verbs import LANGUAGE_SERVER, REFERENCE, SCHEMAS, SIGN
from build_tools.cli.check_verbs import CHECK, DIFF, MUTATE
from build_tools.cli.measure_verbs import CALIBRATE, PAIRS, PLAN, PROVE
from build_tools.cli.project_verbs import BENCH, LOCK, MUTATE_CODE, TEST, WHEEL
from build_tools.cli.site_verbs import BUILD, NEW, PUBLISH, SERVE, WORDS
from build_tools.cli.verb import Verb, a_path
from build_tools.guide.findings import nearest
from build_tools.setup import environment, home, progress, stopping, whole
from build_tools.setup.progress import say

VERBS = {
    verb.name: verb
    for verb in (
        SERVE,
        BUILD,
        PUBLISH,
        CHECK,
        READINGS,
        WALK,
        DIFF,
        CALCULATE,
        TEST,
        PROVE,
        PAIRS,
        PLAN,
        CALIBRATE,
        SIGN,
        SCHEMAS,
        REFERENCE,
        MUTATE,
        LANGUAGE_SERVER,
        WORDS,
        MUTATE_CODE,
        BENCH,
        NEW,
        LOCK,
        WHEEL,
    )
}
"""Every verb, in the order of the help."""

_RARELY = (100_000, 50, 50)
"""A guide is a million small objects that stay until the end: looking for rubbish among them so rarely saves
a fifth of the time of a check, and costs some megabytes."""

_NO_SUCH_USE = {errno.EEXIST, errno.EISDIR, errno.ELOOP, errno.ENAMETOOLONG, errno.ENOTDIR}
"""What it answers where a name that was given cannot be used: a folder for a file, a file for a folder."""

_REFUSED = {errno.EACCES, errno.EPERM, errno.EROFS, errno.ENOSPC, errno.EDQUOT, errno.EIO, errno.EMFILE}
"""What a system answers where there is no leave or no room; any other answer is a fault of ours."""

_EXITS = "exit: 0 done, 1 findings or a refused build, 2 wrong use, 3 something outside the project failed"


def script() -> int:
    """The program as it is installed."""
    return main(sys.argv[1:])


def main(words: list[str]) -> int:
    """Do what the words ask; gives the exit code."""
    asked = parse(words)
    progress.be_quiet(getattr(asked, "quiet", False))
    try:
        with stopping.heeded():
            return _done(asked, words)
    except environment.WrongUse as wrong:
        say(str(wrong))
        return 2
    except environment.SetUpFailed as failure:
        say(str(failure))
        return 3
    except BrokenPipeError:  # who reads the pipe has seen enough
        _print_no_more()
        return 0
    except OSError as error:
        if whole.is_full(error):
            _print_no_more()
            say(whole.said_of_full(error))
            return 3
        if error.errno in _NO_SUCH_USE:
            say(f"{error.filename2 or error.filename}: {error.strerror}; name another")
            return 2
        if error.errno not in _REFUSED:
            raise
        say(environment.cannot(error))
        return 3
    except KeyboardInterrupt:
        say("stopped")
        return 130


def run(asked: argparse.Namespace) -> int:
    """Do one verb; gives the exit code. Raises WrongUse and environment.SetUpFailed."""
    return VERBS[asked.verb].run(asked)


def _done(asked: argparse.Namespace, words: list[str]) -> int:
    _go_inside(asked, words)
    gc.set_threshold(*_RARELY)
    code = run(asked)
    if not sys.stdout.closed:  # who speaks with an editor closes it
        sys.stdout.flush()
    return code


def _print_no_more() -> None:
    """What is still to be printed goes nowhere, so that the end of the process does not stumble over it."""
    with contextlib.suppress(OSError, ValueError):  # of no file, where a test holds it
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _go_inside(asked: argparse.Namespace, words: list[str]) -> None:
    """Go on in the environment, made first where it has to be; a new guide is written without it."""
    if environment.IS_INSTALLED and VERBS[asked.verb].at_home:
        there = f"run there: python3 -m build_tools {asked.verb}"
        raise environment.WrongUse(f"{asked.verb} is for the program's own repository; {there}")
    if not environment.is_inside() and (not VERBS[asked.verb].bare or environment.is_ready()):
        environment.prepare(test=_counts(asked))
        environment.run_again_inside(words)


def _counts(asked: argparse.Namespace) -> bool:
    """Whether numpy and what else the tests use is needed: to test, to count, to tell a drawn street."""
    drawn = str(getattr(asked, "street", "")).endswith(".yaml")
    part = getattr(asked, "part", None) is not None
    return VERBS[asked.verb].counts or part or drawn


def parse(words: list[str]) -> argparse.Namespace:
    """The words as a namespace with `verb` and that verb's options; leaves with 2 when they are wrong."""
    parser, verbs = _parser()
    if not words:
        parser.print_help(sys.stderr)
        parser.exit(2)
    asked, rest = parser.parse_known_args(words)
    if VERBS[asked.verb].passes_on:
        asked.arguments = rest
    elif rest:
        verbs[asked.verb].refuse(rest)
    return asked


class _Parser(argparse.ArgumentParser):
    """Says in one line what is wrong, what was meant, and where it stands."""

    def error(self, message: str) -> NoReturn:
        """Leave with 2."""
        if found := _CHOICE.search(message):
            near = nearest(found["given"], re.findall(r"[\w-]+", found["known"]))
            message = message.replace(found["list"], near) if near else message
        self.exit(2, f"{home.NAME}: {message} (see: {self.prog} --help)\n")

    def refuse(self, rest: list[str]) -> NoReturn:
        """The words that this verb has no use for; of a misspelt option, the one that was meant."""
        options = re.findall(r"(?<!\S)--[a-z-]+", self.format_help())
        odd = next((word for word in rest if word.startswith("-")), "")
        near = nearest(odd.partition("=")[0], options) if odd else ""
        self.error(f"{self.prog.rpartition(' ')[2]} does not know {' '.join(rest)}{near}")


_CHOICE = re.compile(r"invalid choice: '(?P<given>[^']*)'(?P<list> \(choose from (?P<known>.*)\))")


def _parser() -> tuple[_Parser, dict[str, _Parser]]:
    """The parser of all words, and that of each verb."""
    parser = _Parser(
        prog=environment.COMMAND,
        description="Build, check and serve decision guides about a broken PEN conductor.",
        epilog=_EXITS,
        allow_abbrev=False,
    )
    parser.add_argument(
        "--guide", type=a_path, metavar="FOLDER", help="the guide's folder (default: guide_src)"
    )
    parser.add_argument("--quiet", action="store_true", help="show no progress")
    parser.set_defaults(guide=_own_guide())
    verbs = parser.add_subparsers(dest="verb", metavar="VERB", required=True)

    for verb in VERBS.values():
        _add(verbs, verb)
    return parser, verbs.choices


def _own_guide() -> Path:
    """The repository's guide; installed, the one in the working folder, or that this folder is."""
    usual = Path("guide_src")
    if not environment.IS_INSTALLED:
        return environment.ROOT / usual
    here = (usual, Path(), *sorted(file.parent for file in Path().glob("*/guide.yaml")))
    return next((folder for folder in here if (folder / "guide.yaml").is_file()), usual)


def _add(verbs: "argparse._SubParsersAction[_Parser]", verb: Verb) -> None:
    words = verbs.add_parser(
        verb.name,
        help=verb.does,
        description=f"{verb.does[0].upper()}{verb.does[1:]}.",
        epilog=f"example:\n  {environment.COMMAND} {verb.example}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    if not verb.passes_on:
        words.add_argument("--quiet", action="store_true", default=argparse.SUPPRESS, help="show no progress")
    if verb.takes_guide:
        words.add_argument(
            "--guide", type=a_path, metavar="FOLDER", default=argparse.SUPPRESS,
            help="the guide's folder (default: guide_src)",
        )  # fmt: skip
    if verb.takes_operator:
        words.add_argument(
            "--operator", type=a_path, metavar="FILE",
            help="whose guide it is (default: the guide's operator.yaml)",
        )  # fmt: skip
    verb.options(words)
