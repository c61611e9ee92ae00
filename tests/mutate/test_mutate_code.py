"""Slips in code: what is made, and that a caught, a surviving and an endless one are told apart."""

from __future__ import annotations

import ast
import json
import shutil
from pathlib import Path

import pytest

from build_tools.mutate.code_run import (
    CodeHarmless,
    CodeReport,
    FailsAnyway,
    Plan,
    run_code,
    shipped_plan,
    shipped_reasons,
)
from build_tools.mutate.code_slips import CODE_KINDS, code_mutants
from build_tools.mutate.code_trial import ENDLESS, NOT_LOADED
from build_tools.setup.environment import ROOT

CODE = '''"""Halves."""

TENTH = 10


def halves(whole: int) -> int:
    """How often a number can be halved."""
    times = 0
    while whole > 1:
        whole //= 2
        times += 1
    return times


def tenths(whole: int) -> int:
    return whole * TENTH


CHOSEN = {"one": 1, "two": 2}
ONE = CHOSEN["two"]
'''

TESTS = """from tiny.half import halves, tenths


def test_eight_is_halved_three_times():
    assert halves(8) == 3


def test_tenths_are_more():
    assert tenths(2) > 2


def test_nobody_touched_the_file():
    assert open("tiny/half.py").read().endswith('["two"]\\\\n')
"""

PLAN = Plan.model_validate(
    {
        "asked": [{"code": ["tiny/*.py"], "tests": ["tests/test_{name}.py"]}],
        "not_asked": [
            {
                "test": "tests/test_half.py::test_nobody_touched_the_file",
                "because": "It is no better than a hash.",
            }
        ],
    }
)


