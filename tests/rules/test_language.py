"""Every statement of this room can be said, and none promises."""

import re
from pathlib import Path

import bolewalk.rules
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue
from bolewalk.rules.cautions import ALWAYS
from bolewalk.rules.table import ACTS, PARTIES, READINGS, SEASON_KINDS

TABLES = ("rule", "consent", "date", "caution")
SPEAKER = Speaker(load_catalogue("en"), Amounts("imperial"))
SIZES = ("size_over", "size_under")
BY_PATTERN = (
    {f"caution.{n}" for n in ALWAYS}
    | {f"caution.urgent_{n}" for n in ("gas", "wire", "fire", "water", "monoxide", "collapse",
                                       "asbestos", "other")}
    | {f"rule.status_{s}" for s in ("protected", "not_protected", "depends", "cannot_tell")}
    | {f"rule.{s}{x}" for s in SIZES for x in ("", "_single")}
    | {f"rule.{s}" for s in ("all_readings_over", "all_readings_under", "largest_alone", "no_size",
                             "any_size", "near_by_eye", "readings_disagree", "size_above_class",
                             "species_no", "species_excepted", "outside_zone", "too_low",
                             "owner_not_covered")}
    | {f"rule.conflict_fire_{a}_{x}" for a in ("remove", "prune")
       for x in ("keep", "keep_maybe", "season", "consent", "decision")}
    | {"rule.conflict_no_open_day", "rule.fire_remove", "rule.fire_prune"}
    | {f"consent.{w}_{s}" for w in ("named", "party") for s in ("signed", "part", "open")}
    | {f"consent.owner_{o}" for o in ("shared", "neighbour", "public", "unknown", "line")}
    | {f"consent.blocked_{a}" for a in ("remove", "prune", "roots")}
    | {f"consent.owner_first_{a}" for a in ("remove", "roots")}
    | {f"consent.meanwhile_{x}" for x in ("letter", "ask")}
    | {f"consent.line_{x}" for x in ("maybe", "gap")}
    | {f"date.permit_over_{a}" for a in ("prune", "roots")}
    | {f"date.{x}" for x in ("permit", "permit_if", "season", "season_only", "season_unless")}
    | {f"rule.grove_{x}" for x in ("in", "out", "cannot_tell")}
    | {f"date.{x}" for x in ("permit_working", "permit_if_working", "digging_holidays",
                             "permit_given_until", "permit_runs_out", "wire",
                             "wire_working", "digging")}
    | {"rule.penalty", "rule.emergency", "rule.species_doubt", "rule.species_doubt_candidates"}
)  # fmt: skip


def codes_in_source() -> set[str]:
    found = set()
    for path in Path(bolewalk.rules.__file__).parent.glob("*.py"):
        names = "|".join(TABLES)
        found |= set(re.findall(rf'(?:say\(\s*|= |if \w+ else )"((?:{names})\.[a-z_]+)"',
                                path.read_text(encoding="utf-8")))  # fmt: skip
    return found


def sentences(node):
    for value in node.values():
        if isinstance(value, str):
            yield value
        else:
            yield from sentences(value)


def test_every_code_has_a_sentence():
    wanted = codes_in_source() | BY_PATTERN
    assert len(wanted) > 120
    missing = []
    for code in sorted(wanted):
        try:
            SPEAKER.catalogue.sentence(code, (("x_count", 1),))
        except LookupError as e:
            missing.append(str(e))
    assert missing == []


def test_no_sentence_is_left_without_a_code():
    known = codes_in_source() | BY_PATTERN | {"rule.reading_over", "rule.reading_under"}
    listed = {f"{t}.{k}" for t in TABLES for k in SPEAKER.catalogue.tables[t]}
    assert listed - known == set()


def test_closed_words_are_said_in_words():
    for name, words in (("reading", READINGS), ("act", ACTS), ("party", PARTIES)):
        for w in words:
            assert SPEAKER.catalogue.word(name, w) != w or name == "act"
    for kind in SEASON_KINDS:
        assert kind in SPEAKER.catalogue.tables["words"]["season_kind"]


def test_no_sentence_promises_or_uses_a_regional_label():
    for table in TABLES:
        for text in sentences(SPEAKER.catalogue.tables[table]):
            assert not re.search(r"\b(safe|guarantee\w*|approved|dangerous tree)\b", text, re.I)
            assert text.endswith((".", "?", "}")), text
