"""What a tree weighs and takes up once it is down: wood, brush, chips, logs, pieces, stump."""

import math
from dataclasses import dataclass

from bolewalk.reference.biomass import (
    Shares,
    component_shares,
    foliage_dry_per_fresh,
    general_volume,
    group_equation,
    volume_equation,
)
from bolewalk.reference.settings import setting
from bolewalk.reference.wood import WoodDensity, wood_density, wood_kind

__all__ = ["Piece", "Stump", "TreeMass", "heaviest_piece", "stump", "tree_mass"]

KG_M3_PER_LB_YD3 = 0.45359237 / 0.764554857984  # exact by definition
M3_PER_YD3 = 0.764554857984  # exact
BREAST_HEIGHT_M = 1.37  # 4.5 ft, the height the equations take the trunk at
_TABLE = "mass_settings.csv"


@dataclass(frozen=True, slots=True)
class TreeMass:
    """A tree above ground, green.

    Attributes
    ----------
    volume_m3 : float
        Wood of stem and branches; `volume_low_m3`, `volume_high_m3` its range.
    green_kg : float
        The same wood green; `low_kg`, `high_kg` its range.
    stem_kg, branches_kg, foliage_kg : float
        Stem and branches add up to green_kg; foliage comes on top.
    total_kg, total_low_kg, total_high_kg : float
        With foliage.
    brush_m3_loose, brush_low_m3, brush_high_m3 : float
        Branches and foliage as they lie, before chipping.
    chips_m3, chips_low_m3, chips_high_m3 : float
        The same chipped, loose.
    logs_m3, logs_stacked_m3 : float
        Stem wood, solid and stacked.
    density : WoodDensity
    source : str
        Equation, density and split, as papers print it.
    notes : tuple of str
        Codes: "height_not_used", "outside_fitted_trunks", "palm_as_cylinder", "dead".
    """

    volume_m3: float
    volume_low_m3: float
    volume_high_m3: float
    green_kg: float
    low_kg: float
    high_kg: float
    stem_kg: float
    branches_kg: float
    foliage_kg: float
    total_kg: float
    total_low_kg: float
    total_high_kg: float
    brush_m3_loose: float
    brush_low_m3: float
    brush_high_m3: float
    chips_m3: float
    chips_low_m3: float
    chips_high_m3: float
    logs_m3: float
    logs_stacked_m3: float
    density: WoodDensity
    source: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Piece:
    """The heaviest piece of a given length: the butt of the largest stem."""

    kg: float
    low_kg: float
    high_kg: float
    middle_diameter_cm: float


@dataclass(frozen=True, slots=True)
class Stump:
    """What is left in the ground and what grinding it makes.

    Attributes
    ----------
    diameter_cm, diameter_low_cm, diameter_high_cm : float
        Cut face near the ground; the three agree where the flare was measured.
    dug_m3 : float
        Stump with its root ball when dug out, as debris.
    hole_m3 : float
        Ground out, in place.
    grindings_low_m3, grindings_high_m3 : float
        Loose grindings: wood mixed with soil.
    """

    diameter_cm: float
    diameter_low_cm: float
    diameter_high_cm: float
    dug_m3: float
    hole_m3: float
    grindings_low_m3: float
    grindings_high_m3: float


