"""The verb `language-server`: what an editor may ask, answered over stdin and stdout.

Whatever an editor sends, the server goes on: a file that is in no guide, or not there, has no answers.
"""

from __future__ import annotations

import contextlib
import logging
import os
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from lsprotocol import types
from pygls import uris
from pygls.lsp.server import LanguageServer

from build_tools.guide.findings import Finding
from build_tools.language_server.completion import completions
from build_tools.language_server.definition import definitions
from build_tools.language_server.diagnostics import SOURCE, by_file, diagnostic, location
from build_tools.language_server.hover import hover
from build_tools.language_server.known import File, Known
from build_tools.language_server.looks import Held, text_of
from build_tools.language_server.open_guide import OpenGuide, folder_of
from build_tools.language_server.positions import Text

__all__ = ["serve"]


class _Asked(NamedTuple):
    """A place that an editor asks about: the guide, the file, its text, and the position in it."""

    known: Known
    file: File
    text: Text
    position: types.Position


class _Server(LanguageServer):
    """The open files, by the guides that they are in."""

    def __init__(self) -> None:
        super().__init__(SOURCE, "1", text_document_sync_kind=types.TextDocumentSyncKind.Full)
        self.guides: dict[Path, OpenGuide] = {}
        self.marked: dict[Path, set[Path]] = {}

    def guide_of(self, uri: str) -> OpenGuide | None:
        """The guide that a file is in, if it is in one."""
        path = _path(uri)
        folder = folder_of(path) if path else None
        if folder is None:
            return None
        if folder not in self.guides:
            self.guides[folder] = OpenGuide(
                folder, lambda: self.held(folder), lambda held, found: self.tell(folder, held, found)
            )
            self.guides[folder].walk()
        return self.guides[folder]

    def held(self, folder: Path) -> dict[Path, str]:
        """The open files of a folder as the editor holds them."""
        return {path: text for path, text in self._open() if path.is_relative_to(folder)}

    def asked(self, document: types.TextDocumentIdentifier, position: types.Position) -> _Asked | None:
        """What a question is about; None where there is nothing to say."""
        path, guide = _path(document.uri), self.guide_of(document.uri)
        if path is None or guide is None:
            return None
        return _Asked(guide.known, File.of(path, guide.folder), self.text(path), position)

    def text(self, path: Path) -> Text:
        """A file as the editor holds it, or as it was saved."""
        return Text(text_of(path, dict(self._open())), self.workspace.position_codec)

    def tell(self, folder: Path, held: Held, findings: list[Finding]) -> None:
        """Mark what was found in what was held, and clear what was marked before and is mended."""
        found = by_file(findings)

        def text(path: Path) -> Text:
            return Text(text_of(path, held), self.workspace.position_codec)

        for path in sorted(self.marked.get(folder, set()) | found.keys() | held.keys()):
            marks = [diagnostic(finding, text, self.address) for finding in found.get(path, ())]
            self.text_document_publish_diagnostics(types.PublishDiagnosticsParams(self.address(path), marks))
        self.marked[folder] = set(found)

    def address(self, path: Path) -> str:
        """The URI by which the editor knows a file."""
        held = (one.uri for one in self.workspace.text_documents.values() if _path(one.uri) == path)
        return next(held, uris.from_fs_path(str(path)) or "")

    def _open(self) -> Iterator[tuple[Path, str]]:
        for one in self.workspace.text_documents.values():
            if path := _path(one.uri):
                yield path, one.source


def _path(uri: str) -> Path | None:
    """The file that a URI names; None when it names none."""
    try:
        name = uris.to_fs_path(uri)
    except ValueError:
        return None
    return Path(name) if name and "\0" not in name and Path(name).is_absolute() else None


def _made() -> _Server:
    """The server with all that it answers."""
    server = _Server()

    @server.feature(types.TEXT_DOCUMENT_DID_OPEN)
    @server.feature(types.TEXT_DOCUMENT_DID_CHANGE)
    @server.feature(types.TEXT_DOCUMENT_DID_CLOSE)
    def _typed(about: _About) -> None:
        if guide := server.guide_of(about.text_document.uri):
            guide.look()

    @server.feature(types.TEXT_DOCUMENT_DID_SAVE)
    def _saved(about: types.DidSaveTextDocumentParams) -> None:
        if guide := server.guide_of(about.text_document.uri):
            guide.look()
            guide.walk()

    @server.feature(types.TEXT_DOCUMENT_COMPLETION, types.CompletionOptions(trigger_characters=list(" [,")))
    def _completion(about: types.CompletionParams) -> list[types.CompletionItem]:
        asked = server.asked(about.text_document, about.position)
        return completions(*asked) if asked else []

    @server.feature(types.TEXT_DOCUMENT_HOVER)
    def _hover(about: types.HoverParams) -> types.Hover | None:
        asked = server.asked(about.text_document, about.position)
        if asked is None or (said := hover(*asked)) is None:
            return None
        words, range_ = said
        return types.Hover(types.MarkupContent(types.MarkupKind.Markdown, words), range_)

    @server.feature(types.TEXT_DOCUMENT_DEFINITION)
    def _definition(about: types.DefinitionParams) -> list[types.Location]:
        asked = server.asked(about.text_document, about.position)
        places = definitions(*asked) if asked else ()
        return [location(place, server.text, server.address) for place in places]

    return server


_About = (
    types.DidOpenTextDocumentParams | types.DidChangeTextDocumentParams | types.DidCloseTextDocumentParams
)


def serve() -> None:
    """Answer an editor until it closes the connection or says that it is done. The connection is closed then,
    and is not this process's own stdout: whatever else is printed meanwhile goes to stderr."""
    logging.basicConfig(format="%(message)s")
    with (
        os.fdopen(os.dup(sys.stdout.fileno()), "wb") as connection,
        contextlib.redirect_stdout(sys.stderr),
    ):
        _made().start_io(stdout=connection)
