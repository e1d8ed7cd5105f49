"""Everything a page sends, sent twice under one id: done once, answered alike.

The second time it meets a desk that has just been started: what it knows is what was kept.
"""

import io
import re
import zipfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest
from PIL import Image
from sqlalchemy import func, select
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.desk.app import ROUTES, create_app
from bolewalk.intake.toml_file import parse_toml
from bolewalk.store.database import reading
from bolewalk.store.edits import set_cells
from bolewalk.store.items import Edit
from bolewalk.store.schema import groups, surveys
from bolewalk.store.store import Store

from .conftest import WHEN
from .test_plan import API

S = "/surveys/1"
SEND = "5f0c-a1b2"
HEAD = b'[survey]\nname = "Nye Lane"\ndate = 2026-05-01\nunits = "metric"\npurpose = "opinion"\n'

Sending = dict[str, Any]
Case = Callable[[TestClient, Store], Sending]
"""Prepares the survey and gives a request, as `TestClient.request` takes it."""


def row(store: Store, tree: str) -> str:
    item = store.load(1).tree(tree)
    assert item is not None
    return item.key


def work(desk: TestClient) -> dict[str, Any]:
    plan = desk.get(f"{API}/plan").json()
    return next(w for w in plan["works"] if w["id"] == "W1")


def drawn(desk: TestClient) -> dict[str, Any]:
    plan = desk.get(f"{API}/plan").json()
    return next(w for w in plan["works"] if w["kind"] == "pile" and w["key"] is None)


def copied(desk: TestClient) -> str:
    made = desk.post(f"{API}/copies", json={"name": "South"})
    assert made.status_code == 201
    plan = str(made.json()["plan"])
    # With a work of its own, so that to take it over changes something.
    assert desk.post(f"{API}/works?plan={plan}", json=PIPE).status_code == 200
    return plan


def changed(store: Store, height: str) -> None:
    item = store.load(1).tree("T4")
    assert item is not None
    store.change(1, [set_cells(item, {"height": height})], who="Tobin", when=WHEN)


def picture(store: Store, name: str) -> str:
    out = io.BytesIO()
    Image.new("RGB", (40, 20), "white").save(out, "PNG")
    medium = store.put_media(io.BytesIO(out.getvalue()), when=WHEN)
    file = Edit("file", name, {"sha256": medium.sha256, "size": medium.size})
    store.change(1, [file], who="Tobin", when=WHEN)
    return name


def packed() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as z:
        z.writestr("nye/survey.toml", HEAD)
    return out.getvalue()


def changing_a_row(desk: TestClient, store: Store) -> Sending:
    del desk
    item = store.load(1).tree("T4")
    assert item is not None
    told = {"version": item.version, "cell.height": "31"}
    return {"method": "POST", "url": f"{S}/trees/rows/{item.key}", "data": told}


def deciding(desk: TestClient, store: Store) -> Sending:
    del store
    walk = desk.get(f"{S}/walk").text
    found = re.findall(r'action="/surveys/1/walk/(w\d+)"', walk)
    return {"method": "POST", "url": f"{S}/walk/{found[0]}", "data": {"do": "discard"}}


def layers(desk: TestClient, store: Store) -> Sending:
    del desk
    head = store.load(1).get("head", "survey.toml")
    assert head is not None
    assert head.body is not None
    drawing = parse_toml(head.body["text"])["drawing"][0]["file"]
    told = {"file": drawing, "layer.0": "A-ODD", "kind.0": "ignore"}
    return {"method": "POST", "url": f"{S}/files/layers", "data": told}


def moving(desk: TestClient, store: Store) -> Sending:
    del store
    pile = drawn(desk)
    x, y = pile["geometry"]["coordinates"][:2]
    moved = {pile["id"]: {"type": "Point", "coordinates": [x + 2, y]}}
    return {"method": "POST", "url": f"{API}/copies", "json": {"name": "Moved", "moved": moved}}


def form(url: str, **told: str) -> Case:
    return lambda *_: {"method": "POST", "url": url, "data": told}


def on_a_copy(do: str) -> Case:
    def case(desk: TestClient, store: Store) -> Sending:
        del store
        told = {"do": do, "copy": copied(desk), "name": "West"}
        return {"method": "POST", "url": f"{S}/copies", "data": told}

    return case


def taking_back(url: str, *, before: int) -> Case:
    def case(desk: TestClient, store: Store) -> Sending:
        for height in ("31", "32", "33"):
            changed(store, height)
        for _ in range(before):
            desk.post(f"{API}/undo", json={})
        told = "json" if url.startswith("/api/") else "data"
        return {"method": "POST", "url": url, told: {}}

    return case


PIPE = {
    "properties": {"kind": "trench", "width": "2", "depth": "3"},
    "geometry": {"type": "LineString", "coordinates": [[96, 44], [125, 44]]},
}
ANSWER = {"fact": "W1.present", "answer": "present_no", "by": "Jun Fennick"}
NAMES = {"survey.name": "Nye Lane", "survey.date": "2026-05-02", "people.client.name": "Jo Nye"}
PLACED = {"file": "scan.png", "at": [[[0, 20], [80, 90]], [[40, 20], [180, 90]]]}

