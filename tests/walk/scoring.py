"""Scoring a draft against what a person wrote down from the same walk.

The rules are those of the design's own scorer: a draft tree matches a written one when the species
agree (half a match for the genus alone) and one of its moments starts within 15 s of one of the
other's; matching is one to one with the greatest total. Here the matching is left to scipy's
assignment solver, an independent computation of the same optimum.
"""

from typing import Any

import numpy as np
from scipy.optimize import linear_sum_assignment

WINDOW_S = 15.0
METRES = {"in": 0.0254, "ft": 0.3048, "cm": 0.01, "m": 1.0, "mm": 0.001, "": 1.0, None: 1.0}
Json = dict[str, Any]


def plain(name: str | None) -> str:
    return " ".join(w for w in (name or "").lower().replace("×", "x").split() if w != "x")


def agreement(draft: Json, truth: Json) -> float:
    said = plain(draft["species"].get("botanical"))
    names = [plain(n) for n in (truth["species"]["botanical"], *truth.get("accept", []))]
    if not said:
        return 0.0
    if any(n == said or (" " not in n and said.split()[0] == n) for n in names):
        return 1.0
    return 0.5 if any(n.split()[0] == said.split()[0] for n in names) else 0.0


def near(a: Json, b: Json) -> bool:
    return any(abs(m["start"] - n["start"]) <= WINDOW_S for m in a["moments"] for n in b["moments"])


def expanded(trees: list[Json]) -> list[Json]:
    return [t for t in trees for _ in range(int(t.get("count") or 1))]


def measured(want: Json, have: list[Json]) -> bool:
    goal = want["value"] * METRES[want["unit"]]
    return any(
        m["what"] == want["what"] and abs(m["value"] * METRES[m["unit"]] - goal) <= 0.02 * goal
        for m in have
    )


def share(part: float, whole: float) -> float:
    return part / whole if whole else 1.0


def f1(precision: float, recall: float) -> float:
    return 2 * precision * recall / (precision + recall) if precision + recall else 0.0


def score(draft: Json, truth: Json) -> Json:
    """Give tree F1 and counts (right, of) for decisions, measures and questions."""
    d, t = expanded(draft["trees"]), expanded(truth["trees"])
    weights = np.array(
        [[agreement(a, b) if near(a, b) else 0.0 for b in t] for a in d] or [[0.0]]
    ).reshape(max(len(d), 1), -1)
    pairs = [
        (int(i), int(j))
        for i, j in zip(*linear_sum_assignment(weights, maximize=True), strict=True)
        if weights[i, j] > 0
    ]
    hit = sum(weights[i, j] for i, j in pairs)
    decided = [(i, j) for i, j in pairs if "decision" in t[j]]
    wanted = [(i, m) for i, j in pairs for m in t[j].get("measures", [])]
    mine = {plain(p["species"]["botanical"]) for p in draft["plantings"]} - {""}
    theirs = {plain(p["species"]["botanical"]) for p in truth["plantings"]}
    asked, missing = draft["questions"], truth["questions"]
    return {
        "tree_f1": f1(share(hit, len(d)), share(hit, len(t))),
        "decisions": (
            sum(d[i]["decision"] == t[j]["decision"] for i, j in decided),
            len(decided),
        ),
        "measures": (sum(measured(m, d[i]["measures"]) for i, m in wanted), len(wanted)),
        "plantings_f1": f1(
            share(len(mine & theirs), len(mine)), share(len(mine & theirs), len(theirs))
        ),
        "found": (sum(any(near(a, b) for a in asked) for b in missing), len(missing)),
        "wise": (sum(any(near(a, b) for b in missing) for a in asked), len(asked)),
    }
