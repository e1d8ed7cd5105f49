"""The walk: found trees accepted, corrected, merged, split and discarded; the words kept.

Expected sizes are what the transcript of the demonstration says.
"""

import re
from datetime import date

import pytest
from starlette.testclient import TestClient

from bolewalk.store.edits import set_head
from bolewalk.store.items import Edit
from bolewalk.store.store import Store

from .conftest import WHEN

WALK = b"""WEBVTT

00:00:01.000 --> 00:00:06.000
<v Ann>First a northern red oak, twenty inches, forty feet tall. It stays.

00:00:07.000 --> 00:00:12.000
<v Ann>Next a dead white ash, remove it.

00:00:13.000 --> 00:00:18.000
<v Ann>Then a row of three crab apples along the drive, prune those.
"""


@pytest.fixture
def walk(store: Store, tmp_path) -> str:  # type: ignore[no-untyped-def]
    """The address of the walk of a survey without any tree."""
    number = store.create_survey(
        "Sedge Lane", visited=date(2026, 5, 1), units="imperial", who="Tobin", when=WHEN
    )
    path = tmp_path / "walk.vtt"
    path.write_bytes(WALK)
    with path.open("rb") as stream:
        kept = store.put_media(stream, when=WHEN)
    file = Edit("file", "walk.vtt", {"sha256": kept.sha256, "size": kept.size})
    head = set_head(store.load(number), (("files", "walk"), ["walk.vtt"]))
    store.change(number, [file, head], who="Tobin", when=WHEN)
    return f"/surveys/{number}/walk"


def found(page: str) -> dict[str, str]:
    """Found trees by the name shown, with their ids."""
    parts = re.findall(r'data-found="(w\d+)".*?</a> ([^<,]+)', page, re.S)
    return {name.strip(): key for key, name in parts}


def rows(store: Store, walk: str) -> list[dict[str, str]]:
    return [i.body["cells"] for i in store.load(int(walk.split("/")[2])).of("tree") if i.body]


def kept(store: Store, walk: str) -> list[dict]:  # type: ignore[type-arg]
    return [dict(i.body) for i in store.load(int(walk.split("/")[2])).of("correction") if i.body]


def test_page_shows_words_as_heard_on_a_time_line(desk: TestClient, walk: str) -> None:
    page = desk.get(walk).text
    trees = found(page)
    assert {"northern red oak", "white ash"} <= set(trees)
    assert "heard as “northern red oak”" in page
    assert page.count("<circle") == len(trees)
    assert "First a northern red oak, twenty inches" in page
    assert f"still to be decided, {len(trees)} of {len(trees)}" in page


def test_accepted_as_found(store: Store, desk: TestClient, walk: str) -> None:
    page = desk.get(walk).text
    key = found(page)["northern red oak"]
    form = re.search(rf'action="{walk}/{key}".*?</form>', page, re.S)
    assert form is not None
    told = dict(re.findall(r'<input name="(\w+)" value="([^"]*)"', form[0]))
    decision = re.search(r"<option selected>(\w+)", form[0])
    assert decision is not None
    answer = desk.post(
        f"{walk}/{key}", data={**told, "decision": decision[1], "do": "accept", "notes": ""}
    )
    assert answer.status_code == 303
    cells = rows(store, walk)[0]
    assert (cells["diameter"], cells["height"], cells["decision"]) == ("20in", "40", "retain")
    assert cells["tree"] == "T1"
    heard = kept(store, walk)[0]["heard"]
    assert heard["species"] == "northern red oak"
    assert heard["moments"][0]["said"].startswith("First a northern red oak")


def test_corrected_keeps_what_was_heard(store: Store, desk: TestClient, walk: str) -> None:
    key = found(desk.get(walk).text)["white ash"]
    told = {"do": "accept", "tree": "A7", "species": "Fraxinus latifolia", "decision": "remove"}
    assert desk.post(f"{walk}/{key}", data=told).status_code == 303
    assert rows(store, walk)[0]["species"] == "Fraxinus latifolia"
    correction = kept(store, walk)[0]
    assert correction["do"] == "correct"
    assert correction["heard"]["species"] == "white ash"
    page = desk.get(walk).text
    assert "Corrected and taken into the table" in page
    assert "heard as “white ash”" in page


