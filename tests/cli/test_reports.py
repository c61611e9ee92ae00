"""What `check --as` writes: SARIF by its published schema, JSON Lines, and the hook that runs it."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from functools import cache
from pathlib import Path
from typing import Any
from urllib.parse import unquote

import pytest
import yaml
from jsonschema import Draft4Validator

from build_tools import checks
from build_tools.cli import command_line
from build_tools.cli.sarif import sarif_report
from build_tools.guide.findings import Finding, Hop, Place
from build_tools.setup import programs
from build_tools.setup.environment import ROOT


@cache
def published() -> Draft4Validator:
    """SARIF 2.1.0 (OASIS), as an npm package carries it; the schema is written in draft 4."""
    schema = json.loads(programs.sarif_schema().read_text("utf-8"))
    assert schema["$schema"].startswith("http://json-schema.org/draft-04/")
    return Draft4Validator(schema)


def told(guide_folder: Path, form: str, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    asked = command_line.parse(["check", "--guide", str(guide_folder), "--as", form])
    return command_line.run(asked), capsys.readouterr().out


@pytest.fixture
def spoilt(small_guide):
    """Findings of four checks at least, one with the way that leads to it."""
    small_guide.edit("trees/site/main-earth.yaml", "not_taken: {go: leave}", "not_taken: {go: lift}")
    small_guide.edit("trees/site/main-earth.yaml", "- {to: 0.5", "- {to: 0.4")
    small_guide.edit("trees/call/tingle-told.yaml", "2099-01-01", "2020-01-01")
    return small_guide.edit("streets/short-row.yaml", "metres: 90", "metres: ninety")


def results(sarif: str) -> list[dict[str, Any]]:
    log = json.loads(sarif)
    assert [error.message for error in published().iter_errors(log)] == []
    (run,) = log["runs"]
    rules = [rule["id"] for rule in run["tool"]["driver"]["rules"]]
    for result in run["results"]:
        assert result["ruleId"].partition("/")[0] == rules[result["ruleIndex"]]
    return run["results"]


def test_the_published_schema_refuses_what_is_not_sarif():
    log = json.loads(sarif_report({}, {}))
    assert published().is_valid(log)
    assert not published().is_valid({**log, "version": "2.0.0"})
    del log["runs"][0]["tool"]
    assert not published().is_valid(log)


def test_sarif_points_at_the_value_itself(spoilt, capsys):
    code, sarif = told(spoilt.folder, "sarif", capsys)
    assert code == 1
    found = results(sarif)
    assert {one["ruleId"] for one in found} >= {
        "guide/shape",
        "content/review-past",
        "ranges/range-gap",
        "rules/rule-clamp-before-disconnect",
    }
    (shape,) = [one for one in found if one["ruleId"] == "guide/shape"]
    where = shape["locations"][0]["physicalLocation"]
    text = Path(where["artifactLocation"]["uri"]).read_text("utf-8").splitlines()
    line = text[where["region"]["startLine"] - 1]
    assert line[where["region"]["startColumn"] - 1 :].startswith("ninety")


def test_sarif_tells_the_way_hop_by_hop(spoilt, capsys):
    _, sarif = told(spoilt.folder, "sarif", capsys)
    (rule,) = [one for one in results(sarif) if one["ruleId"].startswith("rules/")]
    steps = rule["codeFlows"][0]["threadFlows"][0]["locations"]
    by_check = checks.found_by_check(spoilt.load())["rules"]
    assert [step["location"]["message"]["text"] for step in steps] == [hop.what for hop in by_check[0].hops]
    assert len(steps) > 1


def test_sarif_rules_are_the_checks_own_words(small_guide, capsys):
    code, sarif = told(small_guide.folder, "sarif", capsys)
    assert (code, results(sarif)) == (0, [])
    rules = {rule["id"]: rule for rule in json.loads(sarif)["runs"][0]["tool"]["driver"]["rules"]}
    assert {check.__module__.rpartition(".")[2] for check in checks.CHECKS} < rules.keys()
    for check in checks.CHECKS:
        name = check.__module__.rpartition(".")[2]
        said = rules[name]["fullDescription"]["text"]
        first = sys.modules[check.__module__].__doc__.strip().splitlines()[0]
        assert said.splitlines()[0] == rules[name]["shortDescription"]["text"] == first


def test_sarif_of_a_file_with_an_awkward_name():
    place = Place("my guide/50 % & ä#1.yaml", 3, 7)
    finding = Finding("x", place, "what", hops=(Hop(Place("/else/where.yaml", 1, 1), "here"),))
    (result,) = results(sarif_report({"one": [finding]}, {"one": "It holds.\n\nMore."}))
    uri = result["locations"][0]["physicalLocation"]["artifactLocation"]["uri"]
    assert re.fullmatch(r"[\w./%~-]+", uri, re.ASCII)
    assert unquote(uri) == place.file
    hop = result["codeFlows"][0]["threadFlows"][0]["locations"][0]["location"]["physicalLocation"]
    assert hop["artifactLocation"]["uri"] == "file:///else/where.yaml"


def test_each_form_tells_the_same_findings(spoilt, capsys):
    as_json = json.loads(told(spoilt.folder, "json", capsys)[1])["findings"]
    lines = told(spoilt.folder, "lines", capsys)[1].splitlines()
    assert [json.loads(line) for line in lines] == as_json
    sarif = results(told(spoilt.folder, "sarif", capsys)[1])
    assert [one["ruleId"].partition("/")[2] for one in sarif] == [one["check"] for one in as_json]
    text = told(spoilt.folder, "text", capsys)[1]
    assert [one["check"] for one in as_json] == re.findall(r"^\S+:\d+:\d+: ([\w-]+):", text, re.MULTILINE)


def test_no_findings_are_no_lines(small_guide, capsys):
    assert told(small_guide.folder, "lines", capsys) == (0, "")
    assert told(small_guide.folder, "text", capsys) == (0, "")


def test_the_old_word_for_json_still_works():
    assert command_line.parse(["check", "--json"]).form == "json"
    assert command_line.parse(["check"]).form == "text"


def hook(folder: Path) -> subprocess.CompletedProcess[str]:
    """The hook's entry, run as from a repository that is committed to."""
    (defined,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text("utf-8"))
    program, *words = defined["entry"].split()
    return subprocess.run(
        [ROOT / program, *words, *defined["args"]], cwd=folder, capture_output=True, text=True, timeout=120
    )


