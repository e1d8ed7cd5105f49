"""The page of limits names every data file in which something rests on memory."""

import re
from pathlib import Path

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs/limits.md").read_text("utf-8")

# "memory" of a computer, not of a person; and sentences that tell of the other files.
OTHER_SENSES = {
    "bolewalk/desk/apart/data/limits.toml",
    "bolewalk/papers/language/en-papers.toml",
    "bolewalk/papers/language/en.toml",
}


def test_every_file_with_recalled_rows_is_named() -> None:
    data = (p for p in (ROOT / "bolewalk").rglob("*") if p.suffix in {".csv", ".toml"})
    recalled = {
        p.relative_to(ROOT).as_posix()
        for p in data
        if re.search(r"\b[Mm]emory\b|\brecalled\b", p.read_text("utf-8"))
    }
    assert recalled >= OTHER_SENSES
    missing = [
        name
        for name in sorted(recalled - OTHER_SENSES)
        if name.removeprefix("bolewalk/") not in PAGE and Path(name).name not in PAGE
    ]
    assert missing == []


def test_every_file_named_is_there() -> None:
    named = re.findall(r"^\| (`.*?) \|", PAGE, re.MULTILINE)
    files = {Path(f).name for cell in named for f in re.findall(r"`([^`]+)`", cell)}
    there = {p.name for p in (ROOT / "bolewalk").rglob("*") if p.is_file()}
    assert files
    assert files - there == set()
