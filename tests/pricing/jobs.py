"""Surveys to price; people and places invented."""

from datetime import date
from functools import cache

from bolewalk.model.figures import Figure
from bolewalk.model.statements import say
from bolewalk.model.survey import Method, Site, Survey
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.works import Part, Work
from bolewalk.pricing.debris import TreeMaterial
from bolewalk.pricing.price import Price, price_survey
from bolewalk.pricing.site_items import dig_item, site_item
from tests.pricing.money_files import rates

__all__ = ["demo_price", "material", "oak", "rich_price", "rich_survey", "survey_of"]

OAK = Species("Quercus rubra", "northern red oak", "red oak")
PALM = Species("Washingtonia robusta", "Mexican fan palm", "fan palm")


def oak(
    name: str, *, trunk_cm: float = 60.0, height_m: float | Figure | None = 18.0, **more: object
) -> Tree:
    """Give an oak of the client's, 60 cm and 18 m unless told otherwise."""
    given = {
        "stems_cm": (Figure(trunk_cm, "measured"),),
        "height_m": Figure(height_m, "estimated") if isinstance(height_m, float) else height_m,
        "owner": "client",
        "species": OAK,
    }
    return Tree(id=name, **{**given, **more})  # type: ignore[arg-type]


def material(kg: float = 4000.0, *, spread: float = 0.3) -> TreeMaterial:
    """Give a material of `kg`, six tenths of it logs."""
    return TreeMaterial(kg, kg * (1 - spread), kg * (1 + spread), kg * 0.6, kg * 0.05)


def survey_of(*trees: Tree, works: tuple[Work, ...] = (), site: Site | None = None) -> Survey:
    """Give a survey of these trees."""
    return Survey(
        "Orrel house", date(2026, 5, 12), "imperial", "estimate", Method("inch-foot"),
        site=site or Site(slope_pct=12.0, carry_m=35.0, gate_m=1.2), trees=trees, works=works,
    )  # fmt: skip


def _crown(radius_m: float) -> Crown:
    return Crown(radius_m, radius_m, radius_m, radius_m, Figure(radius_m, "estimated"))


def rich_survey() -> Survey:
    """Give a survey with every decision, every owner, a palm, wires and a house."""
    at = {"x_m": 0.0, "y_m": 0.0, "crown": _crown(6.0)}
    far = {"x_m": 200.0, "y_m": 0.0, "crown": _crown(5.0)}
    trees = (
        oak("T1", decision="remove", **at),
        oak("T2", decision="remove", owner="shared", trunk_cm=45.0),
        oak("T3", decision="prune", notes="reduce over the roof"),
        oak("T4", decision="prune"),
        oak("T5", decision="monitor", owner="neighbour"),
        oak("T6", decision="inspect", owner="unknown"),
        oak("T7", decision="retain"),
        oak("T8", decision="remove", **far),
        oak("T9", decision="remove", health="dead", trunk_cm=90.0, height_m=25.0),
        Tree("T10", OAK, decision="remove", owner="client"),
        Tree("T11", PALM, decision="prune", owner="unknown", height_m=Figure(9.0, "estimated"),
             stems_cm=(Figure(40.0, "measured"),)),
        Tree("T12", PALM, decision="remove", owner="client", height_m=Figure(12.0, "estimated"),
             stems_cm=(Figure(40.0, "measured"),)),
        oak("T13", decision="prune", owner="public"),
    )  # fmt: skip
    works = (
        Work("W1", "wire", (Part("line", ((-50.0, 7.0), (50.0, 7.0))),), phase="existing"),
        Work(
            "W2", "building",
            (Part("polygon", ((4.0, -10.0), (14.0, -10.0), (14.0, 0.0), (4.0, 0.0))),),
            phase="existing",
        ),
    )  # fmt: skip
    return survey_of(*trees, works=works)


class Conditions:
    """A verdict as this room sees it."""

    def __init__(self, *codes: str) -> None:
        self.conditions = tuple(say(c) for c in codes)


@cache
def demo_price() -> Price:
    """Give the price of two removals and two prunings."""
    trees = [
        oak(f"T{k}", decision="remove" if k % 2 else "prune", notes="raise") for k in range(1, 5)
    ]
    return price_survey(survey_of(*trees, site=Site()), rates())


@cache
def rich_price() -> Price:
    """Give the price of the rich survey with extras, conditions and permits."""
    survey, firm = rich_survey(), rates()
    extra = (
        site_item(survey, id="S1", task="plant", label="three oaks", count=3, stock=3),
        site_item(survey, id="S2", task="water", label="three oaks", count=12),
        site_item(survey, id="S3", task="report", label="report", count=13),
        site_item(survey, id="S4", task="root_prune", label="drive edge", cut_m=4.0),
        site_item(survey, id="S5", task="cable", label="two stems", tree="T7"),
        dig_item(survey, firm, id="S6", label="fill", area_m2=20.0, depth_m=0.3, haul=True),
    )
    verdicts = {"T7": Conditions("condition.crown_over", "condition.roots_met"), "T3": Conditions()}
    return price_survey(
        survey, firm, verdicts=verdicts, permits={"T1": ["removal"], "T9": ["removal", "street"]},
        extra=extra,
    )  # fmt: skip
