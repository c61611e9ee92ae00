"""Search without a server or a network: the index as a script, and a stand-in for the theme's worker."""

from __future__ import annotations

from pathlib import Path

__all__ = ["SHIM", "write_offline_search"]

SHIM = "assets/search-shim.js"
_OURS = Path(__file__).parent / "browser" / "search-shim.js"
_NOTICE = "/* iframe-worker, (c) Martin Donath, MIT licence; after it, this project's own lines. */\n"


def write_offline_search(site: Path, node_modules: Path) -> None:
    """Write SHIM and, beside the index that the search plugin wrote, the same index as a script."""
    shim = (node_modules / "iframe-worker" / "shim" / "index.js").read_text(encoding="utf-8")
    ours = _OURS.read_text(encoding="utf-8")
    (site / SHIM).parent.mkdir(parents=True, exist_ok=True)
    # The shim takes over window.Worker from a folder; it is given a stand-in of its own to do that to.
    (site / SHIM).write_text(
        f"{_NOTICE}((Native) => {{\n{shim}\nwindow.Worker = Native;\n}})(window.Worker);\n{ours}",
        encoding="utf-8",
    )
    index = site / "search" / "search_index.json"
    if index.exists():
        script = f"var __index = {index.read_text(encoding='utf-8')};\n"
        index.with_suffix(".js").write_text(script, encoding="utf-8")
