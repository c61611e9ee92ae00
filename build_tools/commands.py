"""What each verb does, inside the environment; the work itself lies in the modules called here."""

import argparse
import json
import os
import subprocess
import sys
import tempfile
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from itertools import chain
from pathlib import Path
from typing import TYPE_CHECKING

from build_tools import environment, programs
from build_tools.command_line import WrongUse
from build_tools.environment import ROOT, say

if TYPE_CHECKING:
    from build_tools.building import Manner
    from build_tools.evidence import Part
    from build_tools.findings import Finding
    from build_tools.guide import Guide
    from build_tools.retold import Retold


def run(asked: argparse.Namespace) -> int:
    """Do one verb; gives the exit code. Raises WrongUse and environment.SetUpFailed."""
    return _VERBS[asked.verb](asked)


def _build(asked: argparse.Namespace) -> int:
    from build_tools import building

    _guide_folder(asked.guide)
    return building.build(asked.guide, asked.to, _manner(asked, strict=asked.strict, draft=asked.draft))


def _publish(asked: argparse.Namespace) -> int:
    from build_tools.publish import archive

    manner = _manner(asked)
    printer = programs.browser() if asked.cards else None
    return archive.publish(
        _guide_folder(asked.guide), asked.to, asked.since, manner, unclean=asked.unclean, printer=printer
    )


def _serve(asked: argparse.Namespace) -> int:
    from build_tools import building

    _guide_folder(asked.guide)
    return building.serve(asked.guide, asked.port, _manner(asked))


def _check(asked: argparse.Namespace) -> int:
    from build_tools import checks, findings, guide, sarif
    from build_tools.checks import promises

    loaded = guide.load(_guide_folder(asked.guide), operator=_operator(asked))
    for tree in asked.trees:
        if tree.stem not in loaded.trees and not tree.is_file():
            raise WrongUse(f"no tree is called {tree.stem}{findings.nearest(tree.stem, loaded.trees)}")
    part = _part(asked.part, loaded) if asked.part else None
    by_check = checks.found_by_check(loaded, [tree.stem for tree in asked.trees] or None)
    if part:
        by_check["promises"] = list(promises.as_written(loaded)) or _count(loaded, part)
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


def _count(guide: "Guide", part: "Part") -> list["Finding"]:
    """Count one part and keep it; what is in the way, if anything is."""
    from build_tools import evidence
    from build_tools.checks import promises

    try:
        counts = evidence.count_part(guide, part)
    except (ValueError, ArithmeticError):
        if found := list(promises.unsolvable(guide)):
            return found
        raise
    say(f"wrote {evidence.write_part(guide, part, counts, environment.CACHE / 'parts')}")
    return []


def _part(text: str, guide: "Guide") -> "Part":
    from build_tools import evidence

    if not guide.promises or guide.sampling is None:
        raise WrongUse("there is nothing to count: the guide has no promises.yaml, or no sampling.yaml")
    try:
        return evidence.Part.parse(text)
    except ValueError as error:
        raise WrongUse(str(error)) from error


def _readings(asked: argparse.Namespace) -> int:
    from build_tools import findings, guide, readings

    streets = guide.load(_guide_folder(asked.guide)).streets
    if asked.street not in streets:
        near = findings.nearest(asked.street, streets)
        raise WrongUse(f"no street is called {asked.street}{near}; there are: {', '.join(streets)}")
    try:
        table = readings.compare(streets[asked.street], asked.faults, asked.at)
    except ValueError as error:  # a fault or a home that this street does not have
        raise WrongUse(str(error)) from error
    print(readings.as_json(table) if asked.json else readings.as_text(table))
    return 0


def _walk(asked: argparse.Namespace) -> int:
    from build_tools import findings, guide, retold

    loaded = guide.load(_guide_folder(asked.guide))
    try:
        if asked.street.endswith(".yaml"):
            told = _told_worst(asked, loaded)
        elif asked.at is None:
            raise WrongUse("say which home is visited: --at HOME")
        else:
            told = retold.retell(loaded, asked.tree, asked.street, asked.fault or "healthy", asked.at)
    except findings.Refused as refused:
        print(findings.text_report(refused.findings))
        return 1
    except ValueError as error:  # a name that is not there
        raise WrongUse(str(error)) from error
    print(retold.as_json(told) if asked.json else retold.as_text(told))
    return 0


