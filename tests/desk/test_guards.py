"""Security headers, own host only, own pages only, loopback only, nothing inline.

Header values: OWASP Secure Headers Project and the Content Security Policy Level 3 draft, from
memory; what they must achieve is said beside each check.
"""

import re
from importlib import resources
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from bolewalk.desk.guards import POLICY, is_loopback
from bolewalk.desk.serve import DeskError, Reach, listen, serve

PAGES = (
    "/", "/surveys/1/walk", "/surveys/1/site", "/surveys/1/trees", "/surveys/1/trees/T2",
    "/surveys/1/papers", "/nowhere", "/surveys/99/site",
)  # fmt: skip


@pytest.mark.parametrize("address", [*PAGES, "/api/surveys", "/openapi.json"])
def test_every_answer_carries_the_headers(reading_desk: TestClient, address: str) -> None:
    headers = reading_desk.get(address).headers
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["x-frame-options"] == "DENY"
    assert headers["referrer-policy"] == "same-origin"
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cache-control"] == "no-store"
    policy = headers["content-security-policy"]
    # Nothing is allowed but what is listed, and no list allows inline code or another host.
    assert policy.startswith("default-src 'none'")
    assert "unsafe" not in policy
    assert "http" not in policy
    assert "*" not in policy


def test_policy_lists_each_source_once() -> None:
    names = [part.split()[0] for part in POLICY.split("; ")]
    assert len(names) == len(set(names))


@pytest.mark.parametrize("host", ["desk.example", "localhost.example", "127.0.0.1.example", ""])
def test_another_host_name_is_refused(reading_desk: TestClient, host: str) -> None:
    # A page elsewhere whose name is made to point at this computer must not read the surveys.
    answer = reading_desk.get("/", headers={"host": host})
    assert answer.status_code == 403
    assert "Teasel" not in answer.text


@pytest.mark.parametrize("host", ["localhost", "localhost:8712", "127.0.0.1:9", "[::1]:8712"])
def test_loopback_names_are_answered(reading_desk: TestClient, host: str) -> None:
    assert reading_desk.get("/", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "https://elsewhere.example"},
        {"origin": "null"},
        {"origin": "http://["},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site"},
        {"origin": "http://localhost:9999"},
    ],
)
def test_changes_from_other_pages_are_refused(desk: TestClient, headers: dict[str, str]) -> None:
    answer = desk.post("/surveys/1/trees/rows", data={"tree": "T99"}, headers=headers)
    assert answer.status_code == 403
    assert "T99" not in desk.get("/surveys/1/trees").text


def test_changes_from_own_pages_are_taken(desk: TestClient) -> None:
    headers = {"origin": "http://localhost", "sec-fetch-site": "same-origin"}
    answer = desk.post("/surveys/1/trees/rows", data={"tree": "T99"}, headers=headers)
    assert answer.status_code == 303
    assert "T99" in desk.get("/surveys/1/trees").text


@pytest.mark.parametrize("host", ["0.0.0.0", "192.168.1.5", "::", "example.org", "127.0.0.2"])
def test_other_addresses_refuse_to_start(host: str, tmp_path: Path) -> None:
    assert not is_loopback(host)
    with pytest.raises(DeskError, match="no accounts yet") as refused:
        serve(tmp_path / "data", reach=Reach(host=host, port=0))
    # It says how to make one.
    asked = f"bolewalk account add NAME --role owner --data {tmp_path / 'data'}"
    assert asked in str(refused.value)


def test_loopback_starts_and_a_taken_port_is_told() -> None:
    first = listen("127.0.0.1", 0)
    port = first.getsockname()[1]
    first.listen()
    try:
        with pytest.raises(DeskError, match=f"port {port}.*--port"):
            listen("127.0.0.1", port)
    finally:
        first.close()


def sources(*endings: str) -> list[tuple[str, str]]:
    room = resources.files("bolewalk.desk")
    found = []
    for folder in (room / "templates", room / "static", room / "static" / "plan"):
        for entry in folder.iterdir():
            if entry.is_file() and entry.name.endswith(endings):
                found.append((entry.name, entry.read_text(encoding="utf-8")))
    assert found
    return found


@pytest.mark.parametrize(("name", "text"), sources(".html"), ids=lambda v: v[:24])
def test_no_template_holds_inline_code_or_style(name: str, text: str) -> None:
    assert not re.search(r"<script(?![^>]*\bsrc=)", text), name
    assert not re.search(r"<style|\sstyle=|\son[a-z]+=|javascript:", text), name
    assert "|safe" not in text, name


@pytest.mark.parametrize(("name", "text"), sources(".js", ".css", ".html"), ids=lambda v: v[:24])
def test_nothing_of_ours_reaches_elsewhere(name: str, text: str) -> None:
    found = re.findall(r"(?:https?:)?//[a-z0-9-]+\.[a-z]{2,}", text)
    assert not found, (name, found)


@pytest.mark.parametrize(("name", "text"), sources(".js"), ids=lambda v: v[:24])
def test_scripts_never_write_markup(name: str, text: str) -> None:
    assert not re.search(
        r"innerHTML|outerHTML\s*=|insertAdjacentHTML|document\.write|eval\(", text
    ), name


def test_back_of_type_stays_on_the_desk(desk: TestClient) -> None:
    for back in ("https://elsewhere.example", "//elsewhere.example", "/\\elsewhere.example"):
        answer = desk.post("/type", data={"back": back, "type": "large"})
        assert answer.headers["location"] == "/"
    answer = desk.post("/type", data={"back": "/surveys/1/site?plan=a", "type": "large"})
    assert answer.headers["location"] == "/surveys/1/site?plan=a"
    assert '<html lang="en" class="large">' in desk.get("/").text
