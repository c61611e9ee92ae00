"""Verbs that ask the model: readings, walks, calculators."""

import argparse
import os
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from build_tools.cli.guide_asked import (
    guide_folder,
    is_refused,
)
from build_tools.cli.verb import Verb
from build_tools.setup.environment import WrongUse

if TYPE_CHECKING:
    from build_tools.guide.trees import Guide
    from build_tools.walks.walk_report import WalkReport


def _told_worst(asked: argparse.Namespace, guide: "Guide") -> "WalkReport":
    from build_tools.proof import counterexample, counterexample_replay

    if not (Path(asked.street).is_file() and os.access(asked.street, os.R_OK)):
        raise WrongUse(f"there is no file {asked.street} that can be read; name one of .lost-neutral/worst")
    street = counterexample.read(Path(asked.street))
    others = {"tree": asked.tree, "fault": asked.fault or street.fault, "home": asked.at or street.home}
    return counterexample_replay.retell_counterexample(guide, replace(street, **others), asked.street)


def _readings_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("street", metavar="STREET", help="the street's id: its file's name without .yaml")
    verb.add_argument("--fault", action="append", default=[], metavar="KIND@PLACE", dest="faults",
                          help="a fault on it; may be given again")  # fmt: skip
    verb.add_argument("--at", metavar="PREMISES", help="one home only (default: every home)")
    verb.add_argument("--json", action="store_true", help="as JSON")


def _readings(asked: argparse.Namespace) -> int:
    from build_tools.cli import readings_table
    from build_tools.guide import findings, loading

    loaded = loading.load(guide_folder(asked.guide))
    streets = loaded.streets
    if is_refused(loaded, f"streets/{asked.street}.yaml"):
        return 1
    if asked.street not in streets:
        near = findings.nearest(asked.street, streets)
        raise WrongUse(f"no street is called {asked.street}{near}; there are: {', '.join(streets) or 'none'}")
    try:
        table = readings_table.compare(streets[asked.street], asked.faults, asked.at)
    except ValueError as error:  # a fault or a home that this street does not have
        raise WrongUse(str(error)) from error
    print(readings_table.as_json(table) if asked.json else readings_table.as_text(table))
    return 0


READINGS = Verb(
    "readings",
    "show what each instrument would show on a street, healthy and with faults",
    "readings tannery-row --fault service-pen-open@12 --at 14",
    _readings,
    _readings_options,
    takes_guide=True,
)


def _walk_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("tree", metavar="TREE", help="the id of a site tree: its file's name without .yaml")
    verb.add_argument("--street", required=True, metavar="STREET",
                      help="the street's id, or a file of .lost-neutral/worst")  # fmt: skip
    verb.add_argument("--fault", metavar="KIND@PLACE",
                      help="several with + between them (default: healthy, or the file's own)")  # fmt: skip
    verb.add_argument("--at", metavar="HOME", help="the home that is visited (default: the file's own)")
    verb.add_argument("--json", action="store_true", help="as JSON")


def _walk(asked: argparse.Namespace) -> int:
    from build_tools.guide import findings, loading
    from build_tools.walks import walk_report

    loaded = loading.load(guide_folder(asked.guide))
    if asked.tree in loaded.written("trees") - loaded.trees.keys():  # it, or one that it calls, was refused
        print(findings.text_report(loaded.findings))
        return 1
    if is_refused(loaded, f"streets/{asked.street}.yaml"):
        return 1
    try:
        if asked.street.endswith(".yaml"):
            told = _told_worst(asked, loaded)
        elif asked.at is None:
            raise WrongUse("say which home is visited: --at HOME")
        else:
            told = walk_report.retell(loaded, asked.tree, asked.street, asked.fault or "healthy", asked.at)
    except findings.Refused as refused:
        print(findings.text_report(refused.findings))
        return 1
    except ValueError as error:  # a name that is not there
        raise WrongUse(str(error)) from error
    print(walk_report.as_json(told) if asked.json else walk_report.as_text(told))
    return 0


WALK = Verb(
    "walk",
    "tell step by step where a tree leads, with a fault on a street and one home visited",
    "walk tingle-on-pipework --street tannery-row --fault service-pen-open@4 --at 2",
    _walk,
    _walk_options,
    takes_guide=True,
)


def _calculate_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("name", metavar="NAME", help="the calculator's id: the last word of its page")
    verb.add_argument(
        "inputs", nargs="*", metavar="KEY=VALUE", help="an input that differs from the first values"
    )
    forms = verb.add_mutually_exclusive_group()
    forms.add_argument("--json", action="store_true", help="as JSON, with the drawing")
    forms.add_argument("--csv", action="store_true", help="a line for each figure")


def _calculate(asked: argparse.Namespace) -> int:
    from build_tools.cli import calculate
    from build_tools.guide import loading

    loaded = loading.load(guide_folder(asked.guide))
    try:
        answered = calculate.ask(asked.name, asked.inputs, loaded)
    except ValueError as error:  # a name that is not there, or a value that cannot be used
        raise WrongUse(str(error)) from error
    form = calculate.as_json if asked.json else calculate.as_csv if asked.csv else calculate.as_text
    print(form(answered), end="" if asked.csv else "\n")
    return 0


CALCULATE = Verb(
    "calculate",
    "ask a calculator: the answer to its inputs, as its page gives it",
    "calculate lost-neutral load_l1=6 electrode_ohm=20",
    _calculate,
    _calculate_options,
    takes_guide=True,
)
