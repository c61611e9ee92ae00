"""`publish`: a guide built into one archive that is the same, byte for byte, for the same commit.

Its times are the commit's, its order is by name, its files belong to nobody; what lies in it can be held
against SHA256SUMS, and the archive's own sum is printed.
"""

from __future__ import annotations

import hashlib
import json
import os
import tempfile
import zipfile
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from build_tools.guide import loading
from build_tools.guide.models import Operator, Settings
from build_tools.pages import server_policy
from build_tools.pages.allow import TITLE
from build_tools.publish.cards_pdf import cards
from build_tools.publish.components import LICENCES, Unlicensed, bill_of_materials, bundled
from build_tools.publish.given_files import Given, given_with
from build_tools.publish.server_settings import sample_settings
from build_tools.review import difference, markdown, revisions
from build_tools.setup import progress
from build_tools.setup.environment import NODE_MODULES, ROOT, WrongUse
from build_tools.setup.progress import say, tell
from build_tools.setup.whole import whole_file
from build_tools.site import building

__all__ = ["publish"]

_WORDS = Environment(
    loader=FileSystemLoader(Path(__file__).parent / "words"), undefined=StrictUndefined, trim_blocks=True
)


@dataclass(frozen=True, slots=True)
class _Release:
    """What is published: the guide's settings, its commit and when that was made, files from beside it."""

    settings: Settings
    operator: Operator
    commit: str
    when: datetime
    given: tuple[Given, ...]

    @property
    def name(self) -> str:
        """The archive's name without its ending; also the folder in it. Another file given, another name."""
        sums = (one.sha256[:8] for one in self.given)
        return "-".join(("lost-neutral", self.settings.version, self.commit[:12], *sums))


def publish(
    folder: Path,
    into: Path,
    since: str | None,
    manner: building.Manner,
    *,
    unclean: bool = False,
    printer: Path | None = None,
) -> int:
    """Write the archive of the guide in `folder` into `into`; 0 when done, 1 when the guide was refused.

    `since`: a git revision or a guide's folder; the release notes tell what changed in behaviour since then.
    `printer`: a browser's program, to print each tree's card with.
    Raises WrongUse where what is published would not be what was committed, unless it may be `unclean`.
    """
    given = given_with(manner, folder, unclean=unclean)
    if since is not None:
        with _before(since, folder):
            pass  # what cannot be compared with is told before anything is built
    state = revisions.state_of(folder)
    if state is None and not unclean:
        raise WrongUse(f"{folder} is in no git repository with a commit; --unclean publishes it all the same")
    if state and state.changed and not unclean:
        raise WrongUse(
            f"{state.changed[0]} is not as it was committed ({len(state.changed)} such); commit first, "
            "or say --unclean"
        )
    if (ignored := revisions.ignored_in(folder)) and not unclean:
        raise WrongUse(
            f"{folder / ignored[0]} is ignored by git ({len(ignored)} such), and would be published with a "
            "commit that does not hold it\n"
            "  mend: commit it (git add --force), or move it out of the guide, or say --unclean"
        )
    loaded = loading.load(folder, operator=manner.operator)
    when = state.when if state else datetime.now(UTC)
    os.environ["SOURCE_DATE_EPOCH"] = str(int(when.timestamp()))  # MkDocs writes dates of its own
    with tempfile.TemporaryDirectory(prefix="publish-") as aside:
        site = Path(aside, "site")
        if building.build(folder, site, replace(manner, strict=True)):
            return 1
        if not (loaded.settings and loaded.operator):
            return 1
        commit = "unclean" if not state or state.changed or ignored else state.commit
        release = _Release(loaded.settings, loaded.operator, commit, when, given)
        try:
            files = dict(_files(release, folder, site, _notes(folder, since)))
            files |= cards(site, printer, release.when) if printer else ()
        except Unlicensed as missing:
            say(str(missing))
            return 1
        archive = into / f"{release.name}.zip"
        with whole_file(archive) as making:
            _write(making, release, files)
    tell(f"wrote {archive}: {len(files)} files, SHA-256 {hashlib.sha256(archive.read_bytes()).hexdigest()}")
    return 0


def _notes(folder: Path, since: str | None) -> str:
    if since is None:
        return "# What changed\n\nNothing was named to compare with (`publish --since REVISION`).\n"
    with _before(since, folder) as before:
        return markdown.markdown(
            difference.differ(loading.load(before), loading.load(folder)), since, "this release"
        )


@contextmanager
def _before(since: str, folder: Path) -> Iterator[Path]:
    """The guide of the release before."""
    with ExitStack() as stack:
        try:
            before = stack.enter_context(revisions.guide_as_of(since, folder))
        except ValueError as error:
            raise WrongUse(str(error)) from error
        yield before


def _files(release: _Release, folder: Path, site: Path, notes: str) -> Iterator[tuple[str, bytes]]:
    """Names in the archive's folder, and contents."""
    for path in site.rglob("*"):
        if path.is_file():
            yield f"site/{path.relative_to(site).as_posix()}", path.read_bytes()
    for name, text in sample_settings(release.settings.title, TITLE).items():
        yield f"settings/{name}", text.encode()
    pages = folder / "pages"
    own = (path.relative_to(pages).as_posix() for path in pages.rglob("*"))
    components = bundled(site, NODE_MODULES, own)
    compiler = revisions.state_of(ROOT)
    by = compiler.words if compiler else "unknown"
    bill = bill_of_materials(
        components, release.settings, release.operator.name, release.commit, release.when, by
    )
    yield "bill-of-materials.cdx.json", (json.dumps(bill, indent=1, ensure_ascii=False) + "\n").encode()
    for one in components:
        yield f"licences/{one.short}.txt", (LICENCES / f"{one.short}.txt").read_bytes()
    yield "RELEASE-NOTES.md", notes.encode()
    words = _WORDS.get_template("read-first.md").render(
        release=release, settings=release.settings, operator=release.operator,
        components=components, headers=server_policy.HEADERS,
        python=server_policy.PYTHON_POLICY, folder=server_policy.PYTHON_FOLDER,
    )  # fmt: skip
    yield "READ-FIRST.md", words.encode()


def _write(archive: Path, release: _Release, files: dict[str, bytes]) -> None:
    sums = "".join(
        f"{hashlib.sha256(content).hexdigest()}  {name}\n" for name, content in sorted(files.items())
    )
    files = {**files, "SHA256SUMS": sums.encode()}
    moment = release.when.astimezone(UTC).timetuple()[:6]
    with zipfile.ZipFile(archive, "w") as made:
        for name, content in progress.each(sorted(files.items()), "packing the archive", len(files)):
            entry = zipfile.ZipInfo(f"{release.name}/{name}", moment)
            entry.create_system, entry.external_attr = 3, 0o644 << 16  # as on Unix, wherever it is made
            entry.compress_type = (
                zipfile.ZIP_STORED if name.endswith((".bin", ".png")) else zipfile.ZIP_DEFLATED
            )
            made.writestr(entry, content, compresslevel=9)