def _told_worst(asked: argparse.Namespace, guide: "Guide") -> "Retold":
    from build_tools.proof import broken, worst

    if not Path(asked.street).is_file():
        raise WrongUse(f"there is no file {asked.street}")
    street = worst.read(Path(asked.street))
    others = {"tree": asked.tree, "fault": asked.fault or street.fault, "home": asked.at or street.home}
    return broken.retell_worst(guide, replace(street, **others), asked.street)


def _diff(asked: argparse.Namespace) -> int:
    from build_tools import differ, guide, review, revisions

    folder = _guide_folder(asked.guide)
    new = asked.new or str(folder)
    try:
        with revisions.guide_as_of(asked.old, folder) as before, revisions.guide_as_of(new, folder) as after:
            difference = differ.differ(guide.load(before), guide.load(after))
    except ValueError as error:  # neither a folder nor a revision
        raise WrongUse(str(error)) from error
    print(review.markdown(difference, asked.old, asked.new or "as it stands"), end="")
    return 1 if difference.unread else 0


def _calculate(asked: argparse.Namespace) -> int:
    from build_tools import calculate, guide

    loaded = guide.load(_guide_folder(asked.guide))
    try:
        answered = calculate.ask(asked.name, asked.inputs, loaded)
    except ValueError as error:  # a name that is not there, or a value that cannot be used
        raise WrongUse(str(error)) from error
    form = calculate.as_json if asked.json else calculate.as_csv if asked.csv else calculate.as_text
    print(form(answered), end="" if asked.csv else "\n")
    return 0


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
        say(f"{what}: {' '.join(command)}")
        failed = subprocess.run([sys.executable, "-m", *command], cwd=ROOT).returncode
        if failed:
            return 1
    return 0


def _prove(asked: argparse.Namespace) -> int:
    from build_tools import checks, evidence, findings, guide
    from build_tools.checks import promises
    from build_tools.proof import worst

    loaded = guide.load(_guide_folder(asked.guide))
    unsound, unmeasurable = checks.check_guide(loaded), list(promises.as_written(loaded))
    if unsound or unmeasurable:
        print(findings.text_report([*unsound, *unmeasurable]))
        say(f"{len(unsound) + len(unmeasurable)} to mend besides what is promised")
    if unmeasurable or len(loaded.trees) < len(loaded.tree_files):
        return 1
    if not loaded.promises or loaded.sampling is None:
        raise WrongUse(f"{asked.guide} promises nothing: it has no promises.yaml, or no sampling.yaml")
    if asked.merge:
        try:
            measured = evidence.merge(loaded, asked.merge)
        except ValueError as error:
            raise WrongUse(str(error)) from error
    else:
        say(
            f"walking the trees over {loaded.sampling.streets:,} streets for each kind of fault: some minutes"
        )
        try:
            measured = evidence.prove(loaded)
        except (ValueError, ArithmeticError):
            if not (found := list(promises.unsolvable(loaded))):
                raise
            print(findings.text_report(found))
            return 1
    say(f"wrote {evidence.write(loaded, measured)}")
    found = list(evidence.findings_of(loaded, partial(worst.attach, loaded, environment.CACHE / "worst")))
    if found:
        print(findings.text_report(found))
    return 1 if found or unsound else 0


def _calibrate(asked: argparse.Namespace) -> int:
    from build_tools import guide
    from build_tools.explained import calibrated, kept

    loaded = guide.load(_guide_folder(asked.guide))
    if loaded.sampling is None:
        raise WrongUse(f"{asked.guide} has no sampling.yaml: there are no streets to draw")
    say(f"drawing streets, and explaining {asked.cases:,} fresh ones: some minutes")
    known, new = calibrated.table(loaded.sampling), calibrated.fresh(loaded.sampling)
    order = calibrated.fixed_order(loaded)
    measured = calibrated.calibrated(known, new, order, loaded.sampling, asked.cases)
    grounds = calibrated.grounds_of(loaded.sampling)
    say(f"wrote {kept.write(loaded.folder, grounds, known.to_data(), measured)}")
    return 0


