"""The client's page: one file that opens from disk, without a server, script or network."""

import re
from collections.abc import Iterable
from html import escape
from typing import Any

from bolewalk.papers.draw.svg import svg
from bolewalk.papers.drawings import mark_svgs
from bolewalk.papers.plain_text import one_line
from bolewalk.papers.plan_sheet import site_sheet
from bolewalk.papers.price import price_data
from bolewalk.papers.questions import questions_data
from bolewalk.papers.reading import Reading, plain_date
from bolewalk.papers.report import cautions, front_rows

__all__ = ["client_page"]

_STYLE = """
:root{color-scheme:light}
body{font:17px/1.45 "Source Sans 3","Source Sans Pro",Helvetica,Arial,sans-serif;color:#141414;
background:#fff;margin:0 auto;max-width:60rem;padding:2rem 1.25rem 4rem}
h1{font-size:2rem;line-height:1.15;margin:.1rem 0 1rem;overflow-wrap:anywhere}
.kind{color:#9a3412;font-weight:600;border-top:3px solid #141414;padding-top:.8rem}
h2{font-size:1.2rem;border-top:2px solid #141414;padding-top:.5rem;margin:2.4rem 0 .6rem}
table{border-collapse:collapse;width:100%;font-variant-numeric:tabular-nums}
th{font-size:.8rem;color:#5c5c5c;text-align:left;border-bottom:1px solid #141414}
td,th{padding:.35rem .6rem .35rem 0;vertical-align:top;overflow-wrap:anywhere}
td{border-bottom:1px solid #c9c9c9}
.n{text-align:right;white-space:nowrap}
td:first-child{white-space:nowrap;font-weight:700}
.front td:first-child{font-weight:400;color:#5c5c5c;width:11rem;white-space:normal}
.mark svg{width:.8rem;height:.8rem;vertical-align:-.05rem;margin-right:.4rem}
.plan{overflow-x:auto;border:0}
.plan svg{width:100%;min-width:44rem;height:auto}
.urgent{border:3px solid #141414;padding:.2rem 1rem}
small,.grey{color:#5c5c5c}
.slip{border:1px dashed #141414;padding:1rem;margin-top:2.4rem}
.slip p{margin:1.7rem 0 0;border-bottom:1px solid #141414;max-width:30rem}
li{margin:.25rem 0}
@media print{body{max-width:none;font-size:11pt;padding:0}.slip,table,figure{break-inside:avoid}}
"""

_DIRECTION = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")


def client_page(reading: Reading) -> bytes:
    """Write the client's page.

    Returns
    -------
    bytes
        HTML, UTF-8. Its own policy forbids scripts and every request; every text from outside
        is escaped, and marks that turn the direction of writing are taken out.
    """
    s, words = reading.findings.survey, reading.labels("client_page")
    body = [
        f'<p class="kind">{_t(words["title"])}</p>',
        f"<h1>{_t(s.name)}</h1>",
        *_urgent(reading, words),
        _table("front", [], [[_t(a), _t(b)] for a, b in front_rows(reading)]),
        *_plan(reading, words),
        f"<h2>{_t(words['trees'])}</h2>",
        _trees(reading, words),
        *_price(reading, words),
        *_questions(reading, words),
        f"<h2>{_t(words['limits'])}</h2>",
        _list(cautions(reading)),
        _slip(words),
    ]
    policy = "default-src 'none'; style-src 'unsafe-inline'"
    return "\n".join([
        "<!doctype html>",
        f'<html lang="{_t(reading.speaker.catalogue.language)}">',
        '<head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{_t(s.name)} – {_t(plain_date(s.date))}</title>",
        f"<style>{_STYLE}</style></head>",
        "<body><main>", *body, "</main></body></html>", "",
    ]).encode("utf-8")  # fmt: skip


def _t(text: str) -> str:
    return escape(_DIRECTION.sub("", one_line(text)))


