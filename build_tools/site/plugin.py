"""The MkDocs plugin: a guide is checked first, then its pages are made and given to MkDocs."""

from __future__ import annotations

import html
import json
import logging
import posixpath
import re
import sys
from collections.abc import Callable
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from mkdocs import utils
from mkdocs.config import config_options
from mkdocs.config.base import Config
from mkdocs.config.defaults import MkDocsConfig
from mkdocs.exceptions import Abort
from mkdocs.livereload import LiveReloadServer
from mkdocs.plugins import BasePlugin, event_priority
from mkdocs.structure.files import File, Files
from mkdocs.structure.nav import Navigation
from mkdocs.structure.pages import Page as MkDocsPage

from build_tools import checks
from build_tools.checks import content, placeholders
from build_tools.guide import contrast, job_record, loading
from build_tools.guide.findings import Finding, text_report
from build_tools.guide.folder import pages_in
from build_tools.guide.outside_requests import outside_styles
from build_tools.guide.page_figures import with_figures
from build_tools.guide.prose import GlossaryLinks
from build_tools.guide.site_settings import in_the_way, wrong_language, wrong_settings
from build_tools.pages.fault_endings import is_walked, replay_script, replays_of
from build_tools.pages.lists import home_page
from build_tools.pages.page import Book, Page
from build_tools.pages.scrolled import ScrolledTables
from build_tools.pages.search_index import write_finder
from build_tools.pages.sections import Section, guide_data, sections
from build_tools.proof import evidence, promises
from build_tools.review import revisions
from build_tools.setup import progress, stopping, whole
from build_tools.setup.environment import ROOT
from build_tools.setup.progress import say
from build_tools.site import translation, watching
from build_tools.site.assets import STYLES, write_browser_assets
from build_tools.site.catalogues import WrongCatalogue
from build_tools.site.guarded import guarded
from build_tools.site.offline_copy import write_offline_copy
from build_tools.site.strict_policy import make_strict
from build_tools.site.theme_mends import TEMPLATES, without_slips

__all__ = ["GuideConfig", "GuidePlugin"]

_LAST_STEPS = 3
"""What follows the pages: scripts, replays, and the policy with the copy for offline."""
_WIDE = ('class="ln-sheet"', 'class="ln-bench"')  # parts that need the width of the theme's side columns


class GuideConfig(Config):  # type: ignore[no-untyped-call]
    """The plugin's settings in mkdocs.yml."""

    guide = config_options.Type(str, default="guide_src")
    """The guide's folder, absolute or beside mkdocs.yml; its `pages` is MkDocs's docs_dir."""
    operator = config_options.Type(str, default="")
    """A file to take in place of the guide's own operator.yaml, absolute or beside mkdocs.yml."""
    language = config_options.Type(str, default="")
    """A catalogue's file, absolute or beside mkdocs.yml, or one of languages.PSEUDO; nothing for the authors'
    own language."""
    draft = config_options.Type(bool, default=False)
    """Whether steps are shown that were changed since the promises were measured."""


