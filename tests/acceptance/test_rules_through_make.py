"""Rules, consents and cautions through the command line, read back from findings.json.

Expected figures: worked by hand for the scenario texts; places, people and prices are invented.
"""

import json
import re
import shutil
from pathlib import Path
from typing import Any

import pypdfium2
import pytest
from click.testing import CliRunner

from bolewalk.cli import main
from tests.acceptance.conftest import Make

EXAMPLES = Path(__file__).parents[2] / "examples"
CONSENTS = "".join(
    f'\n[[consent]]\ntree = "N1"\nby = "{by}"\nas = "{party}"\n'
    'acts = ["remove", "prune", "roots"]\n'
    f'date = 2026-10-20\nhow = "signed letter"\n'
    for by, party in (("Mrs. Ames", "client"), ("Mr. Toller", "neighbour"))
)


def run(folder: Path, out: Path) -> dict[str, Any]:
    done = CliRunner().invoke(main, ["make", str(folder), "--out", str(out)])
    assert done.exit_code == 0, done.output
    findings: dict[str, Any] = json.loads((out / "findings.json").read_text("utf-8"))
    return findings


def changed(name: str, tmp_path: Path, file: str, old: str, new: str) -> Path:
    """Copy an example with one file changed; an empty `old` adds to its end."""
    folder = tmp_path / "survey"
    shutil.copytree(EXAMPLES / name, folder)
    text = (folder / file).read_text("utf-8")
    assert old in text
    text = text.replace(old, new) if old else text + new
    (folder / file).write_text(text, encoding="utf-8")
    return folder


def test_three_stems_under_a_rule_that_does_not_say_how_they_add(tmp_path: Path) -> None:
    """Sum 5.5 + 4.5 + 4 = 14.0; largest and half of each other 9.75; equal area sqrt(66.5) = 8.15.
    Zone 8.15 ft, cut at 5 ft: circle segment beyond 0.613 of the radius, 13.6 %."""
    findings = run(EXAMPLES / "larkfold", tmp_path)
    (shrub,) = findings["trees"]
    protection = shrub["protection"]
    assert protection["status"] == "depends"
    (rule,) = protection["rules"]
    sizes = {n: round(r["size"], 2) for n, r in rule["readings"].items()}
    assert (sizes["sum"], sizes["largest_plus_half_of_rest"], sizes["equal_area"]) == (
        14,
        9.75,
        8.15,
    )
    assert sizes["largest_plus_mean_of_rest"] == 9.75
    assert [n for n, r in rule["readings"].items() if r["meets"]] == ["sum"]
    assert rule["readings"]["sum"]["over"] == pytest.approx(2)
    assert rule["threshold"] == pytest.approx(12)
    # Whose tree, then how stems add, then what it is; the drain decides nothing and is not asked.
    asked = protection["questions"]
    assert [q.split()[0] for q in asked] == ["Whose", "Ask", "Settle"]
    assert "drain" not in " ".join(asked)
    # The garbled name stays as heard, with candidates, and carries no claim.
    assert shrub["species"]["botanical"] is None
    assert shrub["species"]["as_heard"] == "cherry lawrel"
    assert len(shrub["species"]["alternatives"]) == 2
    assert shrub["roots"]["proposed"]["severed_pct"] == pytest.approx(13.6, abs=0.05)
    # Nothing is quoted as the client's to remove until it is known whose it is.
    assert {w["standing"] for w in shrub["work"]} == {"blocked"}
    assert findings["price"]["total_minor"] == 0
    assert all(d["earliest"] is None for d in protection["dates"])


@pytest.mark.parametrize(("diameter", "severed"), [("9.75", 19), ("14", 28)])
def test_the_patio_takes_more_where_the_trunk_reads_thicker(
    tmp_path: Path, diameter: str, severed: float
) -> None:
    """Circle segments at 5 ft: zone 9.75 ft 19 %, zone 14 ft 28 %."""
    folder = changed("larkfold", tmp_path, "trees.csv", "5.5+4.5+4", diameter)
    (shrub,) = run(folder, tmp_path / "out")["trees"]
    assert shrub["roots"]["proposed"]["severed_pct"] == pytest.approx(severed, abs=0.5)


