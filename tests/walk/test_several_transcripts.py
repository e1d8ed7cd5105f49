"""A walk in several transcripts: one time line, the same for the draft and for the papers."""

from pathlib import Path

import pytest

from bolewalk.intake.folder import read_folder
from bolewalk.walk.cues import read_walk

HEAD = """\
[survey]
name = "Larkfold"
date = 2026-04-02
units = "metric"
purpose = "opinion"
[files]
walk = ["first.vtt", "second.vtt"]
"""
NOTE = "NOTE\nrecording {name} from {start} s, {length} s long\n\n"
CUE = "00:00:01.000 --> 00:00:04.000\n{said}\n"


@pytest.mark.parametrize(
    ("length", "second_starts"),
    [("90.000", 91.0), ("2.000", 5.0), (None, 5.0)],  # by hand: 1 s after the recording, or cue
    ids=["silence at the end", "too short a note", "no note"],
)
def test_draft_and_papers_agree(tmp_path: Path, length: str | None, second_starts: float) -> None:
    note = NOTE.format(name="first.mp4", start="0.000", length=length) if length else ""
    first, second = tmp_path / "first.vtt", tmp_path / "second.vtt"
    first.write_text("WEBVTT\n\n" + note + CUE.format(said="An oak."), encoding="utf-8")
    second.write_text("WEBVTT\n\n" + CUE.format(said="An elm."), encoding="utf-8")
    (tmp_path / "survey.toml").write_text(HEAD, encoding="utf-8")
    drafted, problems = read_walk([(first, "first.vtt"), (second, "second.vtt")])
    job = read_folder(tmp_path)
    assert problems == ()
    assert [c.start_s for c in drafted] == [1.0, second_starts]
    assert job.cues == drafted
    assert [p.start_s for p in job.parts] == [0.0, second_starts - 1.0]
