"""What lets a browser keep the whole guide: a service worker with the list of its files.

Any change of any file makes another worker. `build.js` tells pages which edition they are of;
`manifest.webmanifest` lets a tablet install the guide.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from pathlib import Path

from build_tools.guide import wording
from build_tools.guide.models import Settings
from build_tools.site.assets import OFFLINE_WORKER, bundle
from build_tools.site.translation import Catalogue

__all__ = ["ICONS", "NAMES", "Edition", "write_offline_copy"]

ICONS = ("icon-192.png", "icon-512.png", "icon-maskable-512.png")
"""In the theme's assets/: the mark for a tablet's screen; the last can be cut to any shape."""

NAMES = ("name", "short_name", "description")
"""What the manifest has in words."""

_LEFT_OUT = (".map", ".bin.js", ".js.js")
"""Ends of names that no page on a server asks for: maps for makers, twins for use from folders."""


@dataclass(frozen=True, slots=True)
class Edition:
    """One build of a guide. `id`: twelve hex digits that change with any byte of it; `files`: SHA-256 in hex
    and bytes, by path from the site's root."""

    id: str
    version: str
    reviewed: str
    files: dict[str, tuple[str, int]]


def write_offline_copy(
    site: Path, settings: Settings, colour: str, root: Path, language: Catalogue
) -> Edition:
    """Write all of it; `colour`: of the head of a page.

    Comes last: files that are written later are not kept by browsers.
    """
    manifest = _manifest(settings, colour, language)
    (site / "manifest.webmanifest").write_text(manifest, encoding="utf-8")
    files = _files(site)
    id_ = hashlib.sha256(json.dumps(files).encode()).hexdigest()[:12]
    edition = Edition(id_, settings.version, settings.reviewed.isoformat(), files)
    said = {"id": edition.id, "version": edition.version, "reviewed": edition.reviewed}
    (site / "build.js").write_text(f"lostNeutralBuild({json.dumps(said)});\n", encoding="utf-8")
    files["build.js"] = _sum(site / "build.js")
    listed = json.dumps({"id": edition.id, "version": edition.version, "files": files})
    worker = bundle(OFFLINE_WORKER, root)
    (site / OFFLINE_WORKER).write_text(f"self.lostNeutralEdition={listed};\n{worker}", encoding="utf-8")
    return edition


def _files(site: Path) -> dict[str, tuple[str, int]]:
    paths = sorted(path for path in site.rglob("*") if path.is_file() and not path.name.endswith(_LEFT_OUT))
    return {
        path.relative_to(site).as_posix(): _sum(path)
        for path in paths
        if path.name not in (OFFLINE_WORKER, "build.js")
    }


def _sum(path: Path) -> tuple[str, int]:
    content = path.read_bytes()
    return hashlib.sha256(content).hexdigest(), len(content)


def _manifest(settings: Settings, colour: str, language: Catalogue) -> str:
    icons = [
        {
            "src": f"assets/{name}",
            "sizes": "192x192" if "192" in name else "512x512",
            "type": "image/png",
            "purpose": "maskable" if "maskable" in name else "any",
        }
        for name in ICONS
    ]
    title = settings.title
    named = zip(NAMES, (title, title.partition(":")[0], wording.INSTALLED), strict=True)
    said = {
        **{name: language.of(text) for name, text in named},
        "lang": language.language,
        "dir": language.direction,
        "start_url": "index.html",
        "scope": "./",
        "display": "standalone",
        "background_color": "#151b20",
        "theme_color": colour,
        "icons": icons,
    }
    return json.dumps(said, indent=1, ensure_ascii=False) + "\n"
