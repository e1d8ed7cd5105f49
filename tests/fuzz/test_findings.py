"""What fuzzing found, each by a short file that shows it; docs/hostile-input.md lists them."""

import io
import struct
import zipfile
from pathlib import Path

import pytest

from bolewalk.desk.uploads import UploadError, lay_out
from bolewalk.intake.survey_toml import read_head
from bolewalk.intake.toml_file import parse_toml
from bolewalk.model.problems import Problem
from bolewalk.rules.reader import read_rules
from bolewalk.walk.cues import parse_cues
from bolewalk.walk.draft import draft


def test_a_number_of_four_hundred_digits_is_not_a_number_called_out() -> None:
    lines = [f"[0:{10 * n:02d}] {'9' * 400}. The oak is fine." for n in range(1, 5)]
    cues, _ = parse_cues("\n".join(lines))
    assert len(cues) == 4
    draft(cues)


@pytest.mark.parametrize("units", ["imperial", "metric"])
def test_a_whole_number_beyond_any_length_is_told(units: str) -> None:
    head = (
        f'[survey]\nname = "A"\ndate = 2026-05-12\nunits = "{units}"\n[site]\ncarry = {"9" * 400}\n'
    )
    (told,) = (p for p in read_head(parse_toml(head)).problems if p.field == "site.carry")
    assert told.level == "fault"


def test_a_key_of_thousands_of_letters_does_not_fill_the_screen() -> None:
    table = '[table]\nplace = "A"\nsource = "B"\nchecked = 2026-01-01\nunits = "metric"\n'
    _, problems = read_rules(parse_toml(f"{table}{'k' * 9000} = 1\n"), file="rules.toml")
    assert max(len(p.line()) for p in problems) < 1000


def test_what_a_terminal_would_obey_is_printed_as_text() -> None:
    line = Problem("a\x1b[31m.csv", "r\x07", "f\u202e", "v\x1b", "e\n").line()
    assert line.isprintable()
    assert line == "fault: a\\x1b[31m.csv, r\\x07, f\\u202e: found 'v\\x1b'; expected e\\n"


def zipped(*names: str) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as z:
        for name in names:
            z.writestr(name, b"survey" * 40)
    return out.getvalue()


@pytest.mark.parametrize("damage", ["directory before the file", "packed bytes", "method"])
def test_a_damaged_zip_is_told(damage: str, tmp_path: Path) -> None:
    data = bytearray(zipped("survey.toml"))
    if damage == "directory before the file":
        # The directory said to begin behind where it is (APPNOTE.TXT 4.3.16).
        end = data.index(b"PK\x05\x06")
        data[end + 12 : end + 20] = struct.pack("<II", 0x40, 0xFFFF)
    elif damage == "packed bytes":
        data[30 + len("survey.toml")] = 0xFF
    else:
        for at in (8, data.index(b"PK\x01\x02") + 10):
            data[at] = 99
    with pytest.raises(UploadError, match=r"the zip cannot be read"):
        lay_out([("a.zip", io.BytesIO(bytes(data)))], tmp_path)
