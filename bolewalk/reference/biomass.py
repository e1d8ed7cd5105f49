"""Published volume and biomass equations, and which of them speaks for a species."""

import math
from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean

from bolewalk.reference.botanical import genus_key, species_key
from bolewalk.reference.tables import cite, number, read_rows

__all__ = [
    "Biomass", "Shares", "component_shares", "foliage_dry_per_fresh", "general_volume",
    "group_equation", "matched_name", "volume_equation",
]  # fmt: skip

_URBAN_GENERAL = {"broadleaf": "Urb Gen Broadleaf", "conifer": "Urb Gen Conifer"}


@dataclass(frozen=True, slots=True)
class Biomass:
    """One published equation.

    `predicts` is volume_m3 (wood of stem and branches above ground), dry_kg, dry_kg_with_foliage
    or a share. `dbh_min_cm`, `dbh_max_cm` are the trunks it was fitted on, NaN where not told.
    `dry_kg_m3` turns volume into dry mass, NaN where not told.
    """

    id: str
    name: str
    predicts: str
    form: str
    a: float
    b: float
    c: float
    dbh_min_cm: float
    dbh_max_cm: float
    dry_kg_m3: float
    source: str

    @property
    def needs_height(self) -> bool:
        """Whether the equation takes a height."""
        return self.form == "power_dh"

    def __call__(self, dbh_cm: float, height_m: float = math.nan) -> float:
        """Evaluate: dbh [cm] > 0, height [m] > 0 where needed."""
        if self.form == "power_dh":
            return float(self.a * dbh_cm**self.b * height_m**self.c)
        if self.form == "power_d":
            return float(self.a * dbh_cm**self.b)
        if self.form == "log_d":
            return math.exp(self.a + self.b * math.log(dbh_cm))
        if self.form == "ratio_d":
            return math.exp(self.a + self.b / dbh_cm)
        raise ValueError(f"{self.id}: form {self.form!r} takes more than trunk and height.")


@lru_cache(maxsize=1)
def _equations() -> tuple[Biomass, ...]:
    return tuple(
        Biomass(
            r["id"], r["name"], r["predicts"], r["form"], float(r["a"]), float(r["b"]),
            number(r["c"]), number(r["dbh_min_cm"]), number(r["dbh_max_cm"]),
            number(r["dry_kg_m3"]), cite(r["source"]).text,
        )
        for r in read_rows("biomass.csv")
    )  # fmt: skip


@lru_cache(maxsize=1)
def _matches() -> dict[str, str]:
    return {
        species_key(r["botanical"]): r["equation"] for r in read_rows("utd_matched_equations.csv")
    }


@lru_cache(maxsize=1)
def _groups() -> dict[str, str]:
    return {r["name"].lower(): r["group"] for r in read_rows("biomass_groups.csv")}


def matched_name(botanical: str) -> str | None:
    """Give the equation the Urban tree database matches to a species, None where it has none."""
    return _matches().get(species_key(botanical))


def volume_equation(botanical: str, kind: str, *, with_height: bool) -> tuple[Biomass, str]:
    """Find the volume equation that speaks for a species.

    The species' own; the one the Urban tree database matches to it; another species of the
    genus; the general urban broadleaf or conifer.

    Returns
    -------
    Biomass, str
        The equation, and "" or the name of what it stands in with.
    """
    volumes = [
        e for e in _equations() if e.predicts == "volume_m3" and e.needs_height == with_height
    ]
    # Two oaks and the bay laurel have an equation with height only.
    volumes.sort(key=lambda e: e.id)
    key = species_key(botanical)
    own = [e for e in volumes if species_key(e.name) == key]
    if own:
        return own[0], ""
    match = matched_name(botanical)
    matched = [e for e in volumes if match and species_key(e.name) == species_key(match)]
    if matched and not matched[0].name.startswith("Urb Gen"):
        return matched[0], matched[0].name
    genus = genus_key(botanical)
    kin = [e for e in volumes if genus and genus_key(e.name) == genus]
    if kin:
        return kin[0], kin[0].name
    general = next(e for e in volumes if e.name == _URBAN_GENERAL[kind])
    return general, f"general urban {kind}"


def general_volume(kind: str, *, with_height: bool) -> Biomass:
    """Give the general urban equation for broadleaves or conifers."""
    return next(
        e for e in _equations()
        if e.name == _URBAN_GENERAL[kind] and e.needs_height == with_height
    )  # fmt: skip


def group_equation(botanical: str, kind: str) -> Biomass:
    """Give the national group equation (Jenkins et al. 2003), dry mass with foliage [kg]."""
    groups = _groups()
    name = groups.get(species_key(botanical)) or groups.get(genus_key(botanical))
    if not name:
        name = "Cedar / larch" if kind == "conifer" else "Mixed hardwood"
    return next(e for e in _equations() if e.name == name)


@dataclass(frozen=True, slots=True)
class Shares:
    """Shares of the above-ground dry mass of a forest-grown tree; they add up to 1."""

    stem: float
    branches: float
    foliage: float


def component_shares(kind: str, dbh_cm: float) -> Shares:
    """Give stem (wood and bark), branches and foliage as shares of the dry mass.

    Jenkins et al. 2003: exp(a + b / dbh) each, branches the remainder. Below about 2.5 cm, where
    the ratios were not fitted, they are taken at 2.5 cm.
    """
    wood = "softwood" if kind == "conifer" else "hardwood"
    by_id = {e.id: e for e in _equations() if e.form == "ratio_d"}
    d = max(dbh_cm, by_id[f"jenkins_ratio_{wood}_foliage"].dbh_min_cm)
    foliage, stem_wood, bark = (
        by_id[f"jenkins_ratio_{wood}_{part}"](d) for part in ("foliage", "stem_wood", "stem_bark")
    )
    return Shares(stem_wood + bark, 1 - foliage - stem_wood - bark, foliage)


def foliage_dry_per_fresh(botanical: str) -> tuple[float, str]:
    """Give the share of fresh foliage that is dry matter, and what it stands on.

    The mean of the species' measurements; without any the mean of the genus; without that the
    mean of all species measured (Urban tree database, table TS5).
    """
    species, genera, every = _foliage()
    key, genus = species_key(botanical), genus_key(botanical)
    if key in species:
        return species[key], "species"
    if genus in genera:
        return genera[genus], "genus"
    return every, "all species measured"


@lru_cache(maxsize=1)
def _foliage() -> tuple[dict[str, float], dict[str, float], float]:
    by_species: dict[str, list[float]] = {}
    by_genus: dict[str, list[float]] = {}
    every: list[float] = []
    for r in read_rows("utd_foliar.csv"):
        if r["dry_per_fresh"]:
            share = float(r["dry_per_fresh"])
            by_species.setdefault(species_key(r["botanical"]), []).append(share)
            by_genus.setdefault(genus_key(r["botanical"]), []).append(share)
            every.append(share)
    return (
        {k: fmean(v) for k, v in by_species.items()},
        {k: fmean(v) for k, v in by_genus.items()},
        fmean(every),
    )
