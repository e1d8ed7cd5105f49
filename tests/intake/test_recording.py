"""The recordings a player may play: named or beside their transcripts, inside the folder."""

from pathlib import Path

import pytest

from bolewalk.intake.folder import read_folder

HEAD = """\
[survey]
name = "Larkfold"
date = 2026-04-02
units = "metric"
purpose = "opinion"
[files]
walk = {walk}
"""
SAID = "WEBVTT\n\n00:00:01.000 --> 00:00:04.000\nAn oak.\n"


def recordings(folder: Path, walk: str, *files: str) -> list[str]:
    folder.mkdir(exist_ok=True)
    (folder / "survey.toml").write_text(HEAD.format(walk=walk), encoding="utf-8")
    for name in files:
        text = SAID if name.endswith(".vtt") else "x"
        (folder / name).write_text(text, encoding="utf-8")
    return [p.recording for p in read_folder(folder).parts]


@pytest.mark.parametrize(
    ("walk", "files", "found"),
    [
        ('["walk.mp4"]', ["walk.mp4", "walk.vtt"], ["walk.mp4"]),
        ('["walk.vtt"]', ["walk.vtt", "walk.m4a"], ["walk.m4a"]),
        ('"walk.vtt"', ["walk.vtt", "walk.webm"], ["walk.webm"]),
        ('["walk.vtt"]', ["walk.vtt"], [""]),
        ('["a.vtt", "b.vtt"]', ["a.vtt", "b.vtt", "a.mp3"], ["a.mp3", ""]),
        ('["walk.mp4"]', ["walk.mp4"], []),
        ('["walk.mp4"]', [], []),
        ("3", [], []),
        ("[3]", [], []),
    ],
)
def test_recording(tmp_path: Path, walk: str, files: list[str], found: list[str]) -> None:
    assert recordings(tmp_path / "survey", walk, *files) == found


def test_nothing_outside_the_folder_is_taken(tmp_path: Path) -> None:
    (tmp_path / "other.mp4").write_bytes(b"x")
    (tmp_path / "other.vtt").write_text(SAID, encoding="utf-8")
    assert recordings(tmp_path / "survey", '["../other.mp4"]') == []
    assert recordings(tmp_path / "survey", '["../other.vtt"]') == []


def test_a_note_names_no_recording_outside_the_folder(tmp_path: Path) -> None:
    (tmp_path / "other.mp4").write_bytes(b"x")
    folder = tmp_path / "survey"
    folder.mkdir()
    note = "NOTE\nrecording ../other.mp4 from 0.000 s, 9.000 s long\n\n"
    (folder / "walk.vtt").write_text(SAID.replace("\n\n", f"\n\n{note}", 1), encoding="utf-8")
    assert recordings(folder, '["walk.vtt"]') == [""]


def test_a_link_is_not_played(tmp_path: Path) -> None:
    (tmp_path / "other.mp4").write_bytes(b"x")
    folder = tmp_path / "survey"
    folder.mkdir()
    (folder / "walk.mp4").symlink_to(tmp_path / "other.mp4")
    assert recordings(folder, '["walk.vtt"]', "walk.vtt") == [""]
