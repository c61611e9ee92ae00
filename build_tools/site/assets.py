"""What the pages carry besides HTML: our scripts joined, our styles, and Python with our `calc` package.

Browsers refuse module scripts from a folder, so esbuild joins the modules of `browser/` into classic scripts.
Python is Pyodide's core and the memory it has once `calc` is imported, each packed by Zstandard into a
`.bin`, which servers send as it is; and each file once more as a script that calls
`lostNeutralFile(name, base64)`, since from a folder a page may run a script but not fetch a file.

What takes Node or esbuild is made beforehand for a wheel (`write_joined`), and copied where it is installed.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import io
import json
import os
import re
import shutil
import subprocess
import tempfile
import zipfile
from pathlib import Path

from build_tools.setup import environment
from build_tools.setup.environment import IS_INSTALLED, JOINED
from build_tools.setup.whole import FRESH, folder_aside, write_whole

__all__ = ["OFFLINE_WORKER", "SCRIPTS", "STYLES", "bundle", "write_browser_assets", "write_joined"]

BROWSER = Path(__file__).parent / "browser"
SCRIPTS = ("tree.js", "jobs.js", "calculator.js", "find.js", "desk.js", "everywhere.js")
"""Modules that pages load, in whichever folder of `browser/`; the rest are joined into them."""
STYLES = ("guide.css", "calculator.css", "access.css")
"""What every page wears."""

_CARD = "card.css"  # tree pages name it, for paper
_WORKER = "python-worker.js"
OFFLINE_WORKER = "service-worker.js"
"""What keeps the whole guide in a browser."""

_MEMORY = environment.NODE_LIST / "python-memory.mjs"


def write_browser_assets(site_dir: Path, root: Path) -> None:
    """Write `assets/` of a site: SCRIPTS, STYLES and `python/`.

    `root` has `calc/`, and `.lost-neutral/` with the Node packages and the cache.
    """
    assets = site_dir / "assets"
    python = assets / "python"
    python.mkdir(parents=True, exist_ok=True)
    for name in SCRIPTS:
        (assets / name).write_text(bundle(name, root), encoding="utf-8")
    for name in (*STYLES, _CARD):
        shutil.copyfile(_source(name), assets / name)
    shutil.copytree(_python(root), python, dirs_exist_ok=True)
    (python / _WORKER).write_text(bundle(_WORKER, root), encoding="utf-8")
    for twin in (*sorted(python.glob("*.bin")), python / _WORKER):
        _write_twin(twin)


def write_joined(folder: Path, root: Path) -> None:
    """Write what a wheel carries: the scripts joined, Python packed, the packages' descriptions."""
    folder.mkdir(parents=True)
    for name in (*SCRIPTS, _WORKER, OFFLINE_WORKER):
        (folder / name).write_text(bundle(name, root), encoding="utf-8")
    shutil.copytree(_python(root), folder / "python")
    modules = _node_modules(root)
    listed = json.loads((environment.NODE_LIST / "package.json").read_text(encoding="utf-8"))["dependencies"]
    for file in (*(f"{name}/package.json" for name in listed), "pyodide/pyodide-lock.json"):
        (folder / "packages" / file).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(modules / file, folder / "packages" / file)


def bundle(name: str, root: Path) -> str:
    """A module of `browser/` and all it imports, as one classic script; Python's worker as one module.

    Kept in the cache until one of them changes.
    """
    if IS_INSTALLED:
        return (JOINED / name).read_text(encoding="utf-8")
    entry, form = _source(name), "esm" if name == _WORKER else "iife"
    esbuild = _esbuild(root)
    sources = [path.read_bytes() for path in sorted(BROWSER.rglob("*.js"))]
    key = _digest(str(esbuild.stat().st_size).encode(), entry.name.encode(), *sources)
    kept = root / ".lost-neutral" / "cache" / "scripts" / f"{entry.stem}-{key}.js"
    if not kept.exists():
        command = [str(esbuild), str(entry), "--bundle", f"--format={form}", "--target=es2022", "--minify"]
        made = _run(command, f"{entry.name} cannot be joined", NODE_PATH=str(_node_modules(root)))
        write_whole(kept, _without_addresses(made))
    return kept.read_text(encoding="utf-8")


def _source(name: str) -> Path:
    """The file of that name in `browser/`; no two have one name."""
    (found,) = BROWSER.rglob(name)
    return found


def _esbuild(root: Path) -> Path:
    """The program itself, which needs no Node."""
    packages = _node_modules(root) / "@esbuild"
    found = [*packages.glob("*/bin/esbuild"), *packages.glob("*/esbuild.exe")]
    if not found:
        raise FileNotFoundError(f"no esbuild in {packages}; delete .lost-neutral and run the command again")
    return found[0]


def _node_modules(root: Path) -> Path:
    return root / ".lost-neutral" / "node" / "node_modules"


