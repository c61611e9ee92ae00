"""Verbs that measure over drawn streets, and keep what was measured."""

import argparse
from collections.abc import Collection
from functools import partial

from build_tools.cli.guide_asked import (
    MEASURED,
    findings_in,
    guide_folder,
    is_refused,
    must_show,
)
from build_tools.cli.verb import Verb, a_count, a_path
from build_tools.setup import environment, progress, whole
from build_tools.setup.environment import WrongUse
from build_tools.setup.progress import say, tell


def _prove_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--merge", nargs="+", type=a_path, metavar="FILE",
                       help="merge the counts of all parts instead of counting")  # fmt: skip


def _prove(asked: argparse.Namespace) -> int:
    from build_tools import checks
    from build_tools.guide import findings, loading
    from build_tools.proof import counterexample_search, evidence, promises, proving

    loaded = loading.load(guide_folder(asked.guide))
    unsound, unmeasurable = checks.check_guide(loaded), list(promises.as_written(loaded))
    if unsound or unmeasurable:
        print(findings.text_report([*unsound, *unmeasurable]))
        say(f"{len(unsound) + len(unmeasurable)} to mend besides what is promised")
    if unmeasurable or not loaded.is_whole or findings_in(loaded, *MEASURED):
        return 1
    if not loaded.promises or loaded.sampling is None:
        raise WrongUse(f"{asked.guide} promises nothing: it has no promises.yaml, or no sampling.yaml")
    if asked.merge:
        try:
            counted = evidence.merge(loaded, asked.merge)
        except ValueError as error:
            raise WrongUse(str(error)) from error
        measured = proving.evidence_of(loaded, counted)
    else:
        must_show(loaded)
        tell(
            f"walking the trees over {loaded.sampling.streets:,} streets for each kind of fault: some minutes"
        )
        try:
            measured = proving.prove(loaded)
        except (ValueError, ArithmeticError):
            if not (found := list(promises.unsolvable(loaded))):
                raise
            print(findings.text_report(found))
            return 1
    tell(f"wrote {evidence.write(loaded, measured)}")
    streets = environment.CACHE / "worst"
    with whole.writing(streets):
        found = list(evidence.findings_of(loaded, partial(counterexample_search.attach, loaded, streets)))
    if found:
        print(findings.text_report(found))
    return 1 if found or unsound else 0


PROVE = Verb(
    "prove",
    "measure what the guide promises over drawn streets, and keep the evidence with it",
    "prove --merge .lost-neutral/parts/*.json",
    _prove,
    _prove_options,
    takes_guide=True,
    counts=True,
)


def _calibrate_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--cases", type=a_count, default=1000, metavar="N",
                           help="fresh streets that are explained (default: 1000)")  # fmt: skip


def _calibrate(asked: argparse.Namespace) -> int:
    from build_tools.explained import calibration, explained_file
    from build_tools.guide import loading

    loaded = loading.load(guide_folder(asked.guide))
    if is_refused(loaded, *loaded.files):
        return 1
    if loaded.sampling is None:
        raise WrongUse(f"{asked.guide} has no sampling.yaml: there are no streets to draw")
    must_show(loaded)
    tell(f"drawing streets, and explaining {asked.cases:,} fresh ones: some minutes")
    with progress.work("calibrating", calibration.steps(asked.cases)):
        known, new = calibration.table(loaded.sampling), calibration.fresh(loaded.sampling)
        order = calibration.fixed_order(loaded)
        measured = calibration.calibrated(known, new, order, loaded.sampling, asked.cases)
    grounds = calibration.grounds_of(loaded.sampling)
    tell(f"wrote {explained_file.write(loaded.folder, grounds, known.to_data(), measured)}")
    return 0


def _pairs_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument(
        "streets", nargs="*", metavar="STREET", help="these streets only (default: every street)"
    )


def _pairs(asked: argparse.Namespace) -> int:
    from build_tools.guide import findings, loading
    from build_tools.proof import fault_pairs

    loaded = loading.load(guide_folder(asked.guide))
    if is_refused(loaded, *(f"streets/{name}.yaml" for name in asked.streets)):
        return 1
    for name in asked.streets or loaded.streets:
        if name not in loaded.streets:
            near = findings.nearest(name, loaded.streets)
            raise WrongUse(
                f"no street is called {name}{near}; there are: {', '.join(loaded.streets) or 'none'}"
            )
        print(fault_pairs.as_text(fault_pairs.pairs_on(name, loaded.streets[name], loaded.trees.values())))
    return 0


PAIRS = Verb(
    "pairs",
    "walk every site tree with every two faults at once on a street, and tell which hurt somebody",
    "pairs high-fold-lane",
    _pairs,
    _pairs_options,
    takes_guide=True,
    counts=True,
)


def _plan_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("tree", metavar="TREE", help="the id of a site tree: its file's name without .yaml")
    verb.add_argument("--streets", type=a_count, default=400, metavar="N",
                      help="streets drawn for each kind of fault (default: 400, two minutes)")  # fmt: skip
    verb.add_argument("--faults", nargs="+", metavar="KIND",
                      help="these kinds of fault only (default: all that keep a job open)")  # fmt: skip
    verb.add_argument("--as", choices=("text", "json"), default="text", dest="form", help="default: text")
    verb.add_argument("--json", action="store_const", const="json", dest="form", help="as JSON")


def _plan(asked: argparse.Namespace) -> int:
    from build_tools.guide import findings, loading
    from build_tools.plan import plan_report, planning

    loaded = loading.load(guide_folder(asked.guide))
    if loaded.findings:
        print(findings.text_report(loaded.findings))
        return 1
    site = [tree.id for tree in loaded.trees.values() if tree.audience == "site"]
    _known(asked.tree, site, "site tree")
    for kind in asked.faults or ():
        _known(kind, planning.DANGERS, "kind of fault beside which no job may be closed")
    if loaded.sampling is None or loaded.minutes is None:
        raise WrongUse(f"{asked.guide} has no sampling.yaml or no minutes.yaml: write both")
    told = planning.plan(loaded, asked.tree, asked.streets, tuple(asked.faults or planning.DANGERS))
    print(plan_report.as_json(told) if asked.form == "json" else plan_report.as_text(told))
    return 0


def _known(name: str, known: Collection[str], what: str) -> None:
    """Raises WrongUse for a name that is not there."""
    from build_tools.guide.findings import nearest

    if name not in known:
        near = nearest(name, known)
        raise WrongUse(f"no {what} is called {name}{near}; there are: {', '.join(known) or 'none'}")


PLAN = Verb(
    "plan",
    "tell what each node of a site tree finds and costs, and what could be left out or added",
    "plan test-one-home --streets 100",
    _plan,
    _plan_options,
    takes_guide=True,
    counts=True,
)


CALIBRATE = Verb(
    "calibrate",
    "draw the sampled readings behind Explain, and measure how well fresh streets are explained",
    "calibrate --cases 200",
    _calibrate,
    _calibrate_options,
    takes_guide=True,
    counts=True,
)
