"""Words of a stretch, found however a text prints them."""

import zipfile
from pathlib import Path

import pytest

from bolewalk.store.said_words import file_holds, runs_of, text_holds
from bolewalk.store.words_left import no_pdf

SAID = ("The café's code is “1972”,", "ask for Mrs. Ruddle-Crane first.")


@pytest.mark.parametrize(
    "text",
    [
        "The café's code is “1972”, ask for Mrs. Ruddle-Crane first.",
        "the cafe's code\nis '1972' ask",
        "THE CAFÉ’S CODE IS 1972",
        "code is 1972, ask for Mrs Rud-\r\ndle Crane",
        r'{"said": "The caf\u00e9\u2019s code\nis 1972"}',
        "<p>code is <b>1972</b>, ask&nbsp;for <i>M</i>rs",
        "The ca\ufb00e code is 1972, ask for mrs ruddle crane",
    ],
)
def test_the_same_words_are_found(text: str) -> None:
    assert text_holds(text, runs_of(SAID))


@pytest.mark.parametrize(
    "text",
    ["", "code is 1972 ask", "The code of the café is 1972; do not ask", "ask for Mrs. Ruddle"],
)
def test_other_words_are_not(text: str) -> None:
    assert not text_holds(text, runs_of(SAID))


def test_short_sayings_are_looked_for_whole_where_they_tell() -> None:
    assert text_holds("at number 17 Whitethorn Lane there", runs_of(["17 Whitethorn Lane"]))
    assert not text_holds("anything", runs_of(["Yes."]))


@pytest.mark.parametrize(
    "packing", [zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED, zipfile.ZIP_BZIP2, zipfile.ZIP_LZMA]
)
def test_a_damaged_workbook_is_told_as_not_searched(packing: int, tmp_path: Path) -> None:
    book = tmp_path / "book"
    with zipfile.ZipFile(book, "w", packing) as packed:
        packed.writestr("xl/sharedStrings.xml", " ".join(SAID))
    assert file_holds(book, "book.xlsx", runs_of(SAID), no_pdf) is True
    raw = bytearray(book.read_bytes())
    # Behind the local header, the name and what a packing says of itself.
    raw[60:80] = b"\xff" * 20
    book.write_bytes(raw)
    assert file_holds(book, "book.xlsx", runs_of(SAID), no_pdf) is None
