"""Survey folders written to disk by the tests."""

import json
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

__all__ = ["feature", "write_survey"]


def write_survey(
    folder: Path,
    *,
    trees: str,
    works: Sequence[Mapping[str, Any]] = (),
    units: str = "metric",
    root_zone: str = "as4970-2009",
    method: str = "",
    extra: Mapping[str, str] | None = None,
    files: str = "",
) -> Path:
    """Write the smallest survey folder that holds these trees and works."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "survey.toml").write_text(
        f'[survey]\nname = "Check"\ndate = 2026-05-12\nunits = "{units}"\npurpose = "opinion"\n'
        f'[files]\ntrees = "trees.csv"\nworks = ["works.geojson"]\n{files}\n'
        f'[method]\nroot_zone = "{root_zone}"\n{method}\n',
        encoding="utf-8",
    )
    (folder / "trees.csv").write_text(trees, encoding="utf-8")
    (folder / "works.geojson").write_text(
        json.dumps({"type": "FeatureCollection", "features": list(works)}), encoding="utf-8"
    )
    for name, text in (extra or {}).items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder


def feature(
    kind: str, geometry: str, coordinates: Any, *, id: str = "W1", **properties: Any
) -> dict[str, Any]:
    """Make one GeoJSON feature of the works."""
    return {
        "type": "Feature",
        "properties": {"id": id, "kind": kind, **properties},
        "geometry": {"type": geometry, "coordinates": coordinates},
    }
