"""Works laid out once, so that many trees, many cases and a dragged pile share the work."""

from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from bolewalk.impact.boxes import box_index, boxes_near
from bolewalk.impact.footprints import Footprint, footprint
from bolewalk.impact.outlines import Outline, outline_of, touching_groups
from bolewalk.impact.settings import root_loss_settings
from bolewalk.impact.sight import Elements, elements_of_cuts, elements_of_outlines
from bolewalk.model.works import Work

__all__ = ["Scene"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


class Scene:
    """Works on one site, prepared for root loss.

    Parameters
    ----------
    works : sequence of Work
        Those said not to be there are kept, so that positions in the list stay valid, but
        count for nothing.
    origin : (east, north) [m], optional
        Origin of the frame; the first corner of the first work where not given. Results do not
        depend on it beyond rounding.

    Raises
    ------
    ValueError
        A work cannot be laid out (`footprint` tells why).
    """

    def __init__(self, works: Sequence[Work], *, origin: tuple[float, float] | None = None) -> None:
        self.works: tuple[Work, ...] = tuple(works)
        self.origin = origin if origin is not None else _first_corner(self.works)
        self._margin = root_loss_settings().pile_margin_m
        self._outlines: dict[tuple[Footprint, ...], Outline] = {}
        self._grown: dict[Footprint, Footprint] = {}
        self._laid: dict[int, tuple[Work, Footprint]] = {}
        self._lay()

    def _lay(self) -> None:
        for w in self.works:
            if id(w) not in self._laid:
                self._laid[id(w)] = (w, footprint(w, self.origin))
        self.footprints = tuple(self._laid[id(w)][1] for w in self.works)
        fs = self.footprints

        def flags(of: Callable[[Footprint], bool]) -> NDArray[np.bool_]:
            return np.array([of(f) for f in fs], dtype=bool)

        present = flags(lambda f: f.present)
        self.cutting = present & flags(lambda f: f.severs)
        self.covering = present & flags(lambda f: f.covers)
        self.pile = flags(lambda f: f.is_pile)
        self.dodged = flags(lambda f: f.dodged)
        self.share = np.array([f.share for f in fs], dtype=np.float64)
        self.phase = np.array([f.phase for f in fs], dtype=np.int64)
        self.boxes = np.array([_box(f) for f in fs], dtype=np.float64).reshape(-1, 4)
        rows = np.flatnonzero(self.cutting).tolist()
        self.cuts: Elements = elements_of_cuts([fs[i] for i in rows], rows)
        self._index: shapely.STRtree | None = None
        self._unions: dict[tuple[tuple[int, ...], tuple[int, ...]], Elements] = {}

    def replaced(self, position: int, work: Work) -> "Scene":
        """Give the scene with one work changed; what did not change is not laid out again."""
        works = list(self.works)
        works[position] = work
        return self.with_works(works)

    def with_works(self, works: Sequence[Work]) -> "Scene":
        """Give a scene of other works in the same frame, sharing all that is known already."""
        scene = object.__new__(Scene)
        scene.works = tuple(works)
        scene.origin = self.origin
        scene._margin = self._margin
        # Outlines are kept by footprint, footprints by work; a dragged work would pile them up.
        if len(self._laid) > 4 * (len(self.works) + len(scene.works)) + 4096:
            alive = {id(w) for w in (*self.works, *scene.works)}
            self._laid = {k: v for k, v in self._laid.items() if k in alive}
            self._outlines, self._grown = {}, {}
        scene._laid, scene._outlines, scene._grown = self._laid, self._outlines, self._grown
        scene._lay()
        return scene

    def local(self, trees_xy: Floats) -> Floats:
        """Bring tree positions (east, north) into the scene's (north, east) frame."""
        return np.ascontiguousarray((trees_xy - np.asarray(self.origin))[:, ::-1])

    def union(self, plain: Ints, grown: Ints) -> Elements:
        """Give the outline of some works taken together, some of them with the pile margin."""
        key = (tuple(plain.tolist()), tuple(grown.tolist()))
        if key not in self._unions:
            parts = [self.footprints[i] for i in key[0]]
            for i in key[1]:
                f = self.footprints[i]
                if f not in self._grown:
                    self._grown[f] = f.with_margin(self._margin)
                parts.append(self._grown[f])
            outlines = []
            for members in touching_groups(parts):
                group = tuple(parts[m] for m in members)
                if group not in self._outlines:
                    self._outlines[group] = outline_of(group)
                outlines.append(self._outlines[group])
            self._unions[key] = elements_of_outlines(outlines)
        return self._unions[key]

    def near(self, at: Floats, reach: Floats) -> tuple[Ints, Ints]:
        """Pairs (tree, work) whose boxes may meet, works that count for nothing left out."""
        rows = np.flatnonzero(self.cutting | self.covering)
        box = self.boxes[rows] + np.array([-1, -1, 1, 1]) * self._margin

        def index() -> shapely.STRtree:
            if self._index is None:
                self._index = box_index(box)
            return self._index

        i, j = boxes_near(at, reach, box, index)
        return i, rows[j]


def _first_corner(works: Sequence[Work]) -> tuple[float, float]:
    for w in works:
        for part in w.parts:
            if part.ring and all(np.isfinite(part.ring[0])):
                return (float(part.ring[0][0]), float(part.ring[0][1]))
    return (0.0, 0.0)


def _box(f: Footprint) -> Floats:
    corners = [np.asarray(shapely.bounds(p)) for p in f.polygons]
    corners += [np.array([x - r, y - r, x + r, y + r]) for x, y, r in f.circles]
    corners += [np.concatenate([line.min(axis=0), line.max(axis=0)]) for line in f.lines]
    if not corners:
        return np.array([np.inf, np.inf, -np.inf, -np.inf])
    all_ = np.array(corners)
    return np.concatenate([all_[:, :2].min(axis=0), all_[:, 2:].max(axis=0)])
