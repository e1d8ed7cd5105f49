"""Stills come from the sharpest frame near the mention."""

from pathlib import Path

import av
import numpy as np
import pytest
from scipy.ndimage import gaussian_filter, laplace

from bolewalk.model.trees import Species
from bolewalk.walk.cues import Cue
from bolewalk.walk.draft import DraftTree, draft
from bolewalk.walk.recogniser import Word
from bolewalk.walk.recordings import probe
from bolewalk.walk.sentences import Moment
from bolewalk.walk.stills import Footage, cut_stills, footage_of, sharpness
from bolewalk.walk.transcript import Section, transcript_vtt
from tests.walk.sound import write_media

PER_S = 10
SIZE = (240, 320)


def blurred(sigma, shade):
    """A patch pattern, out of focus by `sigma` pixels; `shade` tells the frame's second."""
    base = np.kron(np.random.default_rng(7).integers(40, 216, (24, 32)), np.ones((10, 10)))
    picture = gaussian_filter(base, sigma) if sigma else base
    out = np.repeat(picture[:, :, None], 3, axis=2)
    out[:40, :40] = shade
    return out.astype(np.uint8)


def frames(seconds, sharp_at):
    """Ten frames a second; those of the tenths in `sharp_at` are in focus."""
    for k in range(seconds * PER_S):
        near = min((abs(k - s) for s in sharp_at), default=99)
        yield blurred(0 if near == 0 else 4, (k * 2) % 256)


def film(path, seconds, sharp_at):
    write_media(path, pictures=frames(seconds, set(sharp_at)), per_s=PER_S)
    recording, _ = probe(path, file=path.name)
    return recording


def tree(name, *starts):
    moments = tuple(Moment(s, s + 2, "words") for s in starts)
    species = Species("Quercus rubra", "northern red oak", "red oak")
    return DraftTree(name, species, 1, None, (), (), (), (), "unknown", moments)


def seen(path):
    with av.open(str(path)) as picture:
        return next(picture.decode(video=0)).to_ndarray(format="rgb24")


def shade(path):
    return float(seen(path)[10:30, 10:30].mean())


def test_sharpness_is_the_variance_of_the_laplacian():
    grey = np.random.default_rng(2).integers(0, 255, (50, 60)).astype(float)
    # scipy's Laplacian has the other sign; the variance is the same.
    assert sharpness(grey) == pytest.approx(np.var(laplace(grey)[1:-1, 1:-1]), rel=1e-6)
    # By hand: one lit point in a 3 x 5 picture; inner values 0, 0, 0 but for -4, 16, -4 times 1/4.
    point = np.zeros((3, 5))
    point[1, 2] = 4
    assert sharpness(point) == pytest.approx(np.var([-4, 16, -4]))
    assert sharpness(np.full((9, 9), 77)) == 0
    assert sharpness(np.zeros((2, 9))) == 0
    with pytest.raises(ValueError, match="rows and columns"):
        sharpness(np.zeros((3, 3, 3)))


def test_blur_lowers_it():
    found = [sharpness(blurred(s, 0)[:, :, 0]) for s in (0, 1, 2, 4, 8)]
    assert found == sorted(found, reverse=True)


def test_the_sharpest_frame_near_the_mention_is_taken(tmp_path):
    # In focus at 5.5 s (near the mention at 5 s) and at 20 s (nobody speaks of the tree there).
    recording = film(tmp_path / "w.mp4", 30, {54, 55, 56, 200})
    stills, problems = cut_stills(
        [tree("w1", 5.0)], [Footage(recording, 0.0)], out=tmp_path / "out"
    )  # fmt: skip
    assert problems == ()
    assert [s.tree for s in stills] == ["w1"]
    assert stills[0].at_s == pytest.approx(5.5, abs=0.11)
    assert shade(stills[0].path) == pytest.approx(110, abs=6)
    assert seen(stills[0].path).shape == (*SIZE, 3)
    assert stills[0].path.read_bytes().startswith(b"\xff\xd8\xff")
    # As sharp as what was filmed, not as its neighbours.
    grey = seen(stills[0].path)[:, :, 1]
    assert sharpness(grey) > 5 * sharpness(blurred(4, 110)[:, :, 1])


def test_a_later_mention_counts_when_it_is_sharper(tmp_path):
    recording = film(tmp_path / "w.mp4", 30, {215, 216, 217, 218})
    stills, _ = cut_stills(
        [tree("w1", 2.0, 20.0)], [Footage(recording, 0.0)], out=tmp_path / "out"
    )  # fmt: skip
    assert stills[0].at_s == pytest.approx(21.6, abs=0.25)


