"""The site walk: what was said, the trees found in it, and what was made of them."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import PurePosixPath

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.walking import Correction, corrections, found_key, free_numbers, said_cells
from bolewalk.model.words import DECISIONS, OWNERS
from bolewalk.papers.reading import Reading
from bolewalk.walk.draft import DraftTree

__all__ = ["RECORDINGS", "WalkView", "media_name", "walk_view"]

_SOUND = {
    ".mp3": "audio/mpeg", ".m4a": "audio/mp4", ".wav": "audio/wav", ".ogg": "audio/ogg",
    ".opus": "audio/ogg", ".flac": "audio/flac", ".aac": "audio/aac",
}  # fmt: skip
_PICTURE = {".mp4": "video/mp4", ".mov": "video/mp4", ".webm": "video/webm", ".m4v": "video/mp4"}
RECORDINGS = {**_SOUND, **_PICTURE}
"""Ending of a recording -> how it is sent."""

_WIDTH = 1000.0


@dataclass(frozen=True, slots=True)
class LineView:
    """One line of the transcript; `trees` are the found trees it speaks of."""

    start: float
    clock: str
    speaker: str
    words: str
    trees: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class FoundView:
    """One found tree: as heard, as read, and what was made of it.

    `matched` is the row of the table that surely is the same tree, "" where none is.
    """

    id: str
    name: str
    botanical: str
    as_heard: str
    doubtful: bool
    alternatives: tuple[str, ...]
    count: int
    clock: str
    start: float
    x: float
    moments: tuple[tuple[float, str, str], ...]
    sizes: tuple[tuple[str, str, str], ...]
    decision: str
    owner: str
    cells: Mapping[str, str]
    number: str
    matched: str
    done: str
    done_word: str
    trees: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class WalkView:
    """The page of the walk.

    `ticks` are (x, clock) along the time line; `tracks` its spoken stretches as (x, width).
    """

    head: SurveyHead
    recording: str
    recording_kind: str
    recording_type: str
    lines: tuple[LineView, ...]
    found: tuple[FoundView, ...]
    open: int
    table: tuple[str, ...]
    ticks: tuple[tuple[float, str], ...]
    tracks: tuple[tuple[float, float], ...]
    duration: float
    urgent: tuple[str, ...]
    ask: tuple[tuple[float, str, str], ...]
    asides: tuple[tuple[str, float, str, str], ...]
    decisions: tuple[str, ...]
    owners: tuple[str, ...]
    say: str


def media_name(sheet: Sheet) -> str:
    """Give the name of the walk's first recording among the files kept, "" where none is."""
    names = [i.key for i in sheet.stored.of("file")]
    found = sorted(n for n in names if PurePosixPath(n).suffix.lower() in RECORDINGS)
    return found[0] if found else ""


