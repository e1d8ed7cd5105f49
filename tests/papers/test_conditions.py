"""What is printed of a verdict: little, and nothing lost."""

from dataclasses import replace

import pytest
import shapely

from bolewalk.impact.clashes import Obstacle
from bolewalk.impact.crown import CrownSolid
from bolewalk.impact.near import names_of
from bolewalk.impact.results import TreeVerdict
from bolewalk.model.statements import Statement, say
from bolewalk.model.works import Part, Work
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.conditions import decisive, nearest_flips, ways_of, weightiest
from bolewalk.papers.draw.section import section_bearing, section_through
from bolewalk.papers.language import load_catalogue
from bolewalk.papers.questions import not_asked, questions_data
from bolewalk.papers.reading import Reading
from bolewalk.papers.write import reading_of
from tests.papers.invented import findings


def judged(conditions: dict[str, tuple[Statement, ...]]) -> Reading:
    """Findings whose named trees carry these conditions and no others do."""
    f = findings()
    trees = []
    for t in f.trees:
        v = t.impact.verdict
        if v is not None:
            v = replace(v, conditions=conditions.get(t.tree.id, ()))
        trees.append(replace(t, impact=replace(t.impact, verdict=v)))
    return reading_of(replace(f, trees=tuple(trees)), catalogue=load_catalogue("en"))


MATS = say("condition.rig_on_mats", works="Deck pile (P1 to P3)")
OTHER_MATS = say("condition.rig_on_mats", works="Deck pile (P1 to P4)")
ROOTS = say("condition.roots_met", works="Trench (W1)", arborist_cm=5.08, engineer_cm=7.62)
SETTLE = say("condition.settle_present", works="Trench (W1)", kind="trench")
CROWN = say("condition.crown_limb", limb_cm=8.0)


def test_a_way_of_working_is_said_once_with_its_works_and_trees() -> None:
    reading = judged({"T1": (SETTLE, MATS, ROOTS, CROWN), "T2": (OTHER_MATS, ROOTS), "T3": (MATS,)})
    mats, roots = ways_of(reading, reading.findings.trees)
    assert (mats.letter, roots.letter) == ("A", "B")
    assert mats.where == (
        ("Deck pile (P1 to P3)", ("T1", "T3")), ("Deck pile (P1 to P4)", ("T2",)),
    )  # fmt: skip
    assert roots.where == (("", ("T1", "T2")),)
    assert mats.says == "The rig comes in and stands on ground mats."


def test_every_condition_is_printed_somewhere() -> None:
    """At the tree, as a way of working, or beside the crown's section."""
    sentences = load_catalogue("en").tables
    for name in sentences["condition"]:
        v = TreeVerdict("keep_if", "keep_if", conditions=(Statement(f"condition.{name}"),))
        own = bool(decisive(v))
        assert own or name in sentences["way"] or name in ("crown_where", "crown_limb"), name


def test_letters_go_on_past_z() -> None:
    many = tuple(say("condition.bored_below", works="W", depth_m=0.6 + i / 10) for i in range(28))
    ways = ways_of(judged({"T1": many}), judged({"T1": many}).findings.trees)
    assert [w.letter for w in ways][24:] == ["Y", "Z", "AA", "AB"]


def test_flips_are_the_nearest_few() -> None:
    v = TreeVerdict(
        "undecided", "redesign",
        flips_if=(
            say("flip.less_severed_to_keep_if", over_pct=0.3),
            say("flip.questions_decide", questions_count=1),
            say("flip.left_out_to_keep", works="A"),
            say("flip.moved_to_keep_if", works="A", shift_m=1.6),
            say("flip.moved_to_keep_if", works="B", shift_m=0.6),
            say("flip.later_redesign"),
        ),
    )  # fmt: skip
    assert [s.code.split(".")[1] for s in nearest_flips(v)] == [
        "moved_to_keep_if", "moved_to_keep_if", "less_severed_to_keep_if",
    ]  # fmt: skip
    assert dict(nearest_flips(v)[0].values)["works"] == "B"


def test_that_a_fact_is_open_is_said_by_the_verdict_alone() -> None:
    because = (
        say("verdict.open_facts_decide"),
        say("verdict.cut_inside_structural", nearest_cut_m=2.0, structural_radius_m=3.5),
    )
    v = TreeVerdict("undecided", "undecided", because=because)
    assert weightiest(v) == because[1:]
    assert weightiest(replace(v, because=because[:1])) == because[:1]


