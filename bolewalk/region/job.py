"""One screening: what was asked, and what every worker prepares from it once."""

from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.near import outline_of
from bolewalk.impact.settings import root_loss_settings
from bolewalk.model.problems import Problem
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Work
from bolewalk.region.columns import Columns, read_columns
from bolewalk.region.frames import Frame
from bolewalk.region.geofiles import points_at
from bolewalk.region.kinds import Kinds
from bolewalk.region.settings import settings
from bolewalk.region.tables import Piece
from bolewalk.region.works import counts, open_works, works_of

__all__ = ["Job", "Site", "site_of"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Job:
    """What was asked; small, so that it travels with every task.

    Paths are as every worker sees them; `columns` is "" where there is no mapping. `parts` is
    the folder for finished parts.
    """

    name: str
    works: str
    columns: str
    parts: str
    units: UnitSystem
    method: RootZoneMethod
    frame: Frame
    pieces: tuple[Piece, ...]
    files: tuple[str, ...]
    stamp: str

    def mapping(self) -> Columns:
        """Read the column mapping."""
        return read_columns(Path(self.columns)) if self.columns else Columns()


class Site:
    """The works of a job, ready to be looked at from any tree, and the kinds of trees met."""

    def __init__(
        self, works: tuple[Work, ...], kinds: Kinds, problems: tuple[Problem, ...] = ()
    ) -> None:
        self.all_works = works
        self.problems = problems
        self.works = tuple(w for w in works if counts(w))
        self.kinds = kinds
        self.outlines = np.array([outline_of(w) for w in self.works], dtype=object)
        self.offset = np.array([w.offset_m for w in self.works], dtype=np.float64)
        self.widest_offset = float(self.offset.max(initial=0.0))
        self.margin = root_loss_settings().pile_margin_m + settings().slack_m

    @cached_property
    def index(self) -> shapely.STRtree:
        """Outlines of the works that count, by place."""
        return shapely.STRtree(self.outlines)

    def near(self, xy: Floats, reach: Floats) -> NDArray[np.bool_]:
        """Tell which trees any work may come near.

        Parameters
        ----------
        xy : ndarray, shape (n, 2)
            East and north [m], finite.
        reach : ndarray, shape (n,)
            Largest root zone, and how far the tree may be off [m].
        """
        out = np.zeros(len(xy), dtype=bool)
        if not len(self.works) or not len(xy):
            return out
        points = points_at(xy)
        wide = reach + self.margin + self.widest_offset
        i, j = self.index.query(points, predicate="dwithin", distance=wide)
        if self.widest_offset > 0:
            gap = shapely.distance(points[i], self.outlines[j])
            i = i[gap <= reach[i] + self.margin + self.offset[j]]
        out[i] = True
        return out


@lru_cache(maxsize=2)
def site_of(job: Job) -> Site:
    """Prepare the works of a job; once in a process."""
    columns = job.mapping()
    table = open_works(Path(job.works), columns)
    works, problems = works_of(table, job.frame, columns, units=job.units)
    return Site(works, Kinds(job.method, columns, job.units), problems)
