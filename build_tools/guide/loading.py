"""A whole guide folder -> Guide: every file read and given its shape, every called tree written out.

Mistakes of an author never raise: they are collected in `Guide.findings`, and what could not be made of
the files is left out. A tree in `Guide.trees` is whole: everything it leads to is there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from datetime import date
from pathlib import Path
from typing import Any

from build_tools.guide import models, source
from build_tools.guide.calls import written_out
from build_tools.guide.findings import Demand, Finding, in_order, shown
from build_tools.guide.folder import ID, leads_out, led_out, linked, misplaced, other_spelling
from build_tools.guide.source import MISSING_FILE, UNREADABLE, Source
from build_tools.guide.trees import Guide, TreeFile, names_in
from build_tools.guide.validation import NAME, conform
from calc.minutes import Minutes
from calc.sampling import Sampling
from calc.street import Street, network

__all__ = ["SAME_NAME", "load"]


def load(
    folder: Path | str,
    today: date | None = None,
    operator: Path | None = None,
    held: Mapping[Path, str] | None = None,
) -> Guide:
    """The guide in `folder`; review dates are held against `today` (now, when not given).

    `operator`: a file to take in place of the folder's own operator.yaml. `held`: files of the folder as an
    editor holds them, in place of what was saved.
    """
    reader = _Reader(Path(folder), held or {})
    whose = reader.operator(operator)
    settings = reader.file("guide.yaml", models.Settings)
    rules = reader.file("rules.yaml", models.Rules)
    glossary = reader.file("glossary.yaml", models.Glossary)
    sources = reader.file("sources.yaml", models.References)
    sampling = reader.optional("sampling.yaml", Sampling)
    promises = reader.optional("promises.yaml", models.Promises)
    minutes = reader.optional("minutes.yaml", Minutes)
    signatures = reader.optional("signed.yaml", models.Signatures)
    synonyms = reader.optional("synonyms.yaml", models.Synonyms)
    tree_files = reader.tree_files()
    streets = {path.stem: street for path, street in reader.streets()}
    reader.findings += [*linked(reader.root), *misplaced(reader.root, reader.files)]
    trees, findings = written_out(tree_files, names_in(reader.files, "trees") - tree_files.keys())
    return Guide(
        Path(folder),
        today or date.today(),
        settings,
        whose,
        rules or (),
        glossary or {},
        sources or {},
        sampling,
        promises or (),
        synonyms or models.Synonyms(),
        minutes,
        signatures,
        tree_files,
        trees,
        streets,
        reader.files,
        tuple(in_order([*reader.findings, *findings])),
        held or {},
    )


UNSOLVABLE = Demand("unsolvable", "figures that a real street has", "correct the figure")
SAME_NAME = Demand("same-name", "a name for each", "rename one of them")
AUDIENCE = Demand("audience", "the audience that the folder is for", "move the file, or correct the audience")


class _Reader:
    """Reads the files of one folder, and keeps what was found wrong with them."""

    def __init__(self, root: Path, held: Mapping[Path, str]) -> None:
        self.root = root
        self.held = held
        self.files: dict[str, Source] = {}
        self.findings: list[Finding] = []
        self.names: dict[str, str] | None = None

    def operator(self, other: Path | None) -> models.Operator | None:
        """Whose guide it is. Texts that are read after it may name what it holds."""
        read = source.read(other, self.held.get(other)) if other else self._read(self.root / "operator.yaml")
        self.files["operator.yaml"] = read
        self.findings += read.findings
        if read.data is None:
            return None
        operator, findings = conform(models.Operator, read)
        self.findings += findings
        self.names = operator.names if operator else None
        return operator if not read.findings else None

    def file(self, name: str, shape: Any) -> Any:
        """The value that one file makes, or None."""
        self.files[name] = read = self._read(self.root / name)
        self.findings += read.findings
        if read.data is None:
            return None
        value, findings = conform(shape, read, self.names)
        self.findings += findings
        return value if not read.findings else None

    def _read(self, path: Path) -> Source:
        if path in self.held:
            return source.read(path, self.held[path])
        if leads_out(path, self.root):
            return Source(source.as_given(path), None, (led_out(path),))
        read = source.read(path)
        if not path.exists() and (other := other_spelling(path)):
            what, mend = f"there is no such file; {shown(other)} is not it", f"rename that to {path.name}"
            return Source(read.file, None, (MISSING_FILE.found(read.place(), what, (), "", mend),))
        return read

    def optional(self, name: str, shape: Any) -> Any:
        """The value that a file makes which a guide need not have."""
        return self.file(name, shape) if (self.root / name).exists() else None

    def folder(self, name: str, shape: Any) -> Iterator[tuple[Path, Any]]:
        """Every value in the YAML files of a folder, with the file's path."""
        if leads_out(self.root / name, self.root):
            return
        for path in sorted((self.root / name).glob("*.yaml")):
            if path.is_symlink() and not path.exists():
                continue  # told with all links
            if not path.is_file():
                self._found(UNREADABLE, path, "this is not a file", "", "remove it")
            elif not ID.fullmatch(path.stem):
                self._found(
                    NAME, path, f"the file name {shown(path.name)} does not fit", "", "rename the file"
                )
            elif (value := self.file(path.relative_to(self.root).as_posix(), shape)) is not None:
                yield path, value

    def streets(self) -> Iterator[tuple[Path, Street]]:
        """The streets whose circuit can be solved."""
        for path, street in self.folder("streets", Street):
            try:
                _ = network(street).solution
            except (ValueError, ArithmeticError) as error:
                why = f"this street cannot be solved: {error}"
                self._found(UNSOLVABLE, path, why)
            else:
                yield path, street

    def tree_files(self) -> dict[str, TreeFile]:
        trees: dict[str, TreeFile] = {}
        for audience in ("call", "site"):
            for path, spec in self.folder(f"trees/{audience}", models.Tree):
                tree = TreeFile(path.stem, spec, self.files[f"trees/{audience}/{path.name}"])
                if spec.audience != audience:
                    self._wrong_audience(tree, audience)
                elif path.stem in trees:
                    what = f"two trees are called {path.stem}; the other is {trees[path.stem].source.file}"
                    self._found(SAME_NAME, path, what, "", "rename one of the files")
                else:
                    trees[path.stem] = tree
        return trees

    def _wrong_audience(self, tree: TreeFile, folder: str) -> None:
        self.findings.append(
            AUDIENCE.found(
                tree.place("audience"),
                f"this tree is for `{tree.spec.audience}` and lies in trees/{folder}",
                ("audience",),
                f"`{folder}`, as the folder says",
            )
        )

    def _found(
        self, demand: Demand, path: Path, what: str, expected: str | None = None, mend: str | None = None
    ) -> None:
        place = source.Source(source.as_given(path), None).place()
        self.findings.append(demand.found(place, what, expected=expected, mend=mend))