def test_split_merged_and_discarded(store: Store, desk: TestClient, walk: str) -> None:
    trees = found(desk.get(walk).text)
    row = next(k for n, k in trees.items() if "apple" in n)
    assert desk.post(f"{walk}/{row}", data={"do": "split", "parts": "3"}).status_code == 303
    assert [r["tree"] for r in rows(store, walk)] == ["T1", "T2", "T3"]
    oak = trees["northern red oak"]
    assert desk.post(f"{walk}/{oak}", data={"do": "merge", "into": "T2"}).status_code == 303
    second = rows(store, walk)[1]
    # Empty cells take what was said of the other; what stood there stays.
    assert (second["diameter"], second["decision"]) == ("20in", "prune")
    ash = trees["white ash"]
    assert desk.post(f"{walk}/{ash}", data={"do": "discard"}).status_code == 303
    assert [c["do"] for c in kept(store, walk)] == ["split", "merge", "discard"]
    page = desk.get(walk).text
    assert "Merged with T2" in page
    assert "still to be decided, 0 of" in page
    # One step of undo for one decision, rows and note together.
    survey = walk.split("/")[2]
    for _ in range(3):
        desk.post(f"/api/surveys/{survey}/undo", json={})
    assert rows(store, walk) == []
    assert kept(store, walk) == []


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"do": "accept", "tree": ""}, "needs a number of its own"),
        ({"do": "merge", "into": "T9"}, "has no T9"),
        ({"do": "split", "parts": "1"}, "2 to 200"),
        ({"do": "split", "parts": "many"}, "A whole number"),
    ],
)
def test_what_cannot_be_done_is_told(
    store: Store, desk: TestClient, walk: str, told: dict[str, str], says: str
) -> None:
    key = found(desk.get(walk).text)["white ash"]
    page = desk.post(f"{walk}/{key}", data=told)
    assert page.status_code == 422
    assert says in page.text
    assert rows(store, walk) == []
    assert desk.post(f"{walk}/w99", data=told).status_code == 404
    assert desk.post(f"{walk}/{key}", data={"do": "sing"}).status_code == 400


def test_trees_of_the_table_count_as_decided(reading_desk: TestClient) -> None:
    page = reading_desk.get("/surveys/1/walk").text
    oak = page[page.index('data-found="w1"') :]
    assert oak.index("In the table") < oak.index("</article>")


def test_recording_is_sent_in_stretches(store: Store, desk: TestClient, tmp_path) -> None:  # type: ignore[no-untyped-def]
    assert desk.get("/surveys/1/walk/recording").status_code == 404
    path = tmp_path / "walk.mp3"
    path.write_bytes(bytes(range(256)) * 40)
    with path.open("rb") as stream:
        medium = store.put_media(stream, when=WHEN)
    file = Edit("file", "walk.mp3", {"sha256": medium.sha256, "size": medium.size})
    store.change(1, [file], who="Tobin", when=WHEN)
    page = desk.get("/surveys/1/walk").text
    assert "<audio" in page
    address = desk.get("/surveys/1/walk/recording").headers["location"]
    assert f'src="{address}"' in page
    answer = desk.get(address, headers={"range": "bytes=256-260"})
    assert answer.status_code == 206
    assert answer.content == bytes(range(5))
    assert answer.headers["content-type"] == "audio/mpeg"


def test_each_recording_holds_its_part_of_the_walk(
    store: Store, desk: TestClient, walk: str, tmp_path
) -> None:  # type: ignore[no-untyped-def]
    number = int(walk.split("/")[2])
    edits = []
    for name, raw in (("walk.wav", b"RIFFa"), ("b.m4a", b"two"), ("b.txt", b"[0:03] An ash.\n")):
        (tmp_path / name).write_bytes(raw)
        with (tmp_path / name).open("rb") as stream:
            kept = store.put_media(stream, when=WHEN)
        edits.append(Edit("file", name, {"sha256": kept.sha256, "size": kept.size}))
    head = set_head(store.load(number), (("files", "walk"), ["walk.vtt", "b.m4a"]))
    store.change(number, [*edits, head], who="Tobin", when=WHEN)
    page = desk.get(walk).text
    held = re.findall(r'src="[^"]*/([^"/]+)" data-from="([\d.]+)" data-to="([\d.]+)"', page)
    # The first ends with its last words at 18 s; the second's one line is taken to last 5 s.
    assert held == [("walk.wav", "0.0", "18.0"), ("b.m4a", "18.0", "26.0")]
    # Words of the second stand at their time of the whole walk: 18 + 3 s.
    assert 'data-start="21.0"' in page
