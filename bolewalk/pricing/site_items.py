"""Work that hangs on no decision in the tree table: planting, watering, root work, reports."""

from collections.abc import Sequence
from dataclasses import replace

from bolewalk.model.statements import say
from bolewalk.model.survey import Survey
from bolewalk.pricing.debris import Debris, density_kg_m3, earthwork
from bolewalk.pricing.rates import Rates
from bolewalk.pricing.tasks import TaskFacts, hours_table
from bolewalk.pricing.work_items import Standing, WorkItem

__all__ = ["dig_item", "plants_item", "site_item"]


def site_item(
    survey: Survey,
    *,
    id: str,
    task: str,
    label: str,
    count: float = 1.0,
    cut_m: float | None = None,
    tree: str = "",
    standing: Standing = "base",
    stock: int = 0,
    stock_size: str = "",
    set_price_minor: int | None = None,
) -> WorkItem:
    """Make a work item of a task that is counted or measured by length.

    Parameters
    ----------
    survey : Survey
        For the way to the truck.
    id, label, tree
        Item id, unique in the quote; what it is about; the tree it belongs to, "" = the site.
    task : str
        plant, water, report, attend, inspect, cable (by `count`), root_prune (by `cut_m`).
    count : float
        Trees planted, waterings, trees in a report, visits, cables; > 0.
    cut_m : float, optional
        Length of root cutting [m].
    stock : int
        Young trees bought, at the firm's price.
    stock_size : str
        Their size as the nursery names it, "15 gal"; the rates may price each size.
    set_price_minor : int, optional
        Price of the whole item stated beforehand, in place of hours and goods.

    Raises
    ------
    ValueError
        An unknown task, or an amount that is not above 0.
    """
    if task not in hours_table()["task"]:
        raise ValueError(f"{task!r} is no task; tasks are {', '.join(hours_table()['task'])}")
    if not count > 0 or (cut_m is not None and not cut_m > 0) or stock < 0:
        raise ValueError(f"amounts must be > 0, not count={count!r}, cut_m={cut_m!r}")
    site = survey.site
    facts = TaskFacts(
        task=task, count=count, cut_m=cut_m, carry_m=site.carry_m, slope_pct=site.slope_pct,
        gate_m=site.gate_m,
    )  # fmt: skip
    says = (say(f"scope.{task}", tree=tree or label),)
    return WorkItem(
        id, tree, label, task, standing, facts, says=says, stock=stock,
        stock_size=stock_size, set_price_minor=set_price_minor,
    )  # fmt: skip


def plants_item(
    survey: Survey,
    *,
    id: str,
    name: str,
    stock_size: str,
    plants: Sequence[str],
    each_minor: int | None = None,
) -> WorkItem:
    """Make a work item of plants of one kind and size: an option, for nobody has chosen yet.

    Parameters
    ----------
    survey, id
        As for `site_item`.
    name, stock_size : str
        The kind, and its size as the nursery names it.
    plants : sequence of str
        Their ids in the planting plan, one at least.
    each_minor : int, optional
        Price of one stated beforehand, in place of hours and goods.
    """
    count = len(plants)
    item = site_item(
        survey, id=id, task="plant", label=f"{count} x {name}, {stock_size}", count=count,
        stock=count, stock_size=stock_size, standing="option",
        set_price_minor=None if each_minor is None else each_minor * count,
    )  # fmt: skip
    says = say(
        "scope.plants", plant_count=count, name=name, stock=stock_size, plants=", ".join(plants)
    )
    return replace(item, says=(says,))


def dig_item(
    survey: Survey,
    rates: Rates,
    *,
    id: str,
    label: str,
    area_m2: float,
    depth_m: float,
    haul: bool,
    tree: str = "",
    standing: Standing = "base",
) -> WorkItem:
    """Make a work item of soil loosened by air over an area: fill pulled back, a flare uncovered.

    The hours follow the volume in place; hauled, the loose volume rides in the truck.

    Parameters
    ----------
    area_m2, depth_m : float
        >= 0.
    haul : bool
        False = the soil stays on site.
    """
    soil = earthwork(area_m2=area_m2, depth_m=depth_m, load_m3=rates.truck.box_m3)
    site = survey.site
    facts = TaskFacts(
        task="air_dig", dig_m3=soil.in_place_m3, carry_m=site.carry_m, slope_pct=site.slope_pct,
        gate_m=site.gate_m,
    )  # fmt: skip
    weight = soil.loose_m3 * density_kg_m3("soil")
    return WorkItem(
        id,
        tree,
        label,
        "air_dig",
        standing,
        facts,
        says=(
            say("scope.air_dig", tree=tree or label),
            say(f"scope.soil_{'haul' if haul else 'leave'}"),
        ),
        debris=Debris({"soil": soil.loose_m3}, {"soil": weight}) if haul else Debris({}, {}),
    )
