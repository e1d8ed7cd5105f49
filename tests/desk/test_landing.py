"""Where a file brought to a survey belongs: the edits, the head's comments, one step of undo."""

import io
from pathlib import Path

import pytest
from PIL import Image

from bolewalk.desk.landing import LandingError, land, plain_name, take_as, take_out
from bolewalk.intake.kinds import tell_kind
from bolewalk.store.items import Applied
from bolewalk.store.store import Store
from tests.drawing.plans import new_plan

from .conftest import WHEN

VTT = "WEBVTT\n\n00:01.000 --> 00:02.000\nFirst a red oak, forty feet tall.\n"


@pytest.fixture
def bring(store: Store, tmp_path: Path):  # type: ignore[no-untyped-def]
    """Bring bytes to a survey as a file; give what was told."""

    def bring(raw: bytes, name: str, *, survey: int = 1, tree: str = "") -> str:
        path = tmp_path / "bytes"
        path.write_bytes(raw)
        with path.open("rb") as stream:
            medium = store.put_media(stream, when=WHEN)
        stored = store.load(survey)
        told = tell_kind(path, name)
        landing = land(stored, name=name, path=path, medium=medium, told=told, tree=tree)
        if landing.edits:
            done = store.change(survey, landing.edits, who="Tobin", when=WHEN)
            assert isinstance(done, Applied)
        return landing.says

    return bring


@pytest.fixture
def empty(store: Store) -> int:
    return store.create_survey(
        "Sedge Lane", visited=WHEN.date(), units="imperial", who="Tobin", when=WHEN
    )


def picture(colour: str = "white", kind: str = "PNG") -> bytes:
    out = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(out, kind)
    return out.getvalue()


def plan(tmp_path: Path) -> bytes:
    doc = new_plan("S-PILE", "S-NOTE")
    doc.modelspace().add_circle((10, 10), 0.5, dxfattribs={"layer": "S-PILE"})
    doc.saveas(tmp_path / "made.dxf")
    return (tmp_path / "made.dxf").read_bytes()


def test_a_whole_survey_from_single_files(store: Store, bring, empty, tmp_path) -> None:  # type: ignore[no-untyped-def]
    bring(b"tree,species,height\nT1,red oak,40\n", "my trees.csv", survey=empty)
    bring(plan(tmp_path), "Plan: rev B.DXF", survey=empty)
    bring(VTT.encode(), "GX01.vtt", survey=empty)
    says = bring(b"RIFF\x00\x00\x00\x00WAVEfmt ", "IMG_3.wav", survey=empty)
    # The recording plays with the one transcript that has none: it takes its name.
    assert "kept as GX01.wav" in says
    bring(picture(), "scan.png", survey=empty)
    bring(picture(kind="JPEG"), "oak.jpg", survey=empty, tree="T1")
    job = store.job(empty)
    assert [t.id for t in job.survey.trees] == ["T1"]
    assert job.survey.trees[0].photo == "photos/T1-oak.jpg"
    assert [d.file for d in job.survey.drawings] == ["Plan rev B.dxf"]
    assert [u.drawing.file for u in job.underlays] == ["scan.png"]
    assert [(p.transcript, p.recording) for p in job.parts] == [("GX01.vtt", "GX01.wav")]
    assert [p.field for p in job.problems if "[drawing.layers]" in p.expected] == ["S-PILE"]
    # Each file was one step of undo.
    for _ in range(6):
        assert isinstance(store.undo(empty, who="Tobin", when=WHEN), Applied)
    assert store.load(empty).of("file") == ()
    assert store.load(empty).of("tree") == ()


def test_a_transcript_finds_its_recording(store: Store, bring, empty) -> None:  # type: ignore[no-untyped-def]
    says = bring(b"RIFF\x00\x00\x00\x00WAVEfmt one", "part one.wav", survey=empty)
    assert "Bring its transcript" in says
    assert "kept as part one.vtt" in bring(VTT.encode(), "typed.vtt", survey=empty)
    bring(VTT.replace("red", "white").encode(), "second.vtt", survey=empty)
    parts = store.job(empty).parts
    assert [(p.transcript, p.recording) for p in parts] == [
        ("part one.vtt", "part one.wav"),
        ("second.vtt", ""),
    ]
    # The second begins where the first ends: 2 s in.
    assert [(p.start_s, p.end_s) for p in parts] == [(0.0, 2.0), (2.0, 4.0)]