def test_the_hook_is_defined_with_what_hooks_need():
    """Keys as the manual of the `pre-commit` program names them; from memory."""
    (defined,) = yaml.safe_load((ROOT / ".pre-commit-hooks.yaml").read_text("utf-8"))
    assert {"id", "name", "entry", "language"} <= defined.keys()
    assert os.access(ROOT / defined["entry"].split()[0], os.X_OK)
    assert re.search(defined["files"], "guide_src/trees/site/x.yaml")
    assert not re.search(defined["files"], "calc/circuit.py")


def test_the_hook_runs_the_check_of_the_repository_that_is_committed_to(small_guide, tmp_path):
    repository = tmp_path / "repository"
    repository.mkdir()
    files = [f"{name}.yaml" for name in ("guide", "operator", "rules", "glossary", "sources")]
    for name in (*files, "trees", "streets"):
        os.renames(tmp_path / name, repository / "guide_src" / name)
    clean = hook(repository)
    assert (clean.returncode, clean.stdout) == (0, "")
    tree = repository / "guide_src/trees/site/main-earth.yaml"
    tree.write_text(tree.read_text("utf-8").replace("to: 0.5", "to: 0.4", 1), "utf-8")
    broken = hook(repository)
    assert broken.returncode == 1
    assert broken.stdout.startswith("guide_src/trees/site/main-earth.yaml:")