def test_a_tree_on_the_line_is_not_removed_on_one_signature(tmp_path: Path) -> None:
    """Trunk 26 in, middle 9 in inside: 9.8 % beyond. Path at 5 ft: 2.3 diameters, inside 3."""
    findings = run(EXAMPLES / "nether-poole", tmp_path)
    (maple,) = findings["trees"]
    protection = maple["protection"]
    consent = protection["consent"]
    assert consent["line"]["share_beyond_pct"] == pytest.approx(9.8, abs=0.05)
    assert consent["line"]["surveyed"] is False
    assert consent["owner"] == "shared"
    assert [s["name"] for s in consent["signers"]] == ["Mrs. Ames", "Mr. Toller"]
    assert set(consent["blocked"]) == {"remove", "prune", "roots"}
    assert "2.3 trunk diameters" in " ".join(consent["text"])
    removal = next(w for w in maple["work"] if w["task"].startswith("remove"))
    assert removal["standing"] == "blocked"
    assert "2 more consents" in removal["blocked_by"]
    assert removal["price_minor"] > 0
    assert findings["price"]["total_minor"] == 0
    # The path is priced all the same.
    (case,) = findings["futures"]
    keep = next(p for p in case["paths"] if p["kind"] == "keep")
    assert keep["total_minor"] == 145000 + 62000
    assert any("raise or bridge the path" in p["what"] for p in keep["payments"])
    assert protection["status"] == "no_rule"
    # And stands in the proposal with its price, beside work that may not be done yet.
    with pypdfium2.PdfDocument(tmp_path / "proposal.pdf") as pdf:
        said = " ".join(p.get_textpage().get_text_bounded() for p in pdf)
    (row,) = re.findall(r"keep\s+(\$[\d,.]+)", said)
    assert row == "$2,070.00"
    assert "May not be done yet (not in the total)" in said
    assert "Nothing can be ordered yet" in said
    assert "$0" not in said


def test_two_consents_on_record_free_the_removal(tmp_path: Path) -> None:
    folder = changed("nether-poole", tmp_path, "rules.toml", "", CONSENTS)
    findings = run(folder, tmp_path / "out")
    (maple,) = findings["trees"]
    assert maple["protection"]["consent"]["blocked"] == {}
    removal = next(w for w in maple["work"] if w["task"].startswith("remove"))
    assert removal["standing"] == "base"
    assert findings["price"]["total_minor"] > 0


def test_one_consent_does_not(tmp_path: Path) -> None:
    one = CONSENTS[: CONSENTS.index("\n[[consent]]", 2)]
    folder = changed("nether-poole", tmp_path, "rules.toml", "", one)
    (maple,) = run(folder, tmp_path / "out")["trees"]
    assert "1 more consent is" in maple["protection"]["consent"]["blocked"]["remove"]


def test_four_inches_from_the_line(tmp_path: Path) -> None:
    """Gap 4 in, 0.4 in of diameter a year: the face gains 0.2 in a year, 20 years."""
    told = f'\n[[line]]\ntree = "N1"\ndistance = {17 / 12}\ngrowth = 0.4\n'
    folder = changed("nether-poole", tmp_path, "rules.toml", "", told)
    (maple,) = run(folder, tmp_path / "out")["trees"]
    line = maple["protection"]["consent"]["line"]
    assert line["gap"] * 12 == pytest.approx(4)
    assert line["years_to_line"] == pytest.approx(20)
    assert "in 20 years" in " ".join(maple["protection"]["consent"]["text"])


def test_old_fill_over_a_protected_oak_is_asked_about(tmp_path: Path) -> None:
    """34 in oak against an invented threshold of 10 in for oaks, grading covered."""
    (oak,) = run(EXAMPLES / "ludd-parcel", tmp_path)["trees"]
    assert oak["protection"]["status"] == "protected"
    assert "for the client and a lawyer" in " ".join(oak["protection"]["notes"])
    assert oak["decision"]["word"] != "remove"


def test_a_smell_of_gas_heads_the_cautions(make: Make) -> None:
    walk = (
        "[0:05] First the oak by the gate, ten inches.\n[1:02] Bit of a gas smell by the meter.\n"
    )
    findings = make(
        trees="tree,species,x,y,diameter\nT1,Quercus robur,1,1,30\n",
        files='walk = ["walk.txt"]',
        extra={"walk.txt": walk},
    )
    (urgent,) = findings["cautions"]["urgent"]
    assert urgent.startswith("First: a smell of gas")
    assert "1:02" in urgent
    assert "no tree is free of risk" in findings["cautions"]["always"][0]
    assert findings["trees"][0]["protection"]["status"] == "no_rule"


def test_faulty_rules_are_told_with_the_rest_and_protect_nothing_in_silence(make: Make) -> None:
    rules = (
        '[table]\nplace = "P"\nsource = "s"\nchecked = 2026-01-01\nunits = "metric"\n'
        '[[rule]]\nid = "r"\ncitation = "c"\nspecies = "any"\nacts = ["fell"]\n'
    )
    findings = make(
        code=1,
        trees="tree,species,x,y,diameter\nT1,Quercus robur,1,1,30\n",
        files='rules = ["rules.toml", "gone.toml"]',
        extra={"rules.toml": rules},
    )
    told = {(p["file"], p["field"]) for p in findings["problems"]}
    assert ("rules.toml", "rule.acts") in told
    assert ("survey.toml", "files.rules") in told
    assert findings["trees"][0]["protection"]["status"] == "cannot_tell"
