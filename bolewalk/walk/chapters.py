"""An index of the recording: WebVTT chapters, one cue a tree."""

from collections.abc import Mapping
from types import MappingProxyType

from bolewalk.walk.draft import Draft, DraftTree

__all__ = ["walk_index"]

_NO_IDS: Mapping[str, str] = MappingProxyType({})
_SHORTEST_S = 0.001


def walk_index(draft: Draft, *, ids: Mapping[str, str] = _NO_IDS) -> str:
    """Write the chapters of a walk as WebVTT.

    Parameters
    ----------
    draft : Draft
    ids : mapping of str to str
        Tree ids of the tree table by draft id, where the two were matched; else the draft's own.

    Returns
    -------
    str
        One cue a draft tree in the order they were met. A cue begins where the tree is first
        spoken of and ends where the next begins, or where the tree's first passage ends if that
        is earlier. A walk without trees gives a file without cues.
    """
    trees = sorted(draft.trees, key=lambda t: (_start(t), t.id))
    blocks = ["WEBVTT"]
    for k, tree in enumerate(trees):
        start = _start(tree)
        later = [_start(t) for t in trees[k + 1 :] if _start(t) > start]
        end = _passage_end(tree, later[0] if later else None)
        name = ids.get(tree.id, tree.id)
        blocks.append(f"{name}\n{_stamp(start)} --> {_stamp(end)}\n{_line(tree, name)}")
    return "\n\n".join(blocks) + "\n"


def _start(tree: DraftTree) -> float:
    return tree.moments[0].start if tree.moments else 0.0


def _passage_end(tree: DraftTree, next_start: float | None) -> float:
    """End of the unbroken run of moments the tree is first spoken of in."""
    end = _start(tree)
    for m in tree.moments:
        if next_start is not None and m.start >= next_start:
            break
        end = max(end, m.end)
    if next_start is not None:
        end = min(end, next_start)
    return max(end, _start(tree) + _SHORTEST_S)


def _line(tree: DraftTree, name: str) -> str:
    many = f"{tree.count} x " if tree.count > 1 else ""
    decision = f", {tree.decision}" if tree.decision else ""
    text = f"{name} {many}{tree.species.label}{decision}"
    # An arrow in the text would end the cue.
    return " ".join(text.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def _stamp(seconds: float) -> str:
    total = round(seconds * 1000)
    hours, rest = divmod(total, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
