"""Invented trees and an earlier visit to them."""

from datetime import date
from typing import Any

from bolewalk.model.figures import Figure
from bolewalk.model.survey import Drawing, Method, Survey
from bolewalk.model.trees import Species, Tree
from bolewalk.model.works import Part, Work
from bolewalk.visits.record import EarlierVisit, TreeThen, WorkThen

THEN, TODAY = date(2023, 5, 1), date(2026, 5, 1)


def tree(name: str, x: float, trunk: float, **more: Any) -> Tree:
    species = more.pop("species", Species("Quercus lobata", "valley oak", "valley oak"))
    return Tree(
        name, species, x_m=x, y_m=0.0, stems_cm=(Figure(trunk, "measured"),),
        **{"owner": "client", "health": "good", **more},
    )  # fmt: skip


def visit(*trees: TreeThen, day: date = THEN, **more: Any) -> EarlierVisit:
    return EarlierVisit(
        **{
            "source": "then/findings.json", "date": day, "name": "Court", "purpose": "opinion",
            "assessor": "A. Vane", "credential_until": None, "price_until": None, "drawings": (),
            "trees": trees, "works": (), **more,
        }
    )  # fmt: skip


def survey(*trees: Tree, works: tuple[Work, ...] = (), drawings: tuple[Drawing, ...] = (),
           day: date = TODAY, region: str | None = None) -> Survey:  # fmt: skip
    return Survey(
        "Court", day, "metric", "opinion", Method("as4970-2009", growth_region=region),
        trees=trees, works=works, drawings=drawings,
    )  # fmt: skip


def work(name: str, phase: Any = "proposed", present: Any = "yes") -> Work:
    part = Part("line", ((0.0, 5.0), (9.0, 5.0)))
    return Work(name, "trench", (part,), phase=phase, present=present)


def work_then(name: str, phase: str = "proposed", present: str = "yes") -> WorkThen:
    return WorkThen(name, name, "trench", phase, present)
