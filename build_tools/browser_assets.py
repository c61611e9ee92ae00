"""What the pages carry besides HTML: our scripts joined, our styles, and Python with our `calc` package.

Browsers refuse module scripts from a folder, so esbuild joins the modules of `browser/` into classic scripts.
Python is Pyodide's core, gzipped file by file, and each file once more as a script that calls
`lostNeutralFile(name, base64)`, since from a folder a page may run a script but not fetch a file.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import zipfile
from collections.abc import Iterator
from pathlib import Path

__all__ = ["SCRIPTS", "STYLES", "bundle", "write_browser_assets"]

BROWSER = Path(__file__).parent / "browser"
SCRIPTS = ("tree.js", "calculator.js")
"""Modules that pages load; the rest are joined into them."""
STYLES = ("guide.css", "calculator.css")

_WORKER = "python-worker.js"
_AS_THEY_ARE = ("pyodide.asm.mjs", "pyodide.asm.wasm", "python_stdlib.zip")


def write_browser_assets(site_dir: Path, root: Path) -> None:
    """Write `assets/` of a site: SCRIPTS, STYLES and `python/`.

    `root` is the folder with `calc/` and with `.lost-neutral/`, where the Node packages are and the cache goes.
    """
    assets = site_dir / "assets"
    python = assets / "python"
    python.mkdir(parents=True, exist_ok=True)
    for name in SCRIPTS:
        (assets / name).write_text(bundle(BROWSER / name, root), encoding="utf-8")
    for name in STYLES:
        shutil.copyfile(BROWSER / name, assets / name)
    shutil.copytree(_packed_pyodide(root), python, dirs_exist_ok=True)
    worker = bundle(BROWSER / _WORKER, root).encode()
    (python / _WORKER).write_bytes(worker)
    _pack(python, _WORKER, worker)
    _pack(python, "calc.zip", _zip_of(root / "calc"))


def bundle(entry: Path, root: Path) -> str:
    """A module and all it imports, as one classic script. Kept in the cache until a module changes."""
    esbuild = _esbuild(root)
    sources = [path.read_bytes() for path in sorted(entry.parent.glob("*.js"))]
    key = _digest(str(esbuild.stat().st_size).encode(), entry.name.encode(), *sources)
    kept = root / ".lost-neutral" / "cache" / "scripts" / f"{entry.stem}-{key}.js"
    if not kept.exists():
        command = [str(esbuild), str(entry), "--bundle", "--format=iife", "--target=es2022", "--minify"]
        made = subprocess.run(command, capture_output=True, text=True)
        if made.returncode:
            raise RuntimeError(f"{entry.name} cannot be joined:\n{made.stderr}")
        kept.parent.mkdir(parents=True, exist_ok=True)
        kept.write_text(made.stdout, encoding="utf-8")
    return kept.read_text(encoding="utf-8")


def _esbuild(root: Path) -> Path:
    """The program itself: its npm launcher would need Node."""
    found = sorted((_node_modules(root) / "@esbuild").glob("*/bin/esbuild")) or sorted(
        (_node_modules(root) / "@esbuild").glob("*/esbuild.exe")
    )
    if not found:
        raise FileNotFoundError(f"no esbuild in {_node_modules(root)}; delete .lost-neutral and build again")
    return found[0]


def _node_modules(root: Path) -> Path:
    return root / ".lost-neutral" / "node" / "node_modules"


def _packed_pyodide(root: Path) -> Path:
    """A folder of Pyodide's core, packed; made once a version."""
    source = _node_modules(root) / "pyodide"
    key = _digest((source / "package.json").read_bytes(), Path(__file__).read_bytes())
    kept = root / ".lost-neutral" / "cache" / "python" / key
    if not kept.exists():
        making = kept.with_name(f"{key}-{os.getpid()}")  # so that nobody finds it half made
        making.mkdir(parents=True, exist_ok=True)
        for name, content in _pyodide_files(source):
            _pack(making, name, content)
        (making / "NOTICE.txt").write_text(_notice(source), encoding="utf-8")
        making.rename(kept)
    return kept


def _pyodide_files(source: Path) -> Iterator[tuple[str, bytes]]:
    """Names and contents. No address stays in them: neither package lists nor the maker's own host."""
    for name in _AS_THEY_ARE:
        yield name, (source / name).read_bytes()
    loader = (source / "pyodide.mjs").read_text(encoding="utf-8")
    loader = re.sub(r"//# sourceMappingURL=.*", "", loader)
    yield "pyodide.mjs", re.sub(r"https?://[^`'\"]+", "none:", loader).encode()
    lock = json.loads((source / "pyodide-lock.json").read_text(encoding="utf-8"))
    yield "pyodide-lock.json", json.dumps({"info": lock["info"], "packages": {}}).encode()


def _notice(source: Path) -> str:
    version = json.loads((source / "package.json").read_text(encoding="utf-8"))["version"]
    lock = json.loads((source / "pyodide-lock.json").read_text(encoding="utf-8"))
    return (
        f"Pyodide {version}, Mozilla Public License 2.0; source: the pyodide/pyodide repository.\n"
        f"Python {lock['info']['python']}, Python Software Foundation License 2; source: the python/cpython"
        " repository.\nBoth as their makers publish them, but for addresses, which were taken out.\n"
    )


def _pack(folder: Path, name: str, content: bytes) -> None:
    """Write NAME.gz and the script with the same bytes; the same content always makes the same bytes."""
    packed = gzip.compress(content, mtime=0)
    (folder / f"{name}.gz").write_bytes(packed)
    text = base64.b64encode(packed).decode()
    (folder / f"{name}.gz.js").write_text(f'lostNeutralFile("{name}","{text}")\n', encoding="ascii")


def _zip_of(package: Path) -> bytes:
    """A Python package as a zip to import from: sorted, undated, so that its bytes hang on its sources only."""
    zipped = io.BytesIO()
    with zipfile.ZipFile(zipped, "w") as archive:
        for path in sorted(package.rglob("*.py")):
            inside = path.relative_to(package.parent).as_posix()
            archive.writestr(zipfile.ZipInfo(inside, (1980, 1, 1, 0, 0, 0)), path.read_bytes())
    return zipped.getvalue()


def _digest(*parts: bytes) -> str:
    return hashlib.sha256(b"\0".join(parts)).hexdigest()[:16]
