"""A day with a tablet: the network goes, and six jobs are done with reloads and killed tabs in between."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from browsing import ARGUMENTS, press
from editions import Server
from playwright.sync_api import BrowserContext, Page, expect, sync_playwright
from test_job_record import answers, kept, text_of
from test_tree_page import CALL_TREE, SITE_TREE, at

from build_tools.setup import programs

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
TABLET = {"viewport": {"width": 820, "height": 1180}, "has_touch": True, "is_mobile": True}


class Tablet:
    """A browser with a profile on disk, which can be killed and started again."""

    def __init__(self, profile: Path, server: Server) -> None:
        self.profile, self.server = profile, server
        self.playwright = sync_playwright().start()
        self.start()

    def start(self) -> None:
        self.context: BrowserContext = self.playwright.chromium.launch_persistent_context(
            str(self.profile), executable_path=str(programs.browser()), args=ARGUMENTS, **TABLET
        )

    def opened(self, where: str) -> Page:
        page = self.context.new_page()
        page.goto(f"{self.server.address}/{where}")
        return page

    def stop(self) -> None:
        self.context.close()


@pytest.fixture
def server(tmp_path: Path, site: Path) -> Iterator[Server]:
    serving = Server(tmp_path / "web")
    serving.publish(site)
    yield serving
    serving.stop()


@pytest.fixture
def tablet(tmp_path: Path, server: Server) -> Iterator[Tablet]:
    made = Tablet(tmp_path / "profile", server)
    yield made
    made.stop()
    made.playwright.stop()


def typed(page: Page, figure: str) -> None:
    for key in figure:
        page.locator("[data-node]:visible [data-pad]").get_by_role(
            "button", name="point" if key == "." else key, exact=True
        ).tap()
    page.get_by_role("button", name="Accept").tap()


def test_six_jobs_without_a_network_and_nothing_is_lost(tablet: Tablet, server: Server) -> None:
    page = tablet.opened("index.html")
    expect(page.locator("[data-part=device]")).to_have_attribute("data-state", "kept", timeout=20_000)
    server.stop()  # the network is gone for the rest of the day

    # 1: straight through.
    page = tablet.opened(SITE_TREE)
    press(page, "Yes", "Done")
    typed(page, "7.5")
    assert at(page) == "leave"

    # 2: begun anew on the same page, reloaded after every answer.
    page.get_by_role("button", name="Start again").click()
    expect(page.locator("[data-node=felt]")).to_be_visible()
    for words in ("No", "Done", "below", "0.1 A or more", "No"):
        press(page, words)
        page.reload()
    assert at(page) == "away"

    # 3: the tab is killed twice, and the job goes on from the front page.
    page = tablet.opened(SITE_TREE)
    press(page, "Yes")
    page.close()
    page = tablet.opened("index.html")
    page.get_by_role("link", name="Go on with the open job").click()
    assert at(page) == "open"
    press(page, "Done")
    page.close()
    page = tablet.opened(SITE_TREE)
    typed(page, "0.2")
    press(page, "below 0.1 A")
    assert text_of(page)

    # 4: the whole browser ends in the middle, with something dangerous found before.
    page = tablet.opened(SITE_TREE)
    press(page, "Yes", "Done")
    page.locator("[data-part=danger-found]").click()
    page.get_by_role("link", name="Back to the question").click()
    tablet.stop()
    tablet.start()
    page = tablet.opened(SITE_TREE)
    assert at(page) == "clamp"
    typed(page, "12")

    # 5: a call, taken back and changed.
    page = tablet.opened(CALL_TREE)
    press(page, "No", "Yes", "Some are too bright")
    page.locator("[data-part=trail-list] button").nth(1).click()
    press(page, "No, once only")
    page.locator("[data-said] button").click()

    # 6: what the caller said goes to the visit.
    page.locator("[data-node=send-now] a[data-carries]").first.click()
    page.wait_for_url(f"**/{SITE_TREE}*")
    page.locator("[data-said] button").click()
    press(page, "Done", "Could not take it")
    assert at(page) == "leave"

    jobs = kept(page)
    assert [[given for _, given in answers(job)] for job in jobs] == [
        ["Yes", "Done: go on", "7.5 A"],
        ["No", "Done: go on", "0 A", "0.1 A", "No"],
        ["Yes", "Done: go on", "0.2 A", "0 A"],
        ["Yes", "Done: go on", "12 A"],
        ["No", "No, once only", "Some are too bright"],
        ["No", "Done: go on", "Could not take it"],
    ]
    assert all(job["outcome"] for job in jobs)
    assert [len(job["dangers"]) for job in jobs] == [0, 0, 0, 1, 0, 0]
    assert all(one["when"] for job in jobs for one in job["answers"])
    page.goto(f"{server.address}/jobs.html")
    expect(page.locator(".ln-job")).to_have_count(6)
    server.start()
