"""Reading rules.toml: every problem at once, nothing guessed, nothing unread called unprotected."""

import tomllib
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bolewalk.rules.findings import rule_findings
from bolewalk.rules.keys import HEAD_KEYS, LIST_KEYS, TABLE_KEYS
from bolewalk.rules.named import check_names
from bolewalk.rules.protection import protect
from bolewalk.rules.reader import read_rules
from tests.rules.surveys import line_work, placed, square, survey_of
from tests.rules.trees import CM, FT, HEAD, US_BREAST_M, table, tree

RULE = """
[[rule]]
id = "oaks"
citation = "c"
species = ["Quercus"]
acts = ["remove"]
"""


def problems_of(text, *, head=HEAD):
    return read_rules(tomllib.loads(head + text), file="r.toml")


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('[[rule]]\ncitation = "c"\nspecies = "any"\nacts = ["remove"]', "rule.id"),
        ('[[rule]]\nid = "a"\nspecies = "any"\nacts = ["remove"]', "rule.citation"),
        ('[[rule]]\nid = "a"\ncitation = "c"\nacts = ["remove"]', "rule.species"),
        ('[[rule]]\nid = "a"\ncitation = "c"\nspecies = "any"', "rule.acts"),
        (RULE + 'acts2 = "x"', "rule.acts2"),
        (RULE + 'size = {from = 4}', "rule.size.measure"),
        (RULE + 'size = {measure = "diameter", from = 4}', "rule.size.stems"),
        (RULE + 'size = {measure = "diameter", stems = "mean", from = 4}', "rule.size.stems"),
        (RULE + 'size = {measure = "girth", stems = "sum", from = -1}', "rule.size.from"),
        (
            RULE + 'size = {measure = "girth", stems = "sum", from = 9, below = 8}',
            "rule.size.below",
        ),
        (RULE + "permit = {fee = 3}", "rule.permit.from"),
        (RULE + 'permit = {from = "x", fee = 3.999}', "rule.permit.fee"),
        (RULE + 'replacement = {stock = "x"}', "rule.replacement.ratio"),
        (RULE + "bond = {amount = 3}", "rule.bond.years"),
        (RULE + "checked = 3", "rule.checked"),
        (RULE + RULE, "rule.id"),
        (
            '[[season]]\nid = "s"\ncitation = "c"\nkind = "nesting"\nfrom = "02-30"\nto = "08-31"\n'
            'acts = ["remove"]',
            "season.from",
        ),
        ('[digging]\ncitation = "c"', "digging.notice_days"),
        ('[[fire]]\nid = "f"\ncitation = "c"\nof = "house"\nwithin = 5\nasks = "remove"',
         "fire.of"),
        ('[[consent]]\ntree = "T1"\nby = "x"\nas = "neighbour"\nacts = "remove"\nhow = "letter"\n'
         'date = "soon"', "consent.date"),
        ('[[line]]\ntree = "T1"', "line.distance"),
        ("rules = 3", "rules"),
        ("rule = 3", "rule"),
    ],
)  # fmt: skip
def test_each_fault_names_its_key(text, field):
    # A bare key must stand before the first table.
    bare = text.startswith("rule")
    raw = tomllib.loads(text + HEAD if bare else HEAD + text)
    _, problems = read_rules(raw, file="r.toml")
    faults = [p for p in problems if p.level == "fault"]
    assert field in {p.field for p in faults}
    assert all(p.file == "r.toml" and p.expected for p in faults)


def test_all_faults_come_at_once():
    text = RULE + 'size = {from = -4, stems = "x"}\npermit = {fee = 1}\nnonsense = 1'
    read, problems = problems_of(text)
    assert {p.field for p in problems} >= {
        "rule.size.from", "rule.size.stems", "rule.permit.from", "rule.nonsense",
    }  # fmt: skip
    assert {p.row for p in problems} == {"oaks"}
    assert read.rules == ()
    assert read.left_out == {"rule": ("oaks",)}


def test_a_rule_that_could_not_be_read_may_protect_any_tree():
    text = RULE.replace('"c"', "4") + RULE.replace("oaks", "maples").replace("Quercus", "Acer")
    read, _ = problems_of(text)
    held = protect(tree("Quercus lobata", (20,)), [read], method_at_m=US_BREAST_M)
    assert [s.status for s in held.rules] == ["not_protected"]
    assert held.status == "cannot_tell"
    assert held.says[-1].code == "rule.unread"