def _list(items: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{_t(i)}</li>" for i in items) + "</ul>"


def _table(name: str, heads: list[str], rows: list[list[str]], *, numbers: int = 0) -> str:
    def row(cells: list[str], tag: str) -> str:
        first = len(cells) - numbers
        return "<tr>" + "".join(
            f'<{tag} class="n">{c}</{tag}>' if i >= first else f"<{tag}>{c}</{tag}>"
            for i, c in enumerate(cells)
        ) + "</tr>"  # fmt: skip

    head = f"<thead>{row(heads, 'th')}</thead>" if heads else ""
    return (
        f'<table class="{name}">{head}<tbody>'
        + "\n".join(row(r, "td") for r in rows)
        + "</tbody></table>"
    )


def _mark(name: str, word: str) -> str:
    return f'<span class="mark">{mark_svgs()[name].strip()}{_t(word)}</span>'


def _urgent(reading: Reading, words: dict[str, str]) -> list[str]:
    draft = reading.findings.draft
    kinds = [] if draft is None else [h.kind for h in draft.hazards if h.urgent]
    if not kinds:
        return []
    said = [
        reading.say("client_says.urgent", hazard=reading.word("hazard", k))
        for k in dict.fromkeys(kinds)
    ]
    return [f'<div class="urgent"><h2>{_t(words["urgent"])}</h2>{_list(said)}</div>']


def _plan(reading: Reading, words: dict[str, str]) -> list[str]:
    sheet = site_sheet(reading)
    if sheet is None:
        return []
    drawn = svg(sheet.scene, words=True, title=reading.say("plan_alt.site"))
    return [f"<h2>{_t(words['plan'])}</h2>", f'<figure class="plan">{drawn}</figure>']


def _trees(reading: Reading, words: dict[str, str]) -> str:
    rows = []
    for t in reading.findings.trees:
        v, names = t.impact.verdict, reading.species(t.tree)
        first = reading.texts(v.because[:1]) if v else reading.texts(t.impact.missing[:1])
        why = f"<br><small>{_t(first[0])}</small>" if first else ""
        verdict = (
            _mark(v.now, reading.word("verdict_plain", v.now))
            if v
            else _mark("none", reading.labels("report")["not_judged"])
        )
        rows.append([
            _t(t.tree.id), _t(names["name"]), _t(reading.word("decision_plain", t.tree.decision)),
            verdict + why,
        ])  # fmt: skip
    heads = [_t(words[k]) for k in ("tree", "kind", "advice", "works")]
    return _table("trees", heads, rows)


def _price(reading: Reading, words: dict[str, str]) -> list[str]:
    price = price_data(reading)
    if price is None:
        return []
    out = [f"<h2>{_t(words['price'])}</h2>"]
    rows = [_priced(x) for x in price["base"]]
    rows += [["", _t(j["text"]), _t(j["price"])] for j in price["job"]]
    rows += [["", _t(a), _t(b)] for a, b in price["sums"]]
    rows.append(["", f"<b>{_t(price['l']['total'])}</b>", f"<b>{_t(price['total'])}</b>"])
    heads = [_t(words["tree"]), _t(price["l"]["work"]), _t(price["l"]["price"])]
    out.append(_table("price", heads, rows, numbers=1))
    out.append(f"<p>{_t(price['band'])}</p>")
    for key in ("options", "blocked"):
        if price[key]:
            out.append(f"<h3>{_t(price['l'][key])}</h3>")
            out.append(_table("price", heads, [_priced(x) for x in price[key]], numbers=1))
    if price["exclusions"]:
        out.append(f"<h3>{_t(price['l']['exclusions'])}</h3>{_list(price['exclusions'])}")
    out.append(_list(price["terms"]))
    return out


def _priced(line: dict[str, Any]) -> list[str]:
    work = " ".join(line["work"])
    blocked = f"<br><b>{_t(line['blocked'])}</b>" if line["blocked"] else ""
    return [_t(line["id"]), _t(work) + blocked, _t(line["price"])]


def _questions(reading: Reading, words: dict[str, str]) -> list[str]:
    asked = questions_data(reading)
    if not asked:
        return []
    rows = [[str(q["n"]), _t(q["ask"]), _t(q["of"]), _t(", ".join(q["trees"]))] for q in asked]
    heads = ["", _t(words["question"]), _t(words["of"]), _t(words["trees_asked"])]
    return [f"<h2>{_t(words['questions'])}</h2>", _table("questions", heads, rows)]


def _slip(words: dict[str, str]) -> str:
    lines = "".join(
        f"<p><small>{_t(words[k])}</small></p>" for k in ("slip_name", "slip_second", "slip_date")
    )
    choices = _list([words["slip_yes"], words["slip_part"], words["slip_no"], words["slip_talk"]])
    return f'<section class="slip"><b>{_t(words["slip"])}</b>{choices}{lines}</section>'
