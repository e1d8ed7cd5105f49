"""What was told in words: site, who watches over the trees, single trees at length."""

from typing import TYPE_CHECKING, Any

from bolewalk.impact.near import near_works
from bolewalk.papers.conditions import nearest_flips
from bolewalk.papers.reading import DASH, Reading

if TYPE_CHECKING:
    from bolewalk.survey import TreeFinding

__all__ = [
    "discussed", "more_rows", "not_discussed", "protection_rows", "site_data",
]  # fmt: skip

_SITE = (
    "lot", "structures", "sensitive", "invasive", "soil", "drainage", "irrigation", "wires",
    "growing_space", "history", "unseen",
)  # fmt: skip
_PROTECTION = ("site_arborist", "agreement", "inspector", "reports", "damage", "penalties")
_REMOVAL = (
    "reason", "method", "if_left", "treatment", "support", "site_work", "pests", "target_moved",
    "alternatives", "nearby", "soil", "value", "replacement", "exemption", "agreed_by",
)  # fmt: skip
_ALTERATION = (
    "reason", "method", "if_left", "treatment", "support", "site_work", "pests", "target_moved",
    "effect", "nearby", "frequency", "later_cost", "agreed_by",
)  # fmt: skip
_ASKED_ONLY_IF_TOLD = ("exemption", "agreed_by", "treatment", "support", "site_work", "pests",
                       "target_moved")  # fmt: skip
_NEAREST = {
    "building": ("building", "roof", "wall"),
    "paving": ("paving", "slab"),
    "utility": ("utility", "drain", "trench"),
}
_REACH_M = 30.0
"""Further off than this a building or a line is nothing to the tree: ours, no source."""


def _told_rows(reading: Reading, table: str, keys: tuple[str, ...]) -> dict[str, Any]:
    """Give what one table of survey.toml told, and the names of what it did not."""
    told, words = reading.findings.survey.told, reading.labels(f"told_{table}")
    return {
        "rows": [[words[k], told[f"{table}.{k}"]] for k in keys if f"{table}.{k}" in told],
        "missing": ", ".join(words[k] for k in keys if f"{table}.{k}" not in told),
    }


def site_data(reading: Reading) -> dict[str, Any]:
    """Give the site in words, with slope as measured."""
    site, words = reading.findings.survey.site, reading.labels("told_site")
    data = _told_rows(reading, "site", _SITE)
    if site.slope_pct is not None:
        data["rows"].insert(0, [words["slope"], reading.speaker.amounts.percent(site.slope_pct)])
    return data


def protection_rows(reading: Reading) -> dict[str, Any]:
    """Give who watches over the trees; people named with that role count as told."""
    data = _told_rows(reading, "protection", _PROTECTION)
    words = reading.labels("told_protection")
    named = [p for p in reading.findings.survey.people.others if p.role == "site arborist"]
    if named and not any(r[0] == words["site_arborist"] for r in data["rows"]):
        who = "; ".join(", ".join(x for x in (p.name, p.contact) if x) for p in named)
        data["rows"].insert(0, [words["site_arborist"], who])
        missing = data["missing"].split(", ")
        data["missing"] = ", ".join(m for m in missing if m != words["site_arborist"])
    return data


def more_rows(reading: Reading) -> list[dict[str, str]]:
    """Give the second part of the tree table: tag, where measured, standing, what is near."""
    amounts, rules = reading.speaker.amounts, reading.findings.rules
    rows = []
    for t in reading.findings.trees:
        said = reading.findings.discussion.get(t.tree.id, {})
        found = None if rules is None else rules.of(t.tree.id)
        at = t.tree.measured_at_m
        rows.append({
            "id": t.tree.id,
            "tag": t.tree.tag or DASH,
            "at": DASH if at is None or not t.tree.stems_cm else amounts.length(at),
            "standing": DASH if found is None
            else reading.word("protection", found.protection.status),
            "age": said.get("age", DASH),
            "survival": said.get("survival", DASH),
            "looks": said.get("looks", DASH),
            **{name: _near(reading, t, kinds) for name, kinds in _NEAREST.items()},
        })  # fmt: skip
    return rows


def _near(reading: Reading, t: "TreeFinding", kinds: tuple[str, ...]) -> str:
    if t.tree.x_m is None or t.tree.y_m is None:
        return DASH
    works = [
        w for w in reading.findings.survey.works
        if w.kind in kinds and w.present != "no" and w.phase != "possible later"
    ]  # fmt: skip
    near = near_works((t.tree.x_m, t.tree.y_m), _REACH_M, works)
    if not near:
        return DASH
    first = min(near, key=lambda n: n.distance_m)
    return (
        f"{reading.speaker.amounts.length(first.distance_m)}, {first.work.label or first.work.id}"
    )


def discussed(reading: Reading) -> list[dict[str, Any]]:
    """Give what is said of each tree to be removed or pruned, or discussed at all."""
    words, out = reading.labels("discussed"), []
    for t in reading.findings.trees:
        said = dict(reading.findings.discussion.get(t.tree.id, {}))
        if t.tree.decision not in ("remove", "prune") and not said:
            continue
        keys = _REMOVAL if t.tree.decision == "remove" else _ALTERATION
        said.setdefault("reason", t.tree.notes)
        said.setdefault("method", _method(reading, t.tree.id))
        v = t.impact.verdict
        # Where it can stay as drawn, a margin to worse is no alternative to what is done.
        flips = () if v is None or v.now == "keep" else nearest_flips(v)
        said.setdefault("alternatives", " ".join(reading.texts(flips)))
        out.append({
            "id": t.tree.id,
            **reading.species(t.tree),
            "decision": reading.word("decision", t.tree.decision),
            "rows": [[words[k], said[k]] for k in keys if said.get(k)],
            "missing": ", ".join(
                words[k] for k in keys if not said.get(k) and k not in _ASKED_ONLY_IF_TOLD
            ),
        })  # fmt: skip
    return out


def not_discussed(reading: Reading, trees: list[dict[str, Any]]) -> list[str]:
    """Say once what nobody told of which trees."""
    lacking: dict[str, list[str]] = {}
    for t in trees:
        if t["missing"]:
            lacking.setdefault(t["missing"], []).append(t["id"])
    return [
        reading.say("told_says.missing_of", names=names, trees=", ".join(ids))
        for names, ids in lacking.items()
    ]


def _method(reading: Reading, tree: str) -> str:
    """Name the ways a tree's work was priced."""
    price = reading.findings.price
    lines = () if price is None else price.lines
    tasks = [reading.word("task", x.item.task) for x in lines if x.item.tree == tree]
    return "; ".join(dict.fromkeys(tasks))