@pytest.mark.parametrize("head", ["", "[table]\nplace = 'x'\n", HEAD.replace("2026-03-01", "1")])
def test_a_table_without_a_sound_head_may_protect_any_tree(head):
    read, problems = problems_of(RULE, head=head)
    assert any(p.field and p.field.startswith("table") for p in problems)
    assert protect(tree("Pinus radiata", (3,)), [read], method_at_m=1.37).status == "cannot_tell"


def test_units_of_the_table_count():
    imperial = table(RULE + 'size = {measure = "diameter", at = 4.5, stems = "sum", from = 10}')
    metric = table(
        RULE + 'size = {measure = "diameter", at = 1.4, stems = "sum", from = 10}',
        head=HEAD.replace("imperial", "metric"),
    )
    assert imperial.rules[0].size.from_cm == pytest.approx(10 * CM)
    assert imperial.rules[0].size.at_m == pytest.approx(4.5 * FT)
    assert metric.rules[0].size.from_cm == 10
    assert metric.rules[0].size.at_m == 1.4


@pytest.mark.parametrize(
    ("name", "level", "hint"),
    [
        ("Quercus lobatta", "fault", "perhaps Quercus lobata"),  # a slip: it would protect nothing
        ("cedar", "fault", "not one of"),
        ("Quercus dumosa", "notice", "compared as written"),  # a real oak the list does not have
    ],
)
def test_a_plant_that_would_match_nothing_is_told(name, level, hint):
    read, problems = problems_of(RULE.replace("Quercus", name))
    ((p,)) = problems
    assert (p.field, p.value, p.level) == ("rule.species", name, level)
    assert hint in p.expected
    held = protect(tree("Quercus lobata", (20,)), [read], method_at_m=US_BREAST_M)
    assert held.status == ("cannot_tell" if level == "fault" else "not_protected")


def test_names_the_survey_does_not_have():
    read = table("""
        [[owner]]
        trees = ["T1", "T9"]
        name = "A. Toller"
        as = "neighbour"
        [[wire]]
        id = "w"
        citation = "c"
        who = "the utility"
        work = "W9"
        """)
    found = check_names([read], trees=[tree()], works=[])
    assert [(p.field, p.value, p.level) for p in found] == [
        ("owner.trees", "T9", "fault"), ("wire.work", "W9", "fault"),
    ]  # fmt: skip


def test_one_id_in_two_tables_is_told():
    one, other = table(RULE), read_rules(tomllib.loads(HEAD + RULE), file="other.toml")[0]
    found = check_names([one, other], trees=[], works=[])
    assert [(p.file, p.field, p.level) for p in found] == [("other.toml", "rule.id", "notice")]
    assert check_names([one], trees=[], works=[]) == ()


SCALARS = st.one_of(
    st.none(), st.booleans(), st.integers(-(10**30), 10**30), st.floats(), st.text(max_size=6),
    st.dates(), st.sampled_from(["any", "remove", "02-30", "12-31", "sum", "building", "client"]),
)  # fmt: skip
VALUES = st.recursive(
    SCALARS,
    lambda inner: st.one_of(
        st.lists(inner, max_size=3), st.dictionaries(st.text(max_size=6), inner, max_size=3)
    ),
    max_leaves=6,
)
PARTS = sorted({k.path.split(".")[0] for of in LIST_KEYS.values() for k in of})
ENTRY = st.dictionaries(st.sampled_from(PARTS), VALUES, max_size=8)
NAMES = st.sampled_from(["table", *LIST_KEYS, *TABLE_KEYS, "other"])
GOOD_HEAD = {"place": "x", "source": "x", "checked": date(2026, 1, 1), "units": "metric"}


@settings(max_examples=150, deadline=None)
@given(
    st.dictionaries(NAMES, st.one_of(VALUES, ENTRY, st.lists(ENTRY, max_size=3)), max_size=5),
    st.booleans(),
)
def test_whatever_stands_in_the_file_is_told_and_nothing_breaks(raw, good):
    if good:
        raw = raw | {"table": GOOD_HEAD}
    read, problems = read_rules(raw, file="r.toml")
    assert all(p.file == "r.toml" and p.expected for p in problems)
    one = placed("Quercus lobata", (9, 8), crown_ft=9, decision="remove")
    works = (line_work("wire", 9), square("building", 9))
    found = rule_findings(survey_of(one, works=works), [read])
    if read.left_out.get("rule") or read.left_out.get("table"):
        assert found.trees[0].protection.status in ("protected", "depends", "cannot_tell")


def test_every_key_of_the_head_is_read():
    assert {k.path for k in HEAD_KEYS} >= set(GOOD_HEAD)
