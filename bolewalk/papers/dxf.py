"""The survey as a DXF drawing: the same layers, with the tree numbers and works' names as text."""

import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager

import shapely
from ezdxf._options import options
from ezdxf.filemanagement import new
from ezdxf.layouts.layout import Modelspace
from shapely.geometry import LineString, Point, Polygon

from bolewalk.model.units import M_PER_FT, M_PER_US_SURVEY_FT
from bolewalk.papers.layers import Layer
from bolewalk.papers.plain_text import one_line

__all__ = ["dxf_bytes"]

_INSUNITS = {M_PER_FT: 2, M_PER_US_SURVEY_FT: 21, 1.0: 6}
"""Values of the header's unit code for feet, US survey feet and metres."""

_LINETYPES = {"crowns": "DASHED", "root_zones": "DASHDOT", "nearest_cut": "CONTINUOUS"}
_COLOURS = {
    "trees": 7, "crowns": 8, "root_zones": 8, "nearest_cut": 12, "works": 7, "fence": 7,
    "planting": 7,
}  # fmt: skip
_TEXT_M = 0.6


def dxf_bytes(layers: Sequence[Layer], *, m_per_grid_unit: float) -> bytes:
    """Draw layers as DXF R2010, text in UTF-8.

    Parameters
    ----------
    layers : sequence of Layer
        In grid units.
    m_per_grid_unit : float
        Names the drawing's unit in its header.

    Returns
    -------
    bytes
        The same layers give the same bytes: no time and no random identifier is written.
    """
    with _fixed_meta_data():
        doc = new("R2010", setup=["linetypes"])
        unit = min(_INSUNITS, key=lambda m: abs(m - m_per_grid_unit))
        doc.header["$INSUNITS"] = _INSUNITS[unit]
        doc.header["$MEASUREMENT"] = 1 if unit == 1.0 else 0
        doc.header["$LTSCALE"] = 1.0 / m_per_grid_unit
        space = doc.modelspace()
        for layer in layers:
            doc.layers.add(
                layer.name,
                color=_COLOURS.get(layer.name, 7),
                linetype=_LINETYPES.get(layer.name, "CONTINUOUS"),
            )
            _draw(space, layer, _TEXT_M / m_per_grid_unit)
        # ezdxf would add these from a set, in an order that changes from run to run.
        for name in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(name)
        out = io.StringIO()
        doc.write(out)
    return out.getvalue().encode(doc.output_encoding, "dxfreplace")


def _draw(space: Modelspace, layer: Layer, height: float) -> None:
    at = {"layer": layer.name}
    for f in layer.features:
        for g in shapely.get_parts(f.geometry):
            if isinstance(g, Point):
                space.add_point((g.x, g.y), dxfattribs=at)
                space.add_circle((g.x, g.y), height / 3, dxfattribs=at)
            elif isinstance(g, LineString):
                space.add_lwpolyline(list(g.coords), dxfattribs=at)
            elif isinstance(g, Polygon):
                for ring in (g.exterior, *g.interiors):
                    space.add_lwpolyline(list(ring.coords[:-1]), close=True, dxfattribs=at)
        if layer.name in ("trees", "works", "planting"):
            p = f.geometry.representative_point()
            text = space.add_text(_harmless(f.label), height=height, dxfattribs=at)
            text.set_placement((p.x + height, p.y + height / 2))


def _harmless(label: str) -> str:
    # "%%" and "^" begin codes in DXF text; a blank between keeps them as written.
    return one_line(label).replace("%%", "% %").replace("^", "^ ")[:250]


@contextmanager
def _fixed_meta_data() -> Iterator[None]:
    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before
