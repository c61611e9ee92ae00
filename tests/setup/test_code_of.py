"""What counts of a file of the model: its code, and none of its words."""

from __future__ import annotations

from pathlib import Path

import pytest

from build_tools.proof.evidence import MODEL
from build_tools.setup.environment import ROOT
from build_tools.setup.result_cache import code_of

BARE = 'class A:\n    a: int = 1\n    def b(self):\n        return "c"  \n'
WITH_WORDS = '''"""What it is."""
# a note
class A:
    """A thing.

    Told at length: "quoted", # and no note.
    """

    a: int = 1  # a figure
    """How many, é or more."""

    def b(self):
        """What it gives."""
        return "c"
'''


def code(folder: Path, text: str) -> str:
    file = folder / "a.py"
    file.write_text(text, "utf-8")
    return code_of(file)


def test_words_do_not_count(tmp_path: Path) -> None:
    assert code(tmp_path, BARE) == code(tmp_path, WITH_WORDS)


@pytest.mark.parametrize(
    ("old", "new"), [("a: int = 1", "a: int = 2"), ('"c"', '"d"'), ("def b", "def c"), ("    def b", "def b")]
)
def test_code_counts(tmp_path: Path, old: str, new: str) -> None:
    assert code(tmp_path, WITH_WORDS) != code(tmp_path, WITH_WORDS.replace(old, new, 1))


@pytest.mark.parametrize("name", MODEL)
def test_what_is_left_of_the_model_has_no_words(name: str) -> None:
    left = code_of(ROOT / "calc" / f"{name}.py")
    assert '"""' not in left
    assert "def " in left