def _schemas(asked: argparse.Namespace) -> int:
    from build_tools import schemas

    for file in schemas.write(asked.folder):
        print(file)
    return 0


def _mutate(asked: argparse.Namespace) -> int:
    from build_tools import findings, mutate

    try:
        report = mutate.run(_guide_folder(asked.guide), asked.sample, asked.seed)
    except findings.Refused as refused:
        print(findings.text_report(refused.findings))
        return 1
    print(report.as_json() if asked.json else report.as_text())
    if report.stale:
        say(findings.text_report(report.stale))
    return 1 if report.unexplained or report.stale else 0


def _bench(asked: argparse.Namespace) -> int:
    from build_tools import bench

    _find_browser()
    return bench.main()


def _new(asked: argparse.Namespace) -> int:
    from build_tools import starter

    if asked.folder.exists() and (not asked.folder.is_dir() or any(asked.folder.iterdir())):
        raise WrongUse(f"{asked.folder} is there already and is not an empty folder")
    starter.write(asked.folder)
    say(f"written; see it with: python3 -m build_tools serve --guide {asked.folder}")
    return 0


def _lock(asked: argparse.Namespace) -> int:
    from build_tools import locks

    locks.renew()
    return 0


def _words(asked: argparse.Namespace) -> int:
    from build_tools import building, languages, offline_copy

    with tempfile.TemporaryDirectory(prefix="words-") as folder:
        site = Path(folder, "site")
        if building.build(_guide_folder(asked.guide), site):
            return 1
        runs: dict[str, None] = {}
        for page in sorted(site.rglob("*.html")):
            runs |= languages.runs_of(page.read_text("utf-8"))
        manifest = json.loads((site / "manifest.webmanifest").read_text("utf-8"))
        runs |= dict.fromkeys(manifest[name] for name in offline_copy.NAMES)
    asked.file.write_text(languages.empty_catalogue(runs), "utf-8")
    say(f"wrote {asked.file}: {len(runs):,} runs of words")
    say(f"in the guide's own language stay: {'; '.join(languages.NOT_REACHED)}")
    return 0


def _manner(asked: argparse.Namespace, *, strict: bool = False, draft: bool = False) -> "Manner":
    from build_tools import building, languages

    if asked.language:
        try:
            languages.catalogue(asked.language)
        except languages.WrongCatalogue as wrong:
            raise WrongUse(str(wrong)) from wrong
    return building.Manner(asked.theme, _operator(asked), asked.language, strict, draft)


def _operator(asked: argparse.Namespace) -> Path | None:
    if asked.operator and not asked.operator.is_file():
        raise WrongUse(f"there is no file {asked.operator} to say whose guide this is")
    path: Path | None = asked.operator
    return path


def _find_browser() -> None:
    """Tell Playwright's users which browser to start, and Playwright which Node: its own wants a library
    that a bare Debian has not."""
    os.environ[programs.BROWSER_VARIABLE] = str(programs.browser())
    os.environ["PLAYWRIGHT_NODEJS_PATH"] = str(environment.node())


def _guide_folder(folder: Path) -> Path:
    if not folder.is_dir():
        raise WrongUse(f"there is no guide folder {folder} (python3 -m build_tools new {folder} writes one)")
    return folder


_VERBS: dict[str, Callable[[argparse.Namespace], int]] = {
    "serve": _serve,
    "build": _build,
    "publish": _publish,
    "check": _check,
    "readings": _readings,
    "walk": _walk,
    "diff": _diff,
    "calculate": _calculate,
    "test": _test,
    "prove": _prove,
    "calibrate": _calibrate,
    "schemas": _schemas,
    "mutate": _mutate,
    "bench": _bench,
    "words": _words,
    "new": _new,
    "lock": _lock,
}
