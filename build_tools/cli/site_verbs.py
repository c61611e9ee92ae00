"""Verbs that make the site, and what a guide begins with."""

import argparse
import json
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from build_tools.cli.guide_asked import (
    guide_folder,
    operator_of,
)
from build_tools.cli.verb import Verb, a_name, a_path, a_port, looks
from build_tools.setup import environment, programs
from build_tools.setup.environment import WrongUse
from build_tools.setup.progress import say, tell

if TYPE_CHECKING:
    from build_tools.site.building import Manner


def _manner(asked: argparse.Namespace, *, strict: bool = False, draft: bool = False) -> "Manner":
    from build_tools.site import building, catalogues, translation

    if asked.language:
        try:
            translation.catalogue(asked.language)
        except catalogues.WrongCatalogue as wrong:
            raise WrongUse(str(wrong)) from wrong
    return building.Manner(asked.theme, operator_of(asked), asked.language, strict, draft)


def _schemas_for(folder: Path) -> None:
    """What an editor knows of a new guide's files, where there is something that can make it."""
    into = folder / ".lost-neutral" / "schemas"
    if not environment.is_inside():
        say(f"for completion in an editor: {environment.COMMAND} schemas {into}")
        return
    from build_tools.guide import schemas

    schemas.write(into)


def _serve_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--port", type=a_port, default=8000, metavar="N", help="default: 8000")
    looks(verb)


def _serve(asked: argparse.Namespace) -> int:
    from build_tools.site import serving

    guide_folder(asked.guide)
    return serving.serve(asked.guide, asked.port, _manner(asked))


SERVE = Verb(
    "serve",
    "build the guide, serve it on localhost, and build again on every change",
    "serve --port 8001",
    _serve,
    _serve_options,
    takes_guide=True,
    takes_operator=True,
)


def _build_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--to", type=a_path, default=Path("site"), metavar="FOLDER", help="default: site")
    verb.add_argument("--strict", action="store_true", help="refuse what is past its review date, too")
    verb.add_argument("--draft", action="store_true", help="show steps that were not measured since they "
                       "were changed, as a draft (as serve does)")  # fmt: skip
    looks(verb)


def _build(asked: argparse.Namespace) -> int:
    from build_tools.site import building

    guide_folder(asked.guide)
    return building.build(asked.guide, asked.to, _manner(asked, strict=asked.strict, draft=asked.draft))


BUILD = Verb(
    "build",
    "build the guide into a folder; a refused build leaves the folder as it was",
    "build --to /srv/guide",
    _build,
    _build_options,
    takes_guide=True,
    takes_operator=True,
)


def _publish_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("--to", type=a_path, default=Path("release"), metavar="FOLDER",
                         help="default: release")  # fmt: skip
    verb.add_argument("--since", type=a_name, metavar="OLD", help="the release before, for the notes: a "
                         "git revision or a guide folder")  # fmt: skip
    verb.add_argument("--cards", action="store_true", help="with each tree as a card on paper (PDF), "
                         "which a browser prints")  # fmt: skip
    verb.add_argument("--unclean", action="store_true", help="publish what was not committed as well")
    looks(verb)


def _publish(asked: argparse.Namespace) -> int:
    from build_tools.publish import archive

    manner = _manner(asked)
    printer = programs.browser() if asked.cards else None
    return archive.publish(
        guide_folder(asked.guide), asked.to, asked.since, manner, unclean=asked.unclean, printer=printer
    )


PUBLISH = Verb(
    "publish",
    "build what was committed into one archive, with all that whoever serves it must know",
    "publish --since v2026.10",
    _publish,
    _publish_options,
    takes_guide=True,
    takes_operator=True,
)


def _words_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("file", type=a_path, metavar="FILE", help="a PO file, named after its language")


def _words(asked: argparse.Namespace) -> int:
    from build_tools.site import building, catalogues, offline_copy, translation

    guide_folder(asked.guide)
    try:
        catalog = catalogues.read(asked.file) if asked.file.exists() else catalogues.begun(asked.file)
    except catalogues.WrongCatalogue as wrong:
        raise WrongUse(str(wrong)) from wrong
    with tempfile.TemporaryDirectory(prefix="words-") as folder:
        site = Path(folder, "site")
        if building.build(asked.guide, site):
            return 1
        runs = translation.words_of(site)
        manifest = json.loads((site / "manifest.webmanifest").read_text("utf-8"))
        for name in offline_copy.NAMES:
            runs.setdefault(manifest[name], []).append("manifest.webmanifest")
        version = json.loads((site / "guide.json").read_text("utf-8"))["version"]
    catalogues.renew(catalog, runs, manifest["name"], version)
    catalogues.write(catalog, asked.file)
    there = catalogues.counted(catalog)
    tell(f"wrote {asked.file}: {len(runs):,} runs of words: {there}")
    say(f"in the guide's own language stay: {'; '.join(translation.NOT_REACHED)}")
    return 0


WORDS = Verb(
    "words",
    "write a catalogue of the guide's words for a translator, or renew one and keep what was given",
    "words cy.po",
    _words,
    _words_options,
    takes_guide=True,
)


def _new_options(verb: argparse.ArgumentParser) -> None:
    verb.add_argument("folder", type=a_path, metavar="FOLDER")


def _new(asked: argparse.Namespace) -> int:
    from build_tools import starter

    if asked.folder.exists() and (not asked.folder.is_dir() or any(asked.folder.iterdir())):
        raise WrongUse(f"{asked.folder} is there already and is not an empty folder")
    starter.write(asked.folder)
    tell(f"written; see it with: {environment.COMMAND} serve --guide {asked.folder}")
    _schemas_for(asked.folder)
    say(f"a draft until {asked.folder / 'operator.yaml'} holds your own name and number")
    return 0


NEW = Verb(
    "new",
    "write the smallest guide that works into a new folder, with what a repository of its own needs",
    "new ../my-guide",
    _new,
    _new_options,
    bare=True,
)
