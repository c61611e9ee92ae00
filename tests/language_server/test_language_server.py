"""The language server over its protocol: started as an editor starts it, asked as an editor asks.

The client is pygls's own, with lsprotocol's types of the published protocol; what no client sends is written
as raw frames.
"""

from __future__ import annotations

import asyncio
import contextlib
import json
import os
import shutil
import subprocess
import sys
from collections.abc import AsyncIterator, Awaitable, Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path

import pytest
from lsprotocol import types
from pygls.lsp.client import LanguageClient

from build_tools.guide.loading import load
from build_tools.proof.sampled_bands import sampled_bands
from build_tools.setup.environment import ROOT
from calc.faults import KINDS

SMALL = ROOT / "tests/guides/small"
SERVER = (sys.executable, "-m", "build_tools", "language-server")
TREE = "trees/site/main-earth.yaml"
PATIENCE_S = 60


@dataclass
class Editor:
    """An editor with one guide open. `marks`: what each file was last marked with."""

    client: LanguageClient
    folder: Path
    marks: dict[str, list[types.Diagnostic]] = field(default_factory=dict)
    told: asyncio.Event = field(default_factory=asyncio.Event)
    texts: dict[str, str] = field(default_factory=dict)

    def uri(self, name: str) -> str:
        return (self.folder / name).as_uri()

    def open(self, name: str, text: str | None = None) -> str:
        """Open a file, as it was saved or with another text; gives the text."""
        self.texts[name] = (self.folder / name).read_text("utf-8") if text is None else text
        item = types.TextDocumentItem(self.uri(name), "yaml", 1, self.texts[name])
        self.client.text_document_did_open(types.DidOpenTextDocumentParams(item))
        return self.texts[name]

    def type(self, name: str, text: str) -> None:
        """Have another text in an open file, not saved."""
        self.texts[name] = text
        self.client.text_document_did_change(
            types.DidChangeTextDocumentParams(
                types.VersionedTextDocumentIdentifier(2, self.uri(name)),
                [types.TextDocumentContentChangeWholeDocument(text)],
            )
        )

    def save(self, name: str) -> None:
        (self.folder / name).write_text(self.texts[name], "utf-8")
        document = types.TextDocumentIdentifier(self.uri(name))
        self.client.text_document_did_save(types.DidSaveTextDocumentParams(document))

    async def marked(
        self, name: str, ready: Callable[[list[types.Diagnostic]], bool]
    ) -> list[types.Diagnostic]:
        """The marks of a file, once they are as wanted."""
        async with asyncio.timeout(PATIENCE_S):
            while name not in self.marks or not ready(self.marks[name]):
                self.told.clear()
                await self.told.wait()
        return self.marks[name]

    async def codes(self, name: str, *codes: str) -> list[types.Diagnostic]:
        """The marks of a file, once their codes are these."""
        return await self.marked(
            name, lambda marks: sorted(str(mark.code) for mark in marks) == sorted(codes)
        )

    def at(self, name: str, before: str) -> types.Position:
        """Where the cursor is just behind a piece of text that is there once, in UTF-16 units."""
        text = self.texts[name]
        assert text.count(before) == 1, f"{before!r} stands {text.count(before)} times"
        lines = text[: text.index(before) + len(before)].split("\n")
        return types.Position(len(lines) - 1, len(lines[-1].encode("utf-16-le")) // 2)

    async def offered(self, name: str, before: str) -> dict[str, types.CompletionItem]:
        """What is offered just behind a piece of text, by its label."""
        asked = types.CompletionParams(types.TextDocumentIdentifier(self.uri(name)), self.at(name, before))
        found = await self.client.text_document_completion_async(asked)
        assert isinstance(found, list)
        return {item.label: item for item in found}

    async def hovered(self, name: str, before: str) -> str:
        asked = types.HoverParams(types.TextDocumentIdentifier(self.uri(name)), self.at(name, before))
        found = await self.client.text_document_hover_async(asked)
        return found.contents.value if found and isinstance(found.contents, types.MarkupContent) else ""

    async def defined(self, name: str, before: str) -> list[tuple[str, str]]:
        """Where it leads just behind a piece of text: files of the guide, and the lines there."""
        asked = types.DefinitionParams(types.TextDocumentIdentifier(self.uri(name)), self.at(name, before))
        found = await self.client.text_document_definition_async(asked)
        assert isinstance(found, list)
        places = [(Path(one.uri.removeprefix("file://")), one) for one in found]
        return [
            (
                path.relative_to(self.folder).as_posix(),
                path.read_text("utf-8").split("\n")[one.range.start.line],
            )
            for path, one in places
            if isinstance(one, types.Location)
        ]


@contextlib.asynccontextmanager
async def editor(folder: Path) -> AsyncIterator[Editor]:
    """An editor that has started the server; it must end well when it is told to."""
    client = LanguageClient("tests", "1")
    writing = Editor(client, folder)

    @client.feature(types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def _marked(about: types.PublishDiagnosticsParams) -> None:
        path = Path(about.uri.removeprefix("file://"))
        if path.is_relative_to(folder):
            writing.marks[path.relative_to(folder).as_posix()] = list(about.diagnostics)
            writing.told.set()

    await client.start_io(*SERVER, cwd=ROOT)
    await client.initialize_async(
        types.InitializeParams(types.ClientCapabilities(), root_uri=folder.as_uri())
    )
    client.initialized(types.InitializedParams())
    try:
        yield writing
        await client.shutdown_async(None)
        client.exit(None)
        server = client._server
        assert server is not None
        assert await asyncio.wait_for(server.wait(), PATIENCE_S) == 0
    finally:
        if client._server and client._server.returncode is None:
            client._server.kill()
        await client.stop()


Writing = Callable[[Editor], Awaitable[None]]
Write = Callable[[Writing], None]


@contextlib.contextmanager
def writer(folder: Path) -> Iterator[Write]:
    """Has one editor, with one server, do one thing after another in a guide."""
    with asyncio.Runner() as runner:
        opening = editor(folder)
        opened = runner.run(opening.__aenter__())

        def write(writing: Writing) -> None:
            async def whole() -> None:
                await writing(opened)

            runner.run(whole())

        try:
            yield write
        except BaseException as failure:
            runner.run(opening.__aexit__(type(failure), failure, failure.__traceback__))
            raise
        runner.run(opening.__aexit__(None, None, None))


@pytest.fixture(scope="module")
def write(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Write]:
    """An editor with the small guide, for every test that saves nothing."""
    folder = tmp_path_factory.mktemp("small") / "guide"
    shutil.copytree(SMALL, folder)
    (folder / "pages").mkdir()
    (folder / "pages/words.md").write_text("# Words\n\nA [[PEN]].\n", "utf-8")
    with writer(folder) as one:
        yield one


SITE, CALLED = "trees/site/tingle-on-pipework.yaml", "trees/site/test-one-home.yaml"
HERE = "  here:\n    call: test-one-ho"
LEADS = [
    (SITE, "start: danger-n", [(SITE, "  danger-now:")]),
    (
        SITE,
        "occupiers have said that they will.\n    go: he",
        [(SITE, "  here:"), (CALLED, "  danger-look:")],
    ),
    (SITE, 'some other home is on this metal", go: hidden-m', [(SITE, "  hidden-metal:")]),
    (SITE, HERE, [(CALLED, "  danger-look:")]),
    (SITE, f"{HERE}me\n    back: {{carr", [(CALLED, "  carries:")]),
    (SITE, f"{HERE}me\n    back: {{carries: anot", [(SITE, "  another:")]),
    (SITE, "sources: [mod", [("sources.yaml", "model:")]),
    (SITE, "nothing about the [[PE", [("glossary.yaml", "PEN:")]),
    (SITE, "question: Is anyone hu", []),
    ("guide.yaml", "    clamp-before-ope", [("rules.yaml", "- id: clamp-before-opening")]),
    ("guide.yaml", "dangers: [he", [("guide.yaml", "  held:")]),
    ("guide.yaml", "first: [caller-inta", [("trees/call/caller-intake.yaml", "  ")]),
    ("guide.yaml", "source: reading-ea", [("sources.yaml", "reading-ease:")]),
]
"""A file, the text before the cursor, and the files and lines that it leads to (how each begins)."""


def test_names_of_the_shipped_guide_lead_to_where_they_are_given(tmp_path: Path) -> None:
    async def writing(opened: Editor) -> None:
        for name in (SITE, "guide.yaml"):
            opened.open(name)
        for name, behind, wanted in LEADS:
            found = await opened.defined(name, behind)
            assert [file for file, _ in found] == [file for file, _ in wanted], behind
            assert all(line.startswith(start) for (_, line), (_, start) in zip(found, wanted, strict=True))
        await _tells_what_readings_show(opened)

    shutil.copytree(ROOT / "guide_src", tmp_path / "guide")
    with writer(tmp_path / "guide") as write:
        write(writing)


async def _tells_what_readings_show(opened: Editor) -> None:
    """The band is that of the drawn streets, the table that of the evidence as it was measured."""
    opened.open(CALLED)
    clamp = "reading: Clamp the main earthing conductor. Open"
    async with asyncio.timeout(PATIENCE_S):
        while "being drawn" in (said := await opened.hovered(CALLED, clamp)):
            await asyncio.sleep(0.2)
    sampling = load(opened.folder).sampling
    assert sampling is not None
    low, high = sampled_bands(sampling)["clamp-main-earth"]
    assert f"Healthy: {low:g} to {high:g} A (5 to 95 %" in said
    loaded_pair = "reading: Clamp the neutral tail and the main earthing conductor together"
    loaded = await opened.hovered(CALLED, loaded_pair)
    low, high = sampled_bands(sampling)["known-load-neutral-and-earth"]
    assert f"Healthy: {low:g} to {high:g} A, with the known load on" in loaded
    kept = json.loads((opened.folder / "evidence.json").read_text("utf-8"))["seen"]
    test = "clamp-neutral-tail-main-earth-with-home-quiet-known-load-on"
    ((_, _, _, asked, shows, *_),) = [row for row in kept if row[:3] == [test, "service-pen-open", "alone"]]
    (line,) = [line for line in loaded.split("\n") if KINDS["service-pen-open"].title in line]
    share, *judged = line.split("|")[2].strip().split(" (")
    assert share == f"{100 * shows / asked:.1f} %" and all(said.endswith("by judgement)") for said in judged)


def test_nothing_that_an_editor_sends_ends_the_server(write: Write, tmp_path: Path) -> None:
    (tmp_path / "elsewhere.yaml").write_text("a: [", "utf-8")

    async def writing(opened: Editor) -> None:
        client = opened.client
        sound = opened.open(TREE)
        for uri in (
            (tmp_path / "elsewhere.yaml").as_uri(),
            opened.uri("trees/site/not-there.yaml"),
            opened.uri("trees/site/with%00nul.yaml"),
            "untitled:Untitled-1",
            "file://",
            "no address",
            "",
        ):
            item = types.TextDocumentItem(uri, "yaml", 1, "nodes: {x: {go: ")
            document, at = types.TextDocumentIdentifier(uri), types.Position(0, 16)
            for _ in range(2):  # not open, then open
                with contextlib.suppress(Exception):
                    await client.text_document_completion_async(types.CompletionParams(document, at))
                with contextlib.suppress(Exception):
                    await client.text_document_hover_async(types.HoverParams(document, at))
                with contextlib.suppress(Exception):
                    await client.text_document_definition_async(types.DefinitionParams(document, at))
                client.text_document_did_open(types.DidOpenTextDocumentParams(item))
            client.text_document_did_save(types.DidSaveTextDocumentParams(document))
            client.text_document_did_close(types.DidCloseTextDocumentParams(document))
        document = types.TextDocumentIdentifier(opened.uri(TREE))
        for at in (types.Position(0, 10**6), types.Position(10**6, 0)):
            await client.text_document_completion_async(types.CompletionParams(document, at))
            await client.text_document_hover_async(types.HoverParams(document, at))
        for text in ("", "\ufeff", "[" * 10_000, "a: &a [*a]", "\ud800", "\x00", "x" * (1 << 21), "- " * 40):
            opened.type(TREE, text)
            await client.text_document_completion_async(
                types.CompletionParams(document, types.Position(0, 1))
            )
            await client.text_document_hover_async(types.HoverParams(document, types.Position(0, 1)))
        opened.type(TREE, sound)
        assert (await opened.offered(TREE, "start: ")).keys() >= NODES
        await opened.codes(TREE)

    write(writing)


def test_frames_that_are_no_messages_are_passed_over_and_the_end_of_input_ends_it(tmp_path: Path) -> None:
    """Raw frames: no JSON, no method that there is, no header; then a request; then nothing more."""
    shutil.copytree(SMALL, tmp_path / "guide")
    start = {"capabilities": {}, "processId": None, "rootUri": tmp_path.as_uri()}
    tree = (tmp_path / "guide" / TREE).as_uri()
    text = {"uri": tree, "languageId": "yaml", "version": 1, "text": "nodes: ["}
    where = {"textDocument": {"uri": tree}, "position": {"line": 0, "character": 2}}
    messages = [
        b"Content-Length: 9\r\n\r\n{no json}",
        framed({"jsonrpc": "2.0", "id": 1, "method": "initialize", "params": start}),
        framed({"jsonrpc": "2.0", "id": 2, "method": "no/such/method", "params": {}}),
        framed({"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": {"textDocument": 7}}),
        framed({"jsonrpc": "2.0", "id": 3, "method": "textDocument/hover", "params": None}),
        b"neither header nor body\r\n",
        framed({"jsonrpc": "2.0", "method": "textDocument/didOpen", "params": {"textDocument": text}}),
        framed({"jsonrpc": "2.0", "id": 4, "method": "textDocument/hover", "params": where}),
    ]
    with subprocess.Popen(SERVER, cwd=ROOT, stdin=subprocess.PIPE, stdout=subprocess.PIPE) as server:
        told, _ = server.communicate(b"".join(messages), timeout=PATIENCE_S)
    assert b'"id": 4' in told or b'"id":4' in told
    assert server.returncode == 0


def framed(message: dict[str, object]) -> bytes:
    """A message as the protocol's base frames it."""
    body = json.dumps(message).encode()
    return b"Content-Length: %d\r\n\r\n%b" % (len(body), body)


@pytest.mark.skipif(sys.platform == "win32", reason="there is no pseudo-terminal")
def test_typed_into_a_terminal_it_says_who_starts_it() -> None:
    import pty

    terminal, end = pty.openpty()
    try:
        ended = subprocess.run(
            SERVER, cwd=ROOT, stdin=end, capture_output=True, text=True, timeout=PATIENCE_S
        )
    finally:
        os.close(terminal)
        os.close(end)
    assert ended.returncode == 2
    assert ended.stderr.count("\n") == 1
    assert "check" in ended.stderr


SLIP = ("label: little or none, go: lift", "label: little or none, go: lfit")


def test_a_slip_is_marked_while_it_is_typed_and_cleared_when_it_is_mended(write: Write) -> None:
    async def writing(opened: Editor) -> None:
        sound = opened.open(TREE)
        await opened.codes(TREE)
        opened.type(TREE, sound.replace(*SLIP))
        (mark,) = await opened.marked(TREE, lambda marks: "unknown-node" in [mark.code for mark in marks])
        line = sound.split("\n")[mark.range.start.line]
        assert (mark.range.start.character, mark.range.end.character) == (line.index("lift"), line.index("}"))
        assert "did you mean `lift`" in mark.message
        assert "mend: write `lift`" in mark.message
        assert (mark.source, mark.severity) == ("lost-neutral", types.DiagnosticSeverity.Error)
        assert "lfit" not in (opened.folder / TREE).read_text("utf-8")
        opened.type(TREE, sound)
        await opened.codes(TREE)

    write(writing)


@pytest.mark.parametrize(
    ("slip", "code"),
    [
        (("nodes:\n", "nodes: [\n"), "yaml"),
        (("label: little or none", 'label: "little or none'), "unclosed-quote"),
        (("start: clamp", "start:\tclamp\n\tx"), "tab"),
        (("title: ", "title: \0"), "control-character"),
    ],
)
def test_half_written_yaml_has_a_finding_of_its_own(write: Write, slip: tuple[str, str], code: str) -> None:
    async def writing(opened: Editor) -> None:
        sound = opened.open(TREE)
        opened.type(TREE, sound.replace(*slip, 1))
        await opened.codes(TREE, code)
        opened.type(TREE, sound)
        await opened.codes(TREE)

    write(writing)


def test_what_is_typed_in_one_file_marks_another(write: Write) -> None:
    """The term is gone from the glossary as it is held; the tree that uses it is not even open."""

    async def writing(opened: Editor) -> None:
        glossary = opened.open("glossary.yaml")
        opened.type("glossary.yaml", glossary.replace("PEN:", "PNE:"))
        await opened.codes(TREE, "unknown-term")
        opened.type("glossary.yaml", glossary)
        await opened.codes(TREE)

    write(writing)


def test_a_page_of_words_is_marked_where_its_term_stands(write: Write) -> None:
    async def writing(opened: Editor) -> None:
        page = opened.open("pages/words.md")
        opened.type("pages/words.md", page.replace("A [[PEN]]", "\U0001f600 [[PNE]]"))
        (mark,) = await opened.codes("pages/words.md", "unknown-term")
        assert mark.range.start == types.Position(2, 3)
        assert await opened.hovered("pages/words.md", "[[PN") == ""
        opened.type("pages/words.md", page)
        await opened.codes("pages/words.md")
        assert "neutral and protective earth" in await opened.hovered("pages/words.md", "[[PE")
        assert await opened.defined("pages/words.md", "[[PE") == [("glossary.yaml", "PEN:")]

    write(writing)


def test_walks_mark_when_it_is_saved(tmp_path: Path) -> None:
    """That a fault may be there when the job is closed only a walk can see; it takes what was saved."""

    async def writing(opened: Editor) -> None:
        sound = opened.open(TREE)
        await opened.codes(TREE)
        opened.type(TREE, sound.replace("priority: routine", "priority: routine\n    closes: true"))
        opened.save(TREE)
        (mark, _) = await opened.codes(TREE, "closed-beside-danger", "never-closes")
        assert mark.related_information
        assert opened.texts[TREE].split("\n")[mark.range.start.line] == "  done:"
        opened.type(TREE, sound)
        opened.save(TREE)
        await opened.codes(TREE)

    shutil.copytree(SMALL, tmp_path / "guide")
    with writer(tmp_path / "guide") as write:
        write(writing)


def test_columns_are_counted_as_the_protocol_does(write: Write) -> None:
    """LSP 3.17: a character of a position is a UTF-16 code unit; an emoji is two. U+2028 ends a line for YAML
    and none for the protocol."""

    async def writing(opened: Editor) -> None:
        sound = opened.open(TREE)
        odd = sound.replace("title: May", 'title: "May \u2028 \U0001f600"  # ').replace(
            "label: little or none, go: lift", "label: 0.5 Ω \U0001f600\U0001f600, go: lfit"
        )
        opened.type(TREE, odd)
        marks = await opened.marked(TREE, lambda marks: "unknown-node" in [mark.code for mark in marks])
        (mark,) = [mark for mark in marks if mark.code == "unknown-node"]
        (number,) = [n for n, line in enumerate(odd.split("\n")) if "lfit" in line]
        before = odd.split("\n")[number].partition("lfit")[0]
        units = len(before.encode("utf-16-le")) // 2
        assert units == len(before) + 2
        assert mark.range == types.Range(types.Position(number, units), types.Position(number, units + 4))
        offered = await opened.offered(TREE, "\U0001f600\U0001f600, go: lf")
        assert isinstance(edit := offered["lift"].text_edit, types.TextEdit)
        assert edit.range == mark.range

    write(writing)


NODES = {"clamp", "lift", "leave", "done"}


@pytest.mark.parametrize(
    ("old", "new", "behind", "expected", "never"),
    [
        ("go: done", "go: ", "its terminal.\n    go: ", NODES, set()),
        ("go: done", "go: do", "its terminal.\n    go: do", NODES, set()),
        ("start: clamp", "start: ", "start: ", NODES, set()),
        ("not_taken: {go: leave}", "not_taken: {go: ", "not_taken: {go: ", NODES, {"go"}),
        ("on: [main_earth]", "on: [", "on: [", {"main_earth", "neutral_tail"}, {"independent_earth"}),
        ("instrument: clamp", "instrument: ", "instrument: ", {"clamp", "loop"}, {"main_earth"}),
        ("unit: A", "unit: ", "unit: ", {"A"}, {"V"}),
        ("hazards: [opens-earth-path]", "hazards: [opens-earth-path, ]", "path, ", {"works-live"}, NODES),
        ("proved_by", "does: [l]\n    proved_by", "does: [l", {"lift-main-earth", "come-back"}, NODES),
        (
            "priority: urgent",
            "priority: ",
            "Leave it connected\n    priority: ",
            {"emergency", "soon"},
            NODES,
        ),
        ("sources: [crews]", "sources: [c", "sources: [c", {"crews", "flesch"}, NODES),
        ("a [[PEN]] is", "a [[P is", "a [[P", {"PEN", "combined neutral and earth"}, NODES),
        ("    unit: A\n", "    \n", "on: [main_earth]\n    ", {"unit", "same_as"}, {"on", "step", "go"}),
        ("    unit: A\n", "    un\n", "on: [main_earth]\n    un", {"unit"}, {"instrument", "priority"}),
        ("go: done\n", "go: done\n    \n", "go: done\n    ", {"does", "help"}, {"step", "unit", "answers"}),
        ("  done:\n", "  new:\n    \n  done:\n", "new:\n    ", {"question", "reading", "call"}, {"unit"}),
        (
            "- {to: 0.5, label: little or none, go: lift}",
            "- {}",
            "ranges:\n      - {",
            {"from", "to", "label", "go"},
            NODES,
        ),
        ("title: May", "\ntitle: May", "", {"cautions", "loops", "heard_as"}, {"nodes", "question"}),
        ("nodes:\n", "\nnodes:\n", "start: clamp\n", {"loops"}, {"nodes", "start", "question"}),
        ("help: It may", "help: It m", "help: It m", set(), NODES | {"help"}),
        ("over_range: {go: leave}", "over_range", "not_steady: {go: l", NODES, set()),
        (
            "hazards: [opens-earth-path]",
            "hazards: [",
            "Leave it connected\n    priority: ur",
            {"urgent"},
            NODES,
        ),
        ("unit: A", "- x", "terminal.\n    go: d", NODES, set()),
    ],
)
def test_what_is_offered(
    write: Write, old: str, new: str, behind: str, expected: set[str], never: set[str]
) -> None:
    async def writing(opened: Editor) -> None:
        sound = opened.open(TREE)
        assert sound.count(old) == 1
        opened.type(TREE, sound.replace(old, new))
        offered = (await opened.offered(TREE, behind)).keys() if behind else await _offered_at_top(opened)
        assert expected <= offered
        assert not never & offered

    write(writing)


async def _offered_at_top(opened: Editor) -> set[str]:
    document = types.TextDocumentIdentifier(opened.uri(TREE))
    asked = types.CompletionParams(document, types.Position(0, 0))
    found = await opened.client.text_document_completion_async(asked)
    assert isinstance(found, list)
    return {item.label for item in found}


def test_facts_and_names_of_other_files_are_offered(write: Write) -> None:
    call, rules = "trees/call/tingle-told.yaml", "rules.yaml"

    async def writing(opened: Editor) -> None:
        tree = opened.open(call)
        opened.type(call, tree.replace("fact: tingle", "fact: "))
        assert {"tingle", "lights"} <= (await opened.offered(call, "fact: ")).keys()
        text = opened.open(rules)
        opened.type(rules, text + "- id: x\n  every: {node: }\n  ")
        assert {"clamp", "felt"} <= (await opened.offered(rules, "every: {node: ")).keys()
        offered = (await opened.offered(rules, "every: {node: }\n  ")).keys()
        assert {"needs_earlier", "because"} <= offered
        assert not {"id", "every"} & offered

    write(writing)


def test_what_is_offered_goes_in_whole(write: Write) -> None:
    """The edit takes the place of the word that is being written, and of no more."""

    async def writing(opened: Editor) -> None:
        sound = opened.open(TREE)
        opened.type(TREE, sound.replace("unit: A", "un"))
        assert isinstance(edit := (await opened.offered(TREE, "    un"))["unit"].text_edit, types.TextEdit)
        at = opened.at(TREE, "    un")
        assert edit == types.TextEdit(types.Range(types.Position(at.line, 4), at), "unit: ")
        opened.type(TREE, sound.replace("[[PEN]]", "[[P]]"))
        assert isinstance(edit := (await opened.offered(TREE, "[[P"))["PEN"].text_edit, types.TextEdit)
        assert edit.new_text == "PEN"

    write(writing)


@pytest.mark.parametrize(
    ("behind", "told"),
    [
        ("    instru", ["`instrument`: The tester that shows it."]),
        ("instrument: cl", ["Clamp meter", "The tester that shows it."]),
        ("broken.\n    instrument: clamp\n    o", ["What it is held to"]),
        ("[main_e", ["the main earth"]),
        ("not_taken: {go: lea", ["outcome: Leave it connected"]),
        ("[opens-e", ["signs on the page"]),
        ("a [[PE", ["neutral and protective earth in one"]),
        ("sources: [cr", ["What crews say"]),
        ("review_b", ["The last day before it has to be reviewed again."]),
        ("  lif", ["step: Disconnect"]),
    ],
)
def test_what_a_text_means(write: Write, behind: str, told: list[str]) -> None:
    """The words are those under the fields of the shapes, in the glossary, and of the nodes themselves."""

    async def writing(opened: Editor) -> None:
        opened.open(TREE)
        said = await opened.hovered(TREE, behind)
        assert [words for words in told if words not in said] == []

    write(writing)
