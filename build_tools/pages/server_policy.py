"""What a web server says with the files: for the sample settings, the page of what to allow, and tests."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["COMPRESSED", "HEADERS", "PYTHON_FOLDER", "PYTHON_POLICY", "TYPES", "UNCHANGING", "Header"]


@dataclass(frozen=True, slots=True)
class Header:
    """One response header; `why` is for the people who decide."""

    name: str
    value: str
    why: str


PAGES_POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
    "connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; "
    "frame-ancestors 'self'"
)
PYTHON_FOLDER = "assets/python"
PYTHON_POLICY = Header(
    "Content-Security-Policy",
    "default-src 'none'; script-src 'self' blob: 'unsafe-eval' 'wasm-unsafe-eval'; "
    "connect-src 'self' blob: data:",
    "Python's own folder alone may turn text into program: the interpreter is WebAssembly, and its glue is "
    "written while it runs. It runs in a worker, which sees no page, and the pages keep the strict policy.",
)

HEADERS = (
    Header(
        "Content-Security-Policy",
        PAGES_POLICY,
        "Only files of this site run, style and show; no script or style stands in a page; nothing is asked "
        "of or sent to another host; no other site frames it.",
    ),
    Header(
        "Permissions-Policy",
        "camera=(), microphone=(), geolocation=(), display-capture=(), usb=(), serial=(), midi=(), "
        "payment=(), accelerometer=(), gyroscope=(), magnetometer=()",
        "The guide uses no sensor, camera, microphone or place of the device.",
    ),
    Header("Referrer-Policy", "no-referrer", "A link that is followed does not tell from where."),
    Header("X-Content-Type-Options", "nosniff", "A file is what the server says it is."),
    Header("Cross-Origin-Opener-Policy", "same-origin", "A window of another site has no hold on this one."),
    Header("Cross-Origin-Resource-Policy", "same-origin", "Other sites do not build on these files."),
)  # fmt: skip
"""For every file; PYTHON_POLICY stands in for the first one in PYTHON_FOLDER."""

TYPES = {
    "html": "text/html",
    "css": "text/css",
    "js": "text/javascript",
    "mjs": "text/javascript",
    "json": "application/json",
    "webmanifest": "application/manifest+json",
    "map": "application/json",
    "svg": "image/svg+xml",
    "png": "image/png",
    "ico": "image/vnd.microsoft.icon",
    "xml": "application/xml",
    "txt": "text/plain",
    "md": "text/markdown",
    "pdf": "application/pdf",
    "woff2": "font/woff2",
    "ttf": "font/ttf",
    "wasm": "application/wasm",
    "zip": "application/zip",
    "bin": "application/octet-stream",
}
"""The type of every ending in the site. A `.bin` is packed as it lies there, with no Content-Encoding."""

COMPRESSED = (
    "text/html", "text/css", "text/javascript", "application/json", "application/manifest+json",
    "image/svg+xml", "application/xml", "text/plain",
)  # fmt: skip
"""Types worth compressing on the way; the rest are packed already."""

UNCHANGING = r"\.[0-9a-f]{8}\.min\.(js|css)$|/assets/inline/[0-9a-f]{12}\.(js|css)$"
"""Files named after their content: kept for a year. All others are asked after each time, mostly not sent."""
