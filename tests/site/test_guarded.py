"""The server of `serve`: whom it answers, and what. RFC 9110 names the statuses."""

from __future__ import annotations

import contextlib
import http.client
import socket
import threading
import time
from collections.abc import Iterator

import pytest
from mkdocs.livereload import LiveReloadServer

from build_tools.site.guarded import guarded


@pytest.fixture(scope="module")
def port(tmp_path_factory: pytest.TempPathFactory) -> Iterator[int]:
    """Where MkDocs's server listens, guarded as `serve` does."""
    folder = tmp_path_factory.mktemp("site")
    (folder / "index.html").write_text("<p>home</p>")
    server = LiveReloadServer(builder=lambda: None, host="127.0.0.1", port=0, root=str(folder))
    server.set_app(guarded(server.serve_request, "127.0.0.1"))
    threading.Thread(target=server.serve, daemon=True).start()
    while not (there := int(server.server_address[1])) or not is_open(there):
        time.sleep(0.01)
    yield there
    server.shutdown()


def is_open(port: int) -> bool:
    with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port), timeout=1):
        return True
    return False


def status(port: int, path: str, host: str | None) -> int:
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=10)
    connection.putrequest("GET", path, skip_host=True)
    if host is not None:
        connection.putheader("Host", host)
    connection.endheaders()
    return connection.getresponse().status


@pytest.mark.parametrize(
    ("host", "answered"),
    [
        ("localhost:8000", 200),
        ("LocalHost", 200),
        ("127.0.0.1:9", 200),
        ("[::1]:8000", 200),
        ("guide.example.org:8000", 421),
        ("127.0.0.1.example.org", 421),
        ("localhost@example.org", 421),
        ("192.0.2.7:8000", 421),
        ("[", 421),
        ("", 421),
        (None, 421),
    ],
)
def test_only_a_browser_on_this_machine_is_answered(port: int, host: str | None, answered: int) -> None:
    assert status(port, "/", host) == answered


@pytest.mark.parametrize(
    ("path", "answered"),
    [("/", 200), ("/%00", 400), ("/a%00.html", 400), ("/nowhere", 404), (f"/livereload/{'9' * 5000}/1", 414)],
)
def test_a_path_that_cannot_be_is_no_fault_of_the_server(port: int, path: str, answered: int) -> None:
    assert status(port, path, "localhost") == answered


def test_a_server_for_everybody_asks_for_no_name() -> None:
    def page(environ: object, start: object) -> list[bytes]:
        return [b"page"]

    request = {"HTTP_HOST": "guide.example.org", "PATH_INFO": "/"}
    assert guarded(page, "0.0.0.0")(request, lambda *_: None) == [b"page"]
    assert guarded(page, "192.0.2.7")(request | {"HTTP_HOST": "192.0.2.7"}, lambda *_: None) == [b"page"]
    assert guarded(page, "192.0.2.7")(request, lambda *_: None) == [b"421 Misdirected Request"]
