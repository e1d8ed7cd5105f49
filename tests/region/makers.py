"""Inventories and schemes written for the tests of this folder."""

import csv
import json
from pathlib import Path

import pyogrio.raw

ANSWER = ("problems.csv", "screen.gpkg", "screen.parquet", "visits.csv", "summary.html")


def answer_of(folder: Path) -> dict[str, bytes]:
    """Every file of an answer by name."""
    return {name: (folder / name).read_bytes() for name in ANSWER}


def table_of(folder: Path) -> dict[str, dict]:
    """The trees of an answer by id, from its GeoPackage."""
    meta, _, _, fields = pyogrio.raw.read(str(folder / "screen.gpkg"), layer="trees")
    names = [str(n) for n in meta["fields"]]
    rows = zip(*(f.tolist() for f in fields), strict=True)
    return {r[names.index("tree")]: dict(zip(names, r, strict=True)) for r in rows}


def read_list(path: Path) -> list[dict[str, str]]:
    """The rows of a CSV."""
    return list(csv.DictReader(path.read_text(encoding="utf-8").splitlines()))


def write_rows(path: Path, rows: list[dict]) -> Path:
    """A CSV of these rows."""
    with path.open("w", encoding="utf-8", newline="") as f:
        writer = csv.DictWriter(f, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    return path


def write_works(path: Path, features: list[tuple[dict, str, list]], crs: str | None) -> Path:
    """A GeoJSON of (properties, geometry type, coordinates)."""
    whole: dict = {
        "type": "FeatureCollection",
        "features": [
            {"type": "Feature", "properties": p, "geometry": {"type": g, "coordinates": c}}
            for p, g, c in features
        ],
    }
    if crs is not None:
        whole["crs"] = {"type": "name", "properties": {"name": crs}}
    path.write_text(json.dumps(whole), encoding="utf-8")
    return path
