"""Verbs for who works on the program itself."""

import argparse
import os
import sys
from pathlib import Path

from build_tools.cli.verb import Verb, a_count, a_path
from build_tools.setup import environment, programs, stopping
from build_tools.setup.environment import ROOT, WrongUse
from build_tools.setup.progress import say, tell


def _find_browser() -> None:
    """Tell Playwright's users which browser to start, and Playwright which Node: its own wants a library
    that a bare Debian has not."""
    os.environ[programs.BROWSER_VARIABLE] = str(programs.browser())
    os.environ["PLAYWRIGHT_NODEJS_PATH"] = str(environment.node())


def _test_options(verb: argparse.ArgumentParser) -> None:
    verb.usage = f"{verb.prog} [-h] [PYTEST ARGUMENT ...]"


def _test(asked: argparse.Namespace) -> int:
    programs.ngspice()
    programs.web_servers()
    programs.html_checker()
    _find_browser()
    arguments = asked.arguments or ["-n", "auto", "--dist", "loadfile"]
    steps = [("tests", ["pytest", *arguments])]
    if not asked.arguments:
        steps = [
            ("linter", ["ruff", "check", "--quiet", "."]),
            ("format", ["ruff", "format", "--quiet", "--check", "."]),
            ("types", ["mypy", "--no-error-summary"]),
            *steps,
        ]
    for what, command in steps:
        tell(f"{what}: {' '.join(command)}")
        if stopping.call([sys.executable, "-m", *command], cwd=ROOT):
            return 1
    return 0


TEST = Verb(
    "test",
    "run linter, format, types and all tests; with pytest's arguments, only those tests",
    "test -k clamp -x",
    _test,
    _test_options,
    counts=True,
    at_home=True,
    passes_on=True,
)


def _bench(asked: argparse.Namespace) -> int:
    from build_tools import bench

    _find_browser()
    return bench.main()


BENCH = Verb(
    "bench",
    "measure speed and size, as ratios within one run",
    "bench",
    _bench,
    counts=True,
    at_home=True,
)


def _mutate_code_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("places", nargs="*", type=a_path, metavar="PLACE",
                      help="files and folders of code (default: all that tests are named for)")  # fmt: skip
    verb.add_argument("--sample", type=a_count, default=200, metavar="N",
                      help="how many, drawn by the seed (default: 200)")  # fmt: skip
    verb.add_argument("--seed", type=int, default=1, metavar="S", help="default: 1")
    verb.add_argument("--processes", type=a_count, default=os.cpu_count() or 1, metavar="P",
                      help="how many are tried at a time (default: one a processor)")  # fmt: skip
    verb.add_argument("--json", action="store_true", help="as JSON")


def _mutate_code(asked: argparse.Namespace) -> int:
    from build_tools.mutate import code_run

    under = [place.as_posix() for place in asked.places]
    try:
        report = code_run.run_code(
            code_run.shipped_plan(),
            code_run.shipped_reasons(),
            under=under,
            sample=asked.sample,
            seed=asked.seed,
            processes=asked.processes,
        )
    except ValueError as error:
        raise WrongUse(str(error)) from error
    except code_run.FailsAnyway as failed:
        say(f"these tests fail though nothing is wrong, or by any edit at all:\n{failed}")
        return 1
    print(report.as_json() if asked.json else report.as_text())
    return 1 if report.unexplained else 0


MUTATE_CODE = Verb(
    "mutate-code",
    "make slips in the program's own code, one at a time, and say which no test sees",
    "mutate-code calc/danger.py --sample 40",
    _mutate_code,
    _mutate_code_options,
    counts=True,
    at_home=True,
)


def _lock(asked: argparse.Namespace) -> int:
    from build_tools.setup import locks

    locks.renew()
    return 0


LOCK = Verb(
    "lock",
    "renew the locks from the newest releases (needs the network)",
    "lock",
    _lock,
    at_home=True,
)


def _wheel_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--to", type=a_path, default=Path("dist"), metavar="FOLDER", help="default: dist")


def _wheel(asked: argparse.Namespace) -> int:
    from build_tools.publish import wheel

    tell(f"wrote {wheel.make(asked.to)}")
    return 0


WHEEL = Verb(
    "wheel",
    "make a wheel, with which the program can be installed elsewhere",
    "wheel --to dist",
    _wheel,
    _wheel_options,
    at_home=True,
)
