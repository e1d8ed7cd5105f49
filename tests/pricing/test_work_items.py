"""From decisions to work in defined words; the cases are hand-made."""

import pytest

from bolewalk.model.figures import Figure
from bolewalk.model.statements import say
from bolewalk.model.trees import Species
from bolewalk.pricing.material import survey_materials
from bolewalk.pricing.site_facts import surroundings
from bolewalk.pricing.site_items import site_item
from bolewalk.pricing.work_items import prune_task, work_items
from tests.pricing.jobs import PALM, Conditions, oak, rich_survey, survey_of
from tests.pricing.money_files import rates


def items_of(*trees, firm=None, **more):
    survey = survey_of(*trees)
    return work_items(survey, firm or rates(), materials=survey_materials(survey), **more)


def test_a_removal_states_every_scope_word():
    removal, grind = items_of(oak("T1", decision="remove"))
    assert set(removal.scope) == {"stump", "wood", "chips", "clean_up"}
    codes = [s.code for s in removal.says]
    assert codes == ["scope.remove", "scope.stump_grind", "scope.wood_haul", "scope.chips_haul",
                     "scope.clean_up_rake"]  # fmt: skip
    assert (grind.task, grind.standing, grind.after) == ("grind", "base", (removal.id,))


def test_a_stump_left_is_an_option():
    removal, grind = items_of(oak("T1", decision="remove"), firm=rates(scope__stump="leave"))
    assert removal.scope["stump"] == "leave"
    assert grind.standing == "option"


def test_left_wood_and_chips_are_not_debris():
    (removal, _) = items_of(
        oak("T1", decision="remove"), firm=rates(scope__wood="leave", scope__chips="leave")
    )
    assert removal.debris.total_m3 == 0


@pytest.mark.parametrize(
    ("notes", "task", "assumed"),
    [
        ("reduce over the roof", "prune_reduce", False),
        ("Crown clean", "prune_clean", False),
        ("dead limb over drive", "prune_clean", False),
        ("raise over the street", "prune_raise", False),
        ("top's a bit thin", "prune_thin", False),
        ("structural prune", "prune_structural", False),
        ("restore old topping points", "prune_restoration", False),
        ("something by the gate", "prune_clean", True),  # "thin" inside "something" is no word
        ("", "prune_clean", True),
    ],
)
def test_kinds_of_pruning(notes, task, assumed):
    assert prune_task(oak("T1", notes=notes)) == (task, assumed)
    (item,) = items_of(oak("T1", decision="prune", notes=notes))
    assert ("scope.prune_kind_assumed" in [s.code for s in item.assumed]) == assumed


def test_palms_are_pruned_as_palms():
    low = Figure(4.0, "measured")
    assert prune_task(oak("P", species=PALM, notes="reduce", height_m=low))[0] == "prune_palm"
    unknown = Species(None, None, "some palm")
    assert prune_task(oak("P", species=unknown, form="palm", height_m=low))[0] == "prune_palm"


def test_tall_palms_are_not_climbed_under_a_skirt():
    for height in (Figure(4.1, "measured"), None):
        palm = oak("P", species=PALM, decision="prune", height_m=height)
        assert prune_task(palm)[0] == "prune_palm_lift"
        (item,) = items_of(palm)
        assert "scope.palm_skirt" in [s.code for s in item.says]


@pytest.mark.parametrize("owner", ["shared", "neighbour", "public"])
def test_no_work_without_the_other_owner(owner):
    tree = oak("T1", decision="remove", owner=owner)
    blocked = [(i.task, i.standing, i.blocked_by.code) for i in items_of(tree)]
    why = f"scope.blocked_{owner}"
    assert blocked == [(t, "blocked", why) for t in ("remove", "grind")]
    agreed = [(i.standing, i.blocked_by) for i in items_of(tree, consents=["T1"])]
    assert agreed == [("base", None)] * 2


def test_who_weighed_the_leave_decides_act_by_act():
    """By hand: removal and grinding follow one act, pruning another; looking needs none."""
    why = say("consent.blocked_remove", tree="T1", missing_count=1)
    tree = oak("T1", decision="remove", owner="shared")
    for item in items_of(tree, blocked={"T1": {"remove": why}}):
        assert (item.standing, item.blocked_by) == ("blocked", why)
    (pruning,) = items_of(
        oak("T1", decision="prune", owner="shared"), blocked={"T1": {"remove": why}}
    )
    assert (pruning.standing, pruning.blocked_by) == ("base", None)
    for item in items_of(tree, blocked={}):
        assert item.standing == "base"
    (visit,) = items_of(
        oak("T1", decision="monitor"), blocked={"T1": {"remove": why, "prune": why}}
    )
    assert visit.standing == "base"


def test_looking_needs_no_consent():
    (visit,) = items_of(oak("T1", decision="monitor", owner="neighbour"))
    assert (visit.task, visit.standing) == ("monitor", "base")


def test_an_owner_nobody_recorded_is_said():
    (item,) = items_of(oak("T1", decision="prune", owner="unknown"))
    assert item.standing == "base"
    assert "scope.owner_not_recorded" in [s.code for s in item.assumed]


def test_retained_trees_get_what_a_verdict_asks_for():
    verdict = Conditions("condition.crown_over", "condition.roots_met", "condition.fence")
    items = items_of(oak("T1", decision="retain"), verdicts={"T1": verdict})
    assert [(i.task, i.standing) for i in items] == [
        ("prune_clearance", "option"), ("attend", "option"),
    ]  # fmt: skip
    assert items_of(oak("T1", decision="retain")) == ()
    # A tree that goes needs no protection.
    gone = items_of(oak("T1", decision="remove"), verdicts={"T1": verdict})
    assert [i.task for i in gone] == ["remove", "grind"]


def test_what_stands_about_a_tree():
    survey = rich_survey()
    by_id = {t.id: surroundings(t, survey) for t in survey.trees}
    # T1 at the origin, crown 6 m: wire 7 m north (within 6 + 3), house 4 m east.
    assert (by_id["T1"].wires, by_id["T1"].targets) == (True, 1)
    assert by_id["T1"].clear_m == pytest.approx(4.0)
    # T8 stands 150 m from the wire's end.
    assert (by_id["T8"].wires, by_id["T8"].targets) == (False, 0)
    assert by_id["T2"].wires is None  # not located
    bare = survey_of(oak("T1", x_m=0.0, y_m=0.0))
    assert surroundings(bare.trees[0], bare).wires is None  # nothing on the site was recorded


def test_counted_work():
    survey = survey_of()
    item = site_item(survey, id="S1", task="plant", label="three oaks", count=3, stock=3)
    assert (item.facts.count, item.facts.carry_m) == (3, 35.0)
    with pytest.raises(ValueError, match="no task"):
        site_item(survey, id="S1", task="mow", label="lawn")
    with pytest.raises(ValueError, match="must be > 0"):
        site_item(survey, id="S1", task="plant", label="none", count=0)


def test_several_stems_count_by_equal_area():
    stems = tuple(Figure(d, "measured") for d in (30.0, 40.0))
    (item,) = items_of(oak("T1", decision="prune", stems_cm=stems))
    assert item.diameter_cm == pytest.approx(50.0)
