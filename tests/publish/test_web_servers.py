"""The sample settings on the servers they are for: the shipped guide, whole, under the strict policy."""

from __future__ import annotations

import json
import xml.etree.ElementTree as ElementTree
from collections.abc import Iterator
from dataclasses import dataclass
from http.client import HTTPResponse
from pathlib import Path
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from browsing import strictly_watched
from playwright.sync_api import Browser, expect
from web_servers import SERVERS, running

from build_tools.pages import server_policy
from build_tools.publish.server_settings import sample_settings

GUIDE = Path(__file__).parents[2] / "guide_src"
SETTINGS = sample_settings("A guide", "What to allow")


@dataclass(frozen=True)
class Served:
    """A running web server: its kind, its address, and the folder whose copy it serves."""

    kind: str
    address: str
    site: Path


@pytest.fixture(scope="module", params=SERVERS)
def server(request: pytest.FixtureRequest, site: Path) -> Iterator[Served]:
    kind = request.param
    with running(kind, SETTINGS[f"{kind}.conf"], site) as address:
        yield Served(kind, address, site)


def asked(address: str, **headers: str) -> tuple[int, HTTPResponse | HTTPError]:
    try:
        answer: Any = urlopen(Request(address, headers={k.replace("_", "-"): v for k, v in headers.items()}))
    except HTTPError as error:
        return error.code, error
    return answer.status, answer


@pytest.mark.browser
def test_no_page_violates_the_policy_or_asks_outside(server: Served, started: Browser) -> None:
    with strictly_watched(started) as page:
        pages = sorted(server.site.rglob("*.html"))
        assert len(pages) > 30
        for file in pages:
            response = page.goto(f"{server.address}/{file.relative_to(server.site).as_posix()}")
            assert response
            assert response.headers["content-security-policy"] == server_policy.HEADERS[0].value
            expect(page.locator("h1")).to_have_count(1)


@pytest.mark.browser
def test_calculators_calculate_under_the_policy(server: Served, started: Browser) -> None:
    calculators = json.loads((server.site / "guide.json").read_text("utf-8"))["calculators"]
    with strictly_watched(started) as page:
        for one in calculators if server.kind == "nginx" else calculators[:1]:
            page.goto(f"{server.address}/{one['page']}")
            page.locator("[data-calculator] form [name]:visible").first.focus()
            expect(page.locator("[data-calculator]")).to_have_attribute("data-state", "here", timeout=60_000)


def test_every_file_has_its_type_and_every_header(server: Served) -> None:
    endings = {file.suffix[1:]: file for file in sorted(server.site.rglob("*")) if file.is_file()}
    assert endings.keys() <= server_policy.TYPES.keys(), "an ending without a type"
    for ending, file in endings.items():
        status, answer = asked(f"{server.address}/{file.relative_to(server.site).as_posix()}")
        assert (status, answer.headers.get_content_type()) == (200, server_policy.TYPES[ending])
        assert answer.headers["Content-Encoding"] is None
        for header in server_policy.HEADERS[1:]:
            assert answer.headers[header.name] == header.value


def test_only_the_folder_of_python_has_the_looser_policy(server: Served) -> None:
    folder = f"{server.address}/{server_policy.PYTHON_FOLDER}"
    name = server_policy.PYTHON_POLICY.name
    assert asked(f"{folder}/python-worker.js")[1].headers.get_all(name) == [server_policy.PYTHON_POLICY.value]
    for other in (
        "index.html",
        "guide.json",
        "assets/tree.js",
        "no-such-file",
        f"{server_policy.PYTHON_FOLDER}.html",
    ):
        assert asked(f"{server.address}/{other}")[1].headers.get_all(name) == [server_policy.HEADERS[0].value]


def test_files_named_after_their_content_are_kept_and_others_asked_after(server: Served) -> None:
    inline = next((server.site / "assets/inline").glob("*.js")).name
    kept = asked(f"{server.address}/assets/inline/{inline}")[1].headers["Cache-Control"]
    assert "immutable" in kept and "max-age=31536000" in kept
    assert asked(f"{server.address}/assets/inline/000000000000.js")[1].headers["Cache-Control"] is None
    page = f"{server.address}/index.html"
    for packing in ("identity", "gzip"):
        first = asked(page, Accept_Encoding=packing)[1].headers
        assert first["Cache-Control"] == "no-cache"
        again, _ = asked(page, Accept_Encoding=packing, If_None_Match=first["ETag"])
        assert again == 304


def test_words_are_compressed_and_packed_files_are_not(server: Served) -> None:
    words = asked(f"{server.address}/index.html", Accept_Encoding="gzip")[1]
    assert words.headers["Content-Encoding"] == "gzip"
    assert "Accept-Encoding" in words.headers["Vary"]
    packed = asked(f"{server.address}/assets/python/memory.bin", Accept_Encoding="gzip")[1]
    assert packed.headers["Content-Encoding"] is None


def test_the_settings_for_iis_say_the_same() -> None:
    root = ElementTree.fromstring(SETTINGS["web.config"])
    headers = {
        (one.get("name"), one.get("value")) for one in root.findall("system.webServer//customHeaders/add")
    }
    assert headers == {
        ("Cache-Control", "no-cache"),
        *((one.name, one.value) for one in server_policy.HEADERS),
    }
    types = {one.get("fileExtension"): one.get("mimeType") for one in root.iter("mimeMap")}
    assert types == {f".{ending}": type_ for ending, type_ in server_policy.TYPES.items()}
    (python,) = root.findall("location")
    assert python.get("path") == server_policy.PYTHON_FOLDER
    (loose,) = python.iter("add")
    assert (loose.get("name"), loose.get("value")) == (
        server_policy.PYTHON_POLICY.name,
        server_policy.PYTHON_POLICY.value,
    )