def test_a_transcript_takes_the_place_of_the_recordings_it_names(
    store: Store, bring, empty
) -> None:  # type: ignore[no-untyped-def]
    for name in ("a.wav", "b.wav", "c.wav"):
        bring(b"RIFF\x00\x00\x00\x00WAVEfmt " + name.encode(), name, survey=empty)
    note = "NOTE\nrecording a.wav from 0.000 s, 9.000 s long\n"
    note += "recording b.wav from 9.000 s, 9.000 s long\n"
    bring(VTT.replace("\n\n", f"\n\n{note}\n", 1).encode(), "both.vtt", survey=empty)
    bring(VTT.encode(), "c.vtt", survey=empty)
    parts = store.job(empty).parts
    assert [(p.transcript, p.recording) for p in parts] == [
        ("both.vtt", "a.wav"), ("both.vtt", "b.wav"), ("c.vtt", "c.wav"),
    ]  # fmt: skip


def test_the_same_bytes_are_told(bring) -> None:  # type: ignore[no-untyped-def]
    bring(picture(), "scan.png")
    assert bring(picture(), "other.png") == (
        "The same file is here already, as scan.png; nothing changed."
    )


def test_a_tree_table_adds_and_changes_and_takes_nothing_out(store: Store, bring) -> None:  # type: ignore[no-untyped-def]
    before = store.load(1)
    n = len(before.of("tree"))
    height = before.tree("T4").body["cells"]["height"]  # type: ignore[union-attr,index]
    raw = f"tree,height,decision\nT4,{height}.5,\nN1,12,retain\nT5,,\n".encode()
    says = bring(raw, "later.csv")
    assert "1 trees new, 1 changed, 1 the same" in says
    now = store.load(1)
    assert len(now.of("tree")) == n + 1
    cells = now.tree("T4").body["cells"]  # type: ignore[union-attr,index]
    assert cells["height"] == f"{height}.5"
    # An empty cell changes nothing.
    assert cells["decision"] == before.tree("T4").body["cells"]["decision"]  # type: ignore[union-attr,index]
    with pytest.raises(LandingError, match="T4 stands in it twice"):
        bring(b"tree,height\nT4,1\nT4,2\n", "twice.csv")


def test_a_newer_drawing_takes_the_place_of_the_older(store: Store, bring, tmp_path) -> None:  # type: ignore[no-untyped-def]
    head = store.load(1).get("head", "survey.toml").body["text"]  # type: ignore[union-attr,index]
    assert "takes the place of the older" in bring(plan(tmp_path), "court.dxf")
    # Its layers stay named; nothing of the head is touched.
    assert store.load(1).get("head", "survey.toml").body["text"] == head  # type: ignore[union-attr,index]
    assert isinstance(store.undo(1, who="Tobin", when=WHEN), Applied)


def test_cameras_give_the_same_name_to_other_pictures(store: Store, bring) -> None:  # type: ignore[no-untyped-def]
    for colour in ("red", "green", "blue"):
        bring(picture(colour, "JPEG"), "IMG_0001.JPG", tree="T4")
    job = store.job(1)
    assert job.photos == (
        "photos/T4-IMG_0001-2.jpg", "photos/T4-IMG_0001-3.jpg", "photos/T4-IMG_0001.jpg",
    )  # fmt: skip
    tree = next(t for t in job.survey.trees if t.id == "T4")
    assert tree.photo == "photos/T4-IMG_0001.jpg"


def test_a_picture_is_taken_as_the_other_thing_and_out(store: Store, bring) -> None:  # type: ignore[no-untyped-def]
    bring(picture(), "scan.png")
    stored = store.load(1)
    path = store.files.path(stored.get("file", "scan.png").body["sha256"])  # type: ignore[union-attr,index]
    store.change(1, take_as(stored, "scan.png", path, "photo").edits, who="Tobin", when=WHEN)
    job = store.job(1)
    assert job.photos == ("photos/scan.png",)
    assert job.underlays == ()
    stored = store.load(1)
    store.change(
        1, take_as(stored, "photos/scan.png", path, "underlay").edits, who="Tobin", when=WHEN
    )
    assert [u.drawing.file for u in store.job(1).underlays] == ["scan.png"]
    store.change(1, take_out(store.load(1), "scan.png").edits, who="Tobin", when=WHEN)
    assert store.job(1).underlays == ()
    with pytest.raises(LandingError, match="own sheet"):
        take_out(store.load(1), "trees.csv")


@pytest.mark.parametrize(
    ("name", "kept"),
    [
        ("C:\\scans\\Plan: rev B.JPG", "Plan rev B.jpg"),
        ("../../etc/passwd", "passwd.jpg"),
        ("photo\u202egpj.exe", "photogpj.jpg"),
        ("...", "file.jpg"),
        ("Bäume am Tor.jpeg", "Bäume am Tor.jpg"),
        ("木.png", "木.jpg"),
        ("x" * 300 + ".jpg", "x" * 100 + ".jpg"),
    ],
)
def test_names(name: str, kept: str) -> None:
    assert plain_name(name, ".jpg") == kept
