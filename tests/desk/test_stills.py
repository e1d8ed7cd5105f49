"""Pictures on the page of a tree: photographs with their time, stills with a way to the words."""

import io
from datetime import date
from pathlib import Path

import av
import numpy as np
import pypdfium2
from PIL import Image
from starlette.testclient import TestClient

from bolewalk.desk.tasks import papers_folder
from bolewalk.store.edits import new_tree, set_head
from bolewalk.store.items import Edit
from bolewalk.store.store import Store

from .conftest import WHEN
from .waiting import until

WALK = b"""WEBVTT

00:00:02.000 --> 00:00:04.000
First a red oak, twenty inches, forty feet tall. It stays.
"""


def film() -> bytes:
    """Five seconds of noise, made by the general media library."""
    out = io.BytesIO()
    noise = np.random.default_rng(1)
    with av.open(out, "w", format="mp4") as made:
        stream = made.add_stream("mpeg4", rate=5)
        stream.width, stream.height, stream.pix_fmt = 160, 120, "yuv420p"
        for _ in range(25):
            picture = noise.integers(0, 255, (120, 160, 3), dtype=np.uint8)
            made.mux(stream.encode(av.VideoFrame.from_ndarray(picture, format="rgb24")))
        made.mux(stream.encode())
    return out.getvalue()


def test_photographs_and_stills_of_a_tree(store: Store, desk: TestClient, data: Path) -> None:
    number = store.create_survey(
        "Sedge Lane", visited=date(2026, 5, 1), units="imperial", who="Tobin", when=WHEN
    )
    exif = Image.Exif()
    exif.get_ifd(0x8769)[0x9003] = "2026:05:01 09:30:07"
    photo = io.BytesIO()
    Image.new("RGB", (30, 20)).save(photo, "JPEG", exif=exif)
    edits = [new_tree({"tree": "T1", "species": "Quercus rubra", "height": "40"})]
    for name, raw in (
        ("walk.vtt", WALK), ("walk.mp4", film()), ("photos/T1-gate.jpg", photo.getvalue()),
    ):  # fmt: skip
        medium = store.put_media(io.BytesIO(raw), when=WHEN)
        edits.append(Edit("file", name, {"sha256": medium.sha256, "size": medium.size}))
    head = set_head(
        store.load(number), (("files", "walk"), ["walk.vtt"]), (("files", "photos"), "photos")
    )
    store.change(number, [*edits, head], who="Tobin", when=WHEN)
    root = f"/surveys/{number}"

    page = desk.get(f"{root}/trees/T1").text
    assert "T1-gate.jpg, taken 2026-05-01 09:30:07" in page
    assert "Cut stills from the recording" in page
    assert desk.post(f"{root}/stills", data={}).status_code == 303
    tasks = desk.app.state.desk.tasks  # type: ignore[attr-defined]
    until(lambda: not tasks.of(number, ("stills",))[0].open)
    assert tasks.of(number, ("stills",))[0].told == "1 stills cut"
    page = desk.get(f"{root}/trees/T1").text
    assert f'src="{root}/stills/T1.jpg"' in page
    # Within the seconds around the words, and a way to them.
    at = float(page.split("walk?at=")[1].split('"')[0])
    assert 0.0 <= at <= 5.0
    still = desk.get(f"{root}/stills/T1.jpg")
    assert Image.open(io.BytesIO(still.content)).size == (160, 120)
    assert desk.get(f"{root}/stills/..%2fstills.json").status_code == 404
    assert desk.get(f"{root}/trees/T1").text.count("<img ") == 2

    # A draft of the papers shows what an issue would: the photograph, and the walk to be played.
    assert desk.post(f"{root}/papers/make").status_code == 303
    until(lambda: not any(t.open for t in tasks.of(number)))
    assert [(t.state, t.says) for t in tasks.of(number)] == [("done", "")]
    made = papers_folder(data / "desk", number, "", store.load(number).revision)
    with pypdfium2.PdfDocument(made / "report.pdf") as pdf:
        report = "".join(p.get_textpage().get_text_bounded() for p in pdf)
        drawn = [
            o.get_px_size() for p in pdf for o in p.get_objects()
            if isinstance(o, pypdfium2.PdfImage)
        ]  # fmt: skip
    assert "Taken 2026-05-01 09:30" in report
    assert drawn == [(30, 20)]
    assert (made / "client" / "walk.mp4").stat().st_size == len(film())
