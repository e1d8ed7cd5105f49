"""A stretch cut out of a survey's recording, wherever the store keeps it, with no time moved."""

import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath
from typing import Any

from sqlalchemy import Connection, delete, insert, select, update

from bolewalk.intake.job import Job
from bolewalk.intake.reading import suffix_of
from bolewalk.store.changes import apply, locked
from bolewalk.store.database import reading, writing
from bolewalk.store.errors import NotWipedError, StoreError
from bolewalk.store.issues import State, list_issues
from bolewalk.store.items import Edit, as_text, from_text, stamp
from bolewalk.store.media import Medium
from bolewalk.store.removing import (
    files_named,
    finish_removal,
    intend_removal,
    still_there,
)
from bolewalk.store.rows import know
from bolewalk.store.said_words import PdfText, Runs, file_holds, runs_of, text_holds
from bolewalk.store.schema import changes, items, media, removed_media
from bolewalk.store.store import Store
from bolewalk.store.wiping import wipe
from bolewalk.walk.blanked_media import BlankingError, blank_recording
from bolewalk.walk.blanking import blank_transcript

__all__ = ["Cut", "IssueTouched", "LeftIn", "cut_stretch", "no_pdf", "would_cut"]


@dataclass(frozen=True, slots=True)
class IssueTouched:
    """A sealed issue that holds something of the stretch.

    `files` are the names of its files that are the recording or its transcript: taken away.
    `papers` are those in which words of the stretch stand, papers and files of the survey they
    were made from: they were sealed and stay. `unread` are those that could not be searched.
    """

    number: str
    state: State
    files: tuple[str, ...]
    papers: tuple[str, ...]
    unread: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class LeftIn:
    """Where words of the stretch stand in the survey itself, entered by hand or in another file.

    `kind` and `key` are those of the entry; `now` tells whether it still says so, and not its
    history alone.
    """

    kind: str
    key: str
    now: bool


@dataclass(frozen=True, slots=True)
class Cut:
    """What was cut out, or would be.

    Attributes
    ----------
    recording, transcript : str
        Names in the survey folder; "" where there is none.
    cues : int
        Cues of the transcript without their words.
    silent_s : float
        Seconds of sound that are silent.
    still : (from, until) or None
        Seconds of the recording without pictures of their own.
    removed : tuple of Medium
        The files as they were: gone.
    elsewhere : tuple of str
        Numbers of other surveys that have the same files, as text: theirs are as they were.
    issues : tuple of IssueTouched
    left : tuple of LeftIn
    """

    recording: str
    transcript: str
    cues: int
    silent_s: float
    still: tuple[float, float] | None
    removed: tuple[Medium, ...]
    elsewhere: tuple[str, ...]
    issues: tuple[IssueTouched, ...]
    left: tuple[LeftIn, ...]


@dataclass(frozen=True, slots=True)
class _Plan:
    """Names of the files, where their times lie on the walk's time line, and the words to go."""

    recording: str
    transcript: str
    transcript_at: float
    walk_at: float
    words: Runs


def no_pdf(path: Path, name: str) -> str | None:
    """Stand for a reader of PDF files where there is none."""
    del path, name
    return None


def would_cut(
    store: Store, survey_id: int, recording: str, *, start_s: float, end_s: float,
    read_pdf: PdfText = no_pdf,
) -> Cut:  # fmt: skip
    """Give what `cut_stretch` would touch, and touch nothing: times of pictures are left out."""
    plan = _plan(store, survey_id, recording, start_s, end_s)
    olds = _kept(store, survey_id, [n for n in (plan.recording, plan.transcript) if n])
    cues = 0
    if plan.transcript:
        _, cues = _blanked(store, olds[plan.transcript], plan, start_s, end_s)
    gone = _ever(store, survey_id, list(olds))
    finding = _Finding(store, plan.words, {m.sha256 for m in gone}, read_pdf)
    return Cut(
        plan.recording, plan.transcript, cues, end_s - start_s, None, tuple(gone),
        _others(store, survey_id, finding.gone), finding.in_issues(survey_id),
        finding.in_survey(survey_id, (start_s + plan.walk_at, end_s + plan.walk_at)),
    )  # fmt: skip


