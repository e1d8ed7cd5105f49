"""Photographs made small, upright and bare; sizes by hand."""

import io
from pathlib import Path

import pytest
from PIL import Image

from bolewalk.papers.photos import photo_of
from tests.papers.complete import photograph


def opened(path: Path) -> tuple[Image.Image, str]:
    made = photo_of(path)
    assert made is not None
    return Image.open(io.BytesIO(made[0])), made[1]


def test_the_longer_side_is_limited_and_the_shape_kept(tmp_path: Path) -> None:
    photograph(tmp_path / "a.jpg", size=(4000, 3000))
    image, _ = opened(tmp_path / "a.jpg")
    assert image.size == (1100, 825)  # 4 to 3
    photograph(tmp_path / "b.jpg", size=(300, 200))
    assert opened(tmp_path / "b.jpg")[0].size == (300, 200)


def test_a_picture_held_upright_by_its_file_stands_upright(tmp_path: Path) -> None:
    # Exif orientation 6: the camera lay on its side; 40 wide, 20 high is seen 20 wide, 40 high.
    exif = Image.Exif()
    exif[0x0112] = 6
    Image.new("RGB", (40, 20)).save(tmp_path / "a.jpg", exif=exif)
    assert opened(tmp_path / "a.jpg")[0].size == (20, 40)


@pytest.mark.parametrize(
    ("written", "read"),
    [
        ("2026:11:11 09:41:07", "2026-11-11 09:41"),
        ("", ""),
        ("yesterday", ""),
        ("2026:11:11", ""),
        ("{#panic()}:1:1 1:1", ""),
    ],
)
def test_the_time_is_the_cameras(tmp_path: Path, written: str, read: str) -> None:
    photograph(tmp_path / "a.jpg", taken=written)
    assert opened(tmp_path / "a.jpg")[1] == read


def test_same_photograph_same_bytes_and_nothing_of_the_camera(tmp_path: Path) -> None:
    photograph(tmp_path / "a.jpg", taken="2026:11:11 09:41:07")
    one, two = photo_of(tmp_path / "a.jpg"), photo_of(tmp_path / "a.jpg")
    assert one == two
    assert one is not None
    assert not dict(Image.open(io.BytesIO(one[0])).getexif())


def test_what_is_no_picture_is_none(tmp_path: Path) -> None:
    for name, content in (("a.jpg", b""), ("b.jpg", b"\xff\xd8\xff" + b"0" * 90), ("c.png", b"x")):
        (tmp_path / name).write_bytes(content)
        assert photo_of(tmp_path / name) is None
    assert photo_of(tmp_path / "not there.jpg") is None
    # So many points that reading it could take all memory: refused by its head alone.
    big = Image.new("1", (20000, 20000))
    big.save(tmp_path / "big.png")
    assert photo_of(tmp_path / "big.png") is None
