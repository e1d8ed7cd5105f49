"""Survey folders written by the tests: one sound survey, and what is changed of it."""

import json
from pathlib import Path

from bolewalk.intake.folder import read_folder
from bolewalk.intake.job import Job
from tests.drawing.plans import new_plan, on

__all__ = ["HEAD", "TREES", "WORKS", "feature", "read", "write_plan", "write_survey"]

HEAD = """\
[survey]
name = "Thistle Yard"
date = 2026-05-12
units = "imperial"
purpose = "opinion"
[files]
trees = "trees.csv"
works = ["works.geojson"]
[[drawing]]
file = "plan.dxf"
title = "Site plan"
revision = "B"
date = 2026-04-30
[drawing.layers]
"S-PILE" = "pile"
"S-SLAB" = "slab"
"""

TREES = """\
tree,species,x,y,diameter,height,crown,crown_base,age,health,structure,owner,decision,notes
T1,Quercus agrifolia,20,30,24,45,12/15/10/14,8,mature,good,fair,client,retain,by the gate
T2,northern red oak,60,30,8+6+5,38,~12,6,young,fair,good,shared,prune,
T3,Pinus sylvestris,40,60,~14in,50,2.5 m,20,,,,neighbour,,
"""


def feature(id, kind, geometry, coordinates, **properties):
    return {
        "type": "Feature",
        "properties": {"id": id, "kind": kind, **properties},
        "geometry": {"type": geometry, "coordinates": coordinates},
    }


WORKS = [
    feature("W1", "trench", "LineString", [[0, 10], [80, 10]], depth=3, width=1.5),
    feature("W2", "excavation", "Polygon",
            [[[50, 50], [70, 50], [70, 70], [50, 70], [50, 50]]], depth="4 ft"),
]  # fmt: skip


def write_plan(path: Path, *, insunits: int = 2, scale: float = 1.0) -> None:
    """Write a plan 100 by 80 feet: three piles, a slab with a round end."""
    doc = new_plan("S-PILE", "S-SLAB", insunits=insunits)
    msp = doc.modelspace()
    for x in (10, 20, 30):
        msp.add_circle((x * scale, 20 * scale), 0.5 * scale, **on("S-PILE"))
    corners = [(0, 0, 0), (100, 0, 0.2), (100, 80, 0), (0, 80, 0)]
    msp.add_lwpolyline(
        [(x * scale, y * scale, b) for x, y, b in corners],
        format="xyb", close=True, **on("S-SLAB"),
    )  # fmt: skip
    doc.saveas(path)


def write_survey(folder: Path, *, head=HEAD, trees=TREES, works=WORKS, plan=True) -> Path:
    """Write the sound survey, or what a test makes of it; None leaves a file out."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "survey.toml").write_text(head, encoding="utf-8")
    if trees is not None:
        data = trees if isinstance(trees, bytes) else trees.encode()
        (folder / "trees.csv").write_bytes(data)
    if works is not None:
        body = {"type": "FeatureCollection", "features": works}
        (folder / "works.geojson").write_text(json.dumps(body), encoding="utf-8")
    if plan:
        write_plan(folder / "plan.dxf")
    return folder


def read(folder: Path, **changes) -> Job:
    """Write and read."""
    return read_folder(write_survey(folder, **changes))
