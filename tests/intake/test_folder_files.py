"""Files of the folder: inside it or not opened, missing or told, transcripts and photographs."""

import os

import pytest

from bolewalk.drawing.details import Place
from bolewalk.intake.folder import read_folder
from bolewalk.intake.paths import find_file
from tests.intake.surveys import HEAD, TREES, read, write_survey


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("../secret.toml", "inside the survey folder"),
        ("a/../../secret.toml", "inside the survey folder"),
        ("/etc/hostname", "inside the survey folder"),
        ("C:/secret.toml", "inside the survey folder"),
        ("C:secret.toml", "inside the survey folder"),
        ("..\\secret.toml", "inside the survey folder"),
        ("\\\\host\\share", "inside the survey folder"),
        ("photos\\a.jpg", "forward slashes"),
        ("link.toml", "not a link out"),
        ("links/secret.toml", "not a link out"),
        ("loop", "that is there"),
        ("gone.toml", "that is there"),
        ("inner", "that is there"),
        ("pipe", "that is there"),
        ("a\x00b", "the name of a file"),
        ("", "the name of a file"),
        ("x" * 5000, "that is there"),
    ],
)
def test_what_is_not_opened(tmp_path, name, words):
    root = tmp_path / "survey"
    (root / "inner").mkdir(parents=True)
    (tmp_path / "secret.toml").write_text("a = 1")
    (root / "link.toml").symlink_to(tmp_path / "secret.toml")
    (root / "links").symlink_to(tmp_path)
    (root / "loop").symlink_to(root / "loop")
    os.mkfifo(root / "pipe")
    place = Place("survey.toml", None)
    assert find_file(root.resolve(), name, place, "files.rates") is None
    (p,) = place.problems
    assert (p.field, p.level) == ("files.rates", "fault")
    assert words in p.expected


def test_links_within_the_folder_are_followed(tmp_path):
    (tmp_path / "a.csv").write_text("x")
    (tmp_path / "b.csv").symlink_to(tmp_path / "a.csv")
    place = Place("survey.toml", None)
    assert find_file(tmp_path.resolve(), "b.csv", place, "f") == tmp_path.resolve() / "b.csv"
    assert place.problems == []


def with_files(line):
    return HEAD.replace('trees = "trees.csv"', f'trees = "trees.csv"\n{line}')


def test_transcripts_run_on_one_time_line(tmp_path):
    write_survey(tmp_path, head=with_files('walk = ["a.vtt", "b.txt"]'))
    (tmp_path / "a.vtt").write_text("WEBVTT\n\n00:01.000 --> 00:04.000\nFirst the oak.\n")
    (tmp_path / "b.txt").write_text("[0:02] Then the pine.\n")
    job = read_folder(tmp_path)
    assert job.problems == ()
    assert [c.text for c in job.cues] == ["First the oak.", "Then the pine."]
    assert [c.start_s for c in job.cues] == [1.0, 6.0]


def test_a_recording_asks_for_its_transcript_and_uses_one_beside_it(tmp_path):
    write_survey(tmp_path, head=with_files('walk = ["walk.mp4", "end.wav"]'))
    (tmp_path / "walk.mp4").write_bytes(b"\x00" * 50)
    (tmp_path / "end.wav").write_bytes(b"RIFF")
    (tmp_path / "end.srt").write_text("1\n00:00:01,000 --> 00:00:02,000\nThe oak.\n")
    job = read_folder(tmp_path)
    assert [(p.file, p.level) for p in job.problems] == [
        ("walk.mp4", "notice"), ("end.wav", "notice"),
    ]  # fmt: skip
    assert "transcribe" in job.problems[0].expected
    assert [c.text for c in job.cues] == ["The oak."]


def test_photographs(tmp_path):
    trees = TREES.replace("decision,notes", "decision,photo").replace("by the gate", "oak.jpg")
    trees = trees.replace("prune,\n", "prune,gone.jpg\n").replace(",,\n", ",,photos/b/pine.PNG\n")
    write_survey(tmp_path, head=with_files('photos = "photos"'), trees=trees)
    (tmp_path / "photos" / "b").mkdir(parents=True)
    for name in ("photos/oak.jpg", "photos/b/pine.PNG", "photos/notes.txt"):
        (tmp_path / name).write_bytes(b"x")
    job = read_folder(tmp_path)
    assert job.photos == ("photos/b/pine.PNG", "photos/oak.jpg")
    assert [t.photo for t in job.survey.trees] == ["photos/oak.jpg", "", "photos/b/pine.PNG"]
    assert [(p.row, p.field, p.value) for p in job.problems] == [(3, "photo", "gone.jpg")]