def cut_stretch(
    store: Store, survey_id: int, recording: str, *, start_s: float, end_s: float, who: str,
    when: datetime, read_pdf: PdfText = no_pdf, progress: Callable[[str], None] = lambda _: None,
) -> Cut:  # fmt: skip
    """Cut a stretch out of a recording of a survey.

    Parameters
    ----------
    store : Store
    survey_id : int
    recording : str
        Its name in the survey folder; or that of a transcript that has no recording.
    start_s, end_s : float
        Seconds of that file, 0 <= start_s < end_s.
    who, when
        For the history, which says that there was a cut and where, and not what it held.
    read_pdf : callable
        As `PdfText`: the papers are searched for words of the stretch.

    Returns
    -------
    Cut
        Sound silent, pictures left out, words of the transcript taken out; also in what was
        entered from them at the desk. All other times are as they were, so that every tree still
        leads to where it was spoken of. The files as they were are gone: from the survey, from its
        history (earlier states now show the new ones, also where a file of the name was another
        one then) and from sealed issues, whose lists and seals stay and say that the file was
        removed.

    Raises
    ------
    StoreError
        No such survey or file, no such stretch, or a recording that cannot be written anew;
        nothing is changed then.
    NotWipedError
        All is done, but others kept the database from being written anew; its `done` is the cut.
    MissingExtraError
        The media library is not installed.
    """
    plan = _plan(store, survey_id, recording, start_s, end_s)
    olds = _kept(store, survey_id, [n for n in (plan.recording, plan.transcript) if n])
    news: dict[str, Medium] = {}
    cues, silent, still = 0, 0.0, None
    with tempfile.TemporaryDirectory() as made:
        if plan.transcript:
            progress("taking the words out of the transcript")
            raw, cues = _blanked(store, olds[plan.transcript], plan, start_s, end_s)
            path = Path(made, "transcript")
            path.write_bytes(raw)
            news[plan.transcript] = _put(store, path)
        if plan.recording:
            progress("writing the recording anew")
            path = Path(made, f"new{PurePosixPath(plan.recording).suffix.lower()}")
            source = store.files.path(olds[plan.recording].sha256)
            try:
                done = blank_recording(source, path, start_s=start_s, end_s=end_s)
            except BlankingError as e:
                raise StoreError(f"{plan.recording}: {e}") from e
            silent, still = done.silent_s, done.still
            news[plan.recording] = _put(store, path)
    gone = {
        old.sha256: (old, news[name])
        for name in olds
        for old in _ever(store, survey_id, [name])
        if old != news[name]
    }
    span = (start_s + plan.walk_at, end_s + plan.walk_at)
    progress("looking through sealed papers for words of the stretch")
    finding = _Finding(store, plan.words, set(gone), read_pdf)
    touched, left = finding.in_issues(survey_id), finding.in_survey(survey_id, span)
    others = _others(store, survey_id, set(gone))
    with writing(store.engine) as c:
        locked(c, survey_id)
        know(c, list(news.values()), when)
        still_there(store.files, [m.sha256 for m in news.values()])
        _rewrite(c, survey_id, lambda body: _without(body, gone, span))
        named = files_named(c, [survey_id])
        removed = tuple(old for sha, (old, _) in sorted(gone.items()) if sha not in named.elsewhere)
        for old in removed:
            c.execute(delete(media).where(media.c.sha256 == old.sha256))
            c.execute(delete(removed_media).where(removed_media.c.sha256 == old.sha256))
            c.execute(
                insert(removed_media).values(
                    sha256=old.sha256, size=old.size, removed_at=stamp(when)
                )
            )
        intend_removal(store.files, [m.sha256 for m in removed])
        name = plan.recording or plan.transcript
        text = f"{name}: {_clock(start_s)} to {_clock(end_s)} was cut out"
        apply(c, survey_id, [Edit("note", "", {"text": text})], who=who, when=when, note=text)
    finish_removal(store.engine, store.files)
    progress("writing the database anew")
    cut = Cut(
        plan.recording, plan.transcript, cues, silent, still, removed, others, touched, left
    )  # fmt: skip
    try:
        wipe(store.engine)
    except NotWipedError as e:
        e.done = cut
        raise
    return cut


def _put(store: Store, path: Path) -> Medium:
    with path.open("rb") as stream:
        return store.files.put(stream)


