"""Files damaged at random, always in the same way: told, never an exception."""

import random

import pytest

from bolewalk.intake.folder import SurveyUnreadableError, read_folder
from bolewalk.intake.toml_file import TomlError, parse_toml
from tests.intake.surveys import write_survey

SCRAPS = [b"nan", b"1e999", b"-", b"\n", b",", b'"', b"{", b"[", b"null", b"0\nINSERT\n", b"9" * 30]


def damaged(data: bytes, chance: random.Random) -> bytes:
    out = bytearray(data)
    for _ in range(chance.choice([1, 2, 5, 30])):
        i = chance.randrange(len(out))
        match chance.randrange(4):
            case 0:
                out[i] = chance.randrange(256)
            case 1:
                del out[i : i + chance.randrange(1, 30)]
            case 2:
                out[i:i] = chance.choice(SCRAPS)
            case _:
                j = chance.randrange(len(out))
                out[i : i + 20] = out[j : j + 20]
    return bytes(out)


@pytest.mark.parametrize("name", ["survey.toml", "trees.csv", "works.geojson", "plan.dxf"])
def test_damage_is_told(tmp_path, name):
    write_survey(tmp_path)
    sound = (tmp_path / name).read_bytes()
    # The end of a drawing is its tail of objects; what is drawn stands after its blocks.
    start = sound.find(b"ENTITIES") if name == "plan.dxf" else 0
    length = 3000 if name == "plan.dxf" else len(sound)
    read = 0
    for seed in range(80):
        chance = random.Random(seed)
        piece = damaged(sound[start : start + length], chance)
        (tmp_path / name).write_bytes(sound[:start] + piece + sound[start + length :])
        try:
            job = read_folder(tmp_path)
        except SurveyUnreadableError:
            assert name == "survey.toml"
            continue
        read += 1
        assert all(p.expected for p in job.problems)
    assert read > (3 if name == "survey.toml" else 70)


@pytest.mark.parametrize("made", ["{} = 1", "[{}]", "a = {{{} = 1}}", '"a b".{} = 1'])
def test_keys_in_keys_without_end_are_refused_at_once(made):
    # A key of 50,000 parts takes gigabytes to open: every part keeps all parts before it.
    with pytest.raises(TomlError, match="a key of more than 20 parts, in line 2"):
        parse_toml("x = 1\n" + made.format(".".join(["a"] * 50_000)))


@pytest.mark.parametrize(
    "text", ['a = "' + "1.5, " * 500 + '"', "a = " + str([1.5] * 500), "# " + ". . " * 500]
)
def test_points_that_part_no_keys_are_fine(text):
    assert len(parse_toml(text)) <= 1


def test_a_number_of_ten_thousand_digits_is_told_in_plain_words():
    with pytest.raises(TomlError, match="more than 4,300 digits"):
        parse_toml("a = " + "9" * 10_000)


def test_a_long_column_name_is_shortened(tmp_path):
    write_survey(tmp_path)
    (tmp_path / "trees.csv").write_text("tree," + "x" * 90_000 + "\nT1,1\n", encoding="utf-8")
    assert max(len(p.line()) for p in read_folder(tmp_path).problems) < 400
