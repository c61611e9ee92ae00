"""Catalogues of words: renewed without losing what a translator gave, and wrong ones told."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from build_tools.site import catalogues, translation

CLAMP, TINGLE = "Clamp the main earthing conductor first", "Has anybody felt a tingle?"
KLEMME, KRIBBELN = "Zuerst den Haupterdungsleiter mit der Zange messen", "Hat jemand ein Kribbeln gespürt?"


def renewed(file: Path, *runs: str) -> Path:
    """The file after `words` of a guide that says these runs."""
    catalog = catalogues.read(file) if file.exists() else catalogues.begun(file)
    catalogues.renew(catalog, {words: [f"{words[:4]}.html"] for words in runs}, "A guide", "2026.1")
    catalogues.write(catalog, file)
    return file


def translate(file: Path, words: str, into: str) -> None:
    """What a translator does in an editor."""
    text = file.read_text("utf-8")
    assert f'msgid "{words}"\nmsgstr ""\n' in text
    file.write_text(text.replace(f'msgid "{words}"\nmsgstr ""', f'msgid "{words}"\nmsgstr "{into}"'), "utf-8")


@pytest.fixture
def german(tmp_path: Path) -> Path:
    """A catalogue with two runs, both given."""
    file = renewed(tmp_path / "de.po", CLAMP, TINGLE)
    translate(file, CLAMP, KLEMME)
    translate(file, TINGLE, KRIBBELN)
    return file


def of(file: Path, words: str) -> str:
    return translation.catalogue(str(file)).of(words)


def test_a_filled_catalogue_is_kept_when_it_is_renewed(german: Path) -> None:
    renewed(german, TINGLE, CLAMP, "Another thing to say")
    assert (of(german, CLAMP), of(german, TINGLE)) == (KLEMME, KRIBBELN)
    assert catalogues.counted(catalogues.read(german)) == catalogues.Counted(2, 0, 1, 0)


def test_renewing_twice_changes_nothing(german: Path) -> None:
    once = renewed(german, CLAMP, "Other words").read_bytes()
    assert renewed(german, CLAMP, "Other words").read_bytes() == once


def test_each_run_names_the_pages_where_it_stands(german: Path) -> None:
    assert f'#: Clam.html\nmsgid "{CLAMP}"' in german.read_text("utf-8")


def test_words_changed_a_little_are_marked_and_count_as_missing(german: Path) -> None:
    changed = CLAMP.replace("first", "now")
    text = renewed(german, changed, TINGLE).read_text("utf-8")
    assert f'#, fuzzy\n#| msgid "{CLAMP}"\nmsgid "{changed}"\nmsgstr "{KLEMME}"' in text
    assert renewed(german, changed, TINGLE).read_text("utf-8") == text
    assert of(german, changed) == changed
    german.write_text(text.replace("#, fuzzy\n", ""), "utf-8")
    assert of(german, changed) == KLEMME


def test_what_is_no_longer_said_is_kept_and_comes_back_to_be_looked_at(german: Path) -> None:
    text = renewed(german, TINGLE).read_text("utf-8")
    assert f'#~ msgid "{CLAMP}"\n#~ msgstr "{KLEMME}"' in text
    assert catalogues.counted(catalogues.read(german)) == catalogues.Counted(1, 0, 0, 1)
    text = renewed(german, TINGLE, CLAMP).read_text("utf-8")
    assert f'#, fuzzy\nmsgid "{CLAMP}"\nmsgstr "{KLEMME}"' in text and "#~" not in text


RUNS = st.lists(
    st.sampled_from([CLAMP, TINGLE, CLAMP + " of all", TINGLE[:-1], "Ring 100 %", "{n} homes\nmore"])
)


@given(st.lists(RUNS, min_size=1, max_size=5))
def test_no_translation_is_ever_lost(
    tmp_path_factory: pytest.TempPathFactory, editions: list[list[str]]
) -> None:
    file = tmp_path_factory.mktemp("kept") / "de.po"
    gave = set()
    for edition, runs in enumerate(editions):
        renewed(file, *runs)
        catalog = catalogues.read(file)
        for message in catalog:
            if message.id and not message.string:
                message.string = f"{edition}: {message.id}"
                gave.add(message.string)
        catalogues.write(catalog, file)
    catalog = catalogues.read(renewed(file, "Nothing of these"))
    assert gave <= {message.string for message in [*catalog, *catalog.obsolete.values()]}


def test_a_write_that_fails_leaves_the_old_catalogue(german: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    before = german.read_bytes()

    def full(stream: object, *_: object, **__: object) -> None:
        stream.write(b"half")  # type: ignore[attr-defined]
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(catalogues, "write_po", full)
    with pytest.raises(OSError):
        renewed(german, CLAMP)
    assert german.read_bytes() == before
    assert [path.name for path in german.parent.iterdir()] == ["de.po"]


TONGUES = {
    "cy.po": ("cy", "ltr"),
    "pt-BR.po": ("pt-BR", "ltr"),
    "ar.po": ("ar", "rtl"),
    "he.po": ("he", "rtl"),
}


@pytest.mark.parametrize(("name", "tongue"), TONGUES.items())
def test_language_and_direction_are_of_the_header(tmp_path: Path, name: str, tongue: tuple[str, str]) -> None:
    """Directions by the Unicode Common Locale Data Repository, which Babel carries."""
    file = renewed(tmp_path / name, CLAMP).rename(tmp_path / "other.po")
    made = translation.catalogue(str(file))
    assert (made.language, made.direction) == tongue


@pytest.mark.parametrize("name", ["welsh.po", "cy.yaml", "cy", "1.po"])
def test_a_new_catalogue_is_named_after_its_language(tmp_path: Path, name: str) -> None:
    with pytest.raises(catalogues.WrongCatalogue, match=r"such as cy\.po for Welsh"):
        catalogues.begun(tmp_path / name)


@pytest.mark.parametrize(
    ("text", "told"),
    [
        (None, "cannot be read"),
        (b"words: [\n", ":1 is not a PO file"),
        (b'msgid "a"\nmsgstr "\xe9"\n', "is not UTF-8 text"),
        (b'msgid "a"\nmsgstr "b"\n', "its header names no language"),
        (b'msgid ""\nmsgstr "Language: klingon\\n"\n', "its header names no language"),
        (b'msgid ""\nmsgstr "Language: 1\\n"\n', "its header cannot be read"),
        (b"language: cy\nwords: {}\n", ":1 is not a PO file"),
    ],
)
def test_a_wrong_catalogue_is_told(tmp_path: Path, text: bytes | None, told: str) -> None:
    file = tmp_path / "other.po"
    if text is not None:
        file.write_bytes(text)
    with pytest.raises(catalogues.WrongCatalogue, match=re.escape(told)) as wrong:
        translation.catalogue(str(file))
    assert "\n" not in str(wrong.value).strip()
