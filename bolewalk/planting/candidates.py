"""Every candidate for a spot, with what speaks for and against it; no score hides a reason."""

from dataclasses import dataclass

from bolewalk.model.statements import Statement, say
from bolewalk.model.units import M_PER_FT
from bolewalk.planting.palette import PaletteTaxon, load_palette, plant_factor, water_class
from bolewalk.planting.plan import Light, PlantingSite, Purpose
from bolewalk.planting.tables import rules
from bolewalk.reference.water import WaterClass

__all__ = ["Candidate", "Surroundings", "list_candidates"]

_ORDER: tuple[WaterClass, ...] = ("very low", "low", "moderate", "high")


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What stands at the place to be planted.

    `under_wire` tells that wires pass near; `paving_near` that paving does; `standing` holds
    (species, genus, family) of the trees that stay; `bare_zone` that the place reaches into the
    strip at the house kept without plants.
    """

    under_wire: bool = False
    paving_near: bool = False
    standing: tuple[tuple[str, str, str], ...] = ()


@dataclass(frozen=True, slots=True)
class Candidate:
    """One plant and its reasons.

    `breaks` are limits it does not hold; `against` speaks against it without breaking a limit.
    `water` is its published class, "not rated" where there is none. `source` says where its
    size comes from.
    """

    taxon: PaletteTaxon
    fits: bool
    reasons: tuple[Statement, ...]
    against: tuple[Statement, ...]
    breaks: tuple[Statement, ...]
    water: WaterClass
    source: str


def list_candidates(
    site: PlantingSite,
    purposes: tuple[Purpose, ...],
    *,
    around: Surroundings | None = None,
    light: Light | None = None,
) -> tuple[Candidate, ...]:
    """Give every plant of the palette with its reasons.

    Parameters
    ----------
    site : PlantingSite
        Limits; what is not told is no limit.
    purposes : tuple of Purpose
    around : Surroundings, optional
    light : Light, optional
        Light of the bed, over the site's.

    Returns
    -------
    tuple of Candidate
        Those that break no limit first, each group by botanical name: the order is no ranking.
    """
    here = around or Surroundings()
    sun = light or site.light
    found = [_judge(t, site, purposes, here, sun) for t in load_palette()]
    return tuple(sorted(found, key=lambda c: (not c.fits, c.taxon.botanical)))


def _judge(
    t: PaletteTaxon, site: PlantingSite, purposes: tuple[Purpose, ...], around: Surroundings,
    sun: Light | None,
) -> Candidate:  # fmt: skip
    good: list[Statement] = []
    bad: list[Statement] = []
    breaks: list[Statement] = []
    for p in purposes:
        (good if p in t.uses else bad).append(
            say(f"planting.{'gives' if p in t.uses else 'gives_no'}", use=p)
        )
    if sun is not None:
        told = say(f"planting.light_{'good' if sun in t.light else 'wrong'}", light=sun)
        (good if sun in t.light else breaks).append(told)
    _origin(t, site, good, breaks)
    need = _water(t, site, good, bad, breaks)
    _size(t, site, around, good, breaks)
    for wanted, name in ((site.salt, "salt"), (site.wind, "wind"),
                         (site.shallow_soil, "shallow soil")):  # fmt: skip
        if wanted:
            has = name in t.stands
            (good if has else bad).append(
                say(f"planting.stands{'' if has else '_not'}", stress=name)
            )
    if site.evergreen:
        if t.evergreen is None:
            bad.append(say("planting.leaf_unknown"))
        else:
            (good if t.evergreen else breaks).append(
                say(f"planting.{'evergreen' if t.evergreen else 'deciduous'}")
            )
    if around.paving_near and t.roots != "low":
        bad.append(say(f"planting.roots_{t.roots}"))
    _diversity(t, around, bad)
    return Candidate(t, not breaks, tuple(good), tuple(bad), tuple(breaks), need, t.height_m.source)


def _origin(
    t: PaletteTaxon, site: PlantingSite, good: list[Statement], breaks: list[Statement]
) -> None:
    if not site.native_to:
        return
    native = site.native_to.lower() in (p.lower() for p in t.native_to)
    if native:
        good.append(say("planting.native", place=site.native_to))
    elif site.natives_only:
        breaks.append(say("planting.not_native", place=site.native_to, origin=t.origin))


def _water(
    t: PaletteTaxon, site: PlantingSite, good: list[Statement], bad: list[Statement],
    breaks: list[Statement],
) -> WaterClass:  # fmt: skip
    if not site.water_region:
        return "not rated"
    need = water_class(t.botanical, site.water_region)
    if need == "not rated":
        bad.append(say("planting.water_not_rated", region=site.water_region))
    elif plant_factor(need) is None:
        breaks.append(say("planting.water_not_for_region", region=site.water_region))
    elif site.water_at_most is None:
        good.append(say("planting.water_class", water=need, region=site.water_region))
    else:
        within = _ORDER.index(need) <= _ORDER.index(site.water_at_most)
        (good if within else breaks).append(
            say(
                f"planting.water_{'within' if within else 'over'}", water=need,
                water_limit=site.water_at_most, region=site.water_region,
            )
        )  # fmt: skip
    return need


def _size(
    t: PaletteTaxon, site: PlantingSite, around: Surroundings, good: list[Statement],
    breaks: list[Statement],
) -> None:  # fmt: skip
    tall, wide = t.height_m.high or t.height_m.value, t.spread_m.high or t.spread_m.value
    good.append(say("planting.grown_size", height_m=t.height_m.value, width_m=t.spread_m.value))
    limit = float(rules("planting_rules")["size_class"]["small_ft"]) * M_PER_FT
    if around.under_wire and tall > limit:
        breaks.append(say("planting.too_tall_for_wires", height_m=tall, limit_m=limit))
    if site.height_at_most_m is not None and tall > site.height_at_most_m:
        breaks.append(say("planting.too_tall", height_m=tall, limit_m=site.height_at_most_m))
    if site.width_at_most_m is not None and wide > site.width_at_most_m:
        breaks.append(say("planting.too_wide", width_m=wide, limit_m=site.width_at_most_m))


def _diversity(t: PaletteTaxon, around: Surroundings, bad: list[Statement]) -> None:
    table = rules("planting_rules")["diversity"]
    whole = len(around.standing)
    if whole + 1 < int(table["least_trees"]):
        return
    for n, (rank, name) in enumerate(
        (("species", t.botanical), ("genus", t.genus), ("family", t.family))
    ):
        have = sum(s[n] == name for s in around.standing)
        limit = float(table[f"{rank}_pct"])
        share = 100 * (have + 1) / (whole + 1)
        if have and share > limit:
            bad.append(
                say(f"planting.over_{rank}", name=name, share_pct=share, limit_pct=limit,
                    trees_count=whole + 1)
            )  # fmt: skip
