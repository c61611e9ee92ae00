"""Wrong use of any verb: one line that says what is wrong and how to mend it, exit 2, nothing written."""

from __future__ import annotations

import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest
from conftest import ROOT
from rights import bound_by_modes

from build_tools.cli import command_line

LONG = "x" * 300
WALK = "walk tingle-visit --street short-row --at 12"

WRONG = {
    # a folder that is not there, a file or nothing for the guide's folder
    **{
        f"{verb} --guide {given}": said
        for verb in (
            "serve",
            "build",
            "publish",
            "check",
            "diff",
            "prove",
            "calibrate",
            "mutate",
            "words cy.po",
            "readings short-row",
            WALK,
            "calculate lost-neutral",
        )
        for given, said in (
            ("nowhere", "there is no guide folder nowhere (python3 -m build_tools new nowhere writes one)"),
            ("text.txt", "text.txt is no folder that can be read; name the guide's folder"),
            ("''", "argument --guide: write a name, and not nothing"),
        )
    },
    # whose guide it is
    **{
        f"{verb} --operator {given}": said
        for verb in ("serve", "build", "publish", "check")
        for given, said in (
            (
                "nowhere.yaml",
                "nowhere.yaml is not there, and is to say whose guide this is; name such a file",
            ),
            ("empty", "empty cannot be read, and is to say whose guide this is; name such a file"),
            ("''", "argument --operator: write a name, and not nothing"),
        )
    },
    # a catalogue of words
    **{
        f"{verb} --language {given}": said
        for verb in ("serve", "build", "publish")
        for given, said in (
            ("nowhere.po", "nowhere.po cannot be read: No such file or directory; name a file that"),
            ("empty", "empty cannot be read: Is a directory; name a file that"),
            ("bytes.yaml", "bytes.yaml is not UTF-8 text; save it again with that encoding"),
            ("text.txt", "text.txt:1 is not a PO file"),
        )
    },
    "words welsh.po": "named after no language; name it by the language's code, such as cy.po",
    "words cy.yaml": "such as cy.po for Welsh",
    "words nowhere/cy.po": "there is no folder nowhere; make it first",
    "words empty": "empty cannot be read: Is a directory",
    "words text.txt": "text.txt:1 is not a PO file",
    "words bytes.yaml": "bytes.yaml is not UTF-8 text",
    "words ''": "argument FILE: write a name, and not nothing",
    # where something is written
    "build --to text.txt": "text.txt is not a guide built earlier, so it is left alone; name an empty",
    "build --to guide": "guide is not a guide built earlier, so it is left alone",
    "build --to text.txt/site": "text.txt: File exists; name another",
    "build --to ''": "argument --to: write a name, and not nothing",
    f"build --to {LONG}": "File name too long; name another",
    "publish --to ''": "argument --to: write a name, and not nothing",
    "new text.txt": "text.txt is there already and is not an empty folder",
    "new guide": "guide is there already and is not an empty folder",
    "new text.txt/guide": "text.txt: File exists; name another",
    "new ''": "argument FOLDER: write a name, and not nothing",
    f"new {LONG}": "File name too long; name another",
    "schemas text.txt": "text.txt: File exists; name another",
    "schemas ''": "argument FOLDER: write a name, and not nothing",
    # numbers
    "serve --port http": "argument --port: a port is a whole number from 1 to 65535, not 'http'",
    "serve --port -1": "--port: ",
    "calibrate --cases 0": "argument --cases: a whole number from 1 up, not '0'",
    "calibrate --cases many": "argument --cases: a whole number from 1 up, not 'many'",
    "mutate --sample 1.5": "argument --sample: a whole number from 1 up, not '1.5'",
    "mutate --seed x": "argument --seed: invalid int value: 'x'",
    "mutate-code --processes 0": "argument --processes: a whole number from 1 up, not '0'",
    "mutate-code calc/dangr.py": "no code that tests are named for lies at calc/dangr.py; there is ",
    "check --part 0/8": "there is no part 0/8",
    "check --part many": "write a part as 3/8, not 'many'",
    "check --part ''": "argument --part: write a name, and not nothing",
    "calculate lost-neutral electrode_ohm=many": "electrode_ohm: “many” is not a number",
    "calculate lost-neutral load_l1=": "load_l1: Type a number",
    # names
    "biuld": "invalid choice: 'biuld'",
    "check tingel-visit": "no tree is called tingel-visit - did you mean `tingle-visit` or ",
    "check text.txt": "no tree is called text; there are: ",
    "check other/tingle-visit.yaml": "other/tingle-visit.yaml lies outside guide; name its guide",
    "check --as yaml": "invalid choice: 'yaml'",
    "readings short-rwo": "no street is called short-rwo - did you mean `short-row`?; there are: short-row",
    "readings ''": "no street is called ; there are: short-row",
    "readings short-row --at 99": "no premises are called 99; there are: 12, 14",
    "readings short-row --fault service-pen-opne@14": "service-pen-opne",
    "readings short-row --fault ''": "no fault is called ''; did you mean ",
    "readings short-row --fault service-pen-open@99": "99",
    "readings short-row --fault service-pen-high@12=much": "write a number of ohms after `=`",
    "walk tingel-visit --street short-row --at 12": "did you mean `tingle-visit`?",
    "walk tingle-told --street short-row --at 12": "tingle-told",
    "walk tingle-visit --street short-rwo --at 12": "did you mean `short-row`?",
    "walk tingle-visit --street short-row --at 99": "99",
    "walk tingle-visit --street short-row": "say which home is visited: --at HOME",
    "walk tingle-visit --at 12": "the following arguments are required: --street",
    f"{WALK} --fault nothing": "nothing",
    "walk tingle-visit --street nowhere.yaml": "there is no file nowhere.yaml that can be read",
    "walk tingle-visit --street folder.yaml": "there is no file folder.yaml that can be read",
    "calculate lost-neutrl": "did you mean `lost-neutral`?",
    "calculate ''": "no calculator is called ; there are: ",
    "calculate lost-neutral load_1=6": "lost-neutral does not ask for load_1 - did you mean `load_l1`",
    "diff nowhere": "nowhere is neither a guide folder nor a git revision of guide",
    "diff empty": "empty is no guide's folder: it has no guide.yaml; name one, or a git revision",
    "diff guide empty": "empty is no guide's folder",
    "diff text.txt": "text.txt is neither a guide folder nor a git revision of guide",
    "diff ''": "argument OLD: write a name, and not nothing",
    "publish --unclean --since nowhere": "nowhere is neither a guide folder nor a git revision of guide",
    "publish --since ''": "argument --since: write a name, and not nothing",
    # counts of parts
    **{
        f"prove --merge {file}": f"{file} is not the counts of a part ("
        for file in ("nowhere.json", "empty", "bytes.yaml", "text.txt", "list.json", "half.json")
    },
    "prove --merge ''": "argument --merge: write a name, and not nothing",
    "prove --merge": "argument --merge: expected at least one argument",
}
"""Words typed beside a guide in `guide` -> what is said; the guide is named where no other is."""


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a guide that promises something, and things that are not what a verb wants."""
    for name in ("guide", "other-guide"):
        shutil.copytree(ROOT / "tests/guides/walked", tmp_path / name)
    shutil.copy(ROOT / "guide_src/sampling.yaml", tmp_path / "guide")
    promise = "- {id: a, kind: no-harm, title: x, words: x, trees: [tingle-visit], at_most: 1}\n"
    (tmp_path / "guide/promises.yaml").write_text(promise, "utf-8")
    (tmp_path / "other").mkdir()
    shutil.copy(tmp_path / "guide/trees/site/tingle-visit.yaml", tmp_path / "other")
    (tmp_path / "text.txt").write_text("words: [\n", "utf-8")
    (tmp_path / "bytes.yaml").write_bytes(b"title: caf\xe9\n")
    (tmp_path / "list.json").write_text("[]", "utf-8")
    (tmp_path / "half.json").write_text('{"part": "1/1", "counts": []}', "utf-8")
    for name in ("empty", "folder.yaml"):
        (tmp_path / name).mkdir()
    monkeypatch.chdir(tmp_path)
    return tmp_path


def code_of(words: list[str]) -> int:
    try:
        return command_line.main(words)
    except SystemExit as left:  # of argparse
        assert isinstance(left.code, int)
        return left.code


def everything(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*"))


@pytest.mark.parametrize("words", WRONG)
def test_wrong_use_is_one_line(words: str, folder: Path, capfd: pytest.CaptureFixture[str]) -> None:
    before = everything(folder)
    takes_guide = words.split()[0] not in ("new", "schemas", "biuld")
    guide = ["--guide", "guide"] if takes_guide and "--guide" not in words else []
    assert code_of(["--quiet", *guide, *shlex.split(words)]) == 2
    out, err = capfd.readouterr()
    assert out == ""
    assert WRONG[words] in err
    assert err.startswith("build_tools: ") and err.count("\n") == 1, err
    assert everything(folder) == before


@pytest.mark.parametrize(
    ("words", "locked", "said"),
    [
        ("check --guide guide", "guide", "guide is no folder that can be read; name the guide's folder"),
        (
            "check --guide guide --operator text.txt",
            "text.txt",
            "text.txt cannot be read, and is to say whose",
        ),
        ("build --guide guide --language text.txt", "text.txt", "text.txt cannot be read: Permission denied"),
        ("words --guide guide text.txt", "text.txt", "text.txt cannot be read: Permission denied"),
        ("prove --guide guide --merge text.txt", "text.txt", "text.txt is not the counts of a part"),
        (
            "walk x --guide guide --street bytes.yaml",
            "bytes.yaml",
            "there is no file bytes.yaml that can be read",
        ),
    ],
)
@pytest.mark.skipif(sys.platform != "linux", reason="rights are another thing there")
def test_what_may_not_be_read_is_one_line(words: str, locked: str, said: str, folder: Path) -> None:
    code, out, err = bound(words, folder / locked)
    assert (code, out, err.count("\n")) == (2, "", 1), err
    assert said in err


def bound(words: str, locked: Path) -> tuple[int, str, str]:
    """What a command gives whom the modes of files bind, with one file or folder locked."""
    mode = locked.stat().st_mode
    locked.chmod(0)
    command = bound_by_modes([sys.executable, "-m", "build_tools", *shlex.split(words)])
    done = subprocess.run(command, capture_output=True, text=True)
    locked.chmod(mode)
    return done.returncode, done.stdout, done.stderr


@pytest.mark.parametrize(
    "name",
    ["pages/index.md", "trees/site/tingle-visit.yaml", "streets/short-row.yaml", "rules.yaml", "guide.yaml"],
)
@pytest.mark.skipif(sys.platform != "linux", reason="rights are another thing there")
def test_a_file_of_the_guide_that_may_not_be_read_is_a_finding(name: str, folder: Path) -> None:
    code, out, err = bound("check --guide other-guide", folder / "other-guide" / name)
    assert (code, err) == (1, "build_tools: 1 to mend\n"), out + err
    assert out.startswith(f"other-guide/{name}:1:1: unreadable: ")


@pytest.mark.parametrize("verb", ["check", "prove", "calibrate", "check --part 1/2", "mutate", WALK, "build"])
@pytest.mark.parametrize("name", ["trees/site/tingle-visit.yaml", "sampling.yaml", "promises.yaml"])
def test_a_damaged_file_of_the_guide_is_told_by_every_verb(
    verb: str, name: str, folder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    (folder / "guide" / name).write_bytes(b"caf\xe9: [")
    code = code_of(["--guide", "guide", *shlex.split(verb)])
    out, err = capfd.readouterr()
    assert (code in (0, 1, 2)) and "Traceback" not in out + err
    if code == 1:
        assert f"guide/{name}:1:4: not-utf-8: " in out
    if code == 2:
        assert err.count("\n") == 1
