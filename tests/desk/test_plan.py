"""The plan and its verdicts against the survey folder's own way through the job."""

import csv
import json
import math
import shutil
from pathlib import Path

import jsonschema
import pytest
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.intake.folder import read_folder
from bolewalk.survey import assess

API = "/api/surveys/1"
TRENCH = {"type": "LineString", "coordinates": [[100, 160], [100, 120]]}


def settled(desk: TestClient, query: str = "") -> dict[str, dict]:  # type: ignore[type-arg]
    """The plan's trees once every open fact was tried."""
    trees = {t["id"]: t for t in desk.get(f"{API}/plan{query}").json()["trees"]}
    while pending := [t for t in trees if trees[t]["pending"]]:
        answer = desk.post(f"{API}/settle{query}", json={"trees": pending}).json()
        assert answer["trees"]
        trees.update({t["id"]: t for t in answer["trees"]})
    return trees


def folder_with(tmp_path: Path, feature: dict) -> Path:  # type: ignore[type-arg]
    """The demonstration survey with one more feature in its works."""
    folder = Path(shutil.copytree(survey_folder(), tmp_path / "survey"))
    works = json.loads((folder / "works.geojson").read_text(encoding="utf-8"))
    works["features"].append(feature)
    (folder / "works.geojson").write_text(json.dumps(works), encoding="utf-8")
    return folder


def test_plan_stands_in_the_survey_s_coordinates(reading_desk: TestClient) -> None:
    plan = reading_desk.get(f"{API}/plan").json()
    text = (survey_folder() / "trees.csv").read_text(encoding="utf-8")
    rows = {r["tree"]: r for r in csv.DictReader(text.splitlines())}
    assert [t["id"] for t in plan["trees"]] == list(rows)
    for tree in plan["trees"]:
        row = rows[tree["id"]]
        if not row["x"]:
            assert tree["at"] is None
            continue
        assert tree["at"] == pytest.approx([float(row["x"]), float(row["y"])], abs=1e-3)
        # inch-foot: one foot of root zone for each inch of a single trunk (reference A).
        if "+" not in row["diameter"] and tree["id"] != "T22":
            assert tree["zone"] == pytest.approx(float(row["diameter"]), abs=1e-3)
    assert plan["unit"] == "ft"


def test_verdicts_are_those_of_the_command_line(reading_desk: TestClient) -> None:
    findings = assess(read_folder(survey_folder()))
    trees = settled(reading_desk)
    for t in findings.trees:
        expected = "none" if t.impact.verdict is None else t.impact.verdict.now
        assert trees[t.tree.id]["mark"] == expected, t.tree.id
    # What the demonstration promises.
    assert trees["T1"]["mark"] == "undecided"
    assert trees["T3"]["mark"] == "redesign"
    assert trees["T4"]["mark"] == "keep_if"
    assert trees["T21"]["mark"] == "redesign"


def test_drawn_trench_judges_as_one_in_the_folder(desk: TestClient, tmp_path: Path) -> None:
    properties = {"kind": "trench", "width": "2", "depth": "3", "label": "Gas"}
    live = desk.post(f"{API}/drag", json={"properties": properties, "geometry": TRENCH}).json()
    before = {t["id"]: t["severed"] for t in desk.get(f"{API}/plan").json()["trees"]}
    feature = {"type": "Feature", "properties": {**properties, "id": "G1"}, "geometry": TRENCH}
    findings = assess(read_folder(folder_with(tmp_path, feature)))
    expected = {
        t.tree.id: t.impact.roots.proposed.severed_pct for t in findings.trees if t.impact.roots
    }
    changed = [t for t in live["trees"] if abs(t["severed"] - before[t["id"]]) > 0.1]
    assert changed
    for t in live["trees"]:
        assert t["severed"] == pytest.approx(expected[t["id"]], abs=0.005), t["id"]
    # Trees it did not name stay as they were.
    told = {t["id"] for t in live["trees"]}
    for name in set(expected) - told:
        assert before[name] == pytest.approx(expected[name], abs=0.005), name

    kept = desk.post(f"{API}/works", json={"properties": properties, "geometry": TRENCH})
    assert kept.status_code == 200
    trees = settled(desk)
    for t in findings.trees:
        mark = "none" if t.impact.verdict is None else t.impact.verdict.now
        assert trees[t.tree.id]["mark"] == mark, t.tree.id
    assert any(w["name"] == "Gas" for w in desk.get(f"{API}/plan").json()["works"])


