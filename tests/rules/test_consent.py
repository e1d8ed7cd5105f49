"""Whose tree, who must sign, what is blocked.

By hand: trunk 26 in, middle 9 in from the line: k = 9/13, circle segment
(acos k - k sqrt(1 - k^2)) / pi = 9.8 %. Gap 4 in, 0.4 in of diameter a year: 4 / 0.2 = 20 years.
"""

import pytest

from bolewalk.rules.consent import consent_for
from tests.rules.surveys import line_work, placed, square, survey_of
from tests.rules.trees import table

LINE_9_IN = line_work("fence", 0.75)
NAMED = """
[[owner]]
trees = ["T1"]
name = "Mrs. Ames"
as = "client"
[[owner]]
trees = ["T1"]
name = "Mr. Toller"
as = "neighbour"
"""


def signed(by, party, acts, tree="T1"):
    return f"""
[[consent]]
tree = "{tree}"
by = "{by}"
as = "{party}"
acts = {acts}
date = 2026-10-20
how = "signed letter"
"""


def consent(one, *works, rules="", others=()):
    tables = [table(rules)] if rules else []
    return consent_for(one, survey_of(one, *others, works=works), tables)


def test_a_sliver_of_trunk_makes_it_shared():
    got = consent(placed(), LINE_9_IN)
    assert got.line.share_beyond_pct == pytest.approx(9.8, abs=0.05)
    assert got.line.on == "yes"
    assert got.owner == "shared"
    assert [s.party for s in got.signers] == ["client", "neighbour"]
    assert set(got.blocks) == {"remove", "prune", "roots"}
    assert dict(got.blocks["remove"].values)["missing_count"] == 2
    codes = [s.code for s in got.says]
    assert "consent.line_share" in codes
    assert "consent.line_not_surveyed" in codes
    assert {s.code for s in got.meanwhile} == {
        "consent.meanwhile_look", "consent.meanwhile_survey", "consent.meanwhile_letter",
        "consent.meanwhile_no_cut",
    }  # fmt: skip


def test_the_trunk_at_the_ground_counts():
    """Breast height 16 in clears a line 9 in off, a flare of 26 in does not."""
    assert consent(placed(stems_in=(16,)), LINE_9_IN).line.on == "no"
    assert consent(placed(stems_in=(16,), flare_in=26), LINE_9_IN).line.on == "yes"


@pytest.mark.parametrize(
    ("consents", "blocked"),
    [
        ([("Mrs. Ames", "client", ["remove"])], {"remove": 1, "prune": 2, "roots": 2}),
        (
            [("Mrs. Ames", "client", ["remove"]), ("mr. toller", "neighbour", ["remove"])],
            {"prune": 2, "roots": 2},
        ),
        ([("A. Stranger", "neighbour", ["remove", "prune", "roots"])], dict.fromkeys(
            ("remove", "prune", "roots"), 2)),
        (
            [("Mrs. Ames", "client", ["remove", "prune", "roots"]),
             ("Mr. Toller", "neighbour", ["remove", "prune", "roots"])],
            {},
        ),
    ],
)  # fmt: skip
def test_two_consents_lift_the_block_act_by_act(consents, blocked):
    rules = NAMED + "".join(signed(by, p, str(a).replace("'", '"')) for by, p, a in consents)
    got = consent(placed(), LINE_9_IN, rules=rules)
    assert {a: dict(s.values)["missing_count"] for a, s in got.blocks.items()} == blocked


def test_a_consent_for_another_tree_does_not_count():
    rules = signed("x", "neighbour", '["remove"]', tree="T2")
    got = consent(placed(owner="neighbour"), rules=rules)
    assert dict(got.blocks["remove"].values)["missing_count"] == 1


@pytest.mark.parametrize(
    ("owner", "signers"),
    [
        ("client", []),
        ("neighbour", ["neighbour"]),
        ("public", ["authority"]),
        ("shared", ["client", "neighbour"]),
    ],
)
def test_who_must_sign_by_owner(owner, signers):
    got = consent(placed(owner=owner))
    assert [s.party for s in got.signers] == signers
    assert bool(got.blocks) == bool(signers)


def test_a_spouse_named_must_sign_for_the_clients_own_tree():
    rules = '[[owner]]\ntrees = ["T1"]\nname = "J. Ames"\nas = "co-owner"\n'
    assert set(consent(placed(), rules=rules).blocks) == {"remove", "prune", "roots"}


def test_an_owner_said_to_be_unknown_blocks_and_a_table_without_owners_does_not():
    said = consent(placed(owner="unknown", entered={"owner": "unknown"}))
    assert set(said.blocks) == {"remove", "roots"}
    assert "consent.owner_unknown" in {s.code for s in said.says}
    assert "consent.meanwhile_ask" in {s.code for s in said.meanwhile}
    assert consent(placed(owner="unknown")).blocks == {}


def test_four_inches_from_the_line_and_growing():
    """The same tree reaches the line in 20 years."""
    rules = f'[[line]]\ntree = "T1"\ndistance = {17 / 12}\ngrowth = 0.4\nbasis = "fence"\n'
    got = consent(placed(), rules=rules)
    assert got.line.gap_m / 0.0254 == pytest.approx(4)
    assert got.line.years_to_line == pytest.approx(20)
    assert got.blocks == {}
    said = next(s for s in got.says if s.code == "consent.line_reached")
    assert dict(said.values)["n_years"] == pytest.approx(20)


def test_a_line_not_known_well_enough():
    loose = line_work("boundary", 17 / 12, offset_m=0.2, basis="drawn")
    staked = line_work("boundary", 17 / 12, offset_m=0.05, basis="staked")
    assert consent(placed(), loose).line.on == "maybe"
    got = consent(placed(), staked).line
    assert (got.on, got.surveyed) == ("no", True)


def test_a_boundary_goes_before_a_fence():
    got = consent(placed(), LINE_9_IN, line_work("boundary", 10.0, basis="surveyed"))
    assert (got.line.on, got.line.line) == ("no", "boundary")


def test_the_path_is_too_near_for_a_root_cut():
    """5 ft = 60 in = 2.3 trunk diameters of 26 in, inside 3."""
    got = consent(placed(), LINE_9_IN, square("paving", 5.0))
    (near,) = [s for s in got.says if s.code == "consent.root_cut_near"]
    assert dict(near.values)["trunks"] == 2.3
    far = consent(placed(), LINE_9_IN, square("paving", 6.6))  # 79 in, 3.05 diameters
    assert all(s.code != "consent.root_cut_near" for s in far.says)


def test_a_neighbours_or_public_trunk_on_the_line():
    got = consent(placed(owner="neighbour"), LINE_9_IN)
    assert [s.party for s in got.signers] == ["client", "neighbour"]
    got = consent(placed(owner="public"), LINE_9_IN)
    assert [s.party for s in got.signers] == ["client", "authority"]


def test_a_trunk_wholly_beyond_a_told_line_is_not_on_it():
    rules = '[[line]]\ntree = "T1"\ndistance = -10\n'
    got = consent(placed(owner="neighbour"), rules=rules).line
    assert (got.on, got.share_beyond_pct) == ("no", 0.0)