@pytest.fixture(scope="module")
def root(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A project of one module and its tests."""
    folder = tmp_path_factory.mktemp("project")
    for name, text in (("tiny/__init__.py", ""), ("tiny/half.py", CODE), ("tests/test_half.py", TESTS)):
        (folder / name).parent.mkdir(exist_ok=True)
        (folder / name).write_text(text.replace("\\\\n", "\\n"), "utf-8")
    (folder / "pyproject.toml").write_text('[tool.pytest.ini_options]\nmarkers = ["browser: in a browser"]\n')
    return folder


@pytest.fixture(scope="module")
def report(root: Path) -> CodeReport:
    return run_code(PLAN, root=root, patience_s=4)


def caught_by(report: CodeReport, old: str, new: str) -> str:
    (verdict,) = (one for one in report.verdicts if (one.mutant.old, one.mutant.new) == (old, new))
    return verdict.caught_by


def test_each_mutant_has_its_verdict(report: CodeReport, root: Path) -> None:
    assert (
        caught_by(report, "whole > 1", "whole <= 1") == "tests/test_half.py::test_eight_is_halved_three_times"
    )
    assert caught_by(report, "whole * TENTH", "whole / TENTH") == "tests/test_half.py::test_tenths_are_more"
    assert caught_by(report, "whole //= 2", "pass") == ENDLESS
    assert caught_by(report, '{"one": 1, "two": 2}', '{"one": 1}') == NOT_LOADED
    assert caught_by(report, "10", "11") == ""
    assert (root / "tiny/half.py").read_text("utf-8") == CODE


def test_the_report_counts_and_lists(report: CodeReport) -> None:
    text = report.as_text()
    left = [str(one.mutant) for one in report.verdicts if one.survived]
    assert "tiny/half.py:3: number: 10 -> 11" in left
    assert all(f"  {one}" in text.splitlines() for one in left)
    assert len(report.verdicts) == report.of == report.caught + len(left)
    assert f"{report.caught} of {report.of} (" in text and "95 % bounds" in text
    rows = json.loads(report.as_json())["verdicts"]
    assert [row["caught_by"] for row in rows] == [one.caught_by for one in report.verdicts]


def test_a_reason_takes_a_survivor_out_of_what_is_to_be_mended(report: CodeReport) -> None:
    reason = CodeHarmless(
        kind="number", file="tiny/half.py", inside="", old="10", new="11", because="Any number would do."
    )
    told = CodeReport(report.verdicts, report.of, report.seed, (reason,))
    assert len(told.unexplained) == len(report.unexplained) - 1
    assert "Any number would do." in told.as_text()


def test_a_sample_is_the_same_for_a_seed(root: Path) -> None:
    one, other = (run_code(PLAN, root=root, sample=3, seed=7, processes=p, patience_s=4) for p in (1, 2))
    assert one.as_json() == other.as_json()
    assert len(one.verdicts) == 3


def test_a_test_that_fails_by_any_edit_stops_the_run(root: Path) -> None:
    with pytest.raises(FailsAnyway, match="test_nobody_touched_the_file"):
        run_code(PLAN.model_copy(update={"not_asked": ()}), root=root, sample=1, patience_s=4)


def test_a_place_without_code_is_told(root: Path) -> None:
    with pytest.raises(ValueError, match="no code that tests are named for lies at huge; there is tiny"):
        run_code(PLAN, root=root, under=["huge"])


SLIPS = {
    "a < b": ["a <= b", "a >= b"],
    "a == b": ["a != b"],
    "a is not b": ["a is b"],
    "a in b": ["a not in b"],
    "(a + b) * c": ["(a + b) / c", "a - b"],
    "a and b": ["((a) or (b))", "((b))", "((a))"],
    "not a": ["(a)"],
    "-a": ["(a)"],
    "2.5": ["5.0"],
    "0.0": ["1.0"],
    "7": ["8"],
    "True": ["False"],
    "max(a, b)": ["min"],
    "np.minimum(a, b)": ["np.maximum"],
    "abs(a)": ["(a)"],
    "where(a, b, c)": ["where(a, c, b)"],
    "[a, b, c]": ["[a, b]"],
    "{a: b, c: d}": ["{a: b}"],
    "[a for a in b if c]": ['__import__("itertools").islice(b, 1)', "True"],
    "a if b else c": ["(not (b))"],
    "f'{a + 1}'": [],
    "lambda a: a | b": ["a & b", "(a)", "(b)"],
    "A | B": [],
}


@pytest.mark.parametrize("code", SLIPS)
def test_the_slips_in_an_expression(code: str) -> None:
    made = code_mutants("a.py", f"x = {code}\n".encode())
    assert sorted(one.new for one in made) == sorted(SLIPS[code])


def test_words_and_types_are_left_alone() -> None:
    code = (
        '"""Twice 2 > 1."""\n__all__ = ["a", "b"]\ndef a(b: int | 3 = None) -> 4 | str:\n    assert b > 1\n'
    )
    assert code_mutants("a.py", code.encode()) == ()


@pytest.mark.parametrize("file", ["calc/danger.py", "build_tools/proof/counting.py", "calc/cable_names.py"])
def test_every_mutant_is_python_that_differs(file: str) -> None:
    code = (ROOT / file).read_bytes()
    whole = ast.dump(ast.parse(code))
    made = code_mutants(file, code)
    for one in made:
        spoilt = one.applied_to(code)
        assert ast.dump(ast.parse(spoilt)) != whole
        assert code[one.start : one.end].decode() == one.old
        assert one.kind in CODE_KINDS
    assert len({(one.start, one.end, one.new) for one in made}) == len(made)


def test_the_shipped_plan_leads_to_code_and_tests() -> None:
    plan = shipped_plan()
    files = plan.files(ROOT)
    assert {"calc/danger.py", "build_tools/walks/walk.py", "build_tools/proof/counting.py"} <= set(files)
    for file in files:
        tests = plan.tests(ROOT, file)
        assert tests and len(set(tests)) == len(tests)
        assert all((ROOT / test).is_file() for test in tests)
    assert plan.tests(ROOT, "calc/danger.py")[0] == "tests/calc/test_danger.py"
    for one in plan.not_asked:
        test, _, name = one.test.partition("::")
        assert f"def {name}" in (ROOT / test).read_text("utf-8")
    assert all((ROOT / test).is_file() for test in plan.last)


def test_every_reason_is_of_a_slip_that_there_is() -> None:
    """A reason without a slip would hide the next one."""
    for reason in shipped_reasons():
        made = code_mutants(reason.file, (ROOT / reason.file).read_bytes())
        keys = {(m.kind, m.inside, *(" ".join(text.split()) for text in (m.old, m.new))) for m in made}
        wanted = (reason.kind, reason.inside, *(" ".join(text.split()) for text in (reason.old, reason.new)))
        assert wanted in keys, reason


def test_a_copy_is_made_and_the_checkout_is_left(root: Path, tmp_path: Path) -> None:
    before = {path: path.read_bytes() for path in root.rglob("*.py")}
    again = tmp_path / "again"
    shutil.copytree(root, again)
    run_code(PLAN, root=again, sample=2, patience_s=4)
    assert {path.relative_to(again) for path in again.rglob("*.py")} == {p.relative_to(root) for p in before}
    assert all((again / path.relative_to(root)).read_bytes() == text for path, text in before.items())