def walk_view(sheet: Sheet, reading: Reading, *, say: str = "") -> WalkView:
    """Give the page as things are known now."""
    draft, said = sheet.reckoning.heard()
    cues = sheet.job.cues
    clock = reading.speaker.amounts.clock
    duration = max((c.end_s for c in cues), default=0.0)
    made = corrections(sheet)
    matched: dict[str, str] = {}
    for row, entry in said.items():
        matched.setdefault(entry.id, row)
    trees = () if draft is None else draft.trees
    numbers = iter(free_numbers(sheet, len(trees)))
    found = tuple(
        _found(t, reading, duration, made.get(found_key(t)), matched.get(t.id, ""), sheet, numbers)
        for t in trees
    )
    spoken: dict[float, list[str]] = {}
    for t in trees:
        for m in t.moments:
            for c in cues:
                if c.start_s <= m.start + 0.01 < c.end_s + 0.01 and t.id not in spoken.setdefault(
                    c.start_s, []
                ):
                    spoken[c.start_s].append(t.id)
    recording = media_name(sheet)
    suffix = PurePosixPath(recording).suffix.lower()
    step = next((s for s in (30, 60, 120, 300, 600, 1200) if duration / s <= 14), 1800)
    return WalkView(
        head=survey_head(sheet, reading, "walk"),
        recording=recording,
        recording_kind="" if not recording else "audio" if suffix in _SOUND else "video",
        recording_type=RECORDINGS.get(suffix, ""),
        lines=tuple(
            LineView(c.start_s, clock(c.start_s), c.speaker, c.text,
                     tuple(spoken.get(c.start_s, ())))
            for c in cues
        ),
        found=found,
        open=sum(not f.done for f in found),
        table=tuple(t.id for t in sheet.job.survey.trees),
        ticks=tuple(
            (_WIDTH * s / duration, clock(float(s))) for s in range(0, int(duration) + 1, step)
        )
        if duration
        else (),
        tracks=tuple(
            (_WIDTH * c.start_s / duration, max(0.8, _WIDTH * (c.end_s - c.start_s) / duration))
            for c in cues
        )
        if duration
        else (),
        duration=duration,
        urgent=()
        if draft is None
        else tuple(h.moments[0].said for h in draft.hazards if h.urgent and h.moments),
        ask=()
        if draft is None
        else tuple(
            (r.moments[0].start, clock(r.moments[0].start), r.ask)
            for r in draft.read_backs
            if r.moments
        ),
        asides=_asides(reading, sheet),
        decisions=DECISIONS,
        owners=OWNERS,
        say=say,
    )  # fmt: skip


def _asides(reading: Reading, sheet: Sheet) -> tuple[tuple[str, float, str, str], ...]:
    draft, _ = sheet.reckoning.heard()
    if draft is None:
        return ()
    clock = reading.speaker.amounts.clock
    found = [(reading.word("hazard", h.kind), h.moments) for h in draft.hazards]
    found += [(f"question: {q.about}", q.moments) for q in draft.questions]
    found += [(f"works: {w.kind}", w.moments) for w in draft.works]
    found += [(f"to plant: {p.species.label}", p.moments) for p in draft.plantings]
    rows = [(what, m.start, clock(m.start), m.said) for what, ms in found for m in ms[:1]]
    return tuple(sorted(rows, key=lambda r: r[1]))


def _found(
    tree: DraftTree, reading: Reading, duration: float, made: Correction | None, matched: str,
    sheet: Sheet, numbers: Iterator[str],
) -> FoundView:  # fmt: skip
    clock = reading.speaker.amounts.clock
    start = tree.moments[0].start if tree.moments else 0.0
    done, word, trees = _done(made, matched)
    number = next(numbers) if not done else ""
    return FoundView(
        id=tree.id,
        name=tree.species.label,
        botanical=tree.species.botanical or "",
        as_heard=tree.species.as_heard,
        doubtful=tree.species.botanical is None,
        alternatives=tree.species.alternatives,
        count=tree.count,
        clock=clock(start),
        start=start,
        x=_WIDTH * start / duration if duration else 0.0,
        moments=tuple(dict.fromkeys((m.start, clock(m.start), m.said) for m in tree.moments)),
        sizes=tuple(
            (
                m.what,
                " or ".join(f"{v:g} {u}".strip() for v, u in m.readings)
                if m.ambiguous
                else f"{m.value:g} {m.unit}".strip(),
                f"first said {m.first_said}" if m.first_said else "",
            )
            for m in tree.measures
        ),
        decision=tree.decision or "",
        owner=tree.owner,
        cells=said_cells(tree, sheet.job.survey.units),
        number=number,
        matched=matched,
        done=done,
        done_word=word,
        trees=trees,
    )


def _done(made: Correction | None, matched: str) -> tuple[str, str, tuple[str, ...]]:
    if made is not None:
        words = {
            "accept": "taken into the table",
            "correct": "corrected and taken into the table",
            "merge": f"merged with {made.into}",
            "split": "split",
            "discard": "no tree of this survey",
        }
        return made.do, words[made.do], made.trees
    if matched:
        return "matched", "in the table", (matched,)
    return "", "", ()
