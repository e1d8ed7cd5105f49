"""Transcripts in their three forms, sound and damaged. Expected values by hand."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from bolewalk.walk.cues import parse_cues, read_cues, read_walk

VTT = """WEBVTT

NOTE a comment
over two lines

1
00:00:01.500 --> 00:00:04.000 align:start
<v Ana>The <i>red</i> oak &amp; the ash</v>

00:01.000 --> 00:02.000
early
"""


def test_webvtt():
    cues, problems = parse_cues(VTT, file="w.vtt")
    assert [(c.start_s, c.end_s, c.text, c.speaker) for c in cues] == [
        (1.0, 2.0, "early", ""),
        (1.5, 4.0, "The red oak & the ash", "Ana"),
    ]
    assert [p.level for p in problems] == ["notice"]
    assert "order" in problems[0].value


def test_subrip_with_and_without_empty_lines():
    text = (
        "1\r\n00:00:00,000 --> 00:00:02,000\r\nfirst\r\n2\r\n00:00:02,000 --> 00:00:03,250\r\n"
        "second\r\nline\r\n"
    )
    cues, problems = parse_cues(text)
    assert [(c.start_s, c.end_s, c.text) for c in cues] == [
        (0.0, 2.0, "first"),
        (2.0, 3.25, "second line"),
    ]
    assert problems == ()


def test_bracketed_lines():
    cues, problems = parse_cues("[0:05] an oak\nstill the oak\n[1:02:03] an ash\n")
    assert [(c.start_s, c.text) for c in cues] == [
        (5.0, "an oak still the oak"),
        (3723.0, "an ash"),
    ]
    assert [p.level for p in problems] == ["notice"]  # a gap of an hour
    assert "gap" in problems[0].expected


@pytest.mark.parametrize(
    ("line", "speaker", "text"),
    [
        ("<v Mick>Yep</v>", "Mick", "Yep"),
        ("Client: can we keep it", "Client", "can we keep it"),
        ("[SPEAKER_01]: an elm", "SPEAKER_01", "an elm"),
        ("Height: twelve metres", "", "Height: twelve metres"),
        ("Okay: go", "", "Okay: go"),
        ("[music] the oak", "", "the oak"),
        ("&lt;b&gt;oak&lt;/b&gt;", "", "oak"),
        ("\u202bthe\u200f oak\u202c", "", "the oak"),
    ],
)
def test_speakers_and_marks(line, speaker, text):
    cues, _ = parse_cues(f"00:00.000 --> 00:01.000\n{line}\n")
    assert (cues[0].speaker, cues[0].text) == (speaker, text)


def test_two_speakers_in_one_block():
    cues, _ = parse_cues("00:00.000 --> 00:01.000\nAna: an oak\nBen: an ash\n")
    assert [(c.speaker, c.text) for c in cues] == [("Ana", "an oak"), ("Ben", "an ash")]


def test_end_before_start():
    cues, problems = parse_cues("00:00:09.000 --> 00:00:04.000\noak\n", file="w.srt")
    assert (cues[0].start_s, cues[0].end_s) == (9.0, 9.0)
    assert (problems[0].level, problems[0].row, problems[0].field) == ("notice", 1, "end")


def test_broken_time_is_told_and_the_rest_counts():
    text = "00:00:0x --> 00:00:04.000\noak\n\n00:00:05.000 --> 00:00:06.000\nash\n"
    cues, problems = parse_cues(text, file="w.vtt")
    assert [c.text for c in cues] == ["ash"]
    assert (problems[0].level, problems[0].row, problems[0].field) == ("fault", 1, "time")


@pytest.mark.parametrize("text", ["", "\n\n", "WEBVTT\n\n", "\ufeffWEBVTT\n", "[0:00] [music]\n"])
def test_silence_is_told_and_no_fault(text):
    cues, problems = parse_cues(text, file="w.txt")
    assert cues == ()
    assert [(p.level, p.value, p.file) for p in problems] == [("notice", "no words", "w.txt")]


def test_text_without_times_is_a_fault():
    cues, problems = parse_cues("just some words\nand more\n", file="notes.txt")
    assert cues == ()
    assert [(p.level, p.file, p.row) for p in problems] == [("fault", "notes.txt", 1)]


@pytest.mark.parametrize("body", ["oak " * 1_300_000, "<" * 5_000_000, "a" * 5_000_000])
def test_five_megabytes_in_one_line(body):
    cues, problems = parse_cues("[0:00] " + body, file="long.txt")
    assert sum(len(c.text) for c in cues) <= 100_000
    assert cues == ()
    # Too long a cue is told as that; nothing but an opening bracket is no word.
    assert [p.level for p in problems] == ["fault" if body[0].isalpha() else "notice"]


@pytest.mark.parametrize(
    ("text", "start"),
    [("[100:00] oak", 6000.0), ("[1:40:00] oak", 6000.0), ("(240:30) oak", 14430)],
)
def test_minutes_beyond_99(text, start):
    cues, problems = parse_cues(text)
    assert [(c.start_s, c.text) for c in cues] == [(start, "oak")]
    assert all(p.level == "notice" for p in problems)  # only that nothing is said before


def test_binary_data_under_the_name_of_a_transcript(tmp_path):
    # The head of an MP4 file: length and kind of its first box (ISO/IEC 14496-12).
    for name, data in (("a.vtt", b"\x00\x00\x00\x20ftypisom"), ("b.txt", b"oak" + bytes(500))):
        (tmp_path / name).write_bytes(data)
        cues, problems = read_cues(tmp_path / name, file=name)
        assert cues == ()
        assert [(p.level, p.value) for p in problems] == [("fault", "binary data")]


def test_the_length_of_the_recording_places_the_next(tmp_path):
    note = "NOTE\nrecording a.m4a from 0.000 s, 90.500 s long\n"
    one, two = tmp_path / "a.vtt", tmp_path / "b.vtt"
    one.write_text(f"WEBVTT\n\n{note}\n00:01.000 --> 00:03.000\nan oak\n", encoding="utf-8")
    two.write_text("WEBVTT\n\n00:02.000 --> 00:04.000\nan ash\n", encoding="utf-8")
    cues, _ = read_walk([(one, "a.vtt"), (two, "b.vtt")])
    assert [c.start_s for c in cues] == [1.0, 92.5]


def test_encodings(tmp_path):
    latin = tmp_path / "latin.txt"
    latin.write_bytes("[0:01] a crêpe myrtle".encode("cp1252"))
    cues, problems = read_cues(latin, file="latin.txt")
    assert cues[0].text == "a crêpe myrtle"
    assert (problems[0].level, problems[0].value) == ("notice", "not UTF-8")
    wide = tmp_path / "wide.txt"
    wide.write_text("[0:01] an oak", encoding="utf-16")
    assert read_cues(wide, file="wide.txt")[0][0].text == "an oak"
    blob = tmp_path / "blob.txt"
    blob.write_bytes(b"\x00\x01\xff\xfe" * 50)
    cues, problems = read_cues(blob, file="blob.txt")
    assert cues == ()
    assert problems[0].level == "fault"
    cues, problems = read_cues(tmp_path / "none.txt", file="none.txt")
    assert (cues, problems[0].level) == ((), "fault")


def test_files_follow_each_other(tmp_path):
    for name, text in (("a.txt", "[0:00] oak\n[0:10] ash"), ("b.txt", "[0:02] elm")):
        (tmp_path / name).write_text(text, encoding="utf-8")
    cues, _ = read_walk([(tmp_path / n, n) for n in ("a.txt", "b.txt")])
    # The last line of the first file is given five seconds: 10 + 5, and two more.
    assert [(c.start_s, c.text) for c in cues] == [(0.0, "oak"), (10.0, "ash"), (17.0, "elm")]


@given(st.text(max_size=300))
def test_any_text_is_read(text):
    for body in (text, "[0:01] " + text, "00:00.000 --> 00:01.000\n" + text):
        cues, _ = parse_cues(body)
        assert list(cues) == sorted(cues, key=lambda c: c.start_s)
        assert all(0 <= c.start_s <= c.end_s and c.text.strip() for c in cues)
