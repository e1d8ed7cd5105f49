"""Fit the weights that tell where a transcript without punctuation would have it.

    python bench/pauses.py [--write]

Reads the punctuated walks of `tests/data/walk`, takes their marks away and fits a multinomial
logistic regression (L2, limited-memory BFGS) of the mark on what is around each gap. Prints how
many marks are found, and how many found are right, on walks left out of the fit in turn (five
parts); with `--write` it fits to all and writes `bolewalk/walk/data/pauses.csv`. Needs scipy.
"""

import csv
import sys
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize
from scipy.sparse import csr_matrix

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from bolewalk.walk import unpunctuated
from bolewalk.walk.cues import Cue, read_walk
from bolewalk.walk.names import exact_names
from bolewalk.walk.sentences import read_tokens
from tests.walk.short_walks import short_walks

ROOT = Path(__file__).resolve().parents[1]
WALKS = ROOT / "tests" / "data" / "walk"
TABLE = ROOT / "bolewalk" / "walk" / "data" / "pauses.csv"
PARTS = 5
FEWEST = 4  # a feature met less often is left out
RIDGE = 4.0
LEAST = 0.1  # weights below it both ways are not written
WORDS_A_MARK = 20.0  # a walk with more words a mark has no punctuation
MARKS = ("", ",", ".")


@dataclass(frozen=True)
class Walk:
    """One walk: its words, where names begin and end, features of each gap, the true marks."""

    words: list[str]
    starts: set[int]
    ends: set[int]
    features: list[list[str]]
    marks: list[int]


def prepare(cues: list[Cue]) -> Walk:
    """Take the marks off a walk."""
    tokens = read_tokens(cues)
    marks = [2 if t.after[:1] in tuple(".?!…") else int(bool(t.after)) for t in tokens]
    names = exact_names(tokens)
    starts, ends = {n.start for n in names}, {n.end for n in names}
    words = [t.word for t in tokens]
    around = list(unpunctuated.gap_features(words, starts=starts, ends=ends))
    features, last, named = [], -1, False
    for i, found in enumerate(around):
        named = named or i in starts
        past = unpunctuated.past_features(
            i, last=last, named=named, starts=starts, following=words[i + 1]
        )
        features.append([*found, *past])
        if marks[i]:
            last = i
        named = named and marks[i] != 2
    return Walk(words, starts, ends, features, marks[:-1])


def walks() -> dict[str, Walk]:
    """Read every punctuated walk."""
    found = {}
    paths = [p for p in WALKS.rglob("*") if p.suffix in (".vtt", ".srt", ".txt")]
    for path in sorted(paths):
        cues, _ = read_walk([(path, path.name)])
        found[path.stem] = prepare(list(cues))
    for walk in short_walks():
        found[walk.name] = prepare(walk.cues())
    return {
        k: w for k, w in found.items() if len(w.words) <= WORDS_A_MARK * sum(map(bool, w.marks))
    }


def fit(train: list[Walk]) -> dict[str, tuple[float, float]]:
    """Fit the weights: for comma and full stop against none."""
    met = Counter(f for w in train for gap in w.features for f in set(gap))
    names = sorted(f for f, n in met.items() if n >= FEWEST)
    place = {f: k for k, f in enumerate(names)}
    gaps = [gap for w in train for gap in w.features]
    rows = [j for j, gap in enumerate(gaps) for f in gap if f in place]
    columns = [place[f] for gap in gaps for f in gap if f in place]
    x = csr_matrix((np.ones(len(rows)), (rows, columns)), shape=(len(gaps), len(names)))
    y = np.array([m for w in train for m in w.marks])
    truth = np.eye(3)[y]

    def loss(flat: NDArray[np.float64]) -> tuple[float, NDArray[np.float64]]:
        w = flat.reshape(len(names) + 1, 3)
        scores = x @ w[:-1] + w[-1]
        scores -= scores.max(axis=1, keepdims=True)
        p = np.exp(scores)
        p /= p.sum(axis=1, keepdims=True)
        value = -np.log(p[np.arange(len(y)), y] + 1e-12).sum() + RIDGE / 2 * (w[:-1] ** 2).sum()
        slope = np.vstack([x.T @ (p - truth) + RIDGE * w[:-1], (p - truth).sum(axis=0)])
        return float(value), slope.ravel()

    start = np.zeros(3 * (len(names) + 1))
    w = minimize(loss, start, jac=True, method="L-BFGS-B", options={"maxiter": 120}).x
    w = np.round(w.reshape(len(names) + 1, 3), 2)
    pairs = {f: (float(w[k, 1] - w[k, 0]), float(w[k, 2] - w[k, 0])) for f, k in place.items()}
    kept = {f: p for f, p in pairs.items() if max(map(abs, p)) >= LEAST}
    return {"always": (float(w[-1, 1] - w[-1, 0]), float(w[-1, 2] - w[-1, 0])), **kept}


def guess(walk: Walk, weights: dict[str, tuple[float, float]]) -> list[int]:
    """Guess the marks of a walk with the weights given."""
    unpunctuated._weights.cache_clear()
    original = unpunctuated._weights
    unpunctuated._weights = lambda: weights  # type: ignore[assignment]
    try:
        found = unpunctuated.guess_marks(walk.words, starts=walk.starts, ends=walk.ends)
    finally:
        unpunctuated._weights = original
    return [MARKS.index(m) for m in found[:-1]]


def held_out(all_walks: dict[str, Walk]) -> dict[str, dict[str, tuple[float, float]]]:
    """Give for each walk weights fitted without it."""
    order = sorted(all_walks)
    found = {}
    for k in range(PARTS):
        left = order[k::PARTS]
        weights = fit([w for n, w in all_walks.items() if n not in left])
        found |= dict.fromkeys(left, weights)
    return found


def main() -> None:
    """Print the figures, and write the table where asked."""
    all_walks = walks()
    table = np.zeros((3, 3))
    for name, weights in held_out(all_walks).items():
        walk = all_walks[name]
        for true, mine in zip(walk.marks, guess(walk, weights), strict=True):
            table[true, mine] += 1
    right = table[1:, 1:].sum()
    print(f"walks {len(all_walks)}, gaps {int(table.sum())}, marks {int(table[1:].sum())}")
    print(f"marks found {right / table[1:].sum():.2f}, right {right / table[:, 1:].sum():.2f}")
    if "--write" in sys.argv[1:]:
        weights = fit(list(all_walks.values()))
        with TABLE.open("w", encoding="utf-8", newline="") as f:
            out = csv.writer(f, lineterminator="\n")
            out.writerow(["feature", "comma", "stop"])
            for feature, (comma, stop) in sorted(weights.items()):
                out.writerow([feature, f"{comma:.2f}", f"{stop:.2f}"])
        print(f"{len(weights)} weights written")


if __name__ == "__main__":
    main()
