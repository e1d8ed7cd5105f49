"""Small surveys for the tests of the rules: trees at a place, works about them."""

from datetime import date
from typing import Any

from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Site, Survey
from bolewalk.model.trees import Crown, Tree
from bolewalk.model.works import Part, Work
from tests.rules.trees import CM, FT, tree

__all__ = ["line_work", "placed", "square", "survey_of"]


def survey_of(*trees: Tree, works: tuple[Work, ...] = (), **more: Any) -> Survey:
    """A survey of 6 October 2026, imperial."""
    given: dict[str, Any] = {"site": Site(), "date": date(2026, 10, 6)} | more
    return Survey(
        name="Check", units="imperial", purpose="opinion", method=Method("inch-foot"),
        trees=trees, works=works, **given,
    )  # fmt: skip


def placed(
    species: str = "Acer platanoides", stems_in: tuple[float, ...] = (26,), *,
    crown_ft: float = 0.0, flare_in: float | None = None, **more: Any,
) -> Tree:  # fmt: skip
    """A tree at the origin."""
    given: dict[str, Any] = {"x_m": 0.0, "y_m": 0.0, "owner": "client"} | more
    if crown_ft:
        r = crown_ft * FT
        given["crown"] = Crown(r, r, r, r, Figure(r, "measured"))
    if flare_in is not None:
        given["flare_cm"] = Figure(flare_in * CM, "measured")
    return tree(species, stems_in, **given)


def line_work(kind: Any, x_ft: float, **more: Any) -> Work:
    """A line running north at so many feet east of the tree."""
    x = x_ft * FT
    given: dict[str, Any] = {"phase": "existing", "label": kind} | more
    return Work("W1", kind, (Part("line", ((x, -50.0), (x, 50.0))),), **given)


def square(kind: Any, x_ft: float, *, id: str = "W2", **more: Any) -> Work:
    """A square of 10 m whose west side lies so many feet east of the tree."""
    x = x_ft * FT
    ring = ((x, -5.0), (x + 10, -5.0), (x + 10, 5.0), (x, 5.0))
    given: dict[str, Any] = {"phase": "existing", "label": kind} | more
    return Work(id, kind, (Part("polygon", ring),), **given)
