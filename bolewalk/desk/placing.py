"""Works and trees as the desk is told to place them: checked as a survey folder is."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.geometry import geometry_of
from bolewalk.drawing.geojson import read_features
from bolewalk.drawing.grid import Grid, local_grid, named_grid
from bolewalk.model.survey import Survey
from bolewalk.model.trees import Tree
from bolewalk.model.works import Part, Work
from bolewalk.store.edits import new_work as new_feature
from bolewalk.store.items import Edit, Item

__all__ = [
    "Placed", "PlacingError", "adopted", "adoption", "feature_of", "geometry_in_survey",
    "moved_work", "new_work", "tree_at", "work_edit", "work_removal",
]  # fmt: skip

WORKS_FILE = "works.geojson"


class PlacingError(ValueError):
    """Something that cannot be placed; the text says what would be."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Edits that place something, and the words for the history."""

    edits: tuple[Edit, ...]
    note: str


def _grid(survey: Survey) -> Grid:
    return local_grid(survey.units) if survey.crs is None else named_grid(survey.crs)


def _read(survey: Survey, feature: Mapping[str, Any]) -> Work:
    collection = {"type": "FeatureCollection", "features": [feature]}
    works, problems = read_features(
        collection, file=WORKS_FILE, grid=_grid(survey), units=survey.units
    )
    faults = [p for p in problems if p.level == "fault"]
    if faults:
        raise PlacingError("; ".join(f"{p.field or 'feature'}: {p.expected}" for p in faults))
    if not works:
        raise PlacingError("nothing that can be drawn")
    return works[0]


def _parts(survey: Survey, kind: str, geometry: object) -> tuple[Part, ...]:
    feature = {"type": "Feature", "properties": {"kind": kind}, "geometry": geometry}
    return _read(survey, feature).parts


def moved_work(sheet: Sheet, work_id: str, geometry: object) -> Work:
    """Give a work of the sheet with another geometry.

    Parameters
    ----------
    sheet : Sheet
    work_id : str
    geometry : object
        GeoJSON in the survey's coordinates.

    Raises
    ------
    PlacingError
        No such work, or no geometry.
    """
    work = next((w for w in sheet.job.survey.works if w.id == work_id), None)
    if work is None:
        raise PlacingError(f"there is no work {work_id!r}")
    return replace(work, parts=_parts(sheet.job.survey, work.kind, geometry))


def new_work(sheet: Sheet, properties: Mapping[str, Any], geometry: object) -> Work:
    """Give a work that is being drawn, under an id no other has. Raises PlacingError."""
    feature = {"type": "Feature", "properties": dict(properties), "geometry": geometry}
    work = _read(sheet.job.survey, feature)
    return replace(work, id=free_id(sheet))


def free_id(sheet: Sheet) -> str:
    """Give an id for a new work: "W7", the first no work has."""
    taken = {w.id for w in sheet.job.survey.works}
    n = 1
    while f"W{n}" in taken:
        n += 1
    return f"W{n}"


def tree_at(sheet: Sheet, tree_id: str, at: object) -> Tree:
    """Give a tree of the sheet at another place, in the survey's coordinates.

    Raises
    ------
    PlacingError
        No such tree, or not two finite numbers.
    """
    tree = next((t for t in sheet.job.survey.trees if t.id == tree_id), None)
    if tree is None:
        raise PlacingError(f"there is no tree {tree_id!r}")
    part = _parts(sheet.job.survey, "pile", {"type": "Point", "coordinates": at})[0]
    x, y = part.ring[0]
    return replace(tree, x_m=x, y_m=y)


def feature_of(work: Work, geometry: object) -> dict[str, Any]:
    """Give a work as a feature in the survey's coordinates, every property told."""

    def length(value_m: float | None) -> str | None:
        return None if not value_m else f"{value_m:.4f} m"

    told: dict[str, str | None] = {
        "id": work.id,
        "kind": work.kind,
        "depth": None if work.depth_m is None else f"{work.depth_m.value:.4f} m",
        "width": length(work.width_m),
        "diameter": length(work.diameter_m),
        "made": work.made,
        "founded": work.founded if work.kind == "building" else None,
        "low": None if work.low_m is None else f"{work.low_m:.4f} m",
        "high": length(work.high_m),
        "clearance": length(work.clearance_m),
        "phase": work.phase,
        "basis": work.basis,
        "offset": length(work.offset_m),
        "present": work.present,
        "label": work.label or None,
    }
    properties = {k: v for k, v in told.items() if v is not None}
    return {"type": "Feature", "properties": properties, "geometry": geometry}


