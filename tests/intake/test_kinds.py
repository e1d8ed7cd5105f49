"""What a file is, told by its content, against files written by general libraries."""

import io
import struct
import wave

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bolewalk.demo import survey_folder
from bolewalk.intake.kinds import tell_kind
from tests.drawing.plans import new_plan


def picture(kind, *, camera=False):
    out = io.BytesIO()
    exif = Image.Exif()
    if camera:
        exif[0x010F] = "Any maker"
    Image.new("RGB", (40, 30)).save(out, kind, **({"exif": exif} if camera else {}))
    return out.getvalue()


def sound():
    out = io.BytesIO()
    with wave.open(out, "wb") as w:
        w.setnchannels(1)
        w.setsampwidth(2)
        w.setframerate(8000)
        w.writeframes(b"\x00\x01" * 100)
    return out.getvalue()


def film(container, video):
    """A second of film by the general media library."""
    import av

    out = io.BytesIO()
    with av.open(out, "w", format=container) as made:
        stream = made.add_stream(video, rate=5)
        stream.width = stream.height = 64
        stream.pix_fmt = "yuv420p"
        for _ in range(5):
            for packet in stream.encode(av.VideoFrame(64, 64, "yuv420p")):
                made.mux(packet)
        for packet in stream.encode():
            made.mux(packet)
    return out.getvalue()


def drawing(tmp_path):
    doc = new_plan("S-PILE")
    doc.saveas(tmp_path / "made.dxf")
    return (tmp_path / "made.dxf").read_bytes()


WALK = "WEBVTT\n\n00:01.000 --> 00:02.000\nthe oak\n"
SRT = "1\n00:00:01,000 --> 00:00:02,000\nthe oak\n"
FEATURES = '{"type": "FeatureCollection", "features": []}'


@pytest.mark.parametrize(
    ("make", "name", "kind", "ending"),
    [
        (lambda _: picture("PNG"), "scan.png", "underlay", ".png"),
        (lambda _: picture("JPEG"), "scan", "photo", ".jpg"),
        (lambda _: picture("JPEG", camera=True), "IMG.JPEG", "photo", ".jpeg"),
        (lambda _: picture("WEBP"), "x.png", "underlay", ".webp"),
        (drawing, "plan.txt", "drawing", ".dxf"),
        (lambda p: b"999\na long note\n" * 300 + drawing(p), "plan.dxf", "drawing", ".dxf"),
        (lambda _: sound(), "walk.wav", "recording", ".wav"),
        (lambda _: film("mp4", "mpeg4"), "walk.m4v", "recording", ".m4v"),
        (lambda _: film("mp4", "mpeg4"), "walk.bin", "recording", ".mp4"),
        (lambda _: film("mov", "mpeg4"), "walk.vtt", "recording", ".mov"),
        (lambda _: film("matroska", "mpeg4"), "walk", "recording", ".webm"),
        (lambda _: WALK.encode(), "walk.txt", "transcript", ".vtt"),
        (lambda _: SRT.encode("utf-16"), "walk.csv", "transcript", ".srt"),
        (lambda _: b"[0:05] the oak by the gate\n", "a.md", "transcript", ".txt"),
        (lambda _: FEATURES.encode(), "works.json", "works", ".geojson"),
        (lambda _: b"tree,x,y\nT1,1,2\n", "anything.txt", "trees", ".csv"),
        (lambda _: b"Species;Height;Crown\noak;3;2\n", "list.csv", "trees", ".csv"),
        (lambda _: b"[rates]\na = 1\n", "rates.toml", "table", ".toml"),
    ],
)
def test_told_by_content(tmp_path, make, name, kind, ending):
    path = tmp_path / "bytes"
    path.write_bytes(make(tmp_path))
    told = tell_kind(path, name)
    assert (told.kind, told.ending) == (kind, ending)


def test_files_of_the_demonstration():
    kinds = {p.name: tell_kind(p, "file").kind for p in survey_folder().glob("[ctw]*.*")}
    assert kinds["court.dxf"] == "drawing"
    assert kinds["trees.csv"] == "trees"
    assert kinds["works.geojson"] == "works"
    assert kinds["walk.vtt"] == "transcript"


@pytest.mark.parametrize(
    ("raw", "name", "says"),
    [
        (b"", "x", "empty"),
        (b"%PDF-1.7\n", "plan.dxf", "PNG or JPEG picture"),
        (b"AC1032\x00\x00", "plan.dxf", "save it as DXF"),
        (b"SQLite format 3\x00" + b"\x00" * 100, "w.gpkg", "export its layer as GeoJSON"),
        (b"PK\x03\x04....", "s.zip", "list of surveys"),
        (struct.pack(">I", 24) + b"ftypheic" + b"\x00" * 12, "p.heic", "save it as JPEG"),
        (struct.pack(">I", 24) + b"ftypavif" + b"\x00" * 12, "p.mp4", "save it as JPEG"),
        (b"\n0\nSECTION\n", "x.dxf", "transcript with times"),
        (b"<html></html>", "x.csv", "GeoJSON"),
        (b'{"type": "Topology"}', "x.json", "FeatureCollection"),
        (b"just a letter", "x.txt", "transcript with times"),
        (b'[survey]\nname="x"\n[files]\n', "survey.toml", "whole folder"),
    ],
)
def test_what_is_not_taken_says_what_to_do(tmp_path, raw, name, says):
    path = tmp_path / "bytes"
    path.write_bytes(raw)
    told = tell_kind(path, name)
    assert told.kind is None
    assert says in told.why


@pytest.mark.parametrize("raw", [b"999" + b"\n" * 900_000 + b"x", b"x" + b"\n" * 900_000])
def test_no_file_is_slow_to_tell(tmp_path, raw):
    # A pattern that can match one blank line in two places takes hours over these.
    path = tmp_path / "bytes"
    path.write_bytes(raw)
    assert "transcript with times" in tell_kind(path, "a.txt").why


@given(st.binary(max_size=300), st.sampled_from(["a.csv", "b.toml", "c.json", "d.mp3", "e"]))
def test_any_bytes_are_told(tmp_path_factory, raw, name):
    path = tmp_path_factory.getbasetemp() / "noise"
    path.write_bytes(raw)
    told = tell_kind(path, name)
    assert bool(told.kind) != bool(told.why)
