"""Heads of pictures, against files a general picture library writes (Pillow)."""

import io
import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from bolewalk.drawing.pictures import picture_of, read_picture


def made(kind: str, size: tuple[int, int], **options: object) -> bytes:
    out = io.BytesIO()
    Image.new("RGB", size, "white").save(out, kind, **options)  # type: ignore[arg-type]
    return out.getvalue()


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP", "GIF"])
def test_size_is_what_the_library_wrote(tmp_path, kind):  # type: ignore[no-untyped-def]
    path = tmp_path / "any.bin"
    path.write_bytes(made(kind, (321, 45)))
    found = read_picture(path)
    assert found is not None
    assert (found.kind, found.width_px, found.height_px) == (kind.lower(), 321, 45)
    assert not found.by_camera


def test_lossless_and_extended_webp():
    # Pillow writes VP8L for lossless, VP8X where there is a colour profile.
    for options in ({"lossless": True}, {"icc_profile": b"x" * 200}):
        found = picture_of(made("WEBP", (300, 201), **options))
        assert found is not None
        assert (found.width_px, found.height_px) == (300, 201)


def test_a_camera_says_when_and_which_way_up():
    exif = Image.Exif()
    exif[0x010F] = "Any maker"
    exif[0x0112] = 6  # turned a quarter: shown upright it is 45 wide
    exif.get_ifd(0x8769)[0x9003] = "2026:05:12 09:30:07"
    found = picture_of(made("JPEG", (321, 45), exif=exif))
    assert found is not None
    assert (found.width_px, found.height_px) == (45, 321)
    assert found.taken == "2026-05-12 09:30:07"
    assert found.by_camera


def test_a_picture_too_large_to_decode_is_only_measured():
    # A PNG head that claims 60,000 x 60,000 pixels: 3.6 thousand million.
    head = b"\x89PNG\r\n\x1a\n" + struct.pack(">I4sII", 13, b"IHDR", 60_000, 60_000)
    found = picture_of(head)
    assert found is not None
    assert found.width_px == 60_000


@given(st.binary(max_size=200), st.sampled_from(["PNG", "JPEG", "WEBP", "GIF"]), st.data())
def test_damaged_heads_are_no_picture_and_no_failure(noise, kind, data):  # type: ignore[no-untyped-def]
    whole = made(kind, (30, 20))
    cut = data.draw(st.integers(0, len(whole)))
    for raw in (noise, whole[:cut], whole[:cut] + noise):
        found = picture_of(raw)
        assert found is None or (found.width_px > 0 and found.height_px > 0)