def _file(sheet: Sheet) -> str:
    """Give the file new works go to, in the survey's own coordinates."""
    for item in sheet.stored.of("works"):
        if "crs" not in (item.body or {}).get("top", {}):
            return item.key
    raise PlacingError("the survey names no file of works in its own coordinates under [files]")


def work_edit(
    sheet: Sheet,
    *,
    key: str,
    version: int,
    properties: Mapping[str, Any] | None,
    geometry: object | None,
) -> Placed:
    """Give the edit that draws a work (key "") or changes one.

    Parameters
    ----------
    sheet : Sheet
    key : str
        Of the feature's item; "" for a new one.
    version : int
        The version it was changed on.
    properties : mapping or None
        All properties of the feature, or None to leave them.
    geometry : object or None
        GeoJSON in the survey's coordinates, or None to leave it.

    Raises
    ------
    PlacingError
        What would come of it cannot be read as a work, or its file is in other coordinates.
    """
    if not key:
        work = new_work(sheet, properties or {}, geometry)
        feature = {"type": "Feature", "properties": {**(properties or {}), "id": work.id},
                   "geometry": geometry}  # fmt: skip
        edit = new_feature(feature, file=_file(sheet), variant=sheet.variant)
        return Placed((edit,), f"drew {work.kind} {work.id}")
    item = _work_item(sheet, key)
    body = dict(item.body or {})
    feature = dict(body["feature"])
    if properties is not None:
        feature["properties"] = dict(properties)
    if geometry is not None:
        top = sheet.stored.get("works", body["file"])
        if top is not None and "crs" in (top.body or {})["top"]:
            raise PlacingError(f"{body['file']} is in coordinates of its own: change it there")
        feature["geometry"] = geometry
    work = _read(sheet.job.survey, feature)
    body["feature"] = feature
    done = "moved" if properties is None else "changed"
    return Placed((Edit("work", key, body, version),), f"{done} {work.kind} {work.id}")


def work_removal(sheet: Sheet, *, key: str, version: int) -> Placed:
    """Give the edit that takes a work out. Raises PlacingError where there is none."""
    item = _work_item(sheet, key)
    name = (item.body or {})["feature"].get("properties", {}).get("id", key)
    return Placed((Edit("work", key, None, version),), f"took out work {name}")


def _work_item(sheet: Sheet, key: str) -> Item:
    item = sheet.stored.get("work", key)
    if item is None or item.body is None or item.body.get("variant", "") != sheet.variant:
        raise PlacingError(f"there is no work {key!r} on this plan")
    return item


def adoption(sheet: Sheet, work_id: str, geometry: object) -> Placed:
    """Give the edit that lets a feature stand for a drawn work, elsewhere than it is drawn.

    Raises
    ------
    PlacingError
        Not on a what-if copy, no such work in a drawing, or no geometry.
    """
    if not sheet.variant:
        raise PlacingError("a drawing stays as it is: make a what-if copy first")
    work = moved_work(sheet, work_id, geometry)
    if not work.layer:
        raise PlacingError(f"{work_id!r} stands in no drawing")
    edit = adopted(sheet, work, {"id": f"{work.id} moved"}, geometry=geometry)
    return Placed((edit,), f"moved {work_id}")


def adopted(
    sheet: Sheet, work: Work, told: Mapping[str, str | None], *, geometry: object = None
) -> Edit:
    """Give the edit that lets a feature stand for a drawn work on a what-if copy.

    Parameters
    ----------
    sheet : Sheet
        Of a what-if copy.
    work : Work
        As it is to be, under the id of the drawn one.
    told : mapping
        Properties written over those of the work; None leaves one out.
    geometry : object or None
        GeoJSON in the survey's coordinates, or None for where the work lies.

    Raises
    ------
    PlacingError
        What would come of it cannot be read as a work.
    """
    feature = feature_of(work, geometry_in_survey(sheet, work) if geometry is None else geometry)
    properties = {**feature["properties"], **told, "replaces": work.id}
    feature["properties"] = {k: v for k, v in properties.items() if v is not None}
    _read(sheet.job.survey, feature)
    return new_feature(feature, file=_file(sheet), variant=sheet.variant)


def geometry_in_survey(sheet: Sheet, work: Work) -> dict[str, Any]:
    """Give where a work lies as GeoJSON in the survey's coordinates."""
    return geometry_of(work.parts, sheet.job.survey.m_per_grid_unit)
