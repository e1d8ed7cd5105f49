"""The desk goes away and comes back under an open page; two browsers answer one question."""

import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from bolewalk.desk.serve import person
from bolewalk.store.edits import new_tree
from bolewalk.store.store import Store

from .browser import new_page, open_plan, running, serving, shot
from .conftest import WHEN

Act = Callable[[Page], None]


@pytest.fixture
def data(demo_data: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(demo_data, tmp_path / "data"))


@contextmanager
def dying(mark: Path, data: Path) -> Iterator[str]:
    """Serve a desk that dies of the first thing it keeps once `mark` is there."""
    with running(
        str(mark), "desk", "--data", str(data), "--port", "0", module="tests.desk.dying"
    ) as address:
        yield address


def steps(store: Store) -> list[int]:
    """Give the changes of the survey."""
    return sorted({c.revision for c in store.history(1)})


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


def edit_a_row(page: Page) -> None:
    page.get_by_role("link", name="Change T4", exact=True).click()
    page.fill("[name='cell.height']", "31")
    page.get_by_role("button", name="Keep").click()


def draw_a_work(page: Page) -> None:
    page.fill("#draw [name=label]", "Gas main")
    page.fill("#draw textarea", "96, 44\n125, 44")
    page.get_by_role("button", name="Add from corners").click()


def answer_on_the_plan(page: Page) -> None:
    form = page.locator("form.answer").filter(has_text="Power to the bicycle")
    form.get_by_label("If it is not there").check()
    form.get_by_role("button", name="Keep the answer").click()


def undo_on_the_plan(page: Page) -> None:
    page.locator("#plan").press("Control+z")


@pytest.mark.parametrize(
    ("sheet", "act", "then"),
    [
        ("trees", edit_a_row, "Kept."),
        ("site", draw_a_work, "Gas main is on the plan."),
        ("site", answer_on_the_plan, "The answer is kept"),
        ("site", undo_on_the_plan, "what was waiting has been sent"),
    ],
    ids=["row", "work", "answer", "undo"],
)
def test_what_a_desk_kept_and_died_of_is_sent_again_and_done_once(
    chrome: Browser, data: Path, tmp_path: Path, sheet: str, act: Act, then: str
) -> None:
    page, mark = new_page(chrome), tmp_path / "mark"
    with Store.open(data) as store:
        # Something to take back: undo goes one step, and no further.
        store.change(1, [new_tree({"tree": "N1"})], who=person(), when=WHEN)
        before = len(steps(store))
    with dying(mark, data) as address:
        if sheet == "site":
            open_plan(page, f"{address}/surveys/1/site")
        else:
            page.goto(f"{address}/surveys/1/{sheet}")
        page.wait_for_load_state("networkidle")
        mark.touch()
        act(page)
        expect(page.locator("#lost")).to_contain_text("The desk does not answer.")
    assert not mark.exists()
    with Store.open(data) as store:
        kept = steps(store)
        assert len(kept) == before + 1
    with running("desk", "--data", str(data), "--port", str(urlsplit(address).port)):
        expect(page.get_by_text(then).first).to_be_visible()
        page.wait_for_load_state("networkidle")
        with Store.open(data) as store:
            assert steps(store) == kept
        # Answered, the same once more is meant.
        if act is draw_a_work:
            act(page)
            expect(page.locator("#works li", has_text="Gas main")).to_have_count(2)


@pytest.mark.parametrize("again", ["reload", "back"])
def test_a_form_the_desk_died_of_is_sent_again_and_done_once(
    chrome: Browser, data: Path, tmp_path: Path, again: str
) -> None:
    page, mark = new_page(chrome), tmp_path / "mark"

    def add() -> None:
        page.get_by_role("button", name="Add", exact=True).click(no_wait_after=True)

    with dying(mark, data) as address:
        page.goto(f"{address}/surveys/1/trees")
        page.fill("form[data-keep=tree] [name=tree]", "N1")
        page.fill("form[data-keep=tree] [name=species]", "Quercus rubra")
        mark.touch()
        with page.expect_event("requestfailed", lambda r: r.is_navigation_request()):
            add()
        page.wait_for_timeout(500)
    assert not mark.exists()
    with running("desk", "--data", str(data), "--port", str(urlsplit(address).port)):
        if again == "reload":
            page.reload()
        else:
            page.go_back()
            assert page.input_value("form[data-keep=tree] [name=tree]") == "N1"
            assert page.input_value("form[data-keep=tree] [name=species]") == "Quercus rubra"
            add()
        expect(page.locator("[name='cell.tree']")).to_have_value("N1")
        with Store.open(data) as store:
            rows = [i.body["cells"]["tree"] for i in store.load(1).of("tree") if i.body]
            assert rows.count("N1") == 1
        # Taken, it is not offered again; and the same once more is another.
        page.goto(f"{address}/surveys/1/trees")
        assert page.input_value("form[data-keep=tree] [name=species]") == ""
        page.fill("form[data-keep=tree] [name=tree]", "N1")
        page.fill("form[data-keep=tree] [name=species]", "Quercus rubra")
        add()
        expect(page.locator("[name='cell.tree']")).to_have_value("N1")
        with Store.open(data) as store:
            rows = [i.body["cells"]["tree"] for i in store.load(1).of("tree") if i.body]
            assert rows.count("N1") == 2


def test_undo_twice_in_quick_order_is_two_steps(chrome: Browser, data: Path) -> None:
    page = new_page(chrome)
    with Store.open(data) as store:
        # By whoever sits here: undo takes back one's own.
        for tree in ("N1", "N2"):
            store.change(1, [new_tree({"tree": tree})], who=person(), when=WHEN)
    with serving(data) as address:
        open_plan(page, f"{address}/surveys/1/site")
        # Two undo requests on their way at the same time.
        page.evaluate(
            """() => {
              const key = () => document.querySelector("#plan").dispatchEvent(
                new KeyboardEvent("keydown", {key: "z", ctrlKey: true, bubbles: true}));
              key(); key();
            }"""
        )
        page.wait_for_load_state("networkidle")
    with Store.open(data) as store:
        assert [t for t in ("N1", "N2") if store.load(1).tree(t)] == []


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