def test_the_time_line_of_several_recordings(tmp_path):
    one = film(tmp_path / "one.mp4", 10, {31, 32, 33})
    two = film(tmp_path / "two.mp4", 10, {41, 42, 43})
    trees = [tree("w1", 3.0), tree("w2", 14.0), tree("w3", 50.0)]
    stills, problems = cut_stills(
        trees, [Footage(one, 0.0), Footage(two, 10.0)], out=tmp_path / "out", ids={"w2": "T/9"}
    )  # fmt: skip
    assert problems == ()
    assert [(s.tree, s.path.name) for s in stills] == [("w1", "w1.jpg"), ("T/9", "T_9.jpg")]
    assert stills[0].at_s == pytest.approx(3.2, abs=0.2)
    assert stills[1].at_s == pytest.approx(14.2, abs=0.2)


def test_pictures_lying_on_their_side_are_set_upright(tmp_path):
    recording = film(tmp_path / "w.mp4", 4, {10, 11, 12})
    turned = tmp_path / "turned.mp4"
    data = bytearray(recording.path.read_bytes())
    # The matrix of the track header (ISO/IEC 14496-12, tkhd): 1 0 0 / 0 1 0 becomes a quarter
    # turn, as a phone held upright writes it: 0 1 0 / -1 0 0.
    at = data.index(b"tkhd") + 4 + 40
    one, minus = (0x10000).to_bytes(4, "big"), (-0x10000 & 0xFFFFFFFF).to_bytes(4, "big")
    zero = bytes(4)
    data[at : at + 20] = zero + one + zero + minus + zero
    turned.write_bytes(bytes(data))
    again, _ = probe(turned, file="turned.mp4")
    stills, _ = cut_stills([tree("w1", 1.0)], [Footage(again, 0.0)], out=tmp_path / "out")
    picture = seen(stills[0].path)
    assert picture.shape == (SIZE[1], SIZE[0], 3)
    # A quarter turn clockwise brings the patch from the upper left to the upper right.
    assert picture[10:30, -30:-10].std() < 3
    assert picture[10:30, -30:-10].mean() == pytest.approx(22, abs=8)


def test_without_video_there_are_no_stills(tmp_path):
    path = write_media(tmp_path / "w.m4a", sound=np.zeros(16000, "f4"))
    recording, _ = probe(path, file="w.m4a")
    assert cut_stills([tree("w1", 0.2)], [Footage(recording, 0.0)], out=tmp_path / "o") == ((), ())


def test_a_damaged_video_does_not_stop_the_others(tmp_path):
    good = film(tmp_path / "good.mp4", 4, {10})
    data = bytearray(film(tmp_path / "w.mp4", 20, {30}).path.read_bytes())
    start = data.index(b"mdat") + 8
    data[start : len(data) // 2] = np.random.default_rng(1).bytes(len(data) // 2 - start)
    (tmp_path / "bad.mp4").write_bytes(bytes(data))
    bad, _ = probe(tmp_path / "bad.mp4", file="bad.mp4")
    stills, problems = cut_stills(
        [tree("w1", 2.0), tree("w2", 21.0)], [Footage(bad, 0.0), Footage(good, 20.0)],
        out=tmp_path / "out",
    )  # fmt: skip
    assert "w2" in [s.tree for s in stills]
    assert all(p.level == "notice" and p.file == "bad.mp4" for p in problems)


def test_the_recordings_behind_transcripts(tmp_path):
    film(tmp_path / "a.mp4", 2, {5})
    film(tmp_path / "b.mp4", 2, {5})
    film(tmp_path / "c.mp4", 2, {5})
    words = [Word(" oak.", 1.0, 1.5, 0.9), Word(" ash.", 3.0, 3.75, 0.9)]
    joined = tmp_path / "ab.vtt"
    sections = [Section("a.mp4", 0.0, 2.0), Section("b.mp4", 2.0, 2.0)]
    joined.write_text(transcript_vtt(words, sections), encoding="utf-8")
    foreign = tmp_path / "c.vtt"
    foreign.write_text("WEBVTT\n\n00:00.500 --> 00:01.000\nThe elm.\n", encoding="utf-8")
    alone = tmp_path / "alone.txt"
    alone.write_text("[0:01] The beech stays.\n", encoding="utf-8")
    footage, problems = footage_of(
        [(joined, None), (alone, None), (foreign, Path(tmp_path / "c.mp4"))]
    )  # fmt: skip
    assert problems == ()
    # The recordings last 4 s, and the line in brackets five from its first: 4 + 6 = 10.
    assert [(f.recording.name, f.start_s) for f in footage] == [
        ("a.mp4", 0.0), ("b.mp4", 2.0), ("c.mp4", 10.0),
    ]  # fmt: skip


def test_stills_of_a_real_draft(tmp_path):
    recording = film(tmp_path / "w.mp4", 12, {20, 21, 22, 90, 91, 92})
    cues = (
        Cue(1.0, 4.0, "The red oak by the gate stays."),
        Cue(8.0, 11.0, "Remove the silver maple behind the shed."),
    )
    trees = draft(cues).trees
    stills, _ = cut_stills(trees, [Footage(recording, 0.0)], out=tmp_path / "out")
    assert [s.tree for s in stills] == [t.id for t in trees] == ["w1", "w2"]
    assert [round(s.at_s) for s in stills] == [2, 9]