def test_questions_about_later_works_come_last_and_none_about_trees_that_go() -> None:
    f = findings()
    trees = []
    for t in f.trees:
        qs = t.impact.questions
        if t.tree.id == "T22":
            qs = (replace(qs[0], fact="Studio.later", flips=1.0), *qs)
        if t.tree.id == "T8":  # to be removed
            qs = (replace(f.trees[12].impact.questions[0], fact="East line.present", flips=1.0),)
        trees.append(replace(t, impact=replace(t.impact, questions=qs)))
    reading = Reading(replace(f, trees=tuple(trees)), reading_of(f).speaker)
    from tests.papers.conftest import invented_catalogue

    reading = reading_of(reading.findings, catalogue=invented_catalogue())
    asked = questions_data(reading)
    assert len(asked) == 3
    assert asked[-1]["trees"] == ["T22"]
    assert all("T8" not in q["trees"] for q in asked)


def test_what_is_asked_for_one_tree_is_not_called_unasked_for_another() -> None:
    f = findings()
    fact = {"works": "Power (W1)", "kind": "trench"}
    trees = list(f.trees)
    t1, t13 = trees[0], trees[12]
    q = replace(t13.impact.questions[0], ask=say("question.depth", **fact))
    trees[12] = replace(t13, impact=replace(t13.impact, questions=(q,), not_needed=()))
    unasked = (say("not_needed.depth", **fact), say("not_needed.present", **fact))
    trees[0] = replace(t1, impact=replace(t1.impact, not_needed=unasked))
    rest = [replace(t, impact=replace(t.impact, not_needed=())) for t in trees[1:]]
    reading = reading_of(replace(f, trees=(trees[0], *rest)))
    assert not_asked(reading) == ["Power (W1): whether it is there"]


def test_works_are_named_by_label_first() -> None:
    works = [
        Work("P1", "pile", (), label="Deck pile"), Work("W1", "trench", (), label="Power"),
        Work("P2", "pile", (), label="Deck pile"), Work("P3", "pile", (), label="Deck pile"),
        Work("X9", "drain", ()), Work("Lane", "paving", (), label="Lane"),
    ]  # fmt: skip
    assert names_of(works) == "Deck pile (P1 to P3); Power (W1); X9, Lane"


@pytest.mark.parametrize(
    ("inches", "text"), [(35.9, "36 in"), (8.04, "8 in"), (36.0, "3.0 ft"), (0.0, "0 in")]
)
def test_small_lengths_are_in_inches(inches: float, text: str) -> None:
    # 36 in = 3 ft; 1 in = 0.0254 m, exact.
    assert Amounts("imperial").length(inches * 0.0254) == text
    assert Amounts("metric").length(0.3) == "0.30 m"


def test_likely_money_has_no_cents() -> None:
    assert Amounts("imperial").about(123456) == "$1,235"
    assert Amounts("metric", "JPY", 0).about(1500) == "JPY 1,500"


def test_section_is_true_to_scale() -> None:
    """A spheroid 8 m wide from 2 to 10 m; a roof 3 to 5 m east of the trunk, 2.5 to 3.5 m high."""
    solid = CrownSolid((100.0, 50.0), (4.0, 4.0, 4.0, 4.0), 2.0, 10.0, "spheroid")
    roof = Work(
        "R", "roof",
        (Part("polygon", ((103.0, 48.0), (105.0, 48.0), (105.0, 52.0), (103.0, 52.0))),),
        low_m=2.5, high_m=3.5, label="Roof",
    )  # fmt: skip
    shape = shapely.box(103.0, 48.0, 105.0, 52.0)
    found = [Obstacle(roof, shape, shape, 2.5, 3.5)]
    assert section_bearing(solid, found) == pytest.approx(90.0)
    words = load_catalogue("en").labels("plan")
    drawn = section_through(
        solid, found, trunk_m=0.4, names={"R": "Roof"}, words=words, amounts=Amounts("metric"),
        width_mm=170.0, height_mm=78.0,
    )  # fmt: skip
    k = drawn.scale.mm_per_m
    bold = next(s for s in drawn.scene.strokes if s.pen == "bold")
    xs, ys = [p[0] for p in bold.points], [p[1] for p in bold.points]
    assert max(xs) - min(xs) == pytest.approx(2.0 * k)
    assert max(ys) - min(ys) == pytest.approx(1.0 * k)
    ground = next(s for s in drawn.scene.strokes if s.pen == "heavy").points[0][1]
    assert ground - max(ys) == pytest.approx(2.5 * k)
    crown = next(s for s in drawn.scene.strokes if s.pen == "crown").points
    assert max(p[0] for p in crown) - min(p[0] for p in crown) == pytest.approx(8.0 * k)
    assert ground - min(p[1] for p in crown) == pytest.approx(10.0 * k)
    trunk_x = (max(p[0] for p in crown) + min(p[0] for p in crown)) / 2
    assert min(xs) - trunk_x == pytest.approx(3.0 * k)
    assert any(s.pen == "accent" for s in drawn.scene.strokes)
    assert "2.50 m above ground" in [n.text for n in drawn.scene.notes]
