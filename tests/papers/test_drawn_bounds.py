"""The bounds of a tree are those of the outlines that are drawn, taken point by point."""

import random

import pytest

from bolewalk.impact.results import RootZone
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Crown, Tree
from bolewalk.papers.shapes import crown_outline, drawn_bounds, zone_outline

from ..impact.hands import tree

SIDES = random.Random(4)


def crowned(*radii: float) -> Tree:
    return tree(x_m=12.5, y_m=-30.25, crown=Crown(*radii, basis=Figure(max(radii), "measured")))


def zone(outline: tuple[float, ...] | None) -> RootZone:
    return RootZone("multiple", 6.0, 2.0, 113.0, 50.0, "trunk", outline)


@pytest.mark.parametrize("radii", [(4, 5, 6, 3), (9, 0, 9, 9), (0, 0, 0, 7.5)])
@pytest.mark.parametrize(
    "outline", [None, tuple(SIDES.uniform(0, 11) for _ in range(360))], ids=["disc", "outline"]
)
def test_bounds_are_those_of_the_outlines(
    radii: tuple[float, ...], outline: tuple[float, ...] | None
) -> None:
    one, its_zone = crowned(*radii), zone(outline)
    points = [*(crown_outline(one) or ()), *(zone_outline(one, its_zone) or ()), (12.5, -30.25)]
    xs, ys = zip(*points, strict=True)
    told = drawn_bounds(one, its_zone)
    assert told == pytest.approx((min(xs), min(ys), max(xs), max(ys)), abs=1e-9)


def test_a_tree_without_crown_or_zone_is_where_it_stands() -> None:
    assert drawn_bounds(tree(x_m=3.0, y_m=4.0), None) == (3.0, 4.0, 3.0, 4.0)
    assert drawn_bounds(tree(x_m=None, y_m=None), zone(None)) is None
