"""Drawings written by the tests."""

from pathlib import Path

import ezdxf

from bolewalk.drawing.details import Place
from bolewalk.drawing.dxf import PlanRead, read_dxf
from bolewalk.drawing.grid import local_grid
from bolewalk.model.survey import Drawing

__all__ = ["new_plan", "on", "read_plan", "small_text"]


def new_plan(*layers: str, insunits: int = 6):
    """Give an empty drawing with layers, in metres unless told."""
    doc = ezdxf.new("R2010")
    doc.header["$INSUNITS"] = insunits
    for name in layers:
        doc.layers.add(name)
    return doc


def on(layer: str, **more):
    """Give entity attributes for a layer."""
    return {"dxfattribs": {"layer": layer, **more}}


def read_plan(path: Path, layers, **more) -> PlanRead:
    """Read a drawing as a survey in metres does."""
    given = {"grid": local_grid("metric"), "units": "metric", **more}
    return read_dxf(
        path,
        drawing=Drawing(path.name, title="Site plan", revision="B"),
        layers=layers,
        listed=Place("survey.toml", "drawing 1"),
        **given,
    )


def small_text(entities: str, *, header: str = "") -> str:
    """Give a whole drawing of the oldest kind, as text written by hand."""
    head = f"0\nSECTION\n2\nHEADER\n9\n$ACADVER\n1\nAC1009\n{header}0\nENDSEC\n"
    return f"{head}0\nSECTION\n2\nENTITIES\n{entities}0\nENDSEC\n0\nEOF\n"
