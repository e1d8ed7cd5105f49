"""A stretch cut out of a survey's recording, wherever the store keeps it, with no time moved."""

import tempfile
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path, PurePosixPath

from sqlalchemy import delete, insert

from bolewalk.intake.job import Job
from bolewalk.store.changes import apply, locked
from bolewalk.store.database import writing
from bolewalk.store.errors import NotWipedError, StoreError
from bolewalk.store.history_bodies import bodies, rewrite, without_stretch
from bolewalk.store.items import Edit, stamp
from bolewalk.store.media import Medium
from bolewalk.store.removing import (
    files_named,
    finish_removal,
    intend_removal,
    still_there,
)
from bolewalk.store.rows import know
from bolewalk.store.said_words import PdfText, Runs, runs_of
from bolewalk.store.schema import media, removed_media
from bolewalk.store.store import Store
from bolewalk.store.wiping import wipe
from bolewalk.store.words_left import IssueTouched, LeftIn, WordsLeft, no_pdf, others_with
from bolewalk.walk.blanked_media import BlankingError, blank_recording
from bolewalk.walk.blanking import blank_transcript

__all__ = ["Cut", "IssueTouched", "LeftIn", "cut_stretch", "no_pdf", "would_cut"]


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
    finding = WordsLeft(store, plan.words, {m.sha256 for m in gone}, read_pdf)
    return Cut(
        plan.recording, plan.transcript, cues, end_s - start_s, None, tuple(gone),
        others_with(store, survey_id, finding.gone), finding.in_issues(survey_id),
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
    finding = WordsLeft(store, plan.words, set(gone), read_pdf)
    touched, left = finding.in_issues(survey_id), finding.in_survey(survey_id, span)
    others = others_with(store, survey_id, set(gone))
    with writing(store.engine) as c:
        locked(c, survey_id)
        know(c, list(news.values()), when)
        still_there(store.files, [m.sha256 for m in news.values()])
        rewrite(c, survey_id, lambda body: without_stretch(body, gone, span))
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
    for _, key, body, _ in bodies(store, survey_id):
        if key in names and "sha256" in body:
            found[body["sha256"]] = Medium(body["sha256"], body["size"])
    return [found[sha256] for sha256 in sorted(found)]


def _blanked(
    store: Store, transcript: Medium, plan: _Plan, start_s: float, end_s: float
) -> tuple[bytes, int]:
    with store.open_media(transcript.sha256) as stream:
        raw = stream.read()
    return blank_transcript(
        raw, start_s=start_s + plan.transcript_at, end_s=end_s + plan.transcript_at
    )
