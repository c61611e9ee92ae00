"""What a device keeps of a job: every answer, through reloads and second thoughts; and the page of jobs."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browsing import press, watched
from jsonschema import Draft202012Validator
from playwright.sync_api import Browser, BrowserContext, Page, expect
from test_tree_page import CALL_TREE, SITE_TREE, at

from build_tools.guide import job_record

pytestmark = pytest.mark.browser

GUIDE = Path(__file__).parents[1] / "guides" / "walked"
SCHEMA = job_record.schema()
KEPT = """() => Object.entries(localStorage).filter(([key]) => key.startsWith('lost-neutral:job:'))
  .map(([, text]) => JSON.parse(text)).sort((a, b) => a.begun - b.begun)"""


def kept(page: Page) -> list[dict[str, Any]]:
    """Every job on the device, the oldest first; each is what the published schema says."""
    jobs = page.evaluate(KEPT)
    for job in jobs:
        Draft202012Validator(SCHEMA).validate(job)
    return jobs


def answers(job: dict[str, Any]) -> list[tuple[str, str]]:
    return [(one["at"], one.get("typed", one["answer"])) for one in job["answers"]]


def text_of(page: Page) -> str:
    return page.locator("[data-part=record-text]").input_value()


def test_every_answer_is_kept_at_once_with_its_time_and_version(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    assert kept(page) == []
    for number, words in enumerate(("Yes", "Done", "below"), 1):
        before = page.evaluate("Date.now()")
        press(page, words)
        (job,) = kept(page)
        assert len(job["answers"]) == number
        assert before <= job["answers"][-1]["when"] <= page.evaluate("Date.now()")
    assert (job["tree"], job["version"], job["page"]) == ("tingle-visit", "2.1", SITE_TREE)
    assert job["build"] == page.evaluate("document.documentElement.dataset.edition")
    assert answers(job) == [
        ("felt", "Yes"),
        ("open", "Done: go on"),
        ("clamp", "0 A"),
    ]


def test_a_killed_tab_loses_nothing(address: str, context: BrowserContext, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done")
    page.close(run_before_unload=False)
    again = context.new_page()
    again.goto(f"{address}/{SITE_TREE}")
    assert at(again) == "clamp"
    expect(again.locator("[data-part=resumed]")).to_contain_text("goes on here: 2 answered")
    again.keyboard.press("Escape")  # answers from before are in no entry of this tab's history
    assert at(again) == "open"
    press(again, "Done")
    again.keyboard.press("Escape")
    expect(again.locator("[data-node=open]")).to_be_visible()
    again.keyboard.press("Escape")
    expect(again.locator("[data-node=felt]")).to_be_visible()
    assert len(kept(again)) == 1


def test_from_any_page_the_open_job_is_one_touch_away(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes")
    page.goto(f"{address}/glossary.html")
    page.get_by_role("link", name="Go on with the open job").click()
    assert at(page) == "open"
    expect(page.get_by_role("link", name="Go on with the open job")).to_be_hidden()


def test_an_answer_taken_back_is_offered_again_and_never_lost(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done")
    page.locator("[data-node=clamp] input").fill("0.3")
    page.keyboard.press("Enter")
    page.locator("[data-part=trail-list] button").first.click()
    assert at(page) == "felt"
    (job,) = kept(page)
    assert [one["at"] for one in job["before"]] == ["felt", "open", "clamp"]
    press(page, "No")
    page.locator("[data-said] button").click()  # "Done"
    expect(page.locator("[data-said]")).to_contain_text("You answered before: 0.3 A")
    page.keyboard.press("Enter")
    (job,) = kept(page)
    assert answers(job) == [("felt", "No"), ("open", "Done: go on"), ("clamp", "0.3 A")]
    assert job["before"] == []


def test_what_no_longer_follows_is_marked(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done", "below", "0.1 A or more", "Yes")
    assert at(page) == "leave"
    page.locator("[data-part=trail-list] button").nth(2).click()
    press(page, "5 A or more")
    expect(page.locator("[data-part=unreached-list] li")).to_have_count(2)
    text = text_of(page)
    taken_back = text.partition("TAKEN BACK")[2].partition("OUTCOME")[0]
    assert "Do the lights change" in taken_back and "Clamp the main earthing" not in taken_back
    assert "NO OUTCOME" not in text


def test_a_reload_at_the_outcome_keeps_the_record(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "Yes")
    page.get_by_label("Note").fill("Gate code at the board, ring 01234 567890")
    expect(page.get_by_text("That looks like a number or an address")).to_be_visible()
    page.get_by_label("Note").fill("Dog in the yard")
    expect(page.get_by_text("That looks like a number or an address")).to_be_hidden()
    page.reload()
    assert at(page) == "send-now"
    assert "NOTE\n   Dog in the yard" in text_of(page)


def test_a_new_job_leaves_the_last_one_whole(address: str, page: Page) -> None:
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "No", "Yes")
    page.get_by_role("button", name="Start again").click()
    expect(page.locator("[data-node=hot]")).to_be_visible()
    press(page, "Yes")
    first, second = kept(page)
    assert answers(first) == [("hot", "No"), ("felt", "Yes")]
    assert answers(second) == [("hot", "Yes")] and second["outcome"]["priority"] == "Emergency"


def test_two_windows_never_write_over_each_other(address: str, context: BrowserContext, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes")
    other = context.new_page()
    other.goto(f"{address}/{SITE_TREE}")
    press(other, "Done")
    expect(page.locator("[data-part=not-kept]")).to_contain_text("gone on in another window")
    press(page, "Done")
    page.locator("[data-node=clamp] input").fill("7")
    page.keyboard.press("Enter")
    press(other, "below")
    page.wait_for_function(  # a window hears of the other's storage a moment later
        "() => Object.values(localStorage).filter((kept) => kept.includes('below 0.5 A')).length === 1"
    )
    assert sorted(tuple(answers(job)[2:]) for job in kept(page)) == [
        (("clamp", "0 A"),),
        (("clamp", "7 A"),),
    ]


def test_the_other_windows_job_can_be_shown(address: str, context: BrowserContext, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes")
    other = context.new_page()
    other.goto(f"{address}/{SITE_TREE}")
    press(other, "Done")
    page.get_by_role("button", name="Show it as it is there").click()
    assert at(page) == "clamp"
    assert len(kept(page)) == 1


def test_a_replay_and_a_look_around_are_no_jobs(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}#sum.both")
    page.keyboard.press("Escape")
    assert kept(page) == []


SPOIL = {
    "another edition's answers": "job.answers[1].at = job.answers[1].answer = 'gone'",
    "another order of answers": "job.answers[0].exit = 1",
}


@pytest.mark.parametrize("spoilt", SPOIL)
def test_a_job_of_another_edition_goes_on_as_far_as_it_fits(address: str, page: Page, spoilt: str) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done", "below")
    page.evaluate(
        "() => { for (const [key, text] of Object.entries(localStorage)) if (key.includes(':job:')) {"
        f" const job = JSON.parse(text); {SPOIL[spoilt]}; job.version = '1.9';"
        " localStorage.setItem(key, JSON.stringify(job)) } }"
    )
    page.evaluate("history.replaceState(null, '', location.pathname)")
    page.reload()
    if "order" in spoilt:
        assert at(page) == "sum.both"
    else:
        assert at(page) == "open"
        expect(page.locator("[data-part=resumed]")).to_contain_text("was made with version 1.9")
        (job,) = kept(page)
        assert [one["at"] for one in job["before"]] == ["gone", "clamp"]


FULL = """() => {
  const full = () => { throw new DOMException("full", "QuotaExceededError") };
  Object.defineProperty(Storage.prototype, "setItem", {value: full});
}"""


def test_where_nothing_more_can_be_kept_the_page_says_so_and_goes_on(address: str, page: Page) -> None:
    page.add_init_script(f"({FULL})()")
    page.goto(f"{address}/{CALL_TREE}")
    press(page, "No", "Yes", "They are dim")
    expect(page.locator("[data-part=not-kept]")).to_contain_text("no room to keep this job")
    assert "2. Did you feel it more than once?" in text_of(page)


def filled(page: Page, address: str) -> None:
    """Three jobs, one of them open."""
    for words in (("Yes",), ("No", "No, once only", "They are dim")):
        page.goto(f"{address}/{CALL_TREE}")
        press(page, *words)
        page.get_by_role("button", name="Start again").click()
        expect(page.locator("[data-node=hot]")).to_be_visible()
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes", "Done")
    page.goto(f"{address}/jobs.html")


def test_the_page_of_jobs_lists_reads_and_goes_on(address: str, page: Page) -> None:
    filled(page, address)
    jobs = page.locator(".ln-job")
    expect(jobs).to_have_count(3)
    expect(jobs.first).to_contain_text("Open. Begun")
    expect(jobs.nth(1)).to_contain_text("Emergency: Send a crew now")
    jobs.first.locator("summary").click()
    assert "NO OUTCOME YET" in jobs.first.locator("textarea").input_value()
    jobs.first.get_by_role("link", name="Open it in its tree").click()
    assert at(page) == "clamp"


def test_jobs_are_cleared_by_one_deliberate_action(address: str, page: Page) -> None:
    filled(page, address)
    page.locator(".ln-job").first.get_by_role("button", name="Clear").click()
    page.keyboard.press("Enter")  # the dialog opens on "Keep"
    expect(page.locator(".ln-job")).to_have_count(3)
    page.get_by_role("button", name="Clear all jobs").click()
    expect(page.locator("dialog[open]")).to_contain_text("Clear all 3 jobs?")
    page.locator("dialog[open]").get_by_role("button", name="Clear").click()
    expect(page.get_by_text("No job is kept on this device")).to_be_visible()
    assert page.evaluate("Object.keys(localStorage).filter(key => key.startsWith('lost-neutral:'))") == []


def saved(page: Page, into: Path) -> Path:
    with page.expect_download() as download:
        page.locator(".ln-job").first.get_by_role("button", name="Save as a file").click()
    download.value.save_as(into / download.value.suggested_filename)
    return into / download.value.suggested_filename


def test_a_saved_job_is_read_in_on_another_device(
    address: str, page: Page, started: Browser, tmp_path: Path
) -> None:
    filled(page, address)
    file = saved(page, tmp_path)
    assert file.name.endswith("-tingle-visit.json")
    job = json.loads(file.read_text("utf-8"))
    Draft202012Validator(SCHEMA).validate(job)
    with watched(started) as other:
        there = other.new_page()
        there.goto(f"{address}/jobs.html")
        for said in ("read in", "this device has it already"):
            there.locator("input[type=file]").set_input_files(file)
            expect(there.locator("[data-part=trouble]")).to_contain_text(said)
        there.get_by_role("link", name="Open it in its tree").click()
        assert at(there) == "clamp"
        assert kept(there)[0]["answers"] == job["answers"]


WRONG: dict[str, tuple[Callable[[dict[str, Any]], Any], str]] = {
    "not a job": (lambda job: [1, 2], "the whole is not what it should be"),
    "an answer without its time": (lambda job: job["answers"][0].pop("when"), "answers/0 is not what"),
    "a page elsewhere": (lambda job: job.update(page="https://a.example/"), "page is not what"),
    "a word too many": (lambda job: job.update(extra="<img src=x>"), "extra is not what"),
    "a time that is none": (lambda job: job.update(begun="yesterday"), "begun is not what"),
    "of another guide": (
        lambda job: job.update(guide="Another guide"),
        "made with another guide, “Another guide”",
    ),
}


def test_what_is_no_saved_job_is_refused_kindly(address: str, page: Page, tmp_path: Path) -> None:
    filled(page, address)
    file, before = saved(page, tmp_path), kept(page)
    text = file.read_text("utf-8")
    trouble = page.locator("[data-part=trouble]")
    for what, (spoil, said) in WRONG.items():
        job = json.loads(text)
        other = spoil(job)
        file.write_text(json.dumps(other if isinstance(other, list) else job), "utf-8")
        page.locator("input[type=file]").set_input_files(file)
        expect(trouble, what).to_contain_text(said)
    for content, said in (("{half", "it is not JSON"), ("9" * 1_000_001, "too large")):
        file.write_text(content, "utf-8")
        page.locator("input[type=file]").set_input_files(file)
        expect(trouble).to_contain_text(said)
    assert kept(page) == before


def test_what_cannot_be_read_is_left_and_told(address: str, page: Page) -> None:
    filled(page, address)
    page.evaluate(
        "() => { const key = Object.keys(localStorage).find(key => key.includes(':job:'));"
        " localStorage.setItem(key + 'x', '{half') }"
    )
    page.reload()
    expect(page.locator("[data-part=odd] textarea")).to_have_value("{half")
    expect(page.locator("[data-part=list] .ln-job")).to_have_count(3)


def test_the_schema_is_published_with_the_site(site: Path) -> None:
    assert json.loads((site / "schemas/job-record.json").read_text("utf-8")) == SCHEMA
    Draft202012Validator.check_schema(SCHEMA)


def test_a_job_begun_anew_does_not_say_that_the_old_one_goes_on(address: str, page: Page) -> None:
    page.goto(f"{address}/{SITE_TREE}")
    press(page, "Yes")
    page.goto(f"{address}/glossary.html")
    page.goto(f"{address}/{SITE_TREE}")
    page.get_by_role("button", name="Begin a new job").click()
    expect(page.locator("[data-node=felt]")).to_be_visible()
    expect(page.locator("[data-part=resumed]")).to_be_hidden()
