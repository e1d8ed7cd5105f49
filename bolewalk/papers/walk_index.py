"""The index of the recording: WebVTT chapters, one cue a tree."""

import re
from typing import TYPE_CHECKING

from bolewalk.papers.plain_text import one_line

if TYPE_CHECKING:
    from bolewalk.survey import Findings

__all__ = ["walk_index"]


def walk_index(findings: "Findings") -> bytes | None:
    """Write the chapters of the walk, in the order the trees were first spoken of.

    Each chapter runs from a tree's first moment to the next tree's, the last to the end of the
    recording. A tree that stands in the tree table carries its number there.

    Returns
    -------
    bytes or None
        None where the survey has no walk.
    """
    draft = findings.draft
    if draft is None:
        return None
    known = {t.said.id: t.tree.id for t in findings.trees if t.said is not None}
    chapters = sorted(
        (t.moments[0].start, i, known.get(t.id, t.id), t.species.label)
        for i, t in enumerate(draft.trees)
        if t.moments
    )
    # A walk on which no tree was named has no chapters, and no end to give one.
    ends = [c[0] for c in chapters[1:]] + [draft.duration_s] * bool(chapters)
    out = ["WEBVTT", ""]
    for (start, _, tree, name), end in zip(chapters, ends, strict=True):
        # A cue must last; two trees named in one breath would not.
        end = max(end, start + 0.001)
        title = _cue_text(tree if tree == name else f"{tree}: {name}")
        out += [_cue_text(tree), f"{_time(start)} --> {_time(end)}", title, ""]
    return "\n".join(out).encode("utf-8")


def _time(seconds: float) -> str:
    ms = round(seconds * 1000)
    return f"{ms // 3_600_000:02d}:{ms // 60_000 % 60:02d}:{ms // 1000 % 60:02d}.{ms % 1000:03d}"


def _cue_text(text: str) -> str:
    escaped = one_line(text).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return re.sub(r"-{2,}", lambda m: "–" * len(m.group()), escaped) or "?"
