"""The desk goes away and comes back under an open page; two browsers answer one question."""

import shutil
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect, sync_playwright

from .browser import FLAGS, chromium, open_plan, running, serving, shot

SLOW_MS = 60_000


@pytest.fixture(scope="module")
def chrome() -> Iterator[Browser]:
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=chromium(), args=FLAGS)
        expect.set_options(timeout=SLOW_MS)
        yield browser
        browser.close()


@pytest.fixture
def data(demo_data: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_data, tmp_path / "data"))


def new_page(chrome: Browser) -> Page:
    page = chrome.new_context(viewport={"width": 1440, "height": 900}).new_page()
    page.set_default_timeout(SLOW_MS)
    return page


def test_what_was_typed_and_done_is_sent_when_the_desk_is_back(chrome: Browser, data: Path) -> None:
    plan, tree, papers = (new_page(chrome) for _ in range(3))
    with serving(data) as address:
        open_plan(plan, f"{address}/surveys/1/site")
        tree.goto(f"{address}/surveys/1/trees/T1")
        papers.goto(f"{address}/surveys/1/papers")
    # Gone. On the plan a work is added, on the tree's page a question answered, an issue asked for.
    plan.fill("#draw [name=label]", "Gas main")
    plan.fill("#draw textarea", "96, 44\n125, 44")
    plan.get_by_role("button", name="Add from corners").click()
    tree.get_by_label("If it is not there").check()
    tree.locator("form.answer [name=by]").fill("Jun Fennick")
    tree.get_by_role("button", name="Keep the answer").click()
    papers.fill("[name=title]", "For the permit")
    papers.get_by_role("button", name="Issue", exact=True).click()
    for page in (plan, tree, papers):
        expect(page.locator("#lost")).to_contain_text("The desk does not answer.")
    assert plan.input_value("#draw textarea") == "96, 44\n125, 44"
    assert tree.input_value("form.answer [name=by]") == "Jun Fennick"
    assert papers.input_value("[name=title]") == "For the permit"
    shot(plan, "gone")
    port = str(urlsplit(address).port)
    with running("desk", "--data", str(data), "--port", port):
        expect(plan.locator("#draw-say")).to_have_text("Gas main is on the plan.")
        expect(plan.locator("#lost")).to_contain_text("what was waiting has been sent")
        expect(tree.get_by_text("told by Jun Fennick")).to_be_visible()
        expect(papers.get_by_text("Issuing the papers")).to_be_visible()
        # What was sent is not offered again.
        tree.reload()
        papers.reload()
        assert papers.input_value("[name=title]") == ""


def test_typed_words_outlive_a_reload_and_a_refusal(chrome: Browser, data: Path) -> None:
    page = new_page(chrome)
    with serving(data) as address:
        page.goto(f"{address}/surveys/1/copies")
        page.fill("form[data-keep=copy] [name=name]", "Nearer the road")
        page.reload()
        assert page.input_value("form[data-keep=copy] [name=name]") == "Nearer the road"
        page.get_by_role("button", name="Copy").click()
        expect(page.get_by_role("heading", name="Nearer the road")).to_be_visible()
        assert page.input_value("form[data-keep=copy] [name=name]") == ""
        # The same name again is refused; going back, it is still there to be mended.
        page.fill("form[data-keep=copy] [name=name]", "Nearer the road")
        page.get_by_role("button", name="Copy").click()
        expect(page.get_by_text("a name no other copy has")).to_be_visible()
        page.goto(f"{address}/surveys/1/copies")
        assert page.input_value("form[data-keep=copy] [name=name]") == "Nearer the road"


def test_two_browsers_answer_one_question(chrome: Browser, data: Path) -> None:
    first, second = new_page(chrome), new_page(chrome)
    with serving(data) as address:
        forms = []
        for page in (first, second):
            open_plan(page, f"{address}/surveys/1/site")
            forms.append(page.locator("form.answer").filter(has_text="Power to the bicycle"))
            expect(forms[-1]).to_be_visible()
        forms[0].get_by_label("If it is not there").check()
        forms[0].get_by_role("button", name="Keep the answer").click()
        expect(first.locator('#verdicts tr[data-tree="T1"] .word')).to_have_text("keep")
        forms[1].get_by_label("If it is there").check()
        forms[1].get_by_label("Told by").fill("Mirela")
        forms[1].get_by_role("button", name="Keep the answer").click()
        expect(forms[1].locator(".say")).to_contain_text("somebody has answered it")
        assert forms[1].locator("[name=by]").input_value() == "Mirela"
        shot(second, "answered-by-two")
        second.reload()
        expect(second.locator('#verdicts tr[data-tree="T1"] .word')).to_have_text("keep")