def tree_mass(
    botanical: str,
    dbh_cm: float,
    height_m: float | None = None,
    *,
    dead: bool = False,
) -> TreeMass:
    """Estimate the green mass and volume of one tree above ground.

    Volume by the published equation that speaks for the species, mass as volume times green
    density. The range spans what the general urban equation and the national biomass group
    give for the same tree, and the usual spread of green weight.

    Parameters
    ----------
    botanical : str
        Botanical name; "" or an unknown one takes the general broadleaf.
    dbh_cm : float
        Trunk diameter at breast height [cm], > 0: several stems as their equal-area diameter.
    height_m : float, optional
        Total height [m], > 0. Palms need it. Without it equations of the trunk alone are used.
    dead : bool
        No foliage, and the low end is oven-dry wood.

    Returns
    -------
    TreeMass

    Raises
    ------
    ValueError
        A size is not finite and > 0, or a palm has no height.

    References
    ----------
    Volume: Urban tree database tables TS7 and TS8. Groups and component ratios: Jenkins et al.
    2003. Density: `bolewalk.reference.wood`. Settings: `mass_settings.csv`.
    """
    _positive("dbh_cm", dbh_cm)
    if height_m is not None:
        _positive("height_m", height_m)
    density = wood_density(botanical)
    kind = wood_kind(botanical)
    if kind == "palm":
        if height_m is None:
            raise ValueError("a palm needs its height: its trunk does not tell its size.")
        return _palm(dbh_cm, height_m, density, dead=dead)
    with_height = height_m is not None
    height = math.nan if height_m is None else height_m
    notes = [] if with_height else ["height_not_used"]
    equation, stand_in = volume_equation(botanical, kind, with_height=with_height)
    if not equation.dbh_min_cm <= dbh_cm <= equation.dbh_max_cm:
        notes.append("outside_fitted_trunks")
    volume = equation(dbh_cm, height)
    shares = component_shares(kind, dbh_cm)
    group = group_equation(botanical, kind)
    basic = _basic(density, kind)
    by_group = group(dbh_cm) * (1 - shares.foliage) / basic
    volumes = [
        volume,
        general_volume(kind, with_height=with_height)(dbh_cm, height),
        by_group * setting(_TABLE, "forest_to_open_grown"),
        by_group,
    ]
    low_kg = min(volumes) * density.low_kg_m3
    if dead:
        low_kg = min(low_kg, min(volumes) * basic)
        notes.append("dead")
    source = (
        f"volume: {equation.source}, {equation.name}"
        + (f" standing in ({stand_in})" if stand_in and stand_in != equation.name else "")
        + (f" standing in for {botanical}" if stand_in == equation.name else "")
        + f"; green density {density.green_kg_m3:.0f} kg/m3, {density.basis}, {density.source}"
        + (f", {density.stand_in}" if density.stand_in else "")
        + "; split: Jenkins et al. 2003, branches widened for open-grown trees"
    )
    return _assemble(
        volume, min(volumes), max(volumes), low_kg, max(volumes) * density.high_kg_m3, density,
        _open_grown(shares), 0.0 if dead else _foliage_share(botanical, shares, basic, density),
        source, tuple(notes),
    )  # fmt: skip


def _palm(dbh_cm: float, height_m: float, density: WoodDensity, *, dead: bool) -> TreeMass:
    volume = math.pi / 4 * (dbh_cm / 100) ** 2 * height_m
    fronds = 0.0 if dead else setting(_TABLE, "palm_frond_share")
    return _assemble(
        volume, volume, volume, volume * density.low_kg_m3, volume * density.high_kg_m3, density,
        Shares(1.0, 0.0, fronds), fronds,
        "palm stem as a cylinder; green density recalled, not measured",
        ("palm_as_cylinder", "dead") if dead else ("palm_as_cylinder",),
    )  # fmt: skip


def _basic(density: WoodDensity, kind: str) -> float:
    """Give oven-dry mass over green volume, from the kind where the figure came without it."""
    if density.basic_kg_m3 == density.basic_kg_m3:
        return density.basic_kg_m3
    return wood_density("Pinaceae" if kind == "conifer" else "").basic_kg_m3


def _open_grown(forest: Shares) -> Shares:
    branches = min(0.9, forest.branches * setting(_TABLE, "open_grown_branches"))
    wood = forest.stem + forest.branches
    # Of the wood alone: stem and branches of an open-grown tree add up to 1.
    return Shares(1 - branches / wood, branches / wood, forest.foliage)


def _foliage_share(botanical: str, shares: Shares, basic: float, density: WoodDensity) -> float:
    """Give fresh foliage as a share of green wood, from its share of the dry mass."""
    dry_leaf_per_dry_wood = shares.foliage / (1 - shares.foliage)
    dry_per_fresh, _ = foliage_dry_per_fresh(botanical)
    return dry_leaf_per_dry_wood / dry_per_fresh * basic / density.green_kg_m3


def _assemble(
    volume: float, volume_low: float, volume_high: float, low_kg: float, high_kg: float,
    density: WoodDensity, split: Shares, foliage_share: float, source: str,
    notes: tuple[str, ...],
) -> TreeMass:  # fmt: skip
    green = volume * density.green_kg_m3
    stem, branches, foliage = split.stem * green, split.branches * green, foliage_share * green
    # Foliage and branches of the low and the high tree keep their share of its wood.
    thin = (split.branches + foliage_share) * green
    thin_low = (split.branches + foliage_share) * low_kg
    thin_high = (split.branches + foliage_share) * high_kg

    def per(key: str) -> float:
        return setting(_TABLE, key) * KG_M3_PER_LB_YD3

    return TreeMass(
        volume_m3=volume, volume_low_m3=volume_low, volume_high_m3=volume_high,
        green_kg=green, low_kg=low_kg, high_kg=high_kg,
        stem_kg=stem, branches_kg=branches, foliage_kg=foliage,
        total_kg=green + foliage,
        total_low_kg=low_kg * (1 + foliage_share), total_high_kg=high_kg * (1 + foliage_share),
        brush_m3_loose=thin / per("brush_loose_lb_yd3"),
        brush_low_m3=thin_low / per("brush_loose_high_lb_yd3"),
        brush_high_m3=thin_high / per("brush_loose_lb_yd3"),
        chips_m3=thin / per("chips_lb_yd3"),
        chips_low_m3=thin_low / per("chips_high_lb_yd3"),
        chips_high_m3=thin_high / per("chips_low_lb_yd3"),
        logs_m3=split.stem * volume,
        logs_stacked_m3=split.stem * volume / setting(_TABLE, "logs_solid_share"),
        density=density, source=source, notes=notes,
    )  # fmt: skip


