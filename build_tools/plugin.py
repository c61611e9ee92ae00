"""The MkDocs plugin: a guide is checked first, then its pages are made and given to MkDocs."""

from __future__ import annotations

import html
import json
import posixpath
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from mkdocs.config import config_options
from mkdocs.config.base import Config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin, event_priority
from mkdocs.structure.files import File, Files
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page as MkDocsPage

from build_tools import checks, colours, evidence, guide, job_record, languages, revisions
from build_tools.browser_assets import STYLES, write_browser_assets
from build_tools.checks import content, promises
from build_tools.environment import say
from build_tools.figures import with_figures
from build_tools.findings import text_report
from build_tools.offline import outside_styles
from build_tools.offline_copy import write_offline_copy
from build_tools.pages.find import write_finder
from build_tools.pages.lists import home_page
from build_tools.pages.page import Book, Page
from build_tools.pages.prose import GlossaryLinks
from build_tools.pages.scrolled import ScrolledTables
from build_tools.pages.site import Section, guide_data, sections
from build_tools.pages.where import is_walked, replay_script, replays_of
from build_tools.strict import make_strict
from build_tools.theme_slips import without_slips

__all__ = ["GuideConfig", "GuidePlugin"]

ROOT = Path(__file__).parent.parent
_WIDE = ('class="ln-sheet"', 'class="ln-bench"')  # parts that need the width of the theme's side columns


class GuideConfig(Config):  # type: ignore[no-untyped-call]
    """The plugin's settings in mkdocs.yml."""

    guide = config_options.Type(str, default="guide_src")
    """The guide's folder, absolute or beside mkdocs.yml; its `pages` is MkDocs's docs_dir."""
    operator = config_options.Type(str, default="")
    """A file to take in place of the guide's own operator.yaml."""
    language = config_options.Type(str, default="")
    """A catalogue's file, or one of languages.PSEUDO; nothing for the authors' own language."""
    draft = config_options.Type(bool, default=False)
    """Whether steps are shown that were changed since the promises were measured."""


class GuidePlugin(BasePlugin[GuideConfig]):  # type: ignore[no-untyped-call]
    """`plugins: [lost-neutral]`."""

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Check the guide and make its pages. MkDocs has not emptied the site's folder yet."""
        folder = Path(config.config_file_path).parent / self.config.guide
        self.catalogue = languages.catalogue(self.config.language) if self.config.language else None
        operator = Path(self.config.operator) if self.config.operator else None
        self.book = _checked(folder, operator, strict=bool(config.strict), draft=self.config.draft)
        made = sections(self.book)
        self.written: dict[str, tuple[str, str]] = {}
        self.made = {_source(page): page for section in made for page in section.pages}
        config.docs_dir = str(folder / "pages")
        written = [
            path.relative_to(config.docs_dir).as_posix()
            for path in sorted(Path(config.docs_dir).rglob("*.md"))
        ]
        if "index.md" not in written:
            lists = {section.title: section.pages[1:] for section in made[:-1]}
            self.made["index.md"] = home_page(self.book, lists)
        self.made["missing.md"] = self.book.page("missing.html", "missing.html", "Not in this version")
        if both := sorted(self.made.keys() & set(written)):
            raise Abort(
                f"{folder / 'pages' / both[0]} would stand in for a page that the guide makes; rename it"
            )
        config.nav = config.nav or _nav(made, written)
        self._be_ours(config)
        return config

    def _be_ours(self, config: MkDocsConfig) -> None:
        """Names, styles and glossary links."""
        settings, operator = self.book.settings, self.book.operator
        config.site_name = html.escape(settings.title)
        edition = f"{operator.name}, version {settings.version}, reviewed {settings.reviewed}."
        config.copyright = html.escape(f"{edition} {operator.local_rules}")
        config.theme.static_templates -= {"404.html", "sitemap.xml"}  # both need to know the site's address
        config.extra_css += [f"assets/{style}" for style in (STYLES[0], colours.STYLE, *STYLES[1:])]
        self.here = ""
        links = GlossaryLinks(
            self.book.terms, lambda anchor: _relative("glossary.md", self.here) + f"#{anchor}"
        )
        config.markdown_extensions += [links, ScrolledTables()]

    def on_files(self, files: Files, config: MkDocsConfig) -> Files:
        """Add the made pages, each a file with its title only; its HTML takes their place later.

        What a theme brings and no page asks for is left out: it would have to be fetched, kept and licensed.
        """
        for file in [file for file in files if _is_idle(file.src_uri, config.theme.name or "")]:
            files.remove(file)
        for source, page in self.made.items():
            hide = ["navigation", "toc"] if any(mark in page.html for mark in _WIDE) else ["toc"]
            meta = {"title": html.escape(page.title, quote=False), "hide": hide}
            files.append(File.generated(config, source, content=f"---\n{json.dumps(meta)}\n---\n"))
        return files

    def on_nav(self, nav: Navigation, **_: Any) -> Navigation:
        """Take the pages before and after a tree from it: a theme's key for them would leave the walk."""
        for page in nav.pages:
            if page.file.src_uri.startswith("trees/"):
                page.previous_page = page.next_page = None
        return nav

    def on_page_markdown(self, markdown: str, page: MkDocsPage, **_: Any) -> str:
        """The model's figures where the author asked for them. Glossary links need to know the page."""
        self.here = page.file.src_uri
        return markdown if self.here in self.made else with_figures(markdown, self.book.guide)

    def on_page_content(self, html: str, page: MkDocsPage, **_: Any) -> str:
        """The made page in place of its empty source; an author's own in the guide's looks."""
        made = self.made.get(page.file.src_uri)
        if made is None:
            self.written[page.url] = str(page.title), html
            return self.book.framed(f'<div class="ln ln-plain">{html}</div>', page.url)
        page.present_anchor_ids = set(re.findall(r'\sid="([^"]+)"', made.html))  # links to them are checked
        return self.book.framed(made.html, page.url, made.review_by)

    def on_post_page(self, output: str, **_: Any) -> str:
        """The theme's slips mended; the words in another language."""
        mended = without_slips(output)
        return languages.translated(mended, self.catalogue) if self.catalogue else mended

    @event_priority(-50)  # after all other plugins
    def on_post_build(self, config: MkDocsConfig) -> None:
        """Scripts, styles, the list of pages; then hold the site to its promise."""
        site = Path(config.site_dir)
        write_browser_assets(site, ROOT)
        colours.write_style(self.book.operator.colours, site)
        for tree in self.book.guide.trees.values():
            if is_walked(self.book, tree):
                script = site / replays_of(tree)
                script.parent.mkdir(exist_ok=True)
                script.write_text(replay_script(self.book, tree), encoding="utf-8")
        say_it = self.catalogue.of if self.catalogue else str
        write_finder(self.book, self.made.values(), self.written, say_it, site / "assets" / "find-in.js")
        data = json.dumps(guide_data(self.book), indent=1, ensure_ascii=False)
        (site / "guide.json").write_text(data + "\n", encoding="utf-8")
        _write_schema(site / "schemas" / "job-record.json")
        if refused := [*make_strict(site), *outside_styles(site)]:
            print(*refused, "  mend: put it, or a copy of it, into a file of pages/, and name that", sep="\n")
            raise Abort("the pages above would not work without a network and under a strict policy")
        language = self.catalogue or languages.Catalogue(config.theme.get("language", "en"), "ltr", str)
        write_offline_copy(site, self.book.settings, self.book.operator.colours.head, ROOT, language)
        if language.missing:
            say(f"{len(language.missing):,} runs of words stay as they are: the catalogue lacks them")

    def on_serve(self, server: LiveReloadServer, builder: Callable[..., Any], **_: Any) -> LiveReloadServer:
        """Watch all that pages are made of; a refused rebuild leaves the last good pages up."""

        def build_or_keep() -> None:
            try:
                builder()
            except Abort as refused:
                print(refused, file=sys.stderr)

        server.builder = build_or_keep
        for watched in (
            self.book.guide.folder,
            ROOT / "calc",
            ROOT / "build_tools" / "browser",
            ROOT / "build_tools" / "pages",
        ):
            server.watch(str(watched))
        return server