def _clock(seconds: float) -> str:
    return f"{int(seconds // 60)}:{seconds % 60:04.1f}"


def _plan(store: Store, survey_id: int, name: str, start_s: float, end_s: float) -> _Plan:
    if not 0 <= start_s < end_s:
        raise StoreError(f"no stretch from {start_s:g} to {end_s:g} seconds")
    job = store.job(survey_id)
    part = next((p for p in job.parts if p.recording == name), None)
    if part is not None:
        first = min(p.start_s for p in job.parts if p.transcript == part.transcript)
        words = _words(job, start_s + part.start_s, end_s + part.start_s)
        return _Plan(name, part.transcript, part.start_s - first, part.start_s, words)
    alone = next((p for p in job.parts if p.transcript == name), None)
    if alone is not None:
        if alone.recording:
            raise StoreError(f"{name} was taken down from {alone.recording}: name that")
        words = _words(job, start_s + alone.start_s, end_s + alone.start_s)
        return _Plan("", name, 0.0, alone.start_s, words)
    # A recording nobody has listened to yet.
    _kept(store, survey_id, [name])
    return _Plan(name, "", 0.0, 0.0, runs_of(()))


def _words(job: Job, start_s: float, end_s: float) -> Runs:
    return runs_of(
        c.text for c in job.cues
        if c.start_s < end_s and (c.end_s > start_s or c.start_s >= start_s)
    )  # fmt: skip


def _kept(store: Store, survey_id: int, names: Sequence[str]) -> dict[str, Medium]:
    stored = store.load(survey_id)
    found = {}
    for name in names:
        item = stored.get("file", name)
        if item is None or item.body is None:
            raise StoreError(f"survey {survey_id} has no file {name}")
        found[name] = Medium(item.body["sha256"], item.body["size"])
    return found


def _ever(store: Store, survey_id: int, names: Sequence[str]) -> list[Medium]:
    """Give the files a survey has, and had at any time, under some names."""
    found = {}
    for _, key, body, _ in _bodies(store, survey_id):
        if key in names and "sha256" in body:
            found[body["sha256"]] = Medium(body["sha256"], body["size"])
    return [found[sha256] for sha256 in sorted(found)]


def _bodies(
    store: Store, survey_id: int
) -> Iterator[tuple[str, str, Mapping[str, Any], bool]]:  # fmt: skip
    """Give kind, key and body of all entries of a survey, and whether it says so now."""
    history = (
        select(items.c.kind, items.c.key, changes.c.before, changes.c.after, items.c.body)
        .join(items, items.c.id == changes.c.item_id)
        .where(items.c.survey_id == survey_id)
        .order_by(changes.c.id)
    )
    with reading(store.engine) as c:
        rows = c.execute(history).all()
    for kind, key, before, after, now in rows:
        for text in (before, after):
            body = from_text(text)
            if body is not None:
                yield kind, key, body, text == now


def _blanked(
    store: Store, transcript: Medium, plan: _Plan, start_s: float, end_s: float
) -> tuple[bytes, int]:
    with store.open_media(transcript.sha256) as stream:
        raw = stream.read()
    return blank_transcript(
        raw, start_s=start_s + plan.transcript_at, end_s=end_s + plan.transcript_at
    )


def _rewrite(
    c: Connection, survey_id: int, edited: Callable[[Mapping[str, Any]], Mapping[str, Any]]
) -> None:
    """Rewrite every body of a survey, now and in its history.

    The history is only ever added to; here its rows are taken out and put back under their
    numbers, for this is the one thing it must not remember.
    """

    def again(text: str | None) -> str | None:
        body = from_text(text)
        return None if body is None else as_text(edited(body))

    mine = select(items.c.id).where(items.c.survey_id == survey_id)
    rows = c.execute(
        select(changes).where(changes.c.item_id.in_(mine)).order_by(changes.c.id)
    ).mappings().all()  # fmt: skip
    for row in rows:
        new = {**row, "before": again(row["before"]), "after": again(row["after"])}
        if new != dict(row):
            c.execute(delete(changes).where(changes.c.id == row["id"]))
            c.execute(insert(changes).values(new))
    for item in c.execute(select(items).where(items.c.survey_id == survey_id)).mappings().all():
        body = again(item["body"])
        if body != item["body"]:
            c.execute(update(items).where(items.c.id == item["id"]).values(body=body))