def heaviest_piece(botanical: str, dbh_cm: float, height_m: float, *, length_m: float) -> Piece:
    """Weigh the butt piece of a stem, the heaviest of its length.

    The stem is taken as a paraboloid through the diameter at breast height, so the piece from
    the ground to L holds pi/4 d^2 L (H - L/2) / (H - 1.37).

    Parameters
    ----------
    botanical : str
    dbh_cm : float
        Diameter of the largest stem [cm], > 0: not the combined one.
    height_m : float
        Total height [m], > 1.37.
    length_m : float
        Length of the piece [m], > 0; longer than the tree counts as the tree.

    Returns
    -------
    Piece
        Range from the spread of green weight alone; a butt swelling beyond the paraboloid is
        not in it.

    Raises
    ------
    ValueError
        A size out of range.

    References
    ----------
    Paraboloid stem: common practice in forest measurement.
    """
    _positive("dbh_cm", dbh_cm)
    _positive("length_m", length_m)
    if not (math.isfinite(height_m) and height_m > BREAST_HEIGHT_M):
        raise ValueError(f"height_m is {height_m:g}; it must be above {BREAST_HEIGHT_M} m.")
    length = min(length_m, height_m)
    section = math.pi / 4 * (dbh_cm / 100) ** 2
    if wood_kind(botanical) == "palm":
        volume, middle = section * length, dbh_cm
    else:
        volume = section * length * (height_m - length / 2) / (height_m - BREAST_HEIGHT_M)
        middle = dbh_cm * math.sqrt((height_m - length / 2) / (height_m - BREAST_HEIGHT_M))
    density = wood_density(botanical)
    return Piece(
        volume * density.green_kg_m3, volume * density.low_kg_m3, volume * density.high_kg_m3,
        middle,
    )  # fmt: skip


def stump(
    dbh_cm: float, *, flare_cm: float | None = None, grind_depth_m: float | None = None
) -> Stump:
    """Estimate the stump and what grinding or digging it out makes.

    Parameters
    ----------
    dbh_cm : float
        Trunk diameter [cm], > 0.
    flare_cm : float, optional
        Diameter just above the root flare [cm], > 0; without it a share of dbh, with a range.
    grind_depth_m : float, optional
        Depth ground out [m], > 0.

    Returns
    -------
    Stump

    Raises
    ------
    ValueError
        A size is not finite and > 0.

    Notes
    -----
    Dug out: 0.00717 d^2 cubic yards, d in inches. Ground out: a cylinder of the stump and six
    inches on each side, times depth; loose, 1.5 to 2 times that.

    References
    ----------
    FEMA stump conversion table (RP 9523.11), from memory, and `mass_settings.csv`.
    """
    _positive("dbh_cm", dbh_cm)
    if flare_cm is None:
        likely, low, high = (
            dbh_cm * setting(_TABLE, k) for k in ("butt_flare", "butt_flare_low", "butt_flare_high")
        )
    else:
        _positive("flare_cm", flare_cm)
        likely = low = high = flare_cm
    if grind_depth_m is None:
        grind_depth_m = setting(_TABLE, "grind_depth_in") * 0.0254
    _positive("grind_depth_m", grind_depth_m)
    margin_m = setting(_TABLE, "grind_margin_in") * 0.0254

    def hole(diameter_cm: float) -> float:
        return math.pi / 4 * (diameter_cm / 100 + 2 * margin_m) ** 2 * grind_depth_m

    return Stump(
        likely, low, high,
        setting(_TABLE, "stump_yd3_per_in2") * (likely / 2.54) ** 2 * M3_PER_YD3,
        hole(likely),
        hole(low) * setting(_TABLE, "grind_bulk_low"),
        hole(high) * setting(_TABLE, "grind_bulk_high"),
    )  # fmt: skip


def _positive(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} is {value:g}; it must be finite and > 0.")
