"""How far, and which way, each pile must move to clear the roots a tree stands by."""

import math
from collections.abc import Iterable
from dataclasses import dataclass

from bolewalk.impact.results import RootZone
from bolewalk.impact.thresholds import Thresholds
from bolewalk.model.statements import Statement, say
from bolewalk.model.works import Work

__all__ = ["PileShift", "pile_shifts"]


@dataclass(frozen=True, slots=True)
class PileShift:
    """One pile against one tree's structural radius.

    Attributes
    ----------
    work : str
        Work id; `point` numbers its points from 1.
    distance_m : float
        Trunk centre to the near face of the bare pile; negative where the pile holds the trunk.
    shift_m : float
        Least distance the pile must move, 0 where it is clear with the margin.
    move_deg : float or None
        Bearing of that move, straight away from the trunk; None where none is needed. A pile
        centred on the trunk may leave on any bearing and is sent north.
    at : (east, north) [m]
        Centre after the move.
    say : Statement
    """

    work: str
    point: int
    distance_m: float
    shift_m: float
    move_deg: float | None
    at: tuple[float, float]
    say: Statement


def pile_shifts(
    tree: str,
    tree_xy: tuple[float, float],
    zone: RootZone,
    works: Iterable[Work],
    thresholds: Thresholds,
) -> tuple[PileShift, ...]:
    """Give the shift of every proposed or possible pile that reaches the root zone.

    Parameters
    ----------
    tree : str
        Id, for the statement.
    tree_xy : (east, north) [m]
    zone : RootZone
    works : iterable of Work
    thresholds : Thresholds
        "pile.shift_margin": room kept beside the structural radius [m].

    Returns
    -------
    tuple of PileShift
        In the order of `works`. A move that clears this tree may near another: the table of each
        tree has to be read.
    """
    margin = thresholds.value("pile.shift_margin")
    table = []
    for work in works:
        if work.kind != "pile" or work.phase == "existing" or work.present == "no":
            continue
        half = (work.diameter_m or 0.0) / 2
        points = [p.ring[0] for p in work.parts if p.shape == "point"]
        for number, (x, y) in enumerate(points, start=1):
            east, north = x - tree_xy[0], y - tree_xy[1]
            centre = math.hypot(east, north)
            face = centre - half
            if face >= zone.radius_m:
                continue
            name = work.id if len(points) == 1 else f"{work.id}/{number}"
            shift = max(zone.structural_radius_m + margin - face, 0.0)
            if shift == 0.0:
                room = face - zone.structural_radius_m
                said = say("pile.clear", works=name, tree=tree, room_m=room)
                table.append(PileShift(work.id, number, face, 0.0, None, (x, y), said))
                continue
            bearing = math.degrees(math.atan2(east, north)) % 360.0 if centre > 0 else 0.0
            away = math.radians(bearing)
            at = (x + shift * math.sin(away), y + shift * math.cos(away))
            said = say(
                "pile.shift",
                works=name,
                tree=tree,
                shift_m=shift,
                move_deg=bearing,
                margin_m=margin,
            )
            table.append(PileShift(work.id, number, face, shift, bearing, at, said))
    return tuple(table)
