"""The site walk: what was said, the trees found in it, and what was made of them."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from bolewalk.desk.drawer import Sheet
from bolewalk.desk.stills import stills_key
from bolewalk.desk.tasks import Task
from bolewalk.desk.underlays import file_address
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.views.speech import SpeechView, speech_view
from bolewalk.desk.walking import Correction, corrections, found_key, free_numbers
from bolewalk.intake.reading import suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.model.words import DECISIONS, OWNERS
from bolewalk.papers.reading import Reading
from bolewalk.walk.draft import DraftTree
from bolewalk.walk.table_rows import said_cells

__all__ = ["RecordingView", "WalkView", "recordings_of", "walk_view"]

_WIDTH = 1000.0


@dataclass(frozen=True, slots=True)
class RecordingView:
    """One recording: "audio" or "video", its address, and the seconds of the walk it holds."""

    name: str
    kind: str
    address: str
    start: float
    end: float
    clock: str


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
    recordings: tuple[RecordingView, ...]
    stills: bool
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
    speech: SpeechView
    say: str


def recordings_of(sheet: Sheet) -> tuple[tuple[str, float, float], ...]:
    """Give the recordings of a walk in its order: name, and the seconds of the walk it holds.

    Where none of the transcripts has one, the first recording among the files stands for the walk.
    """
    found = tuple((p.recording, p.start_s, p.end_s) for p in sheet.job.parts if p.recording)
    if found:
        return found
    names = sorted(i.key for i in sheet.stored.of("file") if suffix_of(i.key) in PLAYABLE)
    end = max((c.end_s for c in sheet.job.cues), default=0.0)
    return tuple((n, 0.0, end) for n in names[:1])


def walk_view(
    sheet: Sheet, reading: Reading, *, tasks: Sequence[Task] = (), say: str = ""
) -> WalkView:
    """Give the page as things are known now.

    Parameters
    ----------
    sheet, reading
    tasks : sequence of Task
        Of recordings that are taken down, newest first.
    say : str
        What could not be done.
    """
    head = survey_head(sheet, reading, "walk")
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
    step = next((s for s in (30, 60, 120, 300, 600, 1200) if duration / s <= 14), 1800)
    return WalkView(
        head=head,
        recordings=tuple(
            RecordingView(n, PLAYABLE[suffix_of(n)].split("/")[0],
                          file_address(sheet.stored.id, n), a, b, clock(a))
            for n, a, b in recordings_of(sheet)
        ),
        stills=bool(stills_key(sheet.stored, sheet.job)),
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
        speech=speech_view(sheet, head, tasks),
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