def test_dragging_keeps_nothing(desk: TestClient) -> None:
    before = desk.get(f"{API}/plan").json()
    moved = {"type": "Point", "coordinates": [118, 136]}
    answer = desk.post(f"{API}/drag", json={"work": "P-PILE-1", "geometry": moved})
    assert answer.status_code == 200
    assert "judge;dur=" in answer.headers["server-timing"]
    after = desk.get(f"{API}/plan").json()
    before["trees"] = after["trees"] = []
    assert before == after


def test_tree_is_dragged_and_placed(desk: TestClient) -> None:
    # A tree beside no works: moved onto the rain garden's line it is cut, moved back it is not.
    live = desk.post(f"{API}/drag", json={"tree": "T11", "at": [120, 74.8]}).json()
    assert live["trees"][0]["severed"] == 100.0  # a trunk inside a footprint loses all
    trees = {t["id"]: t for t in desk.get(f"{API}/plan").json()["trees"]}
    version = trees["T11"]["version"]
    put = desk.put(f"{API}/trees/T11/place", json={"version": version, "at": [120, 74.8]})
    assert put.status_code == 200
    now = {t["id"]: t for t in put.json()["trees"]}
    assert now["T11"]["at"] == [120, 74.8]
    assert now["T11"]["mark"] == "redesign"
    again = desk.put(f"{API}/trees/T11/place", json={"version": version, "at": [1, 1]})
    assert again.status_code == 409
    assert desk.post(f"{API}/undo", json={}).json()["done"] is True
    assert {t["id"]: t for t in desk.get(f"{API}/plan").json()["trees"]}["T11"]["at"] == [108, 46]


def test_unlocated_tree_is_placed(desk: TestClient) -> None:
    trees = {t["id"]: t for t in desk.get(f"{API}/plan").json()["trees"]}
    assert trees["T24"]["at"] is None
    body = {"version": trees["T24"]["version"], "at": [30, 150]}
    now = desk.put(f"{API}/trees/T24/place", json=body).json()
    assert {t["id"]: t for t in now["trees"]}["T24"]["mark"] != "none"


def test_drawing_stays_as_it_is_and_a_copy_moves_its_pile(desk: TestClient) -> None:
    geometry = {"type": "Point", "coordinates": [112, 125]}
    refused = desk.post(f"{API}/works", json={"work": "P-PILE-1", "geometry": geometry})
    assert refused.status_code == 422
    assert "make a what-if copy first" in refused.json()["say"]
    made = desk.post(f"{API}/copies", json={"name": "Nearer", "moved": {"P-PILE-1": geometry}})
    assert made.status_code == 201
    query = f"?plan={made.json()['plan']}"
    base = desk.get(f"{API}/plan").json()
    copy = desk.get(f"{API}/plan{query}").json()
    place = {w["id"]: w["geometry"]["coordinates"] for w in base["works"]}
    assert place["P-PILE-1"] == [106, 105]
    moved = [w for w in copy["works"] if w["geometry"]["coordinates"] == [112, 125]]
    assert len(moved) == 1
    assert moved[0]["key"]
    assert "P-PILE-1" not in {w["id"] for w in copy["works"]}
    assert len(copy["works"]) == len(base["works"])
    # In the copy another drawn pile is moved in turn.
    next_ = {"type": "Point", "coordinates": [118, 125]}
    kept = desk.post(f"{API}/works{query}", json={"work": "P-PILE-2", "geometry": next_})
    assert kept.status_code == 200
    assert "Nearer" in desk.get(f"/surveys/1/site{query}").text
    assert desk.get("/surveys/1/site?plan=nothing").status_code == 404


def test_copy_is_taken_over_or_dropped(desk: TestClient) -> None:
    name = desk.post(f"{API}/copies", json={"name": "With gas", "moved": {}}).json()["plan"]
    told = {"properties": {"kind": "trench", "label": "Gas"}, "geometry": TRENCH}
    desk.post(f"{API}/works?plan={name}", json=told)
    labels = lambda q: [w["name"] for w in desk.get(f"{API}/plan{q}").json()["works"]]  # noqa: E731
    assert "Gas" in labels(f"?plan={name}")
    assert "Gas" not in labels("")
    assert desk.post(f"{API}/copies/{name}/adopt", json={}).status_code == 200
    assert "Gas" in labels("")
    assert desk.request("DELETE", f"{API}/copies/{name}", json={}).status_code == 200
    assert desk.get(f"{API}/plan?plan={name}").status_code == 404


