"""The root zone of a tree under each method: how far it reaches and what holds the tree up."""

import math
import tomllib
from functools import lru_cache
from pathlib import Path
from typing import Any

from bolewalk.impact.crown import outline_radius_m
from bolewalk.impact.results import RootZone
from bolewalk.impact.tolerance import tolerance_of
from bolewalk.model.statements import Statement, say
from bolewalk.model.survey import ROOT_ZONE_METHODS, RootZoneMethod
from bolewalk.model.trees import Crown, Tree
from bolewalk.model.units import CM_PER_IN, M_PER_FT
from bolewalk.reference.wood import wood_kind
from bolewalk.trees.stems import equal_area_cm, many_stems_cm

__all__ = ["method_diameter_cm", "root_zone", "structural_radius_m"]


@lru_cache(maxsize=1)
def _rules() -> dict[str, Any]:
    path = Path(__file__).with_name("data") / "root_zone_methods.toml"
    return tomllib.loads(path.read_text(encoding="utf-8"))


def structural_radius_m(diameter_cm: float) -> float:
    """Give the radius of the roots that hold a tree up [m].

    (D x 50)^0.42 x 0.64 with D in metres, the trunk just above the root flare; 1.5 m below
    0.15 m.

    Raises
    ------
    ValueError
        The diameter is not finite and > 0.

    Examples
    --------
    >>> round(structural_radius_m(80.0), 3)
    3.013

    References
    ----------
    AS 4970-2009 3.3.5, read in an extract.
    """
    if not (math.isfinite(diameter_cm) and diameter_cm > 0):
        raise ValueError(f"diameter_cm is {diameter_cm!r}; it must be finite and > 0.")
    s = _rules()["structural"]
    d = diameter_cm / 100
    if d < s["floor_below_m"]:
        return float(s["floor_m"])
    return float(max(s["factor"] * (d * s["at"]) ** s["power"], s["floor_m"]))


def method_diameter_cm(stems_cm: tuple[float, ...], method: RootZoneMethod) -> float:
    """Give several stems one diameter by the method's own rule, equal area where it has none.

    Raises
    ------
    ValueError
        No stem, a stem that is not finite and > 0, or an unknown method.
    """
    combine = _rule(method)["combine"]
    return many_stems_cm(stems_cm) if combine != "equal_area" else equal_area_cm(stems_cm)


def _rule(method: RootZoneMethod) -> dict[str, Any]:
    if method not in ROOT_ZONE_METHODS:
        raise ValueError(f"method is {method!r}; expected one of {', '.join(ROOT_ZONE_METHODS)}.")
    rule: dict[str, Any] = _rules()[method]
    return rule


def root_zone(tree: Tree, method: RootZoneMethod) -> RootZone | None:
    """Draw the root zone of one tree.

    Parameters
    ----------
    tree : Tree
        Trunk, and crown where the method or the kind of plant asks for it; its age and tolerance
        (mature and moderate where unknown) for "tolerance-age".
    method : RootZoneMethod

    Returns
    -------
    RootZone or None
        None where the trunk was not measured, or the crown where the rule asks for it (palms,
        din18920).

    Raises
    ------
    ValueError
        Unknown method.

    Notes
    -----
    A palm has its crown radius plus a margin under every method. Where the four crown radii
    differ, or the method is din18920, the zone is the outline of the widened radii, 360 vertices.
    """
    rule = _rule(method)
    if not tree.stems_cm:
        return None
    trunk = method_diameter_cm(tuple(s.value for s in tree.stems_cm), method)
    palm = _is_palm(tree)
    structural, by, notes = _structural(tree, trunk, rule)
    sources: tuple[str, ...] = tuple(rule["sources"])
    if palm or "crown_margin_m" in rule:
        if tree.crown is None:
            return None
        if palm:
            margin = float(_rules()["palm"]["crown_margin_m"])
            notes = (say("zone.palm", margin_m=margin), *notes)
            sources = (_rules()["palm"]["source"],)
        else:
            column = tree.form == "column"
            margin = float(rule["column_margin_m" if column else "crown_margin_m"])
        radius, area, outline = _widened(tree.crown, margin, drawn=not palm)
    else:
        times, more = _times(tree, rule)
        radius, limits = _limited(times * trunk / 100, rule)
        area, outline = math.pi * radius * radius, None
        notes = (*limits, *more, *notes)
    return RootZone(
        method=method,
        radius_m=radius,
        structural_radius_m=structural,
        area_m2=area,
        diameter_cm=trunk,
        structural_by=by,
        outline_m=outline,
        notes=notes,
        sources=(*sources, _rules()["structural"]["source"]),
    )


def _is_palm(tree: Tree) -> bool:
    botanical = tree.species.botanical
    return tree.form == "palm" or (botanical is not None and wood_kind(botanical) == "palm")


def _times(tree: Tree, rule: dict[str, Any]) -> tuple[float, tuple[Statement, ...]]:
    """Trunk diameters in a radius."""
    if "times" in rule:
        return float(rule["times"]), ()
    defaults = _rules()["defaults"]
    notes: tuple[Statement, ...] = ()
    level = tolerance_of(tree).level
    if level is None:
        level = defaults["tolerance"]
        notes = (say("zone.tolerance_assumed"),)
    age = tree.age
    if age is None:
        age = defaults["age"]
        notes = (*notes, say("zone.age_assumed"))
    if age == "semi-mature":
        age = defaults["semi_mature_counts_as"]
    ft_per_in = float(rule["ft_per_in"][level][age])
    return ft_per_in * M_PER_FT * 100 / CM_PER_IN, notes


def _limited(radius: float, rule: dict[str, Any]) -> tuple[float, tuple[Statement, ...]]:
    cap, floor = rule.get("cap_m", math.inf), rule.get("floor_m", 0.0)
    if radius > cap:
        return float(cap), (say("zone.capped", radius_m=float(cap), uncapped_m=radius),)
    if radius < floor:
        return float(floor), (say("zone.floor", radius_m=float(floor), computed_m=radius),)
    return radius, ()


def _structural(
    tree: Tree, trunk_cm: float, rule: dict[str, Any]
) -> tuple[float, Any, tuple[Statement, ...]]:
    borrowed = rule["structural"] != "own"
    if tree.flare_cm is not None:
        notes = (say("zone.structural_borrowed_flare"),) if borrowed else ()
        return structural_radius_m(tree.flare_cm.value), "flare", notes
    code = "zone.structural_borrowed_trunk" if borrowed else "zone.structural_on_trunk"
    return structural_radius_m(trunk_cm), "trunk", (say(code),)


def _widened(
    crown: Crown, margin: float, *, drawn: bool
) -> tuple[float, float, tuple[float, ...] | None]:
    """Crown radii plus a margin: largest radius, area and, where asked or uneven, the outline."""
    north, east, south, west = (r + margin for r in crown.radii_m)
    if not drawn and north == east == south == west:
        return north, math.pi * north * north, None
    step = math.radians(1.0)
    z = outline_radius_m((north, east, south, west), [k * step for k in range(360)]).tolist()
    twice = math.fsum(a * b for a, b in zip(z, z[1:] + z[:1], strict=True))
    return max(z), twice * math.sin(step) / 2, tuple(z)
