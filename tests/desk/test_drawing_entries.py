"""A survey.toml with one [drawing] is taken at the desk as the reader takes it."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bolewalk.desk.drawing_entries import drawing_entries
from bolewalk.desk.landing import land, take_out
from bolewalk.intake.kinds import tell_kind
from bolewalk.store.items import Applied, Edit
from bolewalk.store.store import Store

from .conftest import WHEN
from .test_answers import PILES, give
from .test_landing import plan
from .test_plan import settled


def head_of(store: Store) -> str:
    item = store.load(1).get("head", "survey.toml")
    assert item is not None
    assert item.body is not None
    text: str = item.body["text"]
    return text


@pytest.fixture(autouse=True)
def one_drawing(store: Store) -> None:
    text = head_of(store)
    assert text.count("[[drawing]]") == 1
    edit = Edit("head", "survey.toml", {"text": text.replace("[[drawing]]", "[drawing]")}, 1)
    assert isinstance(store.change(1, (edit,), who="Tobin", when=WHEN), Applied)


def test_an_answer_finds_its_layer(desk: TestClient, store: Store) -> None:
    settled(desk)
    give(desk, f"{PILES}.made", "told", value="air")
    assert 'made = "air"' in head_of(store)


def test_another_drawing_stands_beside_it_and_either_is_taken_out(
    store: Store, tmp_path: Path
) -> None:
    path = tmp_path / "second.dxf"
    path.write_bytes(plan(tmp_path))
    with path.open("rb") as stream:
        medium = store.put_media(stream, when=WHEN)
    told = tell_kind(path, "second.dxf")
    landing = land(store.load(1), name="second.dxf", path=path, medium=medium, told=told)
    assert isinstance(store.change(1, landing.edits, who="Tobin", when=WHEN), Applied)
    assert [d.file for d in store.job(1).survey.drawings] == ["court.dxf", "second.dxf"]
    for name, left in (("court.dxf", ["second.dxf"]), ("second.dxf", [])):
        edits = take_out(store.load(1), name).edits
        assert isinstance(store.change(1, edits, who="Tobin", when=WHEN), Applied)
        assert [d.file for d in store.job(1).survey.drawings] == left


def test_it_alone_is_taken_out(store: Store) -> None:
    edits = take_out(store.load(1), "court.dxf").edits
    assert isinstance(store.change(1, edits, who="Tobin", when=WHEN), Applied)
    assert "[drawing]" not in head_of(store)
    assert store.job(1).survey.drawings == ()


def test_the_page_of_files_knows_it(desk: TestClient) -> None:
    text = desk.get("/surveys/1/files").text
    row = text[text.index("court.dxf") :]
    assert "drawing" in row[: row.index("</tr>")]


def test_its_layers_are_named(desk: TestClient, store: Store) -> None:
    form = {"file": "court.dxf", "layer.0": "A-NOTE", "kind.0": "fence"}
    assert desk.post("/surveys/1/files/layers", data=form).status_code == 303
    assert '"A-NOTE" = "fence"' in head_of(store)


def test_what_is_no_table_is_passed_over() -> None:
    assert drawing_entries({"drawing": "court.dxf"}) == ()
    (only,) = drawing_entries({"drawing": [3, {"file": "a.dxf"}]})
    assert (only.path, only.file) == (("drawing", 1), "a.dxf")
