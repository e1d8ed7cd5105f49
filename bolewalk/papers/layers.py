"""The layers of the exchange files, with their attributes: one source for GIS and CAD.

Geometry in the crs's own unit (or the survey's grid unit); lengths among the attributes in the
survey's units, as their names tell.
"""

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

import shapely
from shapely.geometry import LineString, MultiLineString, MultiPoint, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from bolewalk.impact.nearest import bearing_names
from bolewalk.model.units import length_unit, to_survey_length, to_survey_trunk, trunk_unit
from bolewalk.papers.shapes import (
    Outline,
    crown_outline,
    cut_lines,
    part_geometry,
    zone_outline,
)

if TYPE_CHECKING:
    from bolewalk.survey import Findings

__all__ = ["Feature", "Kind", "Layer", "survey_layers"]

Kind = Literal["text", "real"]
Attribute = str | float | None


@dataclass(frozen=True, slots=True)
class Feature:
    """One feature: what is written beside it (`label`), its geometry, its attributes in the
    order of the layer's fields."""

    label: str
    geometry: BaseGeometry
    attributes: tuple[Attribute, ...]


@dataclass(slots=True)
class Layer:
    """One layer of one kind of geometry. `fields` are (name, kind)."""

    name: str
    geometry_type: str
    fields: tuple[tuple[str, Kind], ...]
    features: list[Feature] = field(default_factory=list)


def survey_layers(
    findings: "Findings", *, fences: tuple[BaseGeometry, ...] = ()
) -> tuple[Layer, ...]:
    """Give the layers that apply to a survey, empty ones left out.

    Parameters
    ----------
    findings : Findings
    fences : tuple of lines [m]
        Protection fences, where they were laid out.

    Returns
    -------
    tuple of Layer
        trees, crowns, root_zones, nearest_cut, works (by kind of geometry: points, lines, areas
        share the layer as the widest kind that holds them), planting, fence.
    """
    k = 1 / findings.survey.m_per_grid_unit
    layers = (
        _trees(findings), _crowns(findings), _zones(findings), _cuts(findings),
        _works(findings), _planting(findings), _fences(fences),
    )  # fmt: skip
    for layer in layers:
        layer.features = [
            Feature(f.label, _scaled(f.geometry, k), f.attributes) for f in layer.features
        ]
    return tuple(layer for layer in layers if layer.features)


def _scaled(geometry: BaseGeometry, k: float) -> BaseGeometry:
    return shapely.transform(geometry, lambda xy: xy * k)


def _trees(findings: "Findings") -> Layer:
    s = findings.survey
    long, thick = length_unit(s.units), trunk_unit(s.units)
    layer = Layer("trees", "Point", (
        ("tree", "text"), ("botanical", "text"), ("common", "text"), ("as_heard", "text"),
        (f"diameter_{thick}", "real"), (f"height_{long}", "real"), (f"crown_base_{long}", "real"),
        (f"crown_{long}", "real"), ("age", "text"), ("health", "text"), ("structure", "text"),
        ("owner", "text"), ("decision", "text"), (f"zone_radius_{long}", "real"),
        (f"structural_radius_{long}", "real"), ("severed_pct", "real"), ("overlap_pct", "real"),
        ("covered_pct", "real"), ("verdict", "text"), ("verdict_with_later", "text"),
        ("notes", "text"),
    ))  # fmt: skip
    for t in findings.trees:
        tree, zone, v = t.tree, t.impact.zone, t.impact.verdict
        if tree.x_m is None or tree.y_m is None:
            continue
        loss = t.impact.roots.proposed if t.impact.roots else None
        d = zone.diameter_cm if zone else (t.diameters.equal_area if t.diameters else None)

        def long_(value: float | None) -> float | None:
            return None if value is None else to_survey_length(value, s.units)

        layer.features.append(Feature(tree.id, Point(tree.x_m, tree.y_m), (
            tree.id, tree.species.botanical, tree.species.common, tree.species.as_heard,
            None if d is None else to_survey_trunk(d, s.units),
            long_(tree.height_m.value if tree.height_m else None),
            long_(tree.crown_base_m.value if tree.crown_base_m else None),
            long_(tree.crown.mean_m if tree.crown else None),
            tree.age, tree.health, tree.structure, tree.owner, tree.decision,
            long_(zone.radius_m if zone else None),
            long_(zone.structural_radius_m if zone else None),
            loss.severed_pct if loss else None, loss.overlap_pct if loss else None,
            loss.covered_pct if loss else None, v.now if v else None,
            v.with_later if v else None, tree.notes or None,
        )))  # fmt: skip
    return layer


def _crowns(findings: "Findings") -> Layer:
    layer = Layer("crowns", "Polygon", (("tree", "text"), ("decision", "text")))
    for t in findings.trees:
        outline = crown_outline(t.tree)
        if outline:
            layer.features.append(
                Feature(t.tree.id, Polygon(outline), (t.tree.id, t.tree.decision))
            )
    return layer


def _zones(findings: "Findings") -> Layer:
    s = findings.survey
    unit = length_unit(s.units)
    layer = Layer("root_zones", "Polygon", (
        ("tree", "text"), ("method", "text"), (f"radius_{unit}", "real"),
        (f"structural_radius_{unit}", "real"), ("severed_pct", "real"), ("verdict", "text"),
    ))  # fmt: skip
    for t in findings.trees:
        zone, outline = t.impact.zone, zone_outline(t.tree, t.impact.zone)
        if zone is None or not outline:
            continue
        layer.features.append(Feature(t.tree.id, Polygon(outline), (
            t.tree.id, zone.method, to_survey_length(zone.radius_m, s.units),
            to_survey_length(zone.structural_radius_m, s.units),
            t.impact.roots.proposed.severed_pct if t.impact.roots else None,
            t.impact.verdict.now if t.impact.verdict else None,
        )))  # fmt: skip
    return layer


