"""Works as drawings have them at their worst: a judgement or a clear error, never a crash."""

import math
from dataclasses import replace
from datetime import date

import numpy as np
import pytest

from bolewalk.impact.assess import assess_tree
from bolewalk.impact.revisions import reopened
from bolewalk.impact.site_tables import pile_table, stake_out_list
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Survey
from bolewalk.model.works import Part, Work

from .hands import box, crown, line, pile, tree

TREE = tree(
    crown=crown(4.0), height_m=Figure(10.0, "measured"), crown_base_m=Figure(2.0, "measured")
)


def judged(*works):
    s = Survey(
        "Ludd parcel", date(2026, 4, 1), "metric", "opinion", Method("as4970-2009"),
        trees=(TREE,), works=works,
    )  # fmt: skip
    impact = assess_tree(TREE, s)
    assert impact.verdict is not None
    pile_table(s, [impact])
    stake_out_list(s, [impact])
    assert reopened(s, s) == {}
    return impact


ROUND = [
    (5 + 2 * math.cos(2 * math.pi * k / 10_000), 2 * math.sin(2 * math.pi * k / 10_000))
    for k in range(10_000)
]


@pytest.mark.parametrize(
    "works",
    [
        [Work("H", "roof", (Part("polygon", ((-9, -9), (9, -9), (9, 9), (-9, 9)),
                                 (((-3, -3), (-3, 3), (3, 3), (3, -3)),)),))],
        [box("A", "slab", (2, 2), (4, 4)), box("B", "slab", (4, 2), (6, 4))],
        [box("A", "excavation", (3, 2), (5, 4)), box("A2", "excavation", (3, 2), (5, 4))],
        [line("Z", "trench", (3, -5), (3, 5), width_m=0.0)],
        [Work("V", "roof", (Part("polygon", tuple(ROUND)),), low_m=3.0)],
        [box("E", "building", (0, -5), (5, 5))],
        [box("C", "building", (0, 0), (5, 5))],
        [Work("X", "building", (Part("polygon", ((2, 2), (5, 5), (5, 2), (2, 5))),))],
        [Work("P", "pile", (Part("point", ((3, 0),)),))],
        [Work("L", "wire", (Part("line", ((-9, 1), (9, 1))),), low_m=5.0, high_m=5.0)],
        [Work("D", "storage", (Part("point", ((3, 0),)),))],
        [line("S", "trench", (3, 1), (3, 1))],
        [Work("N", "trench", ())],
        [box("F", "fence", (2, 2), (4, 4)), line("Y", "boundary", (-9, 2), (9, 2))],
        [box("O", "roof", (1, 1), (6, 6), low_m=9.0, high_m=3.0)],
        [box("O", "roof", (1, 1), (6, 6), offset_m=50.0, present="unknown")],
    ],
    ids=lambda works: works[0].id,
)  # fmt: skip
def test_a_judgement_comes_out(works) -> None:
    impact = judged(*works)
    assert impact.verdict.now in ("keep", "keep_if", "redesign", "undecided")
    assert impact.crown is not None
    assert 0.0 <= impact.crown.removed_pct <= 100.0


def test_duplicates_count_once() -> None:
    one = judged(box("A", "excavation", (3, 2), (5, 4)))
    two = judged(box("A", "excavation", (3, 2), (5, 4)), box("A2", "excavation", (3, 2), (5, 4)))
    assert one.roots.proposed.severed_pct == pytest.approx(two.roots.proposed.severed_pct)


@pytest.mark.parametrize("bad", [math.nan, math.inf])
def test_offsets_that_are_no_numbers_are_refused(bad) -> None:
    with pytest.raises(ValueError, match="offset"):
        judged(line("W1", "trench", (3, -5), (3, 5), offset_m=bad))


def test_large_grid_coordinates_change_nothing() -> None:
    # A survey on a state plane grid: the same scene 2,000 km east and 600 km north.
    works = [pile("P1", (3.0, 1.0)), box("R1", "roof", (1, 1), (6, 6), low_m=4.0)]
    here = judged(*works)
    far = replace(TREE, x_m=2.0e6, y_m=6.0e5)
    away = [
        replace(
            w,
            parts=tuple(
                Part(p.shape, tuple((x + 2.0e6, y + 6.0e5) for x, y in p.ring)) for p in w.parts
            ),
        )
        for w in works
    ]
    s = Survey(
        "x", date(2026, 4, 1), "metric", "opinion", Method("as4970-2009"),
        trees=(far,), works=tuple(away),
    )  # fmt: skip
    there = assess_tree(far, s)
    assert there.verdict is not None
    assert there.verdict.now == here.verdict.now
    assert there.crown.removed_pct == pytest.approx(here.crown.removed_pct, abs=1e-6)
    assert [q.flips for q in there.questions] == [q.flips for q in here.questions]


@pytest.mark.parametrize("seed", range(12))
def test_random_sites_hold_together(seed) -> None:
    rng = np.random.default_rng(seed)
    kinds = ("pile", "trench", "slab", "fill", "roof", "building", "wall", "drain", "access")
    works = []
    for i in range(6):
        kind = str(rng.choice(kinds))
        at, size = rng.uniform(-8, 8, 2), rng.uniform(0.3, 6, 2)
        more = {
            "phase": str(rng.choice(["existing", "proposed", "possible later"])),
            "present": str(rng.choice(["yes", "unknown"])),
            "offset_m": float(rng.choice([0.0, 0.5])),
        }
        if kind == "pile":
            works.append(pile(f"W{i}", tuple(at), **more))
        elif kind in ("trench", "drain", "wall", "access"):
            works.append(line(f"W{i}", kind, tuple(at), tuple(at + size), width_m=0.5, **more))
        else:
            works.append(box(f"W{i}", kind, tuple(at), tuple(at + size), **more))
    impact = judged(*works)
    # What is asked can change something, and what decides is asked.
    assert all(q.flips > 0 for q in impact.questions)
    if impact.verdict.now == "undecided":
        assert impact.questions
        assert any(c.code.startswith("condition.settle_") for c in impact.verdict.conditions)