def _python(root: Path) -> Path:
    """A folder with Python's files, packed; made again when Pyodide or `calc` changes."""
    if IS_INSTALLED:
        return JOINED / "python"
    pyodide = _node_modules(root) / "pyodide"
    calc = _zip_of(root / "calc")
    made_by = [path.read_bytes() for path in (pyodide / "package.json", _MEMORY, Path(__file__))]
    key = _digest(calc, *made_by)
    kept = root / ".lost-neutral" / "cache" / "python" / key
    if not kept.exists():
        with folder_aside(kept.with_name("python")) as aside:  # so that nobody finds it half made
            making = aside / FRESH
            making.mkdir()
            _write_python(making, pyodide, calc)
            (making / "NOTICE.txt").write_text(_notice(_node_modules(root)), encoding="utf-8")
            _forget_all_but_the_latest(kept.parent)
            try:
                making.rename(kept)
            except OSError:  # another build was first
                if not kept.exists():
                    raise
    return kept


def _forget_all_but_the_latest(folder: Path) -> None:
    """Keep one earlier folder besides the one being made; another build's half-made one is its own."""
    with contextlib.suppress(FileNotFoundError):  # another build forgets as well
        whole = [made for made in folder.iterdir() if "-" not in made.name]
        for earlier in sorted(whole, key=lambda made: made.stat().st_mtime)[:-1]:
            shutil.rmtree(earlier, ignore_errors=True)


def _write_python(folder: Path, pyodide: Path, calc: bytes) -> None:
    """No address stays in the files: neither package lists nor the maker's own host."""
    with tempfile.TemporaryDirectory() as aside:
        source = Path(aside, "calc.zip")
        source.write_bytes(calc)
        plain = Path(aside, "plain")
        plain.mkdir()
        for name in ("pyodide.asm.mjs", "pyodide.asm.wasm"):
            shutil.copyfile(pyodide / name, plain / name)
        loader = (pyodide / "pyodide.mjs").read_text(encoding="utf-8")
        loader = re.sub(r"//# sourceMappingURL=.*", "", loader)
        (plain / "pyodide.mjs").write_text(_without_addresses(loader), encoding="utf-8")
        lock = json.loads((pyodide / "pyodide-lock.json").read_text(encoding="utf-8"))
        lock = {"info": lock["info"], "packages": {}}
        (plain / "pyodide-lock.json").write_text(json.dumps(lock), encoding="utf-8")
        command = [str(environment.node()), str(_MEMORY), *map(str, (pyodide, source, plain, folder))]
        trouble = "calc cannot be loaded by the pages' Python; it may import the standard library only"
        _run(command, trouble, TZ="UTC", LC_ALL="C.UTF-8")  # both go into its memory


def _without_addresses(script: str) -> str:
    return re.sub(r"https?://[^`'\"]+", "none:/", script)


def _notice(packages: Path) -> str:
    def version(name: str) -> str:
        described = (packages / name / "package.json").read_text(encoding="utf-8")
        return str(json.loads(described)["version"])

    lock = json.loads((packages / "pyodide" / "pyodide-lock.json").read_text(encoding="utf-8"))
    return (
        f"Pyodide {version('pyodide')}, Mozilla Public License 2.0; source: the pyodide/pyodide repository.\n"
        f"Python {lock['info']['python']}, Python Software Foundation License 2; source: the python/cpython"
        " repository.\nBoth as their makers publish them, but for addresses, which were taken out.\n"
        f"zstddec {version('zstddec')} and the Zstandard decoder in it; in their makers' words:\n\n"
        f"{(packages / 'zstddec' / 'LICENSE').read_text(encoding='utf-8')}"
    )


def _run(command: list[str], trouble: str, **environ: str) -> str:
    """What a program of ours prints."""
    made = subprocess.run(command, capture_output=True, text=True, env={**os.environ, **environ})
    if made.returncode:
        raise RuntimeError(f"{trouble}:\n{made.stderr.strip()}")
    return made.stdout


def _write_twin(file: Path) -> None:
    """Beside a file, write the script with the same bytes."""
    text = base64.b64encode(file.read_bytes()).decode()
    file.with_name(f"{file.name}.js").write_text(
        f'lostNeutralFile("{file.name}","{text}")\n', encoding="ascii"
    )


def _zip_of(package: Path) -> bytes:
    """A Python package as a zip to import from: sorted, undated, so its bytes hang on its sources only."""
    zipped = io.BytesIO()
    with zipfile.ZipFile(zipped, "w") as archive:
        for path in sorted(package.rglob("*.py")):
            inside = path.relative_to(package.parent).as_posix()
            archive.writestr(zipfile.ZipInfo(inside, (1980, 1, 1, 0, 0, 0)), path.read_bytes())
    return zipped.getvalue()


def _digest(*parts: bytes) -> str:
    return hashlib.sha256(b"\0".join(parts)).hexdigest()[:16]
