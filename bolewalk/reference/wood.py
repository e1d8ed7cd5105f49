"""Green wood density by species, the best figure first and the others as its range."""

from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean
from typing import Literal

from bolewalk.reference.botanical import genus_key, species_key
from bolewalk.reference.settings import setting
from bolewalk.reference.tables import cite, number, read_rows

__all__ = ["WoodDensity", "WoodKind", "wood_density", "wood_kind"]

WoodKind = Literal["broadleaf", "conifer", "palm"]

_BEST_FIRST = (
    "species_published", "green_log_chart", "published_recalled", "gwd_species_mean",
    "assigned_from_related", "derived_estimate", "genus_or_related", "gwd_genus_mean",
)  # fmt: skip
_WORDS = {
    "species_published": "published for the species",
    "green_log_chart": "from a green log weight chart",
    "published_recalled": "recalled, not read",
    "gwd_species_mean": "estimate from the published basic density of the species",
    "assigned_from_related": "a related species' value",
    "derived_estimate": "estimate from a dry density",
    "genus_or_related": "the genus' value",
    "gwd_genus_mean": "estimate from the mean of the genus",
    "generic_default": "value for an unknown tree",
}


@dataclass(frozen=True, slots=True)
class WoodDensity:
    """Weight of green wood.

    Attributes
    ----------
    green_kg_m3 : float
        Green wood without bark [kg/m3].
    low_kg_m3, high_kg_m3 : float
        All figures found for the species, widened by the usual spread of moisture.
    basic_kg_m3 : float
        Oven-dry mass over green volume [kg/m3]; NaN where the figure came without it.
    basis, source, stand_in : str
        In words; stand_in is "" unless another plant's figure was used.
    """

    green_kg_m3: float
    low_kg_m3: float
    high_kg_m3: float
    basic_kg_m3: float
    basis: str
    source: str
    stand_in: str = ""


@dataclass(frozen=True, slots=True)
class _Row:
    botanical: str
    basis: str
    green: float
    basic: float
    source: str


def wood_kind(botanical: str) -> WoodKind:
    """Tell whether a plant is a conifer, a palm or (all others) a broadleaf."""
    kind = _kinds().get(genus_key(botanical), "broadleaf")
    return "conifer" if kind == "conifer" else "palm" if kind == "palm" else "broadleaf"


def wood_density(botanical: str) -> WoodDensity:
    """Give the green wood density of a species, its genus or its kind.

    Species figures come first, best basis first; without any the mean of the genus; without
    that the value for an unknown broadleaf or conifer. Palms have no measured figure: a recalled
    one with a wide range.
    """
    spread = setting("mass_settings.csv", "moisture_spread")
    kind = wood_kind(botanical)
    if kind == "palm":
        return WoodDensity(
            setting("mass_settings.csv", "palm_stem_kg_m3"),
            setting("mass_settings.csv", "palm_stem_low_kg_m3"),
            setting("mass_settings.csv", "palm_stem_high_kg_m3"),
            float("nan"), "palm stems in general", cite("memory").text,
        )  # fmt: skip
    rows = _by_species().get(species_key(botanical), [])
    if rows:
        best = rows[0]
        return _density(rows, best.green, best.basic, best.basis, best.source, spread)
    kin = [r for r in _all_rows() if genus_key(r.botanical) == genus_key(botanical) != ""]
    if kin:
        firm = [r for r in kin if r.basis == kin[0].basis]
        basics = [r.basic for r in firm if r.basic == r.basic]
        return _density(
            kin, fmean(r.green for r in firm), fmean(basics) if basics else float("nan"),
            firm[0].basis, firm[0].source, spread,
            stand_in=f"mean of {len(firm)} figures for {genus_key(botanical).capitalize()}",
        )  # fmt: skip
    generic = _generic()["(generic softwood)" if kind == "conifer" else "(generic hardwood)"]
    return _density(
        [generic], generic.green, generic.basic, generic.basis, generic.source, spread,
        stand_in=f"an unknown {kind}",
    )  # fmt: skip


def _density(
    rows: list[_Row], green: float, basic: float, basis: str, source: str, spread: float,
    *, stand_in: str = "",
) -> WoodDensity:  # fmt: skip
    greens = [r.green for r in rows]
    return WoodDensity(
        green, min([green, *greens]) * (1 - spread), max([green, *greens]) * (1 + spread),
        basic, _WORDS[basis], cite(source).text, stand_in,
    )  # fmt: skip


@lru_cache(maxsize=1)
def _all_rows() -> tuple[_Row, ...]:
    rows = [
        _Row(
            r["botanical"], r["basis"], float(r["green_kg_m3"]),
            number(r["basic_sg"]) * 1000, r["source"],
        )
        for r in read_rows("wood_density.csv")
        if r["basis"] in _BEST_FIRST
    ]  # fmt: skip
    # Of two charts the heavier goes first: it is what a crane or a rope has to hold.
    rows.sort(key=lambda r: (_BEST_FIRST.index(r.basis), -r.green, r.botanical))
    return tuple(rows)


@lru_cache(maxsize=1)
def _by_species() -> dict[str, list[_Row]]:
    found: dict[str, list[_Row]] = {}
    for row in _all_rows():
        found.setdefault(species_key(row.botanical), []).append(row)
    return found


@lru_cache(maxsize=1)
def _generic() -> dict[str, _Row]:
    return {
        r["botanical"]: _Row(
            r["botanical"], r["basis"], float(r["green_kg_m3"]), float(r["basic_sg"]) * 1000,
            r["source"],
        )
        for r in read_rows("wood_density.csv")
        if r["basis"] == "generic_default"
    }  # fmt: skip


@lru_cache(maxsize=1)
def _kinds() -> dict[str, str]:
    return {r["name"].lower(): r["kind"] for r in read_rows("biomass_groups.csv")}
