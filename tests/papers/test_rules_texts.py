"""What the rules say, for one tree and for the report, as printed."""

from dataclasses import replace

import pytest

from bolewalk.demo.make_skeleton import new_folder
from bolewalk.intake.folder import read_folder
from bolewalk.papers.reading import Reading
from bolewalk.papers.rules_texts import rules_data, tree_rules_data
from bolewalk.papers.write import reading_of
from bolewalk.survey import assess

RULES = """
[table]
place = "Nether Poole"
source = "invented"
checked = 2026-01-05
units = "imperial"

[[rule]]
id = "by-sum"
citation = "Code 1 (invented)"
species = "any"
size = {measure = "diameter", stems = "sum", from = 12}
acts = ["remove"]
permit = {from = "Town", wait_days = 21}

[[rule]]
id = "by-area"
citation = "Code 2 (invented)"
species = "any"
size = {measure = "diameter", stems = "equal_area", from = 12}
acts = ["remove"]

[[rule]]
id = "by-half"
citation = "Code 3 (invented)"
species = "any"
size = {measure = "diameter", stems = "largest_plus_half_of_rest", from = 12}
acts = ["remove"]
"""


@pytest.fixture(scope="module")
def reading(tmp_path_factory: pytest.TempPathFactory) -> Reading:
    root = tmp_path_factory.mktemp("s") / "survey"
    new_folder(root)
    head = (root / "survey.toml").read_text("utf-8")
    head = head.replace('# rules = ["rules.toml"]', 'rules = ["rules.toml"] #')
    (root / "survey.toml").write_text(head, "utf-8")
    (root / "rules.toml").write_text(RULES, "utf-8")
    (root / "trees.csv").write_text(
        "tree,species,x,y,diameter,flare,owner,decision\n"
        # Three stems of one maple; a trunk of 26 in whose middle stands 9 in inside the line.
        "T1,bigleaf maple,50,50,5.5+4.5+4,,client,remove\n"
        "T2,Norway maple,100,50,24,26,shared,remove\n",
        "utf-8",
    )
    line = (
        '{"type":"Feature","properties":{"id":"B","kind":"boundary","phase":"existing"},'
        '"geometry":{"type":"LineString","coordinates":[[100.75,0],[100.75,200]]}}'
    )
    collection = '{"type":"FeatureCollection","features":[' + line + "]}"
    (root / "works.geojson").write_text(collection, "utf-8")
    return reading_of(assess(read_folder(root)))


def test_three_rules_and_every_reading_of_them(reading: Reading) -> None:
    """14.0 in by sum, 9.75 by largest and half of the rest, 8.15 by equal area; threshold 12.

    By hand: 5.5 + 4.5 + 4 = 14; 5.5 + (4.5 + 4) / 2 = 9.75; sqrt(30.25 + 20.25 + 16) = 8.15.
    """
    data = tree_rules_data(reading, "T1")
    assert data is not None
    assert data["status"] == "protected"
    assert [(r["rule"], r["status"]) for r in data["rules"]] == [
        ("by-sum", "protected"), ("by-area", "not_protected"), ("by-half", "not_protected"),
    ]  # fmt: skip
    deciding = [next(x for x in r["readings"] if x["decides"]) for r in data["rules"]]
    assert [(d["size"], d["over"]) for d in deciding] == [
        ("14.0 in", "2.0 in"), ("8.2 in", "3.8 in"), ("9.8 in", "2.2 in"),
    ]  # fmt: skip
    (removal,) = [d for d in data["dates"] if d["act"] == "removal"]
    assert removal["earliest"] == "2026-02-21"  # 31 January and 21 days
    row = next(r for r in (rules_data(reading) or {})["rows"] if r["id"] == "T1")
    every = " ".join(row["why"])
    for said in ("14.0 in", "8.2 in", "9.8 in", "by-sum", "by-area", "by-half"):
        assert said in every, said


def test_a_boundary_tree_blocks_removal_and_says_what_can_be_done(reading: Reading) -> None:
    """9.8 % of the section beyond the line: (acos k - k sqrt(1 - k^2)) / pi, k = 9 / 13."""
    data = tree_rules_data(reading, "T2")
    assert data is not None
    assert any("9.8 % of the trunk of tree T2 lies beyond the line" in s for s in data["leave"])
    assert {"remove", "prune", "roots"} <= set(data["blocked"])
    assert "until 2 more consents are on record" in data["blocked"]["remove"]
    assert any("raising or bridging a path" in s for s in data["meanwhile"])
    assert [s["as"] for s in data["signers"]] == ["the client", "the neighbour"]
    (removal,) = [d for d in data["dates"] if d["act"] == "removal"]
    assert removal["earliest"] == ""
    price = reading.findings.price
    assert price is not None
    (line,) = [x for x in price.of("blocked") if x.item.task.startswith("remove")]
    assert line.item.tree == "T2"
    assert line.price_minor > 0


def test_a_missing_consent_is_said_once(reading: Reading) -> None:
    row = next(r for r in (rules_data(reading) or {})["rows"] if r["id"] == "T2")
    said = " ".join((*row["leave"], *row["dates"]))
    assert said.count("more consents are on record") == 1
    assert "No day yet for removal." in said


def test_no_tree_and_no_rules_give_nothing(reading: Reading) -> None:
    assert tree_rules_data(reading, "T9") is None
    bare = reading_of(replace(reading.findings, rules=None))
    assert tree_rules_data(bare, "T1") is None
    assert rules_data(bare) is None
