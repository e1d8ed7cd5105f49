"""Every key of rules.toml is documented, once, and nothing that is no key."""

import re
import tomllib
from pathlib import Path

from bolewalk.rules.keys import HEAD_KEYS, LIST_KEYS, TABLE_KEYS
from bolewalk.rules.table import ACTS, PARTIES, READINGS, SEASON_KINDS

ROOT = Path(__file__).parents[2]


def test_every_key_is_documented_once():
    text = (ROOT / "docs/rules.md").read_text(encoding="utf-8")
    listed = re.findall(r"^\| `([a-z_.]+)` \|", text, re.MULTILINE)
    keys = {k.path for k in HEAD_KEYS}
    for name, of in (*LIST_KEYS.items(), *TABLE_KEYS.items()):
        keys |= {f"{name}.{k.path}" for k in of}
    assert len(listed) == len(set(listed))
    assert set(listed) == keys


def test_every_word_is_documented():
    text = (ROOT / "docs/rules.md").read_text(encoding="utf-8")
    rows = dict(re.findall(r"^\| `([a-z_.]+)` \| (.*?) \|$", text, re.MULTILINE))
    for key, words in (
        ("rule.acts", ACTS), ("owner.as", PARTIES), ("season.kind", SEASON_KINDS),
        ("rule.size.stems", (*READINGS, "unknown")),
    ):  # fmt: skip
        assert set(re.split(r", (?:or )?", rows[key])) == set(words)


def test_the_template_shows_every_table():
    text = (ROOT / "bolewalk/rules/data/template/rules.toml").read_text(encoding="utf-8")
    for name in LIST_KEYS:
        assert f"[[{name}]]" in text
    for name in TABLE_KEYS:
        assert f"[{name}]" in text


def test_the_template_is_sound_once_its_examples_are_taken_in():
    """Uncommented, every line of the template is a key the reader knows."""
    from bolewalk.rules.reader import read_rules

    text = (ROOT / "bolewalk/rules/data/template/rules.toml").read_text(encoding="utf-8")
    text = text.replace('place = ""', 'place = "x"').replace('source = ""', 'source = "x"')
    text = text.replace('name = ""', 'name = "x"').replace('by = ""', 'by = "x"')
    text = text.replace('stock = ""', 'stock = "x"').replace('version = ""', 'version = "x"')
    lines = []
    for line in text.splitlines():
        bare = line.removeprefix("# ")
        lines.append(bare if re.match(r"\[|[a-z_]+ = ", bare) else line)
    read, problems = read_rules(tomllib.loads("\n".join(lines)), file="rules.toml")
    assert [p.line() for p in problems] == []
    assert len(read.rules) == len(read.seasons) == len(read.fire) == len(read.consents) == 1
