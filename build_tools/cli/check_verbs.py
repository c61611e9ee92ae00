"""Verbs that say what is to be mended, and what a change does."""

import argparse
import os
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from build_tools.cli.guide_asked import (
    MEASURED,
    guide_folder,
    is_refused,
    must_show,
    operator_of,
)
from build_tools.cli.verb import Verb, a_count, a_name, a_path
from build_tools.setup import environment
from build_tools.setup.environment import WrongUse
from build_tools.setup.progress import say, tell

if TYPE_CHECKING:
    from build_tools.guide.findings import Finding
    from build_tools.guide.trees import Guide
    from build_tools.proof.evidence import Part


def _part_of(guide: "Guide", tree: Path) -> None:
    """Raises WrongUse for what is neither a tree's name nor the file of one in this guide."""
    from build_tools.guide import findings

    known = guide.written("trees")
    if tree.stem not in known:
        near = findings.nearest(tree.stem, known)
        raise WrongUse(f"no tree is called {tree.stem}{near}; there are: {', '.join(sorted(known))}")
    if tree.is_file() and not tree.resolve().is_relative_to(guide.folder.resolve()):
        raise WrongUse(
            f"{tree} lies outside {guide.folder}; name its guide with --guide, or a tree of this one"
        )


def _count(guide: "Guide", part: "Part") -> list["Finding"]:
    """Count one part and keep it; what is in the way, if anything is."""
    from build_tools.proof import evidence, promises, proving

    try:
        counts = proving.count_part(guide, part)
    except (ValueError, ArithmeticError):
        if found := list(promises.unsolvable(guide)):
            return found
        raise
    tell(f"wrote {evidence.write_part(guide, part, counts, environment.CACHE / 'parts')}")
    return []


def _part(text: str, guide: "Guide") -> "Part":
    from build_tools.proof import evidence

    if not guide.promises or guide.sampling is None:
        raise WrongUse("there is nothing to count: the guide has no promises.yaml, or no sampling.yaml")
    try:
        return evidence.Part.parse(text)
    except ValueError as error:
        raise WrongUse(str(error)) from error


def _check_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "trees",
        nargs="*",
        type=a_path,
        metavar="TREE",
        help="follow the paths of these trees only (files or ids)",
    )
    verb.add_argument("--as", choices=("text", "json", "lines", "sarif"), default="text", dest="form",
                       help="lines: an object a line; sarif: for code hosts (default: text)")  # fmt: skip
    verb.add_argument("--json", action="store_const", const="json", dest="form", help="as JSON")
    verb.add_argument("--part", type=a_name, metavar="K/N", help="count the promises over one of N parts of "
                       "the drawn streets, and keep the counts for prove --merge")  # fmt: skip


def _check(asked: argparse.Namespace) -> int:
    from build_tools import checks
    from build_tools.cli import sarif
    from build_tools.guide import findings, loading
    from build_tools.proof import promises

    loaded = loading.load(guide_folder(asked.guide), operator=operator_of(asked))
    for tree in asked.trees:
        _part_of(loaded, tree)
    if asked.part and is_refused(loaded, *MEASURED):
        return 1
    part = _part(asked.part, loaded) if asked.part else None
    if part and loaded.is_whole:
        must_show(loaded)
    by_check = checks.found_by_check(loaded, [tree.stem for tree in asked.trees] or None)
    if part:
        as_written = list(promises.as_written(loaded))
        by_check["promises"] = as_written if as_written or not loaded.is_whole else _count(loaded, part)
    elif not asked.trees:
        by_check["promises"] = list(promises.check(loaded))
    found = findings.in_order(chain.from_iterable(by_check.values()))
    if asked.form == "sarif":
        print(sarif.sarif_report(by_check, {name: checks.demand(name) for name in by_check}))
    elif asked.form == "json":
        print(findings.json_report(found))
    elif found:
        print({"text": findings.text_report, "lines": findings.lines_report}[asked.form](found))
    say(f"{len(found)} to mend" if found else "nothing to mend")
    return 1 if found else 0


CHECK = Verb(
    "check",
    "walk every branch and print what is to be mended (exit 0: nothing, 1: something)",
    "check guide_src/trees/site/tingle-on-pipework.yaml",
    _check,
    _check_options,
    takes_guide=True,
    takes_operator=True,
)


def _diff_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("old", nargs="?", type=a_name, default="HEAD", metavar="OLD",
                      help="a guide folder or a git revision (default: HEAD)")  # fmt: skip
    verb.add_argument(
        "new", nargs="?", type=a_name, metavar="NEW", help="the same (default: the guide as it stands)"
    )


def _diff(asked: argparse.Namespace) -> int:
    from build_tools.guide import loading
    from build_tools.review import difference, markdown, revisions

    folder = guide_folder(asked.guide)
    new = asked.new or str(folder)
    for name in filter(os.path.isdir, (asked.old, new)):
        if not Path(name, "guide.yaml").exists() and not Path(name, "trees").exists():
            raise WrongUse(f"{name} is no guide's folder: it has no guide.yaml; name one, or a git revision")
    try:
        with revisions.guide_as_of(asked.old, folder) as before, revisions.guide_as_of(new, folder) as after:
            told = difference.differ(loading.load(before), loading.load(after))
    except ValueError as error:  # neither a folder nor a revision
        raise WrongUse(str(error)) from error
    print(markdown.markdown(told, asked.old, asked.new or "as it stands"), end="")
    return 1 if told.unread else 0


DIFF = Verb(
    "diff",
    "tell what a change to the guide does to behaviour, in Markdown for a review",
    "diff HEAD~3",
    _diff,
    _diff_options,
    takes_guide=True,
)


def _mutate_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--sample", type=a_count, metavar="N", help="only so many, drawn by the seed")
    verb.add_argument("--seed", type=int, default=1, metavar="S", help="default: 1")
    verb.add_argument("--json", action="store_true", help="as JSON")


def _mutate(asked: argparse.Namespace) -> int:
    from build_tools import mutate
    from build_tools.guide import findings

    try:
        report = mutate.run(guide_folder(asked.guide), asked.sample, asked.seed)
    except findings.Refused as refused:
        print(findings.text_report(refused.findings))
        return 1
    print(report.as_json() if asked.json else report.as_text())
    if report.stale:
        say(findings.text_report(report.stale))
    return 1 if report.unexplained or report.stale else 0


MUTATE = Verb(
    "mutate",
    "damage the guide in every way that a slip can, and say which check refuses it",
    "mutate --sample 60 --seed 1",
    _mutate,
    _mutate_options,
    takes_guide=True,
)