def _cuts(findings: "Findings") -> Layer:
    """Give one closed line a tree and level, and its error as an inner and an outer line."""
    s = findings.survey
    unit = length_unit(s.units)
    names = bearing_names(s.method.cut_bearings)
    layer = Layer("nearest_cut", "LineString", (
        ("tree", "text"), ("level", "text"), ("line", "text"), (f"least_{unit}", "real"),
        (f"most_{unit}", "real"), ("limit", "text"),
        *((f"{name.lower()}_{unit}", "real") for name in names),
    ))  # fmt: skip

    def feature(
        tree: str, level: str, line: str, ring: Outline, by: list[float], limit: str | None
    ) -> Feature:
        lengths = [to_survey_length(d, s.units) for d in by]
        return Feature(tree, LineString([*ring, ring[0]]), (
            tree, level, line, min(lengths), max(lengths), limit, *lengths,
        ))  # fmt: skip

    for t in findings.trees:
        cut = t.impact.nearest_cut
        if cut is None:
            continue
        for one in cut_lines(t.tree, cut):
            keep = one.level == "keep"
            distances, spans = (
                (cut.keep, cut.keep_span) if keep else (cut.keep_if, cut.keep_if_span)
            )
            limits = cut.limit_keep if keep else cut.limit_keep_if
            told = "; ".join(f"{n} {limits[n]}" for n in names)
            rings = (
                ("line", one.ring, distances, told),
                ("inner", one.inner, {n: span[0] for n, span in spans.items()}, None),
                ("outer", one.outer, {n: span[1] for n, span in spans.items()}, None),
            )
            layer.features += [
                feature(t.tree.id, one.level, line, ring, [by[n] or 0.0 for n in names], limit)
                for line, ring, by, limit in rings
                if ring is not None
            ]
    return layer


def _works(findings: "Findings") -> Layer:
    s = findings.survey
    unit = length_unit(s.units)
    shapes = {p.shape for w in s.works for p in w.parts}
    one = {"point": "MultiPoint", "line": "MultiLineString", "polygon": "MultiPolygon"}
    # A layer holds one kind of geometry; a plan's works seldom do.
    kind = one[next(iter(shapes))] if len(shapes) == 1 else "Unknown"
    layer = Layer("works", kind, (
        ("work", "text"), ("label", "text"), ("kind", "text"), ("phase", "text"),
        ("present", "text"), ("basis", "text"), ("made", "text"), ("founded", "text"),
        (f"depth_{unit}", "real"), (f"width_{unit}", "real"), (f"diameter_{unit}", "real"),
        (f"low_{unit}", "real"), (f"high_{unit}", "real"), (f"offset_{unit}", "real"),
        ("drawing", "text"), ("file", "text"), ("source_layer", "text"),
    ))  # fmt: skip
    for w in s.works:

        def long_(value: float | None) -> float | None:
            return None if value is None else to_survey_length(value, s.units)

        attributes: tuple[Attribute, ...] = (
            w.id, w.label or None, w.kind, w.phase, w.present, w.basis, w.made,
            w.founded if w.kind == "building" else None,
            long_(w.depth_m.value if w.depth_m else None), long_(w.width_m or None),
            long_(w.diameter_m), long_(w.low_m), long_(w.high_m), long_(w.offset_m),
            w.drawing or None, w.file or None, w.layer or None,
        )  # fmt: skip
        for shape in ("point", "line", "polygon"):
            parts = [part_geometry(p) for p in w.parts if p.shape == shape]
            if parts:
                layer.features.append(Feature(w.label or w.id, _multi(parts, shape), attributes))
    return layer


def _multi(parts: list[Any], shape: str) -> BaseGeometry:
    if shape == "point":
        return MultiPoint(parts)
    return MultiLineString(parts) if shape == "line" else MultiPolygon(parts)


def _planting(findings: "Findings") -> Layer:
    s = findings.survey
    unit = length_unit(s.units)
    layer = Layer("planting", "Point", (
        ("plant", "text"), ("botanical", "text"), ("common", "text"), ("stock", "text"),
        ("by", "text"), ("replaces", "text"), (f"height_{unit}", "real"),
        (f"width_{unit}", "real"), ("plant_from", "text"), ("stakes_off", "text"),
    ))  # fmt: skip
    for line in findings.planting.lines if findings.planting else ():
        p = line.plant
        if p.place is None:
            continue
        layer.features.append(Feature(f"{p.id} {p.taxon.common}", Point(p.place), (
            p.id, p.taxon.botanical, p.taxon.common, p.stock, "hand" if p.fixed else "layout",
            p.replaces or None, to_survey_length(line.height_m, s.units),
            to_survey_length(line.width_m, s.units), line.plant_on.isoformat(),
            line.stakes_off.isoformat(),
        )))  # fmt: skip
    return layer


def _fences(fences: tuple[BaseGeometry, ...]) -> Layer:
    layer = Layer("fence", "LineString", (("fence", "text"),))
    lines = [g for f in fences for g in shapely.get_parts(f) if isinstance(g, LineString)]
    layer.features = [Feature(f"F{i}", g, (f"F{i}",)) for i, g in enumerate(lines, 1)]
    return layer