class GuidePlugin(BasePlugin[GuideConfig]):  # type: ignore[no-untyped-call]
    """`plugins: [lost-neutral]`."""

    def __init__(self) -> None:
        self.beside = ExitStack()  # the folder that is built into, for as long as it is there

    def on_startup(self, *, dirty: bool, **_: Any) -> None:
        """Refuse to put a few new pages among old ones."""
        if dirty:
            raise Abort("pages of one guide belong together; build them all, without --dirty")

    def on_config(self, config: MkDocsConfig) -> MkDocsConfig:
        """Check the guide and make its pages. MkDocs has not emptied the site's folder yet."""
        here = Path(config.config_file_path).parent
        folder = here / self.config.guide
        operator = here / self.config.operator if self.config.operator else None
        language = self.config.language
        if language and language not in translation.PSEUDO:
            language = str(here / language)
        wrong = wrong_settings(config, folder, operator)
        try:
            self.catalogue = translation.catalogue(language) if language else None
        except WrongCatalogue as odd:
            wrong.append(wrong_language(config, str(odd), translation.PSEUDO))
        if wrong:
            _report(wrong)
            raise Abort(f"{len(wrong)} to mend in mkdocs.yml; nothing was built, and the site is as it was")
        self._build_aside(config)
        self.book = _checked(folder, operator, strict=bool(config.strict), draft=self.config.draft)
        progress.current().now("making pages")
        made = sections(self.book)
        self.written: dict[str, tuple[str, str]] = {}
        self.made = {_source(page): page for section in made for page in section.pages}
        config.docs_dir = str(folder / "pages")
        written = [path.relative_to(config.docs_dir).as_posix() for path in pages_in(folder)]
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

    def _build_aside(self, config: MkDocsConfig) -> None:
        """MkDocs empties the folder that it builds into: let that be another than the site's."""
        self.site = Path(config.site_dir).resolve()
        if taken := in_the_way(self.site):
            raise Abort(taken)
        self.aside = self.beside.enter_context(whole.folder_aside(self.site))
        config.site_dir = str(self.aside / whole.FRESH)

    def on_build_error(self, **_: Any) -> None:
        """Leave the last good site as it is, and nothing beside it."""
        self.beside.close()

    def on_shutdown(self) -> None:
        """The same, whatever stopped a build."""
        self.beside.close()

    def _be_ours(self, config: MkDocsConfig) -> None:
        """Names, styles and glossary links."""
        settings, operator = self.book.settings, self.book.operator
        config.site_name = html.escape(settings.title)
        edition = f"{operator.name}, version {settings.version}, reviewed {settings.reviewed}."
        config.copyright = html.escape(f"{edition} {operator.local_rules}")
        if str(TEMPLATES) not in config.theme.dirs:  # after what the author puts in place of a theme's parts
            config.theme.dirs.insert(1 if config.theme.custom_dir else 0, str(TEMPLATES))
        config.theme.static_templates -= {"404.html", "sitemap.xml"}  # both need to know the site's address
        config.extra_css += [f"assets/{style}" for style in (STYLES[0], contrast.STYLE, *STYLES[1:])]
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
        progress.current().expect(len(files.documentation_pages()) + _LAST_STEPS)
        progress.current().now("writing pages")
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
        translated = translation.translated(mended, self.catalogue) if self.catalogue else mended
        progress.current().step()
        return translated

    @event_priority(-50)  # after all other plugins
    def on_post_build(self, config: MkDocsConfig) -> None:
        """Scripts, styles, the list of pages; then hold the site to its promise."""
        site, doing = Path(config.site_dir), progress.current()
        doing.now("joining scripts")
        write_browser_assets(site, ROOT)
        doing.step()
        doing.now("replays of walks")
        contrast.write_style(self.book.operator.colours, site)
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
        doing.step()
        doing.now("holding pages to their policy")
        if refused := [*make_strict(site), *outside_styles(site)]:
            mend = "  mend: put it, or a copy of it, into a file of pages/, and name that"
            with progress.aside():
                print(*refused, mend, sep="\n")
            raise Abort("the pages above would not work without a network and under a strict policy")
        language = self.catalogue or translation.Catalogue(config.theme.get("language", "en"), "ltr", str)
        write_offline_copy(site, self.book.settings, self.book.operator.colours.head, ROOT, language)
        doing.step()
        if language.missing:
            say(f"{len(language.missing):,} runs of words stay as they are: the catalogue lacks them")
        if config.strict and (warned := _warnings()):
            raise Abort(f"{warned} warned of above; a strict build takes none, and the site is as it was")
        with stopping.held_off():
            whole.put_in_place(self.aside, self.site)
        self.beside.close()
        config.site_dir = str(self.site)

    def on_serve(self, server: LiveReloadServer, builder: Callable[..., Any], **_: Any) -> LiveReloadServer:
        """Watch all that pages are made of; a refused rebuild leaves the last good pages up."""

        def build_or_keep() -> None:
            try:
                builder()
            except Abort as refused:
                print(refused, file=sys.stderr)

        server.builder = build_or_keep
        server.set_app(guarded(server.serve_request, str(server.server_address[0])))
        watching.watch(server, self.book.guide.folder)
        return server


def _checked(folder: Path, operator: Path | None, *, strict: bool, draft: bool) -> Book:
    """The guide as pages need it. Prints what is to be mended and raises Abort when it may not be built.

    What is past its review date, or not filled in, is built unless it is `strict`, and what was not measured
    since it was changed is built as a `draft`: its pages say so.
    """
    loaded = loading.load(folder, operator=operator)
    findings = [*checks.check_guide(loaded), *promises.check(loaded)]
    overdue = [] if strict else [one for one in findings if one.check == content.OVERDUE.id]
    unwritten = [] if strict else [one for one in findings if one.check == placeholders.PLACEHOLDER.id]
    unproven = [one for one in findings if draft and one.check == evidence.STALE.id]
    forgiven = len(overdue) + len(unwritten) + len(unproven)
    if len(findings) > forgiven or not (loaded.settings and loaded.operator):
        _report(findings)
        raise Abort(f"{len(findings)} to mend; nothing was built, and the site is as it was")
    if overdue:
        _report(overdue)
        say(f"{len(overdue)} past its review date, and its page says so; a strict build refuses it")
    if unproven:
        _report(unproven)
        say("a draft, and its pages say so; no other build takes it")
    if unwritten:
        _report(unwritten)
        say(f"{len(unwritten)} still to be written, and every page says so; publish refuses it")
    state = revisions.state_of(folder)
    words = state.words if state else ""
    places = tuple(dict.fromkeys(f"{Path(one.place.file).name}:{one.place.line}" for one in unwritten))
    return Book(loaded, loaded.settings, loaded.operator, words, bool(unproven), places)


def _warnings() -> int:
    """How often MkDocs warned in a strict build, which it says itself only once the site is there."""
    counters = [one for one in logging.getLogger("mkdocs").handlers if isinstance(one, utils.CountHandler)]
    return sum(count for counter in counters for _, count in counter.get_counts())


def _report(findings: list[Finding]) -> None:
    with progress.aside():
        print(text_report(findings))


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
