"""Parts of the report that permit offices ask for beyond trees, works and verdicts."""

from typing import Any

from bolewalk.papers.photos import photos_data
from bolewalk.papers.protection import site_notes
from bolewalk.papers.reading import DASH, Reading, stays
from bolewalk.papers.risk_paper import risk_data
from bolewalk.papers.told import (
    discussed,
    more_rows,
    not_discussed,
    protection_rows,
    site_data,
)

__all__ = ["more_data"]

_GLOSSARY = (
    "root_zone", "structural", "severed", "flare", "crown", "clean", "reduce", "verdict",
    "condition", "shared",
)  # fmt: skip
_MORE = ("tag", "at", "standing", "age", "survival", "looks", "building", "paving", "utility")
_ASKED = ("tag", "at", "survival", "looks")
"""Columns whose absence is told; the stage of life stands in the first table."""
_DRAWN = ("building", "paving", "utility")
"""Columns that are empty where no works or structures of the kind are known."""
_REPLACING = ("rule.replacement", "rule.replacement_stock", "rule.like_for_like", "rule.bond")


def more_data(reading: Reading) -> dict[str, Any]:
    """Give the site, the second tree table, discussion, risk, protection, replacement,
    photographs and the words used, as JSON values for the report's template.

    The pictures themselves are left in `reading.pictures`.
    """
    photos, pictures, left = photos_data(reading)
    reading.pictures.update(pictures)
    site, guard = site_data(reading), protection_rows(reading)
    trees = discussed(reading)
    return {
        "site": {"l": reading.labels("told_site"), **_told(reading, site)},
        "more": _more_table(reading),
        "discussed": {
            "l": reading.labels("discussed"),
            "trees": trees,
            "missing": not_discussed(reading, trees),
        },
        "risk": {"l": reading.labels("risk"), **risk_data(reading)},
        "protecting": {
            "l": reading.labels("told_protection"),
            **_told(reading, guard),
            "kept": [t.tree.id for t in reading.findings.trees if stays(t.tree)],
            "measures": [[n["head"], n["items"]] for n in site_notes(reading)],
            "replacing": _replacing(reading),
        },
        "photos": {"l": reading.labels("photo"), "photos": photos, "left": left},
        "glossary": {
            "head": reading.labels("glossary")["head"],
            "items": [reading.labels("glossary_says")[k] for k in _GLOSSARY],
        },
    }


def _more_table(reading: Reading) -> dict[str, Any]:
    """Give the second tree table with the columns that hold anything; name the others below."""
    words, rows = reading.labels("more_table"), more_rows(reading)
    kept = [c for c in _MORE if any(r[c] != DASH for r in rows)]
    said = [
        reading.say(f"told_says.{code}", names=", ".join(words[c] for c in empty))
        for code, of in (("missing", _ASKED), ("none_drawn", _DRAWN))
        if (empty := [c for c in of if c not in kept])
    ]
    return {
        "l": words,
        "rows": rows,
        "columns": kept,
        "said": " ".join(said),
    }


def _told(reading: Reading, data: dict[str, Any]) -> dict[str, Any]:
    names = data["missing"]
    said = reading.say("told_says.missing", names=names) if names else ""
    return {"rows": data["rows"], "said": said}


def _replacing(reading: Reading) -> list[str]:
    """Say what is planted for what is removed, and what the rules on file ask for."""
    rules, planting = reading.findings.rules, reading.findings.planting
    said = [] if rules is None else reading.texts(d for d in rules.duties if d.code in _REPLACING)
    if planting is not None and planting.plants:
        said.append(reading.say("replacing_says.plants", plants_count=len(planting.plants)))
    words = reading.labels("told_protection")
    bond = rules is not None and any(d.code == "rule.bond" for d in rules.duties)
    return [*(said or [words["replacement_none"]]), *([] if bond else [words["bond_none"]])]
