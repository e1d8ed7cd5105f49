"""Rows of nearest allowed cuts, and what stands under them: with all errors, along the tape."""

from typing import Any

from bolewalk.impact.results import COMPASS, NearestCut, TreeImpact
from bolewalk.model.statements import Statement
from bolewalk.papers.reading import DASH, Reading

__all__ = ["cut_notes", "cut_rows", "loose_cut_notes", "more_cut_rows"]

_LOOSE = ("nearest.works_loose", "nearest.lost_if_nearer_keep", "nearest.lost_if_nearer_keep_if")


def cut_rows(reading: Reading, impact: TreeImpact) -> list[dict[str, Any]]:
    """Give the rows of a tree's nearest allowed cuts by level, as a label and a cell a bearing."""
    cut = impact.nearest_cut
    if cut is None:
        return []
    amounts, words = reading.speaker.amounts, reading.labels("report")
    rows = []
    for level, distances in (("keep", cut.keep), ("keep_if", cut.keep_if)):
        cells = [distances.get(c) for c in COMPASS]
        if any(c is not None for c in cells):
            rows.append({
                "label": words[f"level_{level}"],
                "cells": [DASH if c is None else amounts.length_number(c) for c in cells],
            })  # fmt: skip
            rows += more_cut_rows(reading, cut, level)
    return rows


def more_cut_rows(
    reading: Reading, cut: NearestCut, level: str, *, outer: bool = True
) -> list[dict[str, Any]]:
    """Give the rows under the distances of one level, as a label and a cell a bearing.

    The outer distance, counting every error, where it is asked for; the tape where the ground
    slopes.
    """
    words, amounts = reading.labels("nearest_rows"), reading.speaker.amounts
    distances = cut.keep if level == "keep" else cut.keep_if
    spans = cut.keep_span if level == "keep" else cut.keep_if_span

    def row(label: str, by: dict[str, float | None]) -> dict[str, Any]:
        cells = [by.get(c) for c in COMPASS]
        told = [DASH if d is None else amounts.length_number(d) for d in cells]
        return {"label": words[label], "cells": told}

    rows = []
    if spans and outer:
        rows.append(row("outer", {c: span[1] for c, span in spans.items()}))
    if cut.tape_times:
        taped = {c: None if d is None else d * cut.tape_times[c] for c, d in distances.items()}
        rows.append(row("tape", taped))
    return rows


def cut_notes(reading: Reading, impacts: list[TreeImpact]) -> list[str]:
    """Say once what all the distances rest on, what concerns single trees left out."""
    cuts = [i.nearest_cut for i in impacts if i.nearest_cut is not None]
    return reading.texts(
        dict.fromkeys(s for cut in cuts for s in cut.notes if s.code not in _LOOSE)
    )


def loose_cut_notes(cut: NearestCut | None) -> tuple[Statement, ...]:
    """Give what one tree's distances owe to works that are placed within an error only."""
    return () if cut is None else tuple(s for s in cut.notes if s.code in _LOOSE)
