"""A city that does not exist: street trees as inventories hold them, and a scheme of works.

Drawn from a seed, so that any size of it can be made anywhere and is always the same.
"""

import csv
import math
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal

import numpy as np
import pyogrio.raw
import shapely
from numpy.typing import NDArray

from bolewalk.region.geofiles import points_at, write_geoparquet

__all__ = ["City", "make_city", "write_city"]

Floats = NDArray[np.float64]
Form = Literal["parquet", "gpkg", "csv"]

# A plain in the open sea; no city stands there.
_CRS = "EPSG:32625"
_CORNER = (400_000.0, 4_500_000.0)
_PITCH_M = 11.0
_BLOCK_M = (90.0, 140.0)
_SIDE_M = 4.5

# Street trees of the temperate belt, as inventories write them: most botanical, some common,
# one synonym, two slips of the pen.
_SPECIES = (
    "Acer platanoides", "Acer rubrum", "Acer saccharinum", "Platanus x acerifolia",
    "Gleditsia triacanthos", "Quercus rubra", "Quercus palustris", "Quercus alba",
    "Tilia cordata", "Tilia americana", "Fraxinus pennsylvanica", "Ulmus americana",
    "Ulmus parvifolia", "Zelkova serrata", "Ginkgo biloba", "Pyrus calleryana",
    "Liquidambar styraciflua", "Celtis occidentalis", "Betula nigra", "Cercis canadensis",
    "Magnolia grandiflora", "Lagerstroemia indica", "Pinus strobus", "Picea abies",
    "Washingtonia robusta", "norway maple", "red maple", "london plane", "honey locust",
    "red oak", "ginkgo", "crepe myrtle", "oak", "Tilia", "Prunus", "Cinnamomum camphora",
    "Acer platinoides", "hony locust",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class City:
    """Trees as columns of cells, positions (east, north) [m] with NaN where a row has none, and
    works as (properties, shape)."""

    columns: dict[str, NDArray[np.str_]]
    xy: Floats
    works: list[tuple[dict[str, Any], Any]]
    crs: str = _CRS


def make_city(*, trees: int, works: int, seed: int = 11) -> City:
    """Draw a city.

    Parameters
    ----------
    trees : int
        Rows of the inventory, doubles and faulty rows among them.
    works : int
        Features of the scheme: trenches and drains along streets, drives, excavations, poles,
        kerbs; some not told in full.
    seed : int
        Same seed and sizes, same city.

    Notes
    -----
    About 6 % of trunks are not measured, 12 % are given as classes, 0.4 % cannot be true (0,
    negative, wider than any tree, words); 0.2 % of rows stand twice; 0.05 % have no position.
    Shares are ours, no source.
    """
    rng = np.random.default_rng(seed)
    side = math.sqrt(trees / 2700.0) * 1000.0  # about 2,700 street trees to the square kilometre
    streets = _streets(rng, side), _streets(rng, side)
    xy, street, along = _slots(rng, streets, side, trees)
    n = len(xy)
    block = np.floor(along / 220.0).astype(np.int64)
    main = (street * 7919 + block * 104729) % 2**31
    common = np.minimum(rng.geometric(0.08, n) - 1, len(_SPECIES) - 1)
    usual = np.minimum((main % 97) ** 2 % len(_SPECIES), len(_SPECIES) - 1)
    pick = np.where(rng.random(n) < 0.7, usual, common)
    species = np.array(_SPECIES)[pick]
    species[rng.random(n) < 0.01] = ""
    planted = 10.0 + (main % 61)
    trunk = np.exp(rng.normal(0.0, 0.3, n)) * (4.0 + 0.75 * planted)
    diameter = np.char.mod("%d", np.maximum(np.rint(trunk), 2)).astype("U12")
    classes = np.array(["<15", "15-30", "30-45", "45-60", "60-90", ">90"])
    in_class = (street % 8 == 3) | (rng.random(n) < 0.01)
    which = np.searchsorted([15, 30, 45, 60, 90], trunk)
    diameter[in_class] = classes[which[in_class]]
    diameter[rng.random(n) < 0.06] = ""
    wrong = rng.random(n) < 0.004
    diameter[wrong] = np.array(["0", "-5", "2400", "n.k.", "9999"])[
        rng.integers(0, 5, int(wrong.sum()))
    ]
    tree = np.char.mod("C%08d", rng.permutation(n) + 1)
    place = np.char.add(np.char.mod("street %d, ", street), np.char.mod("%d", (along // 8) * 2 + 1))
    columns = {"tree": tree, "species": species, "diameter": diameter, "place": place}
    twice = rng.integers(0, n, n // 500)
    target = rng.integers(0, n, len(twice))
    for values in columns.values():
        values[target] = values[twice]
    xy[target] = xy[twice]
    xy[rng.random(n) < 0.0005] = np.nan
    return City(columns, xy, _works(rng, streets, side, works))


def _streets(rng: np.random.Generator, side: float) -> Floats:
    steps = rng.uniform(*_BLOCK_M, math.ceil(side / _BLOCK_M[0]) + 2)
    at = np.cumsum(steps)
    return np.asarray(at[: max(2, int(np.searchsorted(at, side)))])


def _slots(
    rng: np.random.Generator, streets: tuple[Floats, Floats], side: float, trees: int
) -> tuple[Floats, NDArray[np.int64], Floats]:
    """Positions, street and distance along it, in street order, thinned to so many."""
    length = side + 60.0
    per = int(length / _PITCH_M)
    lines = len(streets[0]) + len(streets[1])
    total = lines * per * 2
    keep = np.sort(rng.permutation(total)[: min(trees, total)])
    if len(keep) < trees:  # a small city: some places bear a second tree
        keep = np.sort(np.concatenate([keep, rng.integers(0, total, trees - len(keep))]))
    line, rest = np.divmod(keep, per * 2)
    step, bank = np.divmod(rest, 2)
    along = step * _PITCH_M + rng.normal(0.0, 1.2, len(keep))
    across = np.concatenate(streets)[line] + (2 * bank - 1) * _SIDE_M
    across += rng.normal(0.0, 0.35, len(keep))
    northward = line >= len(streets[0])
    xy = np.where(
        northward[:, None], np.column_stack([across, along]), np.column_stack([along, across])
    )
    return np.round(xy + _CORNER, 2), line, np.maximum(along, 0.0)


def _works(
    rng: np.random.Generator, streets: tuple[Floats, Floats], side: float, count: int
) -> list[tuple[dict[str, Any], Any]]:
    found = []
    lines = np.concatenate(streets)
    for k in range(count):
        line = int(rng.integers(len(lines)))
        start = float(rng.uniform(0, side))
        bank = float(rng.choice([-1.0, 1.0]))
        sort = float(rng.random())
        told: dict[str, Any] = {"id": f"W{k + 1}", "phase": "proposed"}
        if sort < 0.42:
            told |= {"kind": "trench" if sort < 0.3 else "drain", "width": 0.6, "depth": 1.0}
            off = bank * float(rng.uniform(0.5, 4.0))
            shape: Any = [(start, off), (start + float(rng.uniform(25, 120)), off)]
        elif sort < 0.5:
            told |= {"kind": "utility", "width": 0.4, "phase": "existing"}
            off = bank * float(rng.uniform(1.5, 3.5))
            shape = [(start, off), (start + float(rng.uniform(40, 160)), off)]
        elif sort < 0.68:
            told |= {"kind": "access", "depth": 0.35}
            shape = _box(start, bank * 2.5, 3.5, bank * 8.0)
        elif sort < 0.8:
            told |= {"kind": "excavation", "depth": 1.5}
            width = float(rng.uniform(2, 12))
            shape = _box(start, bank * 1.5, width, bank * float(rng.uniform(2.0, 5.0)))
        elif sort < 0.9:
            told |= {"kind": "paving"}
            shape = _box(start, bank * 2.0, float(rng.uniform(10, 40)), bank * 2.5)
        else:
            told |= {"kind": "pile", "diameter": 0.5}
            if sort < 0.96:
                told["made"] = "bored" if sort < 0.94 else "hand"
            shape = (start, bank * float(rng.uniform(2.0, 5.0)))
        fuzzy = float(rng.random())
        if fuzzy < 0.03:
            told["present"] = "unknown"
        elif fuzzy < 0.08:
            told["offset"] = 0.5
        if float(rng.random()) < 0.04:
            told["phase"] = "possible later"
        found.append((told, _placed(shape, float(lines[line]), line >= len(streets[0]))))
    return found


def _box(
    along: float, across: float, length: float, width: float
) -> list[list[tuple[float, float]]]:
    return [
        [
            (along, across), (along + length, across), (along + length, across + width),
            (along, across + width),
        ]
    ]  # fmt: skip


def _placed(shape: Any, line: float, northward: bool) -> Any:
    def at(p: tuple[float, float]) -> tuple[float, float]:
        along, across = p[0], p[1] + line
        x, y = (across, along) if northward else (along, across)
        return round(x + _CORNER[0], 3), round(y + _CORNER[1], 3)

    if isinstance(shape, tuple):
        return shapely.Point(at(shape))
    if isinstance(shape[0], tuple):
        return shapely.LineString([at(p) for p in shape])
    return shapely.Polygon([at(p) for p in shape[0]])


def write_city(
    folder: Path, *, trees: int, works: int, seed: int = 11, form: Form = "parquet", files: int = 1
) -> tuple[Path, Path]:
    """Write a city's inventory and scheme.

    Parameters
    ----------
    folder : Path
        Made if missing.
    trees, works, seed : int
        As `make_city`.
    form : "parquet", "gpkg" or "csv"
        Of the inventory. A CSV has columns x and y and names no reference system.
    files : int
        Parquet files the inventory is spread over, in file order.

    Returns
    -------
    (Path, Path)
        Inventory (a folder where `files` > 1) and works (GeoPackage).

    Raises
    ------
    MissingExtraError
        Parquet is asked for and cannot be written here.
    """
    city = make_city(trees=trees, works=works, seed=seed)
    folder.mkdir(parents=True, exist_ok=True)
    drawn = folder / "works.gpkg"
    _write_works(drawn, city)
    points = points_at(city.xy)
    if form == "csv":
        path = folder / "trees.csv"
        _write_csv(path, city)
    elif form == "gpkg":
        path = folder / "trees.gpkg"
        path.unlink(missing_ok=True)
        pyogrio.raw.write(
            str(path), geometry=shapely.to_wkb(points),
            field_data=[v.astype(object) for v in city.columns.values()],
            fields=list(city.columns), layer="trees", driver="GPKG", geometry_type="Point",
            crs=city.crs,
        )  # fmt: skip
    elif files == 1:
        path = folder / "trees.parquet"
        write_geoparquet(path, [(dict(city.columns), points)], crs=city.crs)
    else:
        path = folder / "trees"
        path.mkdir(exist_ok=True)
        edges = np.linspace(0, len(points), files + 1).astype(int)
        for k in range(files):
            some = slice(edges[k], edges[k + 1])
            part = {n: v[some] for n, v in city.columns.items()}
            write_geoparquet(path / f"{k:03d}.parquet", [(part, points[some])], crs=city.crs)
    return path, drawn


def _write_csv(path: Path, city: City) -> None:
    with path.open("w", encoding="utf-8", newline="") as f:
        writer = csv.writer(f, lineterminator="\n")
        writer.writerow([*city.columns, "x", "y"])
        cells = [v.tolist() for v in city.columns.values()]
        cells += [["" if v != v else repr(v) for v in city.xy[:, k].tolist()] for k in range(2)]
        writer.writerows(zip(*cells, strict=True))


def _write_works(path: Path, city: City) -> None:
    names = ("id", "kind", "phase", "made", "present", "depth", "width", "diameter", "offset")
    path.unlink(missing_ok=True)
    fields: list[NDArray[Any]] = []
    for name in names:
        values = [told.get(name) for told, _ in city.works]
        if name in ("depth", "width", "diameter", "offset"):
            fields.append(np.array([np.nan if v is None else v for v in values], dtype=np.float64))
        else:
            fields.append(np.array(values, dtype=object))
    pyogrio.raw.write(
        str(path), geometry=shapely.to_wkb(np.array([s for _, s in city.works], dtype=object)),
        field_data=fields, fields=list(names), layer="works", driver="GPKG",
        geometry_type="Unknown", crs=city.crs,
    )  # fmt: skip
