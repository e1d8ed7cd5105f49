"""Files damaged at random, always in the same way: told, never an exception."""

import random

import pytest

from bolewalk.intake.folder import SurveyUnreadableError, read_folder
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
