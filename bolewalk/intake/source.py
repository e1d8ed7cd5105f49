"""Where the files of a survey are: in a folder, or kept apart with their tables already open."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any, Protocol

from bolewalk.drawing.details import Place, nearest
from bolewalk.drawing.dxf import PlanRead, read_dxf
from bolewalk.drawing.geojson import read_features, read_geojson
from bolewalk.drawing.grid import Grid
from bolewalk.intake.paths import find_file, proper_name, relative_name
from bolewalk.intake.table_file import read_records
from bolewalk.intake.toml_file import TomlError, parse_toml, read_toml
from bolewalk.model.problems import Problem
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Work

__all__ = ["FolderSource", "KeptSource", "Source"]

Works = tuple[tuple[Work, ...], tuple[Problem, ...]]


class Source(Protocol):
    """Gives the files of a survey by their names, relative to its folder with forward slashes.

    Names given to anything but `find` and `has` are names `find` gave.
    """

    def find(self, name: str, place: Place, field: str, *, folder: bool = False) -> str | None:
        """Give the plain form of a name the survey uses; tell in `place` where it cannot be."""

    def has(self, name: str) -> bool:
        """Tell whether a file is there."""

    def under(self, folder: str) -> Sequence[str]:
        """Give the names below a folder, sorted part by part."""

    def path(self, name: str) -> Path:
        """Give where the bytes of a file lie."""

    def toml(self, name: str) -> dict[str, Any]:
        """Give a TOML table. Raises TomlError."""

    def records(self, name: str, whole: Place) -> Sequence[Sequence[str]]:
        """Give the records of a table, the header first."""

    def works(self, name: str, *, grid: Grid, units: UnitSystem) -> Works:
        """Read works from GeoJSON."""

    def plan(self, name: str, **options: Any) -> PlanRead:
        """Read a drawing; `options` are those of `read_dxf`."""


@dataclass(frozen=True, slots=True)
class FolderSource:
    """A survey folder. `root` is resolved."""

    root: Path

    def find(self, name: str, place: Place, field: str, *, folder: bool = False) -> str | None:
        """Find a file of the folder."""
        path = find_file(self.root, name, place, field, folder=folder)
        return None if path is None else relative_name(self.root, path)

    def has(self, name: str) -> bool:
        """Tell whether a file of that name is there and no link."""
        path = self.root / name
        try:
            return path.is_file() and not path.is_symlink()
        except OSError:
            return False

    def under(self, folder: str) -> Sequence[str]:
        """List a folder with all below it."""
        found = sorted((self.root / folder).rglob("*"))
        return [relative_name(self.root, path) for path in found]

    def path(self, name: str) -> Path:
        """Give the path of a file."""
        return self.root / name

    def toml(self, name: str) -> dict[str, Any]:
        """Read a TOML file."""
        return read_toml(self.root / name)

    def records(self, name: str, whole: Place) -> Sequence[Sequence[str]]:
        """Read a CSV file."""
        return read_records(self.root / name, whole)

    def works(self, name: str, *, grid: Grid, units: UnitSystem) -> Works:
        """Read a GeoJSON file."""
        return read_geojson(self.root / name, file=name, grid=grid, units=units)

    def plan(self, name: str, **options: Any) -> PlanRead:
        """Read a DXF drawing."""
        return read_dxf(self.root / name, **options)


@dataclass(frozen=True, slots=True)
class KeptSource:
    """Files kept somewhere else under other names, some of them as open tables.

    A name in `texts`, `tables` or `collections` is read from there and not from its bytes.

    Attributes
    ----------
    paths : mapping
        Name -> where the bytes lie.
    texts : mapping
        Name -> text of a TOML file.
    tables : mapping
        Name -> records, the header first.
    collections : mapping
        Name -> GeoJSON FeatureCollection.
    read_plan : callable
        Reads a drawing as `read_dxf` does.
    """

    paths: Mapping[str, Path] = field(default_factory=dict)
    texts: Mapping[str, str] = field(default_factory=dict)
    tables: Mapping[str, Sequence[Sequence[str]]] = field(default_factory=dict)
    collections: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    read_plan: Callable[..., PlanRead] = read_dxf

    def _names(self) -> set[str]:
        return {*self.paths, *self.texts, *self.tables, *self.collections}

    def find(self, name: str, place: Place, field: str, *, folder: bool = False) -> str | None:
        """Find a kept file."""
        plain = proper_name(name, place, field, folder=folder)
        if plain is None:
            return None
        names = self._names()
        if any(n.startswith(f"{plain}/") for n in names) if folder else plain in names:
            return plain
        what = "folder" if folder else "file"
        place.tell(field, name, f"a {what} that is there{nearest(plain, sorted(names))}")
        return None

    def has(self, name: str) -> bool:
        """Tell whether a file of that name is kept."""
        return name in self._names()

    def under(self, folder: str) -> Sequence[str]:
        """List the kept names below a folder."""
        return sorted(
            (n for n in self._names() if n.startswith(f"{folder}/")),
            key=lambda n: PurePosixPath(n).parts,
        )

    def path(self, name: str) -> Path:
        """Give where the bytes of a file lie."""
        return self.paths[name]

    def toml(self, name: str) -> dict[str, Any]:
        """Read a kept TOML text."""
        if name in self.texts:
            return parse_toml(self.texts[name])
        if name in self.paths:
            return read_toml(self.paths[name])
        raise TomlError("it is not there; a survey is a folder with a survey.toml in it")

    def records(self, name: str, whole: Place) -> Sequence[Sequence[str]]:
        """Give the records of a kept table."""
        if name in self.tables:
            return self.tables[name]
        return read_records(self.paths[name], whole)

    def works(self, name: str, *, grid: Grid, units: UnitSystem) -> Works:
        """Read kept features."""
        if name in self.collections:
            return read_features(self.collections[name], file=name, grid=grid, units=units)
        return read_geojson(self.paths[name], file=name, grid=grid, units=units)

    def plan(self, name: str, **options: Any) -> PlanRead:
        """Read a kept drawing."""
        return self.read_plan(self.paths[name], **options)
