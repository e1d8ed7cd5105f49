"""Who may have a recording taken down: whoever works on the survey, not who only looks."""

import io

import pytest

from bolewalk.desk.tasks import Tasks
from bolewalk.store.items import Edit
from bolewalk.walk.recogniser import MODEL_VARIABLE
from tests.walk.sound import tiny_model

from .conftest import FIRM, PEOPLE, WHEN, Office


@pytest.mark.parametrize(("who", "role"), [(n, r) for n, r, firm in PEOPLE if firm == FIRM])
def test_by_role(office: Office, monkeypatch: pytest.MonkeyPatch, who: str, role: str) -> None:
    monkeypatch.setenv(MODEL_VARIABLE, str(tiny_model()))
    monkeypatch.setattr(Tasks, "_start", lambda *_: None)
    kept = office.store.put_media(io.BytesIO(b"RIFF\0\0\0\0WAVEfmt "), when=WHEN)
    file = Edit("file", "walk.wav", {"sha256": kept.sha256, "size": kept.size})
    office.store.change(1, [file], who="Tobin", when=WHEN)
    tasks: Tasks = office.app.state.desk.tasks
    browser = office.enter(who)
    asked = browser.post("/surveys/1/speech", data={"name": "walk.wav"})
    if role == "read-only":
        assert asked.status_code == 403
        assert tasks.of(1, ("speech",)) == ()
        task = tasks.ask("speech", 1, "", 0, who="Tobin", when=WHEN, title="walk.wav")
        assert browser.post(f"/surveys/1/speech/{task.id}/stop").status_code == 403
        # Whoever looks sees how far it is.
        assert browser.get(f"/surveys/1/tasks/{task.id}").status_code == 200
        assert [t.state for t in tasks.of(1, ("speech",))] == ["waiting"]
        return
    assert asked.status_code == 303
    [task] = tasks.of(1, ("speech",))
    assert (task.who, task.title) == (who, "walk.wav")
    assert browser.post(f"/surveys/1/speech/{task.id}/stop").status_code == 303
    assert [t.state for t in tasks.of(1, ("speech",))] == ["cancelled"]