CASES: dict[str, dict[str, Case]] = {
    "POST /surveys": {
        "begun": form(
            "/surveys", name="Nye", visited="2026-05-01", units="metric", purpose="opinion"
        )
    },
    "POST /surveys/import": {
        "brought in": lambda *_: {
            "method": "POST", "url": "/surveys/import",
            "files": {"files": ("nye.zip", packed(), "application/zip")},
        }
    },
    f"POST {S}/trees/rows": {"added": form(f"{S}/trees/rows", tree="T90", species="Quercus rubra")},
    f"POST {S}/trees/rows/{{key}}": {"changed": changing_a_row},
    f"POST {S}/trees/rows/{{key}}/remove": {
        "taken out": lambda d, s: form(f"{S}/trees/rows/{row(s, 'T4')}/remove")(d, s)
    },
    f"POST {S}/walk/{{found}}": {"decided": deciding},
    f"POST {S}/files/take": {
        "out": lambda d, s: form(f"{S}/files/take", name=picture(s, "a.png"), **{"as": "out"})(d, s)
    },
    f"POST {S}/files/layers": {"named": layers},
    f"POST {S}/names": {"named": form(f"{S}/names", **NAMES)},
    f"POST {S}/undo": {"undone": taking_back(f"{S}/undo", before=0)},
    f"POST {S}/copies": {
        "made": form(f"{S}/copies", do="make", name="South"),
        "renamed": on_a_copy("rename"), "adopted": on_a_copy("adopt"), "dropped": on_a_copy("drop"),
    },
    f"POST {S}/questions": {"answered": form(f"{S}/questions", **ANSWER)},
    f"POST {API}/questions": {
        "answered": lambda *_: {"method": "POST", "url": f"{API}/questions", "json": ANSWER}
    },
    f"POST {API}/underlay": {
        "placed": lambda _, s: {
            "method": "POST", "url": f"{API}/underlay",
            "json": {**PLACED, "file": picture(s, "scan.png")},
        }
    },
    f"POST {API}/works": {
        "drawn": lambda *_: {"method": "POST", "url": f"{API}/works", "json": PIPE}
    },
    f"PUT {API}/works/{{work:path}}": {
        "changed": lambda d, _: {
            "method": "PUT", "url": f"{API}/works/{(w := work(d))['key']}",
            "json": {"version": w["version"], "properties": {**w["properties"], "depth": "4"}},
        }
    },
    f"DELETE {API}/works/{{work:path}}": {
        "taken out": lambda d, _: {
            "method": "DELETE", "url": f"{API}/works/{(w := work(d))['key']}",
            "json": {"version": w["version"]},
        }
    },
    f"PUT {API}/trees/{{tree}}/place": {
        "placed": lambda _, s: {
            "method": "PUT", "url": f"{API}/trees/T4/place",
            "json": {"at": [50, 60], "version": s.load(1).tree("T4").version},  # type: ignore[union-attr]
        }
    },
    f"POST {API}/copies": {"with a work moved": moving},
    f"POST {API}/copies/{{copy}}/adopt": {
        "adopted": lambda d, _: {
            "method": "POST", "url": f"{API}/copies/{copied(d)}/adopt", "json": {}
        }
    },
    f"DELETE {API}/copies/{{copy}}": {
        "dropped": lambda d, _: {
            "method": "DELETE", "url": f"{API}/copies/{copied(d)}", "json": {}
        }
    },
    f"POST {API}/undo": {"undone": taking_back(f"{API}/undo", before=0)},
    f"POST {API}/redo": {"done again": taking_back(f"{API}/redo", before=2)},
}  # fmt: skip
"""Method and path of a route, with 1 for the survey -> what is sent to it."""

NO_CHANGE_OF_A_SURVEY = {
    "the reader's own": (
        "POST /type", "POST /sign-in", "POST /account/password", "POST /account/sign-out",
        "POST /account/sign-out-everywhere",
    ),
    "an account: its name is taken the second time, and setting the same again is the same": (
        "POST /accounts", "POST /accounts/{account:int}/role",
        "POST /accounts/{account:int}/password", "POST /accounts/{account:int}/disable",
        "POST /accounts/{account:int}/enable", "POST /accounts/{account:int}/sign-out",
    ),
    "a link nobody was told of opens for nobody": (f"POST {S}/links",),
    "over the first time": (
        f"POST {S}/links/{{link:int}}/withdraw", f"POST {S}/issues/{{issue:int}}/withdraw",
        f"POST {S}/tasks/{{task}}/cancel", f"POST {S}/files/stop",
        f"POST {S}/speech/{{task}}/stop",
        f"DELETE {API}/arrivals/{{arrival}}",
    ),
    "files are known by their content": (
        f"POST {S}/files", f"POST {API}/arrivals", f"PUT {API}/arrivals/{{arrival}}",
        f"POST {S}/stills", f"POST {S}/papers/make",
    ),
    "nothing is kept": (f"POST {API}/settle", f"POST {API}/drag"),
    "asked for, see the tests of issues and of recordings": (
        f"POST {S}/issues", f"POST {S}/speech",
    ),
}  # fmt: skip
"""Why a route needs no id -> the routes."""


