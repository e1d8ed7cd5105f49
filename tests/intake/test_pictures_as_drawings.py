"""A picture named as a drawing: laid under the plan by two points, or told why not."""

import pytest
from PIL import Image

from tests.intake.surveys import HEAD, read, write_survey

FT = 0.3048


def with_picture(more="", name="scan.png"):
    start, _, rest = HEAD.partition("[[drawing]]")
    return f'{start}[[drawing]]\nfile = "{name}"\ntitle = "Old plan"\n{more}\n[[drawing]]{rest}'


def job_of(folder, more="", name="scan.png", data=None):
    folder.mkdir(exist_ok=True)
    if data is None:
        Image.new("RGB", (100, 50), "white").save(folder / name)
    else:
        (folder / name).write_bytes(data)
    return read(folder, head=with_picture(more, name))


def test_a_picture_lies_where_two_points_put_it(tmp_path):
    # By hand: 100 pixels are 200 ft along the foot of the picture, so it is 100 ft high.
    job = job_of(tmp_path, "at = [[[0, 50], [0, 0]], [[100, 50], [200, 0]]]")
    assert job.problems == ()
    (laid,) = job.underlays
    assert (laid.width_px, laid.height_px) == (100, 50)
    high, wide = 100 * FT, 200 * FT
    expected = [(0, high), (wide, high), (wide, 0), (0, 0)]
    for corner, right in zip(laid.corners_m, expected, strict=True):
        assert corner == pytest.approx(right, abs=1e-9)


def test_a_picture_without_points_is_kept_and_they_are_asked_for(tmp_path):
    job = job_of(tmp_path)
    assert [(p.field, p.level) for p in job.problems] == [("drawing.at", "notice")]
    assert "two points of the picture" in job.problems[0].expected
    assert [u.corners_m for u in job.underlays] == [()]


@pytest.mark.parametrize(
    ("more", "data", "field", "words"),
    [
        (
            "at = [[[0, 0], [0, 0]], [[0, 0], [9, 0]]]",
            None,
            "drawing.at",
            "the picture is left out",
        ),
        ("", b"%PDF-1.7 no picture", "drawing.file", "a picture inside as its name says"),
        ("", b"\x89PNG\r\n\x1a\n", "drawing.file", "a picture inside as its name says"),
    ],
)
def test_a_picture_that_cannot_be_laid_is_told_and_the_rest_is_read(
    tmp_path, more, data, field, words
):
    job = job_of(tmp_path, more, data=data)
    (p,) = (p for p in job.problems if p.level == "fault")
    assert (p.row, p.field) == ("drawing 1", field)
    assert words in p.expected
    assert job.underlays == ()
    assert len(job.survey.works) == 6  # as without the picture


def test_a_drawing_of_another_kind_is_named(tmp_path):
    write_survey(tmp_path, head=with_picture(name="plan.dwg"))
    job = job_of(tmp_path, name="plan.dwg", data=b"AC1032")
    (p,) = (p for p in job.problems if p.level == "fault")
    assert (p.row, p.field, p.value) == ("drawing 1", "drawing.file", "plan.dwg")
