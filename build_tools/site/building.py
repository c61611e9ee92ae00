"""Building a guide with MkDocs."""

import logging
import sys
import time
from dataclasses import dataclass
from pathlib import Path

from mkdocs.commands.build import build as build_with_mkdocs
from mkdocs.config import load_config
from mkdocs.exceptions import MkDocsException

from build_tools.guide.site_settings import NEEDED, PLUGIN, in_the_way
from build_tools.setup import progress, whole
from build_tools.setup.environment import WrongUse
from build_tools.setup.home import NAME
from build_tools.setup.progress import say, tell
from build_tools.site.theme_mends import TEMPLATES
from build_tools.site.translation import PSEUDO
from build_tools.starter import SETTINGS

THEMES = ("material", "mkdocs")
"""The theme that mkdocs.yml sets up, and MkDocs's own."""

_OWN_THEME = {
    "name": "mkdocs",
    "locale": "en",
    "color_mode": "auto",
    "user_color_mode_toggle": True,
    "navigation_depth": 2,
    **NEEDED["mkdocs"],
}


@dataclass(frozen=True, slots=True)
class Manner:
    """How a guide is built.

    `operator`: a file to take in place of the guide's own operator.yaml; `language`: a catalogue's file,
    or one of translation.PSEUDO, or nothing for the authors' own; `strict`: guidance that is past its review
    date is refused as well, else its pages say so; `draft`: steps that were changed since the promises were
    measured are shown, under a word on every page that they are not for use.
    """

    theme: str = THEMES[0]
    operator: Path | None = None
    language: str = ""
    strict: bool = False
    draft: bool = False


def build(guide: Path, to: Path, manner: Manner = Manner()) -> int:
    """Build the guide into `to`; 0 when done, 1 when it was refused, which leaves `to` as it was."""
    to = to.resolve()
    if taken := in_the_way(to):
        raise WrongUse(taken)
    began = time.monotonic()
    tell(f"building {guide}")
    try:
        with progress.work("building", 0), whole.writing(to):
            _build_with_mkdocs(guide, to, manner)
    except MkDocsException as stopped:
        say(str(stopped))
        return 1
    tell(f"built {to / 'index.html'} in {time.monotonic() - began:.1f} s")
    return 0


def settings_for(guide: Path) -> Path:
    """The mkdocs.yml in the guide's folder, or beside it, that names our plugin; else a new guide's."""
    folder = guide.resolve()
    near = (folder / "mkdocs.yml", folder.parent / "mkdocs.yml")
    return next((file for file in near if file.is_file() and PLUGIN in file.read_text("utf-8")), SETTINGS)


def _build_with_mkdocs(guide: Path, to: Path, manner: Manner) -> None:
    logging.basicConfig(format=f"{NAME}: %(message)s", level=logging.WARNING)
    for handler in logging.getLogger().handlers:
        handler.addFilter(_is_of_the_guide)
    pages, language = guide.resolve() / "pages", manner.language
    config = load_config(
        str(settings_for(guide)),
        site_dir=str(to),
        docs_dir=str(pages if pages.is_dir() else TEMPLATES),  # it has to be there, and holds no page
        strict=manner.strict,
        theme=dict(_OWN_THEME) if manner.theme == "mkdocs" else None,
    )
    config.plugins[PLUGIN].config.update(
        guide=str(guide.resolve()),
        operator=str(manner.operator.resolve()) if manner.operator else "",
        language=language if language in ("", *PSEUDO) else str(Path(language).resolve()),
        draft=manner.draft,
    )
    config.plugins.on_startup(command="build", dirty=False)
    try:
        build_with_mkdocs(config)
    finally:
        config.plugins.on_shutdown()


def _is_of_the_guide(record: logging.LogRecord) -> bool:
    """Whether a word of MkDocs is one for the author: a full disk is told once, and no page is at fault."""
    return not whole.is_full(sys.exc_info()[1])