def test_tables_of_other_rooms_are_handed_on(tmp_path):
    lines = 'rules = ["r.toml"]\nplanting = "p.toml"\nphases = "broken.toml"\nrates = "rates.toml"'
    write_survey(tmp_path, head=with_files(lines))
    (tmp_path / "r.toml").write_text("a = 1\n")
    (tmp_path / "p.toml").write_text("b = 2\n")
    (tmp_path / "broken.toml").write_text("b = \n")
    (tmp_path / "rates.toml").write_text('nonsense = "x"\n')
    job = read_folder(tmp_path)
    assert [(t.file, t.left_out) for t in job.rules] == [("r.toml", {"table": ("r.toml",)})]
    assert {p.field for p in job.problems if p.file == "r.toml"} == {"a", "table"}
    assert job.planting is not None
    assert {p.field for p in job.problems if p.file == "p.toml"} == {"b"}
    assert job.phases is None
    assert job.rates_table is not None
    assert any(p.file == "rates.toml" for p in job.problems)
    assert any(p.file == "broken.toml" and "line 1" in str(p.value) for p in job.problems)


def test_a_survey_without_tree_table(tmp_path):
    job = read(tmp_path, head=HEAD.replace('trees = "trees.csv"\n', ""), trees=None)
    assert [(p.field, p.level) for p in job.problems] == [("files.trees", "fault")]
    assert len(job.survey.works) == 6


def test_works_with_one_id_both_stay(tmp_path):
    write_survey(tmp_path, head=HEAD.replace('["works.geojson"]', '["works.geojson", "w/b.json"]'))
    (tmp_path / "w").mkdir()
    (tmp_path / "w" / "b.json").write_text((tmp_path / "works.geojson").read_text())
    job = read_folder(tmp_path)
    assert [w.id for w in job.survey.works][:4] == ["W1", "W2", "W1 (2)", "W2 (2)"]
    assert [(p.file, p.row, p.level) for p in job.problems] == [
        ("w/b.json", "W1", "notice"), ("w/b.json", "W2", "notice"),
    ]  # fmt: skip


def test_trees_on_one_spot_are_told(tmp_path):
    job = read(tmp_path, trees=TREES.replace("60,30", "20,30"))
    assert [(p.row, p.field, p.level) for p in job.problems] == [(3, "x, y", "notice")]
    assert "tree T1" in job.problems[0].expected


def test_a_drawing_away_from_all_trees_is_one_fault(tmp_path):
    # The trees' grid begins elsewhere: with the works 1,000 ft off, all would seem untouched.
    trees = TREES.replace("20,30", "1120,30").replace("60,30", "1160,30")
    trees = trees.replace("40,60", "1140,60")
    job = read(tmp_path, trees=trees)
    (p,) = job.problems
    assert (p.row, p.field, p.level) == (None, "x, y", "fault")
    # The nearest stands 1,120 - 108 ft from the slab's round end (bulge 0.2 x 80 / 2 = 8 ft out).
    assert "1,012 ft" in p.expected
    assert not any(t.located for t in job.survey.trees)


def test_works_alone_away_from_all_trees_are_one_notice(tmp_path):
    head = HEAD[: HEAD.index("[[drawing]]")]
    trees = TREES.replace("20,30", "1120,30").replace("60,30", "1160,30")
    job = read(tmp_path, head=head, trees=trees.replace("40,60", "1140,60"), plan=False)
    assert [(p.row, p.field, p.level) for p in job.problems] == [(None, "x, y", "notice")]
    assert all(t.located for t in job.survey.trees)


@pytest.mark.parametrize(
    ("name", "field"), [("plan.pdf", "drawing.file"), ("w.gpkg", "files.works")]
)
def test_kinds_of_file_that_are_not_read(tmp_path, name, field):
    head = HEAD.replace("plan.dxf" if name == "plan.pdf" else "works.geojson", name)
    write_survey(tmp_path, head=head)
    (tmp_path / name).write_bytes(b"x")
    (p,) = read_folder(tmp_path).problems
    assert (p.field, p.value, p.level) == (field, name, "fault")
