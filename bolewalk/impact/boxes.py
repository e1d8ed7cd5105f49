"""Bounding boxes: indexed, and those told that a tree's zone may meet."""

from collections.abc import Callable

import numpy as np
import shapely
from numpy.typing import NDArray

__all__ = ["DENSE", "box_index", "box_shapes", "boxes_near"]

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

DENSE = 400_000
"""Pairs of a trunk and a box up to which comparing all beats an index."""


def box_shapes(boxes: Floats) -> NDArray[np.object_]:
    """Give shapes with these bounds (low x, low y, high x, high y), shape (n, 4).

    Their diagonals: an index compares bounds only, and a line is made ten times as fast.
    """
    return np.atleast_1d(np.asarray(shapely.linestrings(boxes.reshape(-1, 2, 2)), dtype=object))


def box_index(boxes: Floats) -> shapely.STRtree:
    """Index boxes, shape (n, 4)."""
    return shapely.STRtree(box_shapes(boxes))


def boxes_near(
    at: Floats, reach: Floats, boxes: Floats, index: Callable[[], shapely.STRtree]
) -> tuple[Ints, Ints]:
    """Give the pairs (trunk, box) that may meet, by trunk, then by box.

    Parameters
    ----------
    at : ndarray, shape (n, 2)
        Trunk centres [m].
    reach : ndarray, shape (n,)
        How far each looks [m].
    boxes : ndarray, shape (m, 4)
        As `box_shapes`.
    index : callable
        Gives the index of the boxes; asked only where there are many pairs.
    """
    if len(at) * len(boxes) <= DENSE:
        meets = np.ones((len(at), len(boxes)), dtype=bool)
        for k in range(2):
            meets &= (at[:, k] + reach)[:, None] >= boxes[:, k]
            meets &= (at[:, k] - reach)[:, None] <= boxes[:, k + 2]
        i, j = np.nonzero(meets)
        return i, j
    wide = reach[:, None]
    i, j = index().query(box_shapes(np.hstack([at - wide, at + wide])))
    order = np.lexsort((j, i))
    return i[order], j[order]