def test_work_is_changed_with_its_version_and_taken_out(desk: TestClient) -> None:
    plan = desk.get(f"{API}/plan").json()
    work = next(w for w in plan["works"] if w["id"] == "W1")
    properties = {**work["properties"], "present": "no"}
    body = {"version": work["version"], "properties": properties}
    assert desk.put(f"{API}/works/{work['key']}", json=body).status_code == 200
    # What the tutorial says: without the power trench T1 can be kept as drawn.
    assert settled(desk)["T1"]["mark"] == "keep"
    conflict = desk.put(f"{API}/works/{work['key']}", json=body)
    assert conflict.status_code == 409
    assert conflict.json()["now"]["body"]["feature"]["properties"]["present"] == "no"
    gone = desk.request("DELETE", f"{API}/works/{work['key']}", json={"version": 2})
    assert "W1" not in {w["id"] for w in gone.json()["works"]}


@pytest.mark.parametrize(
    ("body", "status"),
    [
        ({"work": "nothing", "geometry": TRENCH}, 422),
        ({"work": "W1", "geometry": {"type": "LineString", "coordinates": [[0, 0]]}}, 422),
        ({"work": "W1", "geometry": {"type": "LineString", "coordinates": "no"}}, 422),
        ({"work": "W1", "geometry": None}, 422),
        ({"work": "W1", "geometry": {"type": "Point", "coordinates": [1e999, 0]}}, 422),
        ({"tree": "T1", "at": ["a", 1]}, 422),
        ({"tree": "T1"}, 422),
        ({"properties": {"kind": "moat"}, "geometry": TRENCH}, 422),
        ({"properties": 3, "geometry": TRENCH}, 400),
        ({}, 400),
        ({"tree": 4, "at": [1, 1]}, 400),
    ],
)
def test_what_cannot_be_placed_is_told(
    reading_desk: TestClient,
    body: dict,
    status: int,  # type: ignore[type-arg]
) -> None:
    answer = reading_desk.post(
        f"{API}/drag", content=json.dumps(body), headers={"content-type": "application/json"}
    )
    assert answer.status_code == status, answer.text
    assert answer.json()["say"]


def test_answers_hold_to_the_description(desk: TestClient) -> None:
    document = desk.get("/openapi.json").json()
    plan = desk.get(f"{API}/plan").json()
    live = desk.post(
        f"{API}/drag", json={"properties": {"kind": "trench"}, "geometry": TRENCH}
    ).json()
    kept = desk.post(
        f"{API}/works", json={"properties": {"kind": "trench"}, "geometry": TRENCH}
    ).json()
    settled_ = desk.post(f"{API}/settle", json={"trees": ["T2", "T19"]}).json()
    listed = desk.get("/api/surveys").json()
    for value, address, method in (
        (plan, "/api/surveys/{survey}/plan", "get"),
        (live, "/api/surveys/{survey}/drag", "post"),
        (kept, "/api/surveys/{survey}/works", "post"),
        (settled_, "/api/surveys/{survey}/settle", "post"),
        (listed, "/api/surveys", "get"),
    ):
        answer = document["paths"][address][method]["responses"]["200"]
        schema = answer["content"]["application/json"]["schema"]
        whole = {**schema, "components": document["components"]}
        jsonschema.Draft202012Validator(whole).validate(value)


def test_nearest_cut_line_is_closed_with_its_error(reading_desk: TestClient) -> None:
    findings = {t.tree.id: t for t in assess(read_folder(survey_folder())).trees}
    trees = settled(reading_desk)
    closed = [t for t in trees.values() if "cut_line" in t]
    assert closed
    for t in closed:
        cut = findings[t["id"]].impact.nearest_cut
        assert cut is not None
        distances = cut.keep if t["cuts"][0]["level"] == "keep" else cut.keep_if
        east, north = t["at"]
        # The near face on each bearing is met where the line from the trunk crosses it square.
        ring = t["cut_line"]["ring"]
        for n, d in enumerate(distances.values()):
            assert d is not None
            (x0, y0), (x1, y1) = ring[2 * n], ring[2 * n + 1]
            middle = ((x0 + x1) / 2 - east, (y0 + y1) / 2 - north)
            assert math.hypot(*middle) == pytest.approx(d / 0.3048, abs=2e-3)
            assert math.degrees(math.atan2(*middle)) % 360 == pytest.approx(
                360 / len(distances) * n, abs=0.05
            )
