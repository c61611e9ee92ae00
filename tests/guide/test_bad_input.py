"""Broken files, each beside the exact message that its author gets.

`tests/bad_input/KIND/NAME.yaml` is put into a copy of the small guide as a file of that kind; `NAME.txt`
is the report. `pytest tests/guide/test_bad_input.py --update` rewrites the reports: read the difference.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Iterable, Iterator
from pathlib import Path

import pytest

from build_tools.checks import (
    begun,
    callers,
    calm,
    changes,
    colours,
    content,
    dangers,
    hazards,
    healthy,
    outcomes,
    placeholders,
    ranges,
    returned,
    rules,
    structure,
    words,
)
from build_tools.guide.findings import Finding, json_report, text_report
from build_tools.guide.trees import Guide
from build_tools.proof import promises

TREE = "title: x\naudience: site\nabout: x\nreview_by: 2099-01-01\nsources: [crews]\nstart: n0\nnodes:\n"


def _tree(nodes: Iterable[str]) -> bytes:
    return (TREE + "".join(nodes)).encode()


CASES = Path(__file__).parents[1] / "bad_input"
GOES_TO: dict[str, str] = {
    "site": "trees/site/{}.yaml",
    "call": "trees/call/{}.yaml",
    "street": "streets/{}.yaml",
    "guide": "guide.yaml",
    "operator": "operator.yaml",
    "rules": "rules.yaml",
    "glossary": "glossary.yaml",
    "sources": "sources.yaml",
    "promises": "promises.yaml",
    "sampling": "sampling.yaml",
    "minutes": "minutes.yaml",
    "signed": "signed.yaml",
}
GENERATED: dict[str, Callable[[], bytes]] = {
    "site/million-brackets": lambda: b"[" * 1_000_000,
    "site/million-braces": lambda: b"{a: " * 200_000,
    "site/deep-block": lambda: b"".join(b" " * depth + b"a:\n" for depth in range(1_000)),
    "site/too-large": lambda: b"a: b\n" * 300_000,
    "site/too-many-values": lambda: b"a: [" + b"b," * 200_000 + b"]",
    "site/thousand-mistakes": lambda: b"".join(b"titel%d: x\n" % n for n in range(10_000)),
    "site/many-unknown-names": lambda: _tree(f"  n{i}: {{step: x, go: m{i}}}\n" for i in range(3_000)),
    "site/many-like-answers": lambda: _tree(
        ["  n0:\n    question: x\n    answers:\n", *["    - {answer: x, go: n0}\n"] * 15_000]
    ),
    "site/alias-ladder": lambda: (
        b"a0: &a0 [x]\n" + b"".join(b"a%d: &a%d [*a%d]\n" % (n, n, n - 1) for n in range(1, 60))
    ),
    "site/many-duplicate-keys": lambda: b"a: b\n" * 100_000,
    "site/long-number": lambda: b"loops:\n- {through: a, at_most: " + b"9" * 100_000 + b"}\n",
}
SECONDS = 10.0
"""What the worst file may cost on a busy machine with two cores; on an idle one none takes two."""


def _names() -> list[str]:
    files = {f"{path.parent.name}/{path.stem}" for path in CASES.glob("*/*.yaml")}
    return sorted(files | GENERATED.keys())


def _findings(guide: Guide) -> Iterator[Finding]:
    """All but the walks with simulated faults, which have tests of their own."""
    yield from guide.findings
    for one in (
        structure, ranges, rules, hazards, begun, outcomes, returned, calm, changes, colours, content,
        placeholders, callers, dangers, healthy, words,
    ):  # fmt: skip
        yield from one.check(guide, list(guide.trees.values()))
    yield from promises.as_written(guide)


@pytest.mark.parametrize("name", _names())
def test_a_broken_file_gets_its_message(name, small_guide, request):
    kind, _, stem = name.partition("/")
    made = GENERATED.get(name)
    raw = made() if made else (CASES / f"{name}.yaml").read_bytes()
    Path(GOES_TO[kind].format(stem)).write_bytes(raw)

    started = time.process_time()
    findings = list(_findings(small_guide.load()))
    report = text_report(findings) + "\n"
    assert time.process_time() - started < SECONDS

    expected = CASES / f"{name}.txt"
    if request.config.getoption("--update"):
        expected.write_text(report, "utf-8")
    assert report == expected.read_text("utf-8")
    assert findings, "the file is broken, and nothing was said"
    assert len(json_report(findings)) > len('{"findings": []}')


def test_every_message_has_its_case():
    assert sorted(f"{path.parent.name}/{path.stem}" for path in CASES.glob("*/*.txt")) == _names()


def test_the_guide_without_the_broken_file_is_clean(small_guide):
    assert list(_findings(small_guide.load())) == []
