"""An invented yard: trees and works at known places."""

from datetime import date

from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Site, Survey
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.works import Part, Work


def measured(value):
    return Figure(value, "measured")


def tree(id_, x, y, *, radius=4.0, height=10.0, trunk_cm=30.0, decision=None,
         botanical="Quercus agrifolia", base=2.0):  # fmt: skip
    return Tree(
        id_, Species(botanical, botanical, botanical), x_m=x, y_m=y,
        stems_cm=(measured(trunk_cm),), height_m=measured(height), crown_base_m=measured(base),
        crown=Crown(radius, radius, radius, radius, measured(radius)), decision=decision,
    )  # fmt: skip


def square(x, y, side):
    return ((x, y), (x + side, y), (x + side, y + side), (x, y + side))


def area(id_, kind, ring, **kw):
    return Work(id_, kind, (Part("polygon", ring),), phase="existing", **kw)


def yard(*trees, works=(), slope_pct=None, bearing=None, region="Inland Empire", side=60.0):
    """A square lot from (0, 0), its boundary closed."""
    return Survey(
        "Yard", date(2026, 5, 12), "metric", "opinion",
        Method("as4970-2009", growth_region=region), trees=tuple(trees),
        site=Site(slope_pct=slope_pct, slope_bearing_deg=bearing),
        works=(area("B", "boundary", square(0, 0, side)), *works),
    )  # fmt: skip
