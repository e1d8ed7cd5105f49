"""The crew sheet: what to do, what not to touch, what to watch for; large type."""

from typing import Any

from bolewalk.model.trees import Tree
from bolewalk.papers.drawings import as_data
from bolewalk.papers.front import cautions, common_data
from bolewalk.papers.plan_sheet import site_sheet
from bolewalk.papers.price import price_data
from bolewalk.papers.proposal import wanted_work
from bolewalk.papers.reading import DASH, Reading

__all__ = ["crew_data"]


def crew_data(reading: Reading) -> dict[str, Any]:
    """Give the crew sheet as JSON values for its template. No money is on it."""
    words = reading.labels("crew")
    price = price_data(reading)
    base = price["base"] if price else [
        {"id": w["id"], "work": [w["decision"]], "assumed": [w["notes"]] if w["notes"] else [],
         "hours": ""}
        for w in wanted_work(reading)
    ]  # fmt: skip
    blocked = price["blocked"] if price else []
    touched = {line["id"] for line in base}
    names = {t.tree.id: reading.species(t.tree) for t in reading.findings.trees}
    sheet = site_sheet(reading)
    return {
        **common_data(reading),
        "title": words["title"],
        "c": words,
        "job": _job(reading),
        "urgent": reading.urgent(),
        "do": [{**names.get(x["id"], {"name": "", "botanical": ""}), **x} for x in _by_tree(base)],
        "blocked": [
            {"id": x["id"], "why": x["blocked"], "work": x["work"]} for x in blocked
        ],
        "leave": [
            {"id": t.tree.id, **names[t.tree.id]}
            for t in reading.findings.trees if t.tree.id not in touched
        ],
        "cautions": cautions(reading),
        "watch": _watch(reading, touched),
        "plan": None
        if sheet is None
        else as_data(sheet.scene, alt=reading.say("plan_alt.site")),
    }  # fmt: skip


def _by_tree(lines: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Put the lines of one tree together: a crew works tree by tree."""
    out: dict[str, dict[str, Any]] = {}
    for x in lines:
        work = [" ".join(w) for w in (x["work"][:1], x["work"][1:]) if w]
        if x["id"] not in out or x["id"] == DASH:
            out[x["id"] if x["id"] != DASH else f"{DASH}{len(out)}"] = {
                "id": x["id"], "work": work, "assumed": [*x["assumed"]],
            }  # fmt: skip
        else:
            had = out[x["id"]]
            had["work"] += [w for w in work if w not in had["work"]]
            had["assumed"] += [a for a in x["assumed"] if a not in had["assumed"]]
    return list(out.values())


def _job(reading: Reading) -> list[list[str]]:
    s, words, amounts = reading.findings.survey, reading.labels("crew"), reading.speaker.amounts
    front = reading.labels("report")
    rows = [[front["project"], s.name], [front["place"], s.place or words["not_told"]]]
    if s.people.client is not None:
        client = s.people.client
        rows.append([front["client"], " · ".join(x for x in (client.name, client.contact) if x)])
    if s.people.assessor is not None:
        a = s.people.assessor
        rows.append([front["assessor"], " · ".join(x for x in (a.name, a.contact) if x)])
    site = s.site
    rows.append([words["carry"], _or(words, site.carry_m and amounts.length(site.carry_m))])
    rows.append([words["gate"], _or(words, site.gate_m and amounts.length(site.gate_m))])
    rows.append([words["slope"], _or(words, site.slope_pct and amounts.percent(site.slope_pct))])
    price = reading.findings.price
    if price is not None:
        hours = sum(line.person_hours for line in price.of("base"))
        rows.append([words["hours"], amounts.hours(hours)])
        rows.append([words["loads"], amounts.count(price.loads.count)])
    return rows


def _or(words: dict[str, str], text: str | float | None) -> str:
    return text if isinstance(text, str) else words["not_told"]


_NOT_FOR_CREWS = ("rule.", "caution.command_site")


def _watch(reading: Reading, touched: set[str]) -> list[str]:
    """Say what to watch for: at the trees to be worked on, then on the site as a whole."""
    f, trees = reading.findings, [t.tree for t in reading.findings.trees if t.tree.id in touched]
    out = [
        reading.say("crew_says.wire", name=w.label or w.id)
        for w in f.survey.works if w.kind == "wire"
    ]  # fmt: skip
    rules = f.rules
    told = {} if rules is None else {t.tree: reading.texts(t.cautions) for t in rules.trees}
    for tree in trees:
        out += told.get(tree.id, [])
        if not told:
            out += [reading.say(f"crew_says.{c}", tree=tree.id) for c in _found(tree)]
    for code, ids in (
        ("poor", [t.id for t in trees if t.structure == "poor"]),
        ("shared", [t.id for t in trees if t.owner in ("neighbour", "shared", "public")]),
    ):
        if ids:
            out.append(reading.say(f"crew_says.{code}", trees=", ".join(ids)))
    if rules is None:
        out += [reading.say("crew_says.digging"), reading.say("crew_says.climb")]
    else:
        out += reading.texts(s for s in rules.cautions if not s.code.startswith(_NOT_FOR_CREWS))
    return list(dict.fromkeys(out))


def _found(tree: Tree) -> list[str]:
    return [c for c, yes in (("dead", tree.health == "dead"), ("palm", tree.form == "palm")) if yes]
