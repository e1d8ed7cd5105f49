"""How likely the next person picks the wrong tree, and what one more note would do about it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, get_args

import numpy as np

from bolewalk.model.extras import extra
from bolewalk.model.trees import Tree
from bolewalk.reference.botanical import species_key
from bolewalk.reference.settings import setting
from bolewalk.trees.stems import equal_area_cm

__all__ = ["Note", "WrongTree", "wrong_tree"]

Note = Literal["species", "stems", "trunk", "tag", "tape"]
"""What a work order tells of a tree: its species, stem count, trunk, tag, or two tapes."""

_TABLE = "measuring_settings.csv"
_TAPE_ERROR_M = 0.1  # two tapes read at the trunk: far below the distance between any two trees


@dataclass(frozen=True, slots=True)
class WrongTree:
    """The chance of the wrong tree with the notes there are, and the note that helps most.

    `best_note` is None where no further note lowers the chance.
    """

    chance: float
    best_note: Note | None
    chance_with_it: float
    mistaken_for: tuple[str, ...]


def wrong_tree(
    trees: Sequence[Tree], tree_id: str, *, notes: Sequence[Note] = ("species",),
    error_m: float | None = None,
) -> WrongTree:  # fmt: skip
    """Work out how often someone sent to a tree would pick another.

    The person arrives where a position with error leads, and takes the nearest tree that agrees
    with what the notes tell. Places are drawn evenly from the error (a fixed sequence).

    Parameters
    ----------
    trees : sequence of Tree
        All trees of the site; those without a position cannot be mistaken for this one here.
    tree_id : str
        The tree meant; must be located.
    notes : sequence of Note
        What the order tells.
    error_m : float, optional
        Standard deviation of the position in each direction [m], > 0; without it a hand-held
        satellite unit.

    Returns
    -------
    WrongTree
        `mistaken_for` lists the ids it is taken for, most often first.

    Raises
    ------
    ValueError
        No such located tree, an unknown note, an error that is not > 0.
    """
    meant = next((t for t in trees if t.id == tree_id and t.located), None)
    if meant is None:
        raise ValueError(f"no located tree {tree_id!r}.")
    unknown = set(notes) - set(get_args(Note))
    if unknown:
        raise ValueError(f"notes {sorted(unknown)} are not among {get_args(Note)}.")
    # A mean distance of d in the plane is a standard deviation of d * sqrt(2 / pi) a direction.
    spread = setting(_TABLE, "finder_error_m") * np.sqrt(2 / np.pi) if error_m is None else error_m
    if not spread > 0:
        raise ValueError(f"error_m is {error_m!r}; it must be > 0.")
    told = set(notes)
    chance, mistaken = _chance(trees, meant, told, float(spread))
    best: tuple[float, Note] | None = None
    for note in get_args(Note):
        if note not in told and chance > 0:
            lower, _ = _chance(trees, meant, told | {note}, float(spread))
            if lower < chance and (best is None or lower < best[0]):
                best = (lower, note)
    return WrongTree(chance, best[1] if best else None, best[0] if best else chance, mistaken)


def _chance(
    trees: Sequence[Tree], meant: Tree, told: set[Note], spread: float
) -> tuple[float, tuple[str, ...]]:
    if (
        "tag" in told
        and meant.tag
        and not any(t.tag == meant.tag for t in trees if t.id != meant.id)
    ):
        return 0.0, ()
    alike = [t for t in trees if t.located and (t.id == meant.id or _agrees(t, meant, told))]
    n = int(setting(_TABLE, "draws"))
    with extra("planning", what="The chance of the wrong tree"):
        from scipy.special import ndtri
        from scipy.stats import qmc

    even = qmc.Halton(2, scramble=False).random(n + 1)[1:]
    error = _TAPE_ERROR_M if "tape" in told else spread
    at = ndtri(even) * error + np.array([meant.x_m, meant.y_m])
    spots = np.array([(t.x_m, t.y_m) for t in alike])
    away = np.hypot(at[:, None, 0] - spots[None, :, 0], at[:, None, 1] - spots[None, :, 1])
    picked = np.bincount(np.argmin(away, axis=1), minlength=len(alike)) / n
    others = [(-float(picked[i]), t.id) for i, t in enumerate(alike)
              if t.id != meant.id and picked[i] > 0]  # fmt: skip
    return -sum(share for share, _ in others) + 0.0, tuple(name for _, name in sorted(others))


def _agrees(other: Tree, meant: Tree, told: set[Note]) -> bool:
    names = other.species.botanical, meant.species.botanical
    if (
        "species" in told
        and names[0]
        and names[1]
        and species_key(names[0]) != species_key(names[1])
    ):
        return False
    if not (other.stems_cm and meant.stems_cm):
        return True
    if "stems" in told and len(other.stems_cm) != len(meant.stems_cm):
        return False
    if "trunk" in told:
        a, b = (equal_area_cm([s.value for s in t.stems_cm]) for t in (other, meant))
        return abs(a - b) <= setting(_TABLE, "trunk_alike_share") * b
    return True