def test_every_route_that_changes_something_is_sent_twice_or_excused() -> None:
    routed = {
        f"{m} {route.path.replace('{survey:int}', '1')}"
        for route in ROUTES
        for m in (route.methods or set()) - {"GET", "HEAD"}
    }
    excused = [r for routes in NO_CHANGE_OF_A_SURVEY.values() for r in routes]
    assert len(excused) == len(set(excused))
    assert set(CASES) | set(excused) == routed
    assert not set(CASES) & set(excused)


@contextmanager
def started(store: Store, data: Path, who: str = "Tobin") -> Iterator[TestClient]:
    app = create_app(store, data, who=who)
    with TestClient(app, base_url="http://localhost", follow_redirects=False) as client:
        yield client


def kept(store: Store) -> tuple[int, int]:
    """How many changes and surveys there are."""
    with reading(store.engine) as c:
        counts = [
            c.execute(select(func.count()).select_from(t)).scalar_one() for t in (groups, surveys)
        ]
    return counts[0], counts[1]


def answer_of(answer: Any) -> tuple[Any, ...]:
    told = answer.json() if "json" in answer.headers.get("content-type", "") else {}
    named = {k: told.get(k) for k in ("changed", "plan", "done", "say", "revision", "underlays")}
    return answer.status_code, answer.headers.get("location"), named


@pytest.mark.parametrize(
    ("route", "what"), [(route, what) for route, cases in CASES.items() for what in cases]
)
def test_sent_twice_it_is_done_once(store: Store, data: Path, route: str, what: str) -> None:
    with started(store, data) as desk:
        sending = CASES[route][what](desk, store)
        if "json" in sending:
            sending["headers"] = {"x-send": SEND}
        else:
            sending["data"] = {**sending.get("data", {}), "send": SEND}
        before = kept(store)
        first = desk.request(**sending)
        assert first.status_code < 400, first.text
        after = kept(store)
        assert after != before
    with started(store, data) as desk:
        again = desk.request(**sending)
        assert answer_of(again) == answer_of(first)
        assert kept(store) == after


def test_an_id_is_one_persons_for_one_survey(store: Store, data: Path) -> None:
    other = store.import_folder(survey_folder(), who="Tobin", when=WHEN).survey_id
    for who in ("Tobin", "Mirela"):
        with started(store, data, who=who) as desk:
            for survey in (1, other):
                for _ in range(2):
                    told = {"tree": f"N-{who}", "species": "", "send": SEND}
                    added = desk.post(f"/surveys/{survey}/trees/rows", data=told)
                    assert added.status_code == 303
    for survey in (1, other):
        names = [i.body["cells"]["tree"] for i in store.load(survey).of("tree") if i.body]
        assert [n for n in names if n.startswith("N-")] == ["N-Tobin", "N-Mirela"]


def test_what_a_drawn_work_leaves_is_one_step(store: Store, desk: TestClient) -> None:
    before = kept(store)[0]
    made = desk.request(**moving(desk, store))
    assert made.status_code == 201
    assert kept(store)[0] == before + 1
    (feature,) = [i for i in store.load(1).works("variant-1") if "replaces" in str(i.body)]
    assert feature.body is not None
    desk.post(f"{API}/undo", json={})
    assert store.load(1).of("variant") == ()
    refused = desk.post(f"{API}/copies", json={"name": "None", "moved": {"W999": None}})
    assert refused.status_code == 422
    assert store.load(1).of("variant") == ()


def test_an_issue_asked_for_twice_is_sealed_once(store: Store, data: Path) -> None:
    sending = {"data": {"title": "For the permit"}, "headers": {"x-send": SEND}}
    for _ in range(2):
        with started(store, data) as desk:
            assert desk.post(f"{S}/issues", **sending).status_code == 303
            # Stopped, so that the second would be begun anew were it not known.
            for task in desk.app.state.desk.tasks.of(1):  # type: ignore[attr-defined]
                desk.app.state.desk.tasks.cancel(task.id)  # type: ignore[attr-defined]
    with started(store, data) as desk:
        tasks = desk.app.state.desk.tasks  # type: ignore[attr-defined]
        assert [(t.title, t.state) for t in tasks.of(1)] == [("For the permit", "cancelled")]
        sending["headers"] = {"x-send": f"{SEND}-other"}
        desk.post(f"{S}/issues", **sending)
        assert len(tasks.of(1)) == 2
        for task in tasks.of(1):
            tasks.cancel(task.id)


@pytest.mark.parametrize("send", ["a b", "x" * 65, "ä", "../a"])
def test_what_is_no_id_is_refused(store: Store, desk: TestClient, send: str) -> None:
    before = kept(store)
    told = {"tree": "T90", "species": "", "send": send}
    answer = desk.post(f"{S}/trees/rows", data=told)
    assert answer.status_code == 400
    assert "letters, digits and hyphens" in answer.text
    assert kept(store) == before
