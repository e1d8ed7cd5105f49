"""The walk of a survey: its transcripts on one time line, and the recordings behind them."""

from collections.abc import Iterable
from dataclasses import replace

from bolewalk.drawing.details import Place
from bolewalk.intake.job import WalkPart
from bolewalk.intake.reading import SurveyReading, stem_of, suffix_of
from bolewalk.intake.recording import PLAYABLE
from bolewalk.walk.cues import Cue, read_cues, recorded_s
from bolewalk.walk.transcript import sections_of

__all__ = ["TRANSCRIPT_ENDINGS", "read_walked"]

TRANSCRIPT_ENDINGS = (".vtt", ".srt", ".txt")


def read_walked(reading: SurveyReading) -> tuple[tuple[Cue, ...], tuple[WalkPart, ...]]:
    """Read the files under `files.walk`; what is wrong is told in `reading`.

    Returns
    -------
    cues, parts
        Cues on one time line, and for each stretch of it the recording it was taken down from.
    """
    cues: list[Cue] = []
    parts: list[WalkPart] = []
    offset = 0.0
    for transcript, recording in _transcripts(reading):
        path = reading.source.path(transcript)
        found, problems = read_cues(path, file=transcript)
        reading.problems += problems
        cues += [replace(c, start_s=c.start_s + offset, end_s=c.end_s + offset) for c in found]
        # A recording may go on in silence after its last word: the next begins after that.
        end = max(max((c.end_s for c in cues), default=offset), offset + recorded_s(path))
        parts += _parts(reading, transcript, recording, offset, end)
        offset = end
    return tuple(cues), tuple(parts)


def _transcripts(reading: SurveyReading) -> list[tuple[str, str]]:
    """Give (transcript, recording named in its place or "") in the order of the walk."""
    found: list[tuple[str, str]] = []
    source = reading.source
    for name in reading.head.files.walk:
        file = reading.named(name, "files.walk")
        if file is None:
            continue
        if suffix_of(file) in TRANSCRIPT_ENDINGS:
            found.append((file, ""))
            continue
        here = Place(file, None, reading.problems)
        beside = next((n for n in _same_stem(file, TRANSCRIPT_ENDINGS) if source.has(n)), None)
        if beside is None:
            here.tell(
                None, None,
                "a transcript (.vtt, .srt, .txt): transcribe the recording first, with the "
                "speech extra; the recording is not listened to",
                level="notice",
            )  # fmt: skip
            continue
        here.tell(None, None, f"a transcript; {beside} beside it is read", level="notice")
        found.append((beside, file))
    return found


def _same_stem(file: str, endings: Iterable[str]) -> list[str]:
    stem = stem_of(file)
    return [stem + e for e in endings]


def _parts(
    reading: SurveyReading, transcript: str, recording: str, start: float, end: float
) -> list[WalkPart]:
    """Give the stretches of one transcript: it may name the recordings it was taken down from."""
    source = reading.source
    text = source.path(transcript).read_text(encoding="utf-8", errors="replace")
    folder = transcript.rpartition("/")[0]
    parts = []
    sections = sections_of(text)
    for n, section in enumerate(sections):
        name = section.name.rpartition("/")[2]
        name = f"{folder}/{name}" if folder else name
        until = start + sections[n + 1].start_s if n + 1 < len(sections) else end
        there = name if source.has(name) and suffix_of(name) in PLAYABLE else ""
        parts.append(WalkPart(transcript, there, start + section.start_s, until))
    if any(p.recording for p in parts):
        return parts
    beside = _same_stem(transcript, PLAYABLE)
    there = recording or next((n for n in beside if source.has(n)), "")
    return [WalkPart(transcript, there, start, end)]
