"""The recording a player may play: one, named or beside its transcript, inside the folder."""

from pathlib import Path

import pytest

from bolewalk.intake.recording import recording_of


def folder(tmp_path: Path, walk: str, *files: str) -> Path:
    inside = tmp_path / "survey"
    inside.mkdir()
    (inside / "survey.toml").write_text(f"[files]\nwalk = {walk}\n", encoding="utf-8")
    for name in files:
        (inside / name).write_bytes(b"x")
    return inside


@pytest.mark.parametrize(
    ("walk", "files", "found"),
    [
        ('["walk.mp4"]', ["walk.mp4", "walk.vtt"], "walk.mp4"),
        ('["walk.vtt"]', ["walk.vtt", "walk.m4a"], "walk.m4a"),
        ('"walk.vtt"', ["walk.vtt", "walk.webm"], "walk.webm"),
        ('["walk.vtt"]', ["walk.vtt"], None),
        ('["a.vtt", "b.vtt"]', ["a.vtt", "b.vtt", "a.mp3"], None),  # jumps would miss
        ('["walk.mp4"]', [], None),
        ("3", [], None),
        ("[3]", [], None),
    ],
)
def test_recording(tmp_path: Path, walk: str, files: list[str], found: str | None) -> None:
    inside = folder(tmp_path, walk, *files)
    assert recording_of(inside) == (None if found is None else (inside / found).resolve())


def test_nothing_outside_the_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "other.mp4").write_bytes(b"x")
    assert recording_of(folder(tmp_path, '["../other.mp4"]')) is None


def test_a_folder_without_a_survey_has_none(tmp_path: Path) -> None:
    assert recording_of(tmp_path) is None
