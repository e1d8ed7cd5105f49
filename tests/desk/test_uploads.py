"""What is sent to the desk: names, zips, what is inside, and readers that break, each told."""

import io
import os
import stat
import struct
import subprocess
import sys
import unicodedata
import zipfile
import zlib
from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest
from starlette.testclient import TestClient

from bolewalk.demo import survey_folder
from bolewalk.desk.apart import worker
from bolewalk.desk.apart.check import check_arrival, check_file, check_folder
from bolewalk.desk.apart.limits import limits
from bolewalk.desk.apart.names import FileNameError, proper_parts
from bolewalk.desk.apart.worker import read_apart
from bolewalk.desk.uploads import UploadError, lay_out
from bolewalk.intake.first_bytes import HEAD_BYTES, kind_of
from tests.desk import breaking

PICTURE = "a picture (PNG, JPEG, WebP, GIF, HEIC, TIFF)"
HEAD = b'[survey]\nname = "Thistle Yard"\ndate = 2026-05-12\nunits = "metric"\n'


def zipped(*entries: tuple[str | zipfile.ZipInfo, bytes]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for name, data in entries:
            z.writestr(name, data)
    return out.getvalue()


def sent(data: bytes, folder: Path) -> Path:
    return lay_out([("survey.zip", io.BytesIO(data))], folder)


@pytest.mark.parametrize(
    "name",
    [
        "../survey.toml", "a/../../b", "..\\b", "a\\..\\..\\b", "/etc/passwd", "\\\\host\\share\\a",
        "C:\\a", "C:a", "a:stream", "a\x00b", "a\nb", "\x1b[31m", "con", "CON.txt", "aux.csv",
        "a/NUL",
        "COM1.csv", "lpt¹", "", ".", "./.", "a/", "photo\u202egnp.exe", "a\u2066b",
        "a?b", "a*b", "a.",
        "a ", " a", "trail./b", "x" * 256, "ж" * 128, "\ud800", "/".join("a" * 13),
        "/".join(["y" * 120] * 9),
    ],
)  # fmt: skip
def test_names_that_lead_elsewhere_or_are_none(name: str, tmp_path: Path) -> None:
    if name == "a/":
        # A slash at the end is a folder's; as a file's name it is the name without it.
        assert proper_parts(name) == ("a",)
        return
    with pytest.raises(FileNameError) as told:
        proper_parts(name)
    assert str(told.value).isprintable()
    assert len(str(told.value)) < 300
    with pytest.raises(UploadError):
        lay_out([("survey.toml", io.BytesIO(HEAD)), (name, io.BytesIO(b"x"))], tmp_path)
    assert [p.name for p in tmp_path.rglob("*")] == ["survey.toml"]


@pytest.mark.parametrize(
    "name",
    [
        "été/plan.dxf", "дерево.jpg", "樹木.csv", "עץ.txt", "شجرة.vtt", "பெரிய மரம்.png",
        "🌳🏡.jpg", "👩🏽‍🌾.jpg", "-rf", "~", "$HOME", "a b.csv", "%2e%2e", "...x",
        "x" * 255, "ж" * 127,
        "😀" * 63, "console.txt", "a\\b.csv", "'; DROP TABLE surveys;--.jpg",
    ],
)  # fmt: skip
def test_names_of_any_script(name: str, tmp_path: Path) -> None:
    lay_out([("survey.toml", io.BytesIO(HEAD)), (name, io.BytesIO(b"here"))], tmp_path)
    assert tmp_path.joinpath(*name.replace("\\", "/").split("/")).read_bytes() == b"here"


def test_a_name_in_parts_is_the_name_composed(tmp_path: Path) -> None:
    # As one system packs it (e and an accent) and as a person types it in survey.toml.
    apart = unicodedata.normalize("NFD", "été.csv")
    assert apart != "été.csv"
    sent(zipped(("survey.toml", HEAD), (apart, b"tree\n")), tmp_path)
    assert sorted(p.name for p in tmp_path.iterdir()) == sorted(["survey.toml", "été.csv"])


@pytest.mark.parametrize("other", ["TREES.csv", "Trees.CSV", "./trees.csv", "x/../trees.csv"])
def test_two_names_that_are_one_are_refused(other: str, tmp_path: Path) -> None:
    with pytest.raises(UploadError):
        sent(zipped(("survey.toml", HEAD), ("trees.csv", b"a"), (other, b"b")), tmp_path)


def link(name: str, to: str) -> tuple[zipfile.ZipInfo, bytes]:
    entry = zipfile.ZipInfo(name)
    entry.create_system = 3
    entry.external_attr = (stat.S_IFLNK | 0o777) << 16
    return entry, to.encode()


def test_links_in_a_zip_are_refused(tmp_path: Path) -> None:
    data = zipped(("survey.toml", HEAD), link("photos", "/etc"), ("photos/passwd", b"x"))
    with pytest.raises(UploadError, match="'photos' is a link or a device"):
        sent(data, tmp_path)
    assert not list(tmp_path.iterdir())


def overlapping(times: int, size: int) -> bytes:
    """Many names for one packed piece, after Fifield, A better zip bomb (2019): the directory
    points to the same bytes again and again. Laid out by hand after APPNOTE.TXT 4.3."""
    body = zlib.compress(b"0" * size)[2:-4]
    crc = zlib.crc32(b"0" * size)
    sizes = struct.pack("<III", crc, len(body), size)
    local = b"PK\x03\x04" + struct.pack("<HHHHH", 20, 0, 8, 0, 0x5A21) + sizes
    local += struct.pack("<HH", 1, 0) + b"a" + body
    directory = b""
    for n in range(times):
        name = f"{n:05d}.csv".encode()
        directory += b"PK\x01\x02" + struct.pack("<HHHHHH", 20, 20, 0, 8, 0, 0x5A21) + sizes
        directory += struct.pack("<HHHHHII", len(name), 0, 0, 0, 0, 0, 0) + name
    end = struct.pack("<HHHHIIH", 0, 0, times, times, len(directory), len(local), 0)
    return local + directory + b"PK\x05\x06" + end


def test_entries_that_share_bytes_are_refused(tmp_path: Path) -> None:
    with pytest.raises(UploadError, match="share bytes of the zip"):
        sent(overlapping(4_000, 400_000), tmp_path)
    assert not list(tmp_path.iterdir())


def test_a_zip_packed_too_densely_is_stopped_while_it_is_unpacked(tmp_path: Path) -> None:
    data = zipped(("survey.toml", HEAD), ("trees.csv", b"0" * 60_000_000))
    assert len(data) < 100_000
    with pytest.raises(UploadError, match=r"'trees\.csv' unpacks to more than 100 times its size"):
        sent(data, tmp_path)
    assert (tmp_path / "trees.csv").stat().st_size < 20_000_000


def test_a_zip_that_lies_about_a_size_is_counted(tmp_path: Path) -> None:
    data = bytearray(zipped(("survey.toml", HEAD), ("trees.csv", b"0" * 30_000_000)))
    # Both places that name the size say 10 bytes.
    size = struct.pack("<I", 30_000_000)
    assert data.count(size) == 2
    with pytest.raises(UploadError, match=r"cannot be read: Bad CRC"):
        sent(bytes(data.replace(size, struct.pack("<I", 10))), tmp_path)


def test_a_zip_in_a_zip_is_not_opened(tmp_path: Path) -> None:
    inner = zipped(("a.csv", b"0" * 1000))
    folder = sent(zipped(("survey.toml", HEAD), ("more.zip", inner), ("b.jpg", inner)), tmp_path)
    told = check_folder(folder)
    assert [(p.file, p.value) for p in told] == [
        ("b.jpg", "packed files"),
        ("more.zip", "packed files"),
    ]


def test_a_locked_zip_is_told(tmp_path: Path) -> None:
    data = bytearray(zipped(("survey.toml", HEAD)))
    data[6] |= 1
    data[data.index(b"PK\x01\x02") + 8] |= 1
    with pytest.raises(UploadError, match="locked with a password"):
        sent(bytes(data), tmp_path)


@pytest.mark.parametrize(("wide", "high"), [(65_535, 65_535), (1, 30_001), (12_001, 10_000)])
def test_pictures_of_too_many_pixels(wide: int, high: int, tmp_path: Path) -> None:
    # A head by the PNG specification, section 11.2.2; JPEG by ITU-T T.81, B.2.2.
    png = (
        b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + struct.pack(">II", wide, high) + b"\x08\x02\0\0\0"
    )
    jpeg = b"\xff\xd8\xff\xc0\x00\x11\x08" + struct.pack(">HH", high, wide) + b"\x03" + b"\0" * 9
    for name, data in (("a.png", png), ("b.jpg", jpeg)):
        (tmp_path / name).write_bytes(data)
        (told,) = check_file(tmp_path / name, name)
        assert (told.file, told.value) == (name, f"{wide:,} by {high:,} pixels")


def test_a_photograph_is_taken(tmp_path: Path) -> None:
    # 12,000 by 10,000 is just as many pixels as are taken.
    head = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR" + struct.pack(">II", 12_000, 10_000)
    (tmp_path / "a.png").write_bytes(head + b"\x08\x02\0\0\0")
    assert check_file(tmp_path / "a.png", "a.png") == ()


@pytest.mark.parametrize(
    ("pages", "side", "value"),
    [
        (500, 100, None),
        (501, 100, "501 pages"),
        (2, 14_400, None),
        (2, 20_000, "278 inches on a side"),
    ],
)
def test_pages_of_a_pdf(pages: int, side: int, value: str | None, tmp_path: Path) -> None:
    pdf = pypdfium2.PdfDocument.new()
    for _ in range(pages):
        pdf.new_page(side, 100)
    pdf.save(tmp_path / "a.pdf")
    pdf.close()
    told = check_file(tmp_path / "a.pdf", "a.pdf")
    assert [p.value for p in told] == ([] if value is None else [value])


@pytest.mark.parametrize(
    ("name", "data", "value"),
    [
        ("a.jpg", b"<html><script>", "text inside"),
        ("a.csv", b"\x89PNG\r\n\x1a\n" + b"\0" * 30, f"{PICTURE} inside"),
        ("a.pdf", b"0\nSECTION\n2\nENTITIES\n", "a DXF drawing inside"),
        ("a.dxf", b"%PDF-1.7\n", "a PDF file inside"),
        ("a.mp4", b"MZ\x90\x00\x03\x00\x00\x00", "a program"),
        ("a.vtt", b"\x7fELF\x02\x01\x01\x00", "a program"),
        ("notes", b"#!/bin/sh\n", "a program"),
        ("walk.wav", b"WEBVTT\n", "text inside"),
        ("walk.mp4", b"\x00\x00\x00\x18ftypheic\x00\x00", f"{PICTURE} inside"),
        ("a.toml", b"\x1f\x8b\x08\x00", "packed files"),
        ("a.mp3", b"\xff\xfb\x90\x64" + b"\x13" * 40, "invalid data found when processing input"),
    ],
)  # fmt: skip
def test_the_content_tells_what_a_file_is(
    name: str, data: bytes, value: str, tmp_path: Path
) -> None:
    (tmp_path / "file").write_bytes(data)
    (told,) = check_file(tmp_path / "file", name)
    assert (told.file, told.value) == (name, value)


@pytest.mark.parametrize(
    "name", ["._trees.csv", "a.gpkg", "a.docx_", "a.xml", "a.svg", "a.kml", "README", "a.MD"]
)
def test_what_no_reader_opens_is_kept_as_it_is(name: str, tmp_path: Path) -> None:
    # Entities that unfold to a billion (Cohen, XML denial of service, 2003), and a file named.
    bomb = (
        b'<!DOCTYPE a [<!ENTITY b "&c;&c;"><!ENTITY e SYSTEM "file:///etc/passwd">]><a>&b;&e;</a>'
    )
    (tmp_path / "file").write_bytes(bomb)
    assert check_file(tmp_path / "file", name) == ()


def test_no_reader_of_ours_reads_xml() -> None:
    """So no entity of a file from outside is ever unfolded."""
    import bolewalk

    root = Path(bolewalk.__file__).parent
    sources = {p: p.read_text(encoding="utf-8") for p in root.rglob("*.py")}
    assert len(sources) > 300
    found = [
        p.name for p, text in sources.items()
        for word in ("xml.etree", "xml.sax", "xml.dom", "import lxml", "from lxml", "expat",
                     "load_workbook", "html.parser")
        if word in text
    ]  # fmt: skip
    assert found == []


@pytest.mark.parametrize(
    "name", ["trees.csv", "plan.dxf", "walk.vtt", "a.pdf", "a.png", "walk.mp4", "other.bin"]
)
def test_a_file_larger_than_its_kind_may_be(name: str, tmp_path: Path) -> None:
    heads = {
        "plan.dxf": b"0\nSECTION\n", "a.pdf": b"%PDF-1.4\n", "walk.mp4": b"\0\0\0\x18ftypisom",
        "a.png": b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" + struct.pack(">II", 9, 9), "other.bin": b"\0",
    }  # fmt: skip
    head = heads.get(name, b"text\n")
    # What is looked at to tell the kind is text; the rest is a hole in the file.
    text = name.endswith((".csv", ".dxf", ".vtt"))
    (tmp_path / "file").write_bytes(head.ljust(HEAD_BYTES, b" ") if text else head)
    kind = kind_of(head)
    limit = limits().bytes_of["data" if kind == "text" else kind]
    os.truncate(tmp_path / "file", limit + 1)
    (told,) = check_file(tmp_path / "file", name)
    assert told.value == f"{limit + 1:,} bytes"


# Readers in a process of their own.


def test_a_sound_survey_passes_whatever_it_lacks(tmp_path: Path) -> None:
    assert check_folder(survey_folder()) == ()
    (tmp_path / "survey.toml").write_bytes(HEAD + b'[files]\ntrees = "trees.csv"\n')
    (tmp_path / "trees.csv").write_text("tree,species,diameter\nT1,no such plant,-4\n")
    assert check_folder(tmp_path) == ()


def swollen(folder: Path) -> None:
    (folder / "survey.toml").write_bytes(HEAD + b'[files]\nworks = ["works.geojson"]\n')
    point = (
        '{"type":"Feature","properties":{"kind":"pile"},"geometry":{"type":"Point","coordinates":'
    )
    rows = ",".join(f"{point}[{n},{n % 7}]}}}}" for n in range(120_000))
    (folder / "works.geojson").write_text(f'{{"type":"FeatureCollection","features":[{rows}]}}')


@pytest.mark.parametrize(
    ("change", "value"),
    [
        ({"memory_bytes": 400_000_000}, "more memory than a reader has"),
        ({"cpu_s": 2}, "not read after 2 seconds"),
        ({"clock_s": 0.2}, "not read after 0.2 seconds"),
        ({"answer_bytes": 20}, "the reader broke off: exit -9"),
    ],
)
def test_a_reader_over_a_limit_is_ended_and_names_its_file(
    change: dict[str, float], value: str, tmp_path: Path
) -> None:
    swollen(tmp_path)
    within = replace(limits().process, **change)
    answer = read_apart("survey", tmp_path, "yard", within=within)
    assert not answer.ended
    (told,) = answer.problems
    assert (told.value, told.level) == (value, "fault")
    # Before the first file is opened the survey itself is all that can be named.
    early = "clock_s" in change or "answer_bytes" in change
    assert told.file == ("yard" if early else "works.geojson")


@pytest.mark.parametrize(
    ("name", "data"),
    [
        ("plan.dxf", b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n10\n0\n20\n0\n40\n1\n0\nENDSEC\n0\nEOF"),
        ("walk.doc", b"WEBVTT\n\n00:01.000 --> 00:02.000\nThe oak.\n"),
        ("deeper.json", b'{"a":' * 2_000_000),
        ("empty", b""),
    ],
)  # fmt: skip
def test_a_single_file_passes_where_its_reader_comes_to_an_end(
    name: str, data: bytes, tmp_path: Path
) -> None:
    # What is wrong inside is told once it is taken in, not here.
    (tmp_path / "file").write_bytes(data)
    assert check_arrival(tmp_path / "file", name) == ()


def test_a_single_file_that_swells_is_told(tmp_path: Path) -> None:
    # Twelve million empty lists: 36 MB of text, more than 700 MB of memory.
    (tmp_path / "file").write_bytes(b'{"a":[' + b"[]," * 12_000_000 + b"[]]}")
    within = replace(limits().process, memory_bytes=700_000_000)
    answer = read_apart("file", tmp_path / "file", "works.geojson", within=within)
    (told,) = answer.problems
    assert (told.file, told.value) == ("works.geojson", "more memory than a reader has")


@pytest.mark.parametrize(
    ("way", "says"),
    [
        ("segfault", "the reader broke off"),
        ("abort", "the reader broke off"),
        ("raise", "the reader broke off: LookupError: a bug"),
        ("half", "the reader broke off: exit 0"),
        ("lies", "the reader broke off: exit 0"),
    ],
)
def test_a_reader_that_breaks_is_told(
    way: str, says: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(worker, "_INSIDE", breaking.__name__)
    monkeypatch.setenv("PYTHONPATH", str(Path(__file__).parents[2]))
    answer = read_apart("pdf", tmp_path, way)
    assert not answer.ended
    (told,) = answer.problems
    assert told.file == "plan.dxf"
    assert str(told.value).startswith(says)


@pytest.mark.parametrize(
    "deed",
    [
        "__import__('pathlib').Path('made').write_text('x')",
        "__import__('socket').create_connection(('127.0.0.1', 9), 1)",
        "__import__('os').system('true')",
        "__import__('subprocess').run(['true'])",
        "__import__('os').remove('here')",
        "bytearray(3_000_000_000)",
    ],
)
def test_what_a_reader_cannot_do(deed: str, tmp_path: Path) -> None:
    (tmp_path / "here").write_text("x")
    program = (
        "import sys; from bolewalk.desk.apart import inside\n"
        f"inside._limit(2_000_000_000, 60); sys.addaudithook(inside._forbid)\n{deed}\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", program], cwd=tmp_path, capture_output=True, text=True, check=False
    )
    assert done.returncode == 1
    last = done.stderr.strip().splitlines()[-1]
    assert last.startswith(("PermissionError", "OSError: [Errno 27]", "MemoryError"))
    assert (tmp_path / "here").exists()
    assert not (tmp_path / "made").exists() or not (tmp_path / "made").stat().st_size


def test_the_desk_takes_a_zip_and_says_what_it_does_not_take(desk: TestClient) -> None:
    entries = [(p.name, p.read_bytes()) for p in sorted(survey_folder().iterdir())]
    taken = desk.post("/surveys/import", files={"files": ("a.zip", zipped(*entries))})
    assert taken.status_code == 303, taken.text
    refused = desk.post(
        "/surveys/import",
        files={"files": ("a.zip", zipped(*entries, ("<b>.jpg.png", b"<svg onload=alert(1)>")))},
    )
    assert refused.status_code == 422
    assert "&lt;b&gt;.jpg.png" in refused.text
    assert "<b>.jpg" not in refused.text
    listed = desk.get("/api/surveys").json()
    assert len(listed) == 2


def test_an_upload_of_unknown_or_too_great_a_length_is_not_begun(desk: TestClient) -> None:
    kind = {"content-type": "multipart/form-data; boundary=x"}
    assert desk.post("/surveys/import", content=b"", headers=kind).status_code == 422
    answer = desk.post("/surveys/import", content=iter([b"--x--"]), headers=kind)
    assert answer.status_code == 411
    great = {**kind, "content-length": str(limits().upload_bytes + 1)}
    for place in ("/surveys/import", "/surveys/1/files"):
        assert desk.post(place, content=b"--x--", headers=great).status_code == 413


@pytest.mark.parametrize("kind", ["application/x-www-form-urlencoded", "multipart/form-data"])
def test_a_form_without_end_is_ended(
    kind: str, desk: TestClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    small = replace(limits(), body_bytes=30_000)
    monkeypatch.setattr("bolewalk.desk.bodies.limits", lambda: small)
    headers = {"content-type": f"{kind}; boundary=x"}
    pieces = [b"name=", *[b"x" * 1_000] * 40]
    assert desk.post("/surveys", content=iter(pieces), headers=headers).status_code == 413
    told = {**headers, "content-length": "30001"}
    assert desk.post("/surveys", content=b"", headers=told).status_code == 413
    assert len(desk.get("/api/surveys").json()) == 1