def _checked(folder: Path, operator: Path | None, *, strict: bool, draft: bool) -> Book:
    """The guide as pages need it. Prints what is to be mended and raises Abort when it may not be built.

    What is past its review date is built unless it is `strict`, and what was not measured since it was
    changed is built as a `draft`: its pages say so.
    """
    loaded = guide.load(folder, operator=operator)
    findings = [*checks.check_guide(loaded), *promises.check(loaded)]
    overdue = [] if strict else [one for one in findings if one.check == content.OVERDUE]
    unproven = [one for one in findings if draft and one.check == evidence.STALE]
    if len(findings) > len(overdue) + len(unproven) or not (loaded.settings and loaded.operator):
        print(text_report(findings))
        raise Abort(f"{len(findings)} to mend; nothing was built, and the site is as it was")
    if overdue:
        print(text_report(overdue))
        say(f"{len(overdue)} past its review date, and its page says so; a strict build refuses it")
    if unproven:
        print(text_report(unproven))
        say("a draft, and its pages say so; no other build takes it")
    state = revisions.state_of(folder)
    return Book(loaded, loaded.settings, loaded.operator, state.words if state else "", bool(unproven))


def _write_schema(file: Path) -> None:
    file.parent.mkdir(exist_ok=True)
    file.write_text(json.dumps(job_record.schema(), indent=1) + "\n", encoding="utf-8")


def _is_idle(file: str, theme: str) -> bool:
    """A template that needs the site's address; a theme's own search; the icon for another theme."""
    of_another = theme != "mkdocs" and file.startswith("img/")
    own_search = ("assets/javascripts/lunr/", "assets/javascripts/workers/")
    return file == "sitemap.xml" or file.startswith(own_search) or of_another


def _source(page: Page) -> str:
    """The source file that MkDocs would make this page of."""
    return posixpath.splitext(page.address)[0] + ".md"


def _relative(to: str, here: str) -> str:
    return posixpath.relpath(to, posixpath.dirname(here) or ".")


def _nav(made: list[Section], written: list[str]) -> list[Any]:
    """Home, the made sections, and the authors' own pages before what is looked up."""
    nav: list[Any] = [{"Home": "index.md"}]
    for section in made:
        nav.append(
            {section.title: [{html.escape(page.title, quote=False): _source(page)} for page in section.pages]}
        )
    if explained := [page for page in written if page != "index.md"]:
        nav.insert(-1, {"Explained": explained})
    return nav
