"""The client's page: it opens from disk, without a server or network.

Where the walk's recording lies beside it there is a player, and each tree has buttons that jump
to where it was spoken of. That takes the page's only script, which is ours and named by its hash
in the page's own policy: no other can run.
"""

import base64
import hashlib
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from bolewalk.papers.draw.svg import svg
from bolewalk.papers.drawings import mark_svgs
from bolewalk.papers.front import front_rows
from bolewalk.papers.plain import plain_data
from bolewalk.papers.plain_text import one_line
from bolewalk.papers.plan_sheet import site_sheet
from bolewalk.papers.price import price_data
from bolewalk.papers.reading import Reading, plain_date
from bolewalk.papers.type_size import type_of

if TYPE_CHECKING:
    from bolewalk.walk.draft import DraftTree

__all__ = ["Played", "client_page"]

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
.urgent h2{border:0;margin:.4rem 0}.urgent ul{padding-left:1.2rem}
small,.grey{color:#5c5c5c}
.slip{border:1px dashed #141414;padding:1rem;margin-top:2.4rem}
.slip .lead{border:0;max-width:none;margin:.4rem 0}
.slip p{margin:1.7rem 0 0;border-bottom:1px solid #141414;max-width:30rem}
li{margin:.25rem 0}
.slip ul{list-style:none;padding:0}
.slip li:before{content:"\\2610";margin-right:.6rem}
video,audio{width:100%;max-width:44rem;display:block}video{background:#141414}
.part small{display:block}th{overflow-wrap:normal}
.player{position:sticky;top:0;background:#fff;padding:.4rem 0;border-bottom:1px solid #141414}
button{font:inherit;border:1px solid #141414;background:#fff;color:#141414;padding:.35rem .8rem;
min-height:2.6rem;margin:.2rem .3rem .2rem 0;cursor:pointer}
button:focus-visible{outline:3px solid #9a3412}
details{margin:.2rem 0}summary{cursor:pointer}
blockquote{margin:.3rem 0 .3rem 1rem;border-left:2px solid #c9c9c9;padding-left:.7rem}
@media screen and (max-width:45em){.trees thead{display:none}
.trees tr{display:grid;grid-template-columns:auto 1fr}.trees td{border:0;padding-bottom:0}
.trees td:nth-child(3){grid-column:1/3;padding-bottom:.6rem;border-bottom:1px solid #c9c9c9}}
@media print{body{max-width:none;font-size:11pt;padding:0}.slip,table,figure{break-inside:avoid}}
"""

_SCRIPT = (
    "for(const b of document.querySelectorAll('button[data-at]'))b.addEventListener('click',()=>{"
    "for(const o of document.querySelectorAll('.part')){const m=o.querySelector('video,audio');"
    "if(m.id!==b.dataset.of)m.pause();o.hidden=m.id!==b.dataset.of}"
    "const p=document.getElementById(b.dataset.of);p.currentTime=Number(b.dataset.at);p.play();"
    "p.scrollIntoView({block:'nearest'})})"
)
_HASH = base64.b64encode(hashlib.sha256(_SCRIPT.encode()).digest()).decode()
_SOUND_ONLY = (".wav", ".mp3", ".m4a", ".flac", ".ogg", ".oga", ".opus", ".aac")
_MOMENTS = 3
"""Moments shown of each tree: its first ones."""

_DIRECTION = re.compile("[\u200e\u200f\u202a-\u202e\u2066-\u2069]")


@dataclass(frozen=True, slots=True)
class Played:
    """A recording beside the page, and the stretch of the walk's time line [s] it holds."""

    name: str
    start_s: float
    end_s: float


def client_page(reading: Reading, *, recordings: Sequence[Played] = ()) -> bytes:
    """Write the client's page.

    Parameters
    ----------
    reading : Reading
    recordings : sequence of Played
        Those beside the page, in order of the walk. Without any the words are shown.

    Returns
    -------
    bytes
        HTML, UTF-8. Its own policy forbids every request but the recording beside it, and every
        script but the page's own; every text from outside is escaped, and marks that turn the
        direction of writing are taken out.
    """
    s, plain = reading.findings.survey, plain_data(reading)
    w = plain["w"]
    title = reading.labels("client_page")["title"]
    body = [
        f'<p class="kind">{_t(title)}</p>',
        f"<h1>{_t(s.name)}</h1>",
        *_urgent(plain, reading.labels("report")["urgent"]),
        f"<h2>{_t(w['in_short'])}</h2><p>{_t(' '.join(plain['short']))}</p>",
        *_plan(reading, w),
        *_player(recordings, w),
        *_trees(reading, plain, recordings),
        *_ways(plain),
        *_price(reading),
        *_listed(w["asked"], plain["asked"]),
        *_listed(w["aside"], plain["aside"]),
        *_listed(w["limits"], plain["limits"]),
        _table("front", [], [[_t(a), _t(b)] for a, b in front_rows(reading)]),
        _slip(reading, w),
    ]
    policy = "default-src 'none'; style-src 'unsafe-inline'"
    if recordings:
        policy += f"; media-src 'self' file:; script-src 'sha256-{_HASH}'"
        body.append(f"<script>{_SCRIPT}</script>")
    return "\n".join([
        "<!doctype html>",
        f'<html lang="{_t(reading.speaker.catalogue.language)}">',
        '<head><meta charset="utf-8">',
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">',
        '<meta name="viewport" content="width=device-width, initial-scale=1">',
        '<meta name="referrer" content="no-referrer">',
        f"<title>{_t(s.name)} – {_t(plain_date(s.date))}</title>",
        f"<style>{_STYLE}{_larger(reading)}</style></head>",
        "<body><main>", *body, "</main></body></html>", "",
    ]).encode("utf-8")  # fmt: skip


def _larger(reading: Reading) -> str:
    size = type_of(reading)
    if not size.larger_pt:
        return ""
    return (
        f":root{{font-size:{size.screen_px - 1}px}}body{{font-size:{size.screen_px}px}}"
        f"@media print{{body{{font-size:{11 + size.larger_pt}pt}}}}"
    )


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


def _urgent(plain: dict[str, Any], name: str) -> list[str]:
    if not plain["urgent"]:
        return []
    return [f'<div class="urgent"><h2>{_t(name)}</h2>{_list(plain["urgent"])}</div>']


def _listed(name: str, items: list[str]) -> list[str]:
    return [f"<h2>{_t(name)}</h2>", _list(items)] if items else []


def _plan(reading: Reading, words: dict[str, str]) -> list[str]:
    sheet = site_sheet(reading)
    if sheet is None:
        return []
    drawn = svg(sheet.scene, words=True, title=reading.say("plan_alt.site"))
    # Wider than a phone it scrolls, by the keyboard too.
    name = _t(words["picture"])
    return [
        f"<h2>{name}</h2>",
        f'<figure class="plan" tabindex="0" aria-label="{name}">{drawn}</figure>',
    ]


def _ids(recordings: Sequence[Played]) -> dict[str, str]:
    """Give each recording's name the id of its player."""
    names = list(dict.fromkeys(r.name for r in recordings))
    return {name: f"walk{n}" for n, name in enumerate(names, start=1)}


def _player(recordings: Sequence[Played], words: dict[str, str]) -> list[str]:
    ids = _ids(recordings)
    if not ids:
        return []
    players = []
    for n, (name, player) in enumerate(ids.items(), start=1):
        tag = "audio" if name.lower().endswith(_SOUND_ONLY) else "video"
        called = words["recording"].replace("{number}", str(n))
        head = f"<small>{_t(called)}</small>" if len(ids) > 1 else ""
        players.append(
            f'<div class="part">{head}<{tag} id="{player}" controls preload="metadata" '
            f'aria-label="{_t(called)}" src="{_t(quote(name))}"></{tag}></div>'
        )
    return [f"<h2>{_t(words['spoken'])}</h2>", f'<div class="player">{"".join(players)}</div>']


def _trees(reading: Reading, plain: dict[str, Any], recordings: Sequence[Played]) -> list[str]:
    w = plain["w"]
    said = {t.tree.id: t.said for t in reading.findings.trees if t.said is not None}
    rows = []
    for r in plain["lines"]:
        parts = [f"<b>{_t(r['advice'])}</b>" if r["advice"] else "", _t(r["found"])]
        if r["works"]:
            parts.append(_mark(r["mark"], r["works"]))
        parts.append(_t(r["why"]))
        if r["wait"]:
            parts.append(f"<small>{_t(w['wait'])}: {_t(r['wait'])}</small>")
        text = "<br>".join(x for x in parts if x)
        text += _moments(reading, said.get(r["id"]), recordings, w)
        rows.append([_t(r["id"]), _t(r["name"]), text])
    out = [f"<h2>{_t(w['lines'])}</h2>"]
    if rows:
        heads = ["", _t(reading.labels("client_page")["kind"]), _t(w["advice"])]
        out.append(_table("trees", heads, rows))
    if plain["quiet"]:
        quiet = ", ".join(f"<b>{_t(q['id'])}</b> {_t(q['name'])}" for q in plain["quiet"])
        out.append(f"<p>{_t(w['quiet'])} {quiet}.</p>")
    return out


def _moments(
    reading: Reading, said: "DraftTree | None", recordings: Sequence[Played], words: dict[str, str]
) -> str:
    if said is None or not said.moments:
        return ""
    clock = reading.speaker.amounts.clock
    shown = list({m.start: m for m in said.moments}.values())[:_MOMENTS]
    ids = _ids(recordings)
    held = [
        (m, r) for m in shown for r in recordings if r.start_s <= m.start < r.end_s
    ]  # fmt: skip
    at = {m.start: m.start - r.start_s for m, r in held}
    quoted = "".join(
        f"<blockquote>{_t(clock(at.get(m.start, m.start)))} “{_t(m.said)}”</blockquote>"
        for m in shown
    )

    def called(name: str) -> str:
        if len(ids) < 2:
            return words["play"]
        number = ids[name].removeprefix("walk")
        return f"{words['play']} – {words['recording'].replace('{number}', number)},"

    buttons = "".join(
        f'<button type="button" data-of="{ids[r.name]}" data-at="{m.start - r.start_s:.1f}">'
        f"{_t(called(r.name))} {_t(clock(m.start - r.start_s))}</button>"
        for m, r in held
    )
    shut = "<details>" if held else "<details open>"
    summary = f"<summary>{_t(words['heard_at'])}</summary>"
    return f"<div>{buttons}</div>{shut}{summary}{quoted}</details>"


def _ways(plain: dict[str, Any]) -> list[str]:
    w = plain["w"]
    rows = [
        [f"{i}", f"<b>{_t(x['head'])}</b><br>{_t(' '.join(x['says']))}", _t(x["price"])]
        for i, x in enumerate(plain["ways"], 1)
    ]
    heads = ["", _t(w["way"]), _t(w["price"])]
    return [f"<h2>{_t(w['ways'])}</h2>", _table("ways", heads, rows, numbers=1)]


def _price(reading: Reading) -> list[str]:
    price, words = price_data(reading), reading.labels("client_page")
    if price is None:
        return []
    out = [f"<h2>{_t(words['price'])}</h2>"]
    rows = [_priced(x) for x in price["base"]]
    rows += [["", _t(j["text"]), _t(j["price"])] for j in price["job"]]
    heads = [_t(words["tree"]), _t(price["l"]["work"]), _t(price["l"]["price"])]
    if rows:
        rows += [["", _t(a), _t(b)] for a, b in price["sums"]]
        rows.append(["", f"<b>{_t(price['l']['total'])}</b>", f"<b>{_t(price['total'])}</b>"])
        out.append(_table("price", heads, rows, numbers=1))
        out.append(f"<p>{_t(price['band'])}</p>")
    else:
        out.append(f"<p>{_t(price['l']['nothing_now'])}</p>")
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


def _slip(reading: Reading, w: dict[str, str]) -> str:
    date = reading.labels("report")["signed_date"]
    lines = "".join(
        f"<p><small>{_t(x)}</small></p>" for x in (w["owner_one"], date, w["owner_two"], date)
    )
    choices = _list([w["reply_all"], w["reply_some"], w["reply_none"], w["reply_talk"]])
    return (
        f'<section class="slip"><h2>{_t(w["reply"])}</h2><p class="lead">{_t(w["reply_lead"])}</p>'
        f"{choices}{lines}</section>"
    )