def _without(
    value: Any, gone: Mapping[str, tuple[Medium, Medium]], span: tuple[float, float]
) -> Any:
    """Give a body with new files for old, and without words said within a span of the walk [s]."""
    if isinstance(value, list):
        return [_without(v, gone, span) for v in value]
    if not isinstance(value, Mapping):
        return value
    made = {k: _without(v, gone, span) for k, v in value.items()}
    pair = gone.get(made["sha256"]) if isinstance(made.get("sha256"), str) else None
    if pair is not None:
        made["sha256"] = pair[1].sha256
        if "size" in made:
            made["size"] = pair[1].size
    if isinstance(made.get("heard"), Mapping):
        made["heard"] = _unheard(made["heard"], span)
    return made


def _unheard(heard: Mapping[str, Any], span: tuple[float, float]) -> dict[str, Any]:
    """Take the words of the span out of what was heard of one tree; its times stay."""
    start, end = span
    taken = set()
    moments = []
    for moment in heard.get("moments", ()):
        a, b = moment.get("start", 0.0), moment.get("end", 0.0)
        if a < end and (b > start or a >= start):
            taken.add(moment.get("said"))
            moment = {**moment, "said": ""}
        moments.append(moment)
    if not taken:
        return dict(heard)
    measures = [
        {**m, "said": ""} if m.get("said") in taken else m for m in heard.get("measures", ())
    ]
    return {**heard, "moments": moments, "measures": measures}


def _others(store: Store, survey_id: int, hashes: set[str]) -> tuple[str, ...]:
    found = []
    for entry in store.surveys():
        if entry.id == survey_id:
            continue
        bodies = [i.body for i in store.load(entry.id).of("file") if i.body is not None]
        sealed = list_issues(store, entry.id)
        named = {b["sha256"] for b in bodies} | {
            m.sha256 for i in sealed for m in (*i.inputs.values(), *i.papers.values())
        }
        if named & hashes:
            found.append(str(entry.id))
    return tuple(sorted(found, key=int))


class _Finding:
    """The search for words of a stretch in what is sealed and in what was entered."""

    def __init__(self, store: Store, words: Runs, gone: set[str], read_pdf: PdfText) -> None:
        self.store = store
        self.words = words
        self.gone = gone
        self.read_pdf = read_pdf
        self._seen: dict[tuple[str, str], bool | None] = {}

    def in_issues(self, survey_id: int) -> tuple[IssueTouched, ...]:
        """Give the issues that hold the recording, its transcript or words of the stretch."""
        found = []
        for issue in list_issues(self.store, survey_id):
            sealed = sorted({*issue.inputs.items(), *issue.papers.items()}, key=lambda x: x[0])
            files = tuple(dict.fromkeys(n for n, m in sealed if m.sha256 in self.gone))
            holding = [(n, self._holds(n, m.sha256)) for n, m in sealed]
            papers = tuple(dict.fromkeys(n for n, held in holding if held))
            unread = tuple(dict.fromkeys(n for n, held in holding if held is None))
            if files or papers or unread:
                found.append(IssueTouched(issue.number, issue.state, files, papers, unread))
        return tuple(found)

    def in_survey(self, survey_id: int, span: tuple[float, float]) -> tuple[LeftIn, ...]:
        """Give the entries, and the other files, that hold words of the stretch, now or once."""
        found: dict[tuple[str, str], bool] = {}
        for kind, key, body, now in _bodies(self.store, survey_id):
            if kind == "file":
                held = self._holds(key, body["sha256"])
            else:
                left = as_text(_without(body, {}, span))
                held = left is not None and text_holds(left, self.words)
            if held:
                told = body["cells"].get("tree", key) if kind == "tree" else key
                found[kind, told] = found.get((kind, told), False) or now
        return tuple(LeftIn(kind, key, now) for (kind, key), now in found.items())

    def _holds(self, name: str, sha256: str) -> bool | None:
        if sha256 in self.gone:
            return False
        known = (suffix_of(name), sha256)
        if known not in self._seen:
            path = self.store.files.path(sha256)
            self._seen[known] = file_holds(path, name, self.words, self.read_pdf)
        return self._seen[known]
