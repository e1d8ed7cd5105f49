"""Transcripts in: WebVTT, SubRip and `[m:ss]` lines become cues on one time line.

The reader never fails on what a person hands in: what it cannot use is a problem with the number
of its line, and the rest counts. One pass over the text, linear in its length.
"""

import html
import re
from collections.abc import Iterable
from dataclasses import dataclass, replace
from itertools import pairwise
from pathlib import Path

from bolewalk.model.problems import Problem
from bolewalk.walk.phrases import word_set
from bolewalk.walk.transcript import sections_of
from bolewalk.walk.turns import split_turns, turn_labels

__all__ = [
    "Cue", "arrow_times", "line_head", "parse_cues", "read_cues", "read_walk", "recorded_s",
]  # fmt: skip


@dataclass(frozen=True, slots=True)
class Cue:
    """What was said between two times.

    Attributes
    ----------
    start_s, end_s : float
        Seconds from the start of the first recording, 0 <= start_s <= end_s.
    text : str
        The words, without tags, entities or marks of writing direction; never empty.
    speaker : str
        Label given in the transcript, "" where there is none.
    """

    start_s: float
    end_s: float
    text: str
    speaker: str = ""


_STAMP = r"(?:(\d{1,4}):)?(\d{1,3}):(\d{1,2})(?:[.,](\d{1,3}))?"
_ARROW = re.compile(rf"^\s*{_STAMP}\s*-->\s*{_STAMP}")
_LINE = re.compile(rf"^\s*[\[(]\s*{_STAMP}\s*[\])]\s*(.*)$")
# Zero-width and direction marks (Unicode TR9) and the byte order mark carry no words.
_MARKS = re.compile("[\u200b-\u200f\u202a-\u202e\u2060-\u2069\ufeff\u00ad]")
_CONTROL = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f]")
_VOICE = re.compile(r"<v(?:\.[^\s>]*)?\s+([^>]{1,80})>")
_TAG = re.compile(r"<[^<>]{0,200}>|\{\\[^{}]{0,80}\}")
_LABEL = re.compile(
    r"^\s*(?:-\s*)?(?:\[([^\]\n]{1,40})\]:?|([A-Z][\w.'-]{0,30}(?: [A-Z0-9][\w.'-]{0,20}){0,2}):)"
    r"\s+(?=\S)"
)
# Times said aloud with a label in front would read as a speaker: "Height: twelve metres".
_NO_LABELS = word_set("cues.no_labels")
_SOUND = re.compile(
    r"[\[(*♪]\s*(?:music|applause|silence|noise|laughter|inaudible|crosstalk|blank_audio|wind"
    r"|coughs?|pause|unclear|chipper[^\])*]*|dog[^\])*]*|sound[^\])*]*)[^\])*♪\n]{0,40}[\])*♪]",
    re.IGNORECASE,
)
_LONGEST_GAP_S = 3600.0
_LAST_LINE_S = 5.0
_LONGEST_CUE = 100_000  # characters: about two hours of speech, which no one says in one cue
_MAX_SHOWN = 60
_HEAD_BYTES = 65_536


def read_walk(paths: Iterable[tuple[Path, str]]) -> tuple[tuple[Cue, ...], tuple[Problem, ...]]:
    """Read the transcripts of one walk, in order, on one time line.

    Parameters
    ----------
    paths : iterable of (path, name)
        Files in the order they were recorded, each with its name for problems. Each file's
        times start where the recording before it ended, as the note of a transcript of ours
        tells, else where its last cue ended.

    Returns
    -------
    cues, problems
    """
    cues: list[Cue] = []
    problems: list[Problem] = []
    offset = 0.0
    for path, name in paths:
        found, wrong = read_cues(path, file=name)
        cues += [
            replace(c, start_s=c.start_s + offset, end_s=c.end_s + offset) for c in found
        ]  # fmt: skip
        problems += wrong
        last = max((c.end_s for c in cues), default=offset)
        offset = max(last, offset + recorded_s(path))
    return tuple(cues), tuple(problems)


def recorded_s(path: Path) -> float:
    """Give how long the recordings behind a transcript are [s], 0 where its note does not tell."""
    try:
        with path.open("rb") as f:
            head = f.read(_HEAD_BYTES).decode("utf-8", errors="replace")
    except OSError:
        return 0.0
    return max((x.start_s + x.duration_s for x in sections_of(head)), default=0.0)


def read_cues(path: Path, *, file: str) -> tuple[tuple[Cue, ...], tuple[Problem, ...]]:
    """Read one transcript.

    Parameters
    ----------
    path : Path
    file : str
        Its name for problems.

    Returns
    -------
    cues, problems
        Cues by start time. An unreadable file gives no cues and one fault.
    """
    try:
        raw = path.read_bytes()
    except OSError as e:
        why = e.strerror or "cannot be opened"
        return (), (Problem(file, None, None, why, "a transcript that can be read"),)
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        text = raw.decode("utf-16", errors="replace")
        return parse_cues(text, file=file)
    if b"\x00" in raw[:_HEAD_BYTES]:
        expected = "a transcript: WebVTT, SubRip or lines such as [1:05] text"
        return (), (Problem(file, None, None, "binary data", expected),)
    try:
        return parse_cues(raw.decode("utf-8-sig"), file=file)
    except UnicodeDecodeError:
        pass
    cues, problems = parse_cues(raw.decode("cp1252", errors="replace"), file=file)
    note = Problem(
        file, None, None, "not UTF-8", "UTF-8; it was read as Western European", "notice"
    )  # fmt: skip
    return cues, (note, *problems)


def parse_cues(text: str, *, file: str = "") -> tuple[tuple[Cue, ...], tuple[Problem, ...]]:
    """Make cues of a transcript's text, whichever of the three forms it has.

    The form is told by its lines: arrows between times, or times in brackets. Overlapping cues
    stay as they are; cues out of order are sorted, cues that end before they start get the start
    as end, gaps of an hour and more are kept: all three with a notice. Lines of text without any
    time are a fault when the file has no times at all.
    """
    lines = text.replace("\r\n", "\n").replace("\r", "\n").split("\n")
    arrows = any("-->" in line for line in lines)
    headed = next((x for x in lines if x.strip()), "").lstrip("\ufeff").startswith("WEBVTT")
    cues, problems = _arrowed(lines, file) if arrows or headed else _bracketed(lines, file)
    cues, overlong = _of_a_length(cues, file)
    problems += overlong
    timed = headed or arrows or any(_LINE.match(line[:80]) for line in lines)
    if not timed and not problems and any(_clean(line) for line in lines):
        shown = next(_clean(line) for line in lines if _clean(line))[:_MAX_SHOWN]
        expected = "times with the text: WebVTT, SubRip or lines such as [1:05] text"
        problems.append(Problem(file, 1, None, shown, expected))
    if not cues and not problems:
        problems.append(Problem(file, None, None, "no words", "a walk that is spoken", "notice"))
    told = (*problems, *_order(cues, file))
    return tuple(_carried(_parted(sorted(cues, key=lambda c: c.start_s)))), told


def _parted(cues: list[Cue]) -> list[Cue]:
    """Part the cues in which the speaker changes; each part keeps the cue's times."""
    openers = {c.speaker for c in cues} - {""}
    labels = turn_labels([c.text for c in cues], openers=openers, never=_NO_LABELS)
    if not labels:
        return cues
    return [
        replace(c, text=words, speaker=speaker or c.speaker)
        for c in cues
        for speaker, words in split_turns(c.text, labels)
        if any(x.isalnum() for x in words)
    ]


def _carried(cues: list[Cue]) -> list[Cue]:
    """Give a cue without label to who spoke before it, where labels mark whole turns.

    Where a single speaker is labelled and the walk opens without label, the label marks somebody
    who only puts in a word, and what has none is somebody else's.
    """
    speakers = {c.speaker for c in cues} - {""}
    if not speakers or (len(speakers) == 1 and not cues[0].speaker):
        return cues
    out: list[Cue] = []
    for cue in cues:
        before = out[-1].speaker if out else ""
        out.append(cue if cue.speaker or not before else replace(cue, speaker=before))
    return out


def _of_a_length(cues: list[Cue], file: str) -> tuple[list[Cue], list[Problem]]:
    """Leave out what is too long to be one cue, and say so."""
    expected = f"a cue of at most {_LONGEST_CUE} characters, with its own time; it was left out"
    return [c for c in cues if len(c.text) <= _LONGEST_CUE], [
        Problem(file, f"{c.start_s:g} s", "text", f"{len(c.text)} characters", expected)
        for c in cues
        if len(c.text) > _LONGEST_CUE
    ]


def _order(cues: list[Cue], file: str) -> list[Problem]:
    problems = []
    backwards = sum(b.start_s < a.start_s for a, b in pairwise(cues))
    if backwards:
        problems.append(
            Problem(file, None, "start", f"{backwards} out of order",
                    "cues in the order they were said; they were sorted by time", "notice")
        )  # fmt: skip
    ordered = sorted(cues, key=lambda c: c.start_s)
    latest = 0.0
    for cue in ordered:
        if cue.start_s - latest >= _LONGEST_GAP_S:
            problems.append(
                Problem(file, None, "start", f"{latest:.0f} s to {cue.start_s:.0f} s",
                        "no gap of an hour; check that the times are right", "notice")
            )  # fmt: skip
        latest = max(latest, cue.end_s)
    return problems


def _arrowed(lines: list[str], file: str) -> tuple[list[Cue], list[Problem]]:
    cues: list[Cue] = []
    problems: list[Problem] = []
    i, n = 0, len(lines)
    while i < n:
        line = lines[i]
        if "-->" not in line:
            i += _skip_block(lines, i)
            continue
        times = arrow_times(line)
        row = i + 1
        body: list[str] = []
        i += 1
        while i < n and lines[i].strip() and "-->" not in lines[i]:
            body.append(lines[i])
            i += 1
        # A cue number of the next block may follow with no empty line between.
        if i < n and "-->" in lines[i] and body and body[-1].strip().isdigit():
            body.pop()
        if times is None:
            problems.append(_bad_time(file, row, line))
            continue
        start, end = times
        if end < start:
            problems.append(
                Problem(file, row, "end", line.strip()[:_MAX_SHOWN],
                        "an end after the start; the start was taken for both", "notice")
            )  # fmt: skip
            end = start
        cues += _spoken(" ".join(body) if not _voices(body) else "\n".join(body), start, end)
    return cues, problems


def arrow_times(line: str) -> tuple[float, float] | None:
    """Give the two times [s] of a line with an arrow, as written; None where they are none."""
    times = _ARROW.match(_MARKS.sub("", line))
    if times is None:
        return None
    return _seconds(times.groups()[:4]), _seconds(times.groups()[4:])


def line_head(line: str) -> tuple[float, int] | None:
    """Give the time [s] a line begins with in brackets, and where its words begin; else None."""
    if line[:20].lstrip()[:1] not in "[(\ufeff":
        return None
    head = _LINE.match(_MARKS.sub("", line[:80]))
    if head is None:
        return None
    return _seconds(head.groups()[:4]), line.index("]" if "]" in line[:80] else ")") + 1


def _skip_block(lines: list[str], i: int) -> int:
    """Count the lines to pass over: a comment or style block whole, anything else one line."""
    head = lines[i].lstrip("\ufeff").strip()
    if head.startswith(("NOTE", "STYLE", "REGION")) and (i == 0 or not lines[i - 1].strip()):
        k = i
        while k < len(lines) and lines[k].strip() and "-->" not in lines[k]:
            k += 1
        return max(1, k - i)
    return 1


def _bracketed(lines: list[str], file: str) -> tuple[list[Cue], list[Problem]]:
    problems: list[Problem] = []
    starts: list[float] = []
    texts: list[list[str]] = []
    for number, line in enumerate(lines, start=1):
        head = line_head(line)
        if head is not None:
            starts.append(head[0])
            texts.append([line[head[1] :]])
        elif texts:
            texts[-1].append(line)
        elif _clean(line):
            shown = _clean(line)[:_MAX_SHOWN]
            problems.append(Problem(file, number, None, shown, "a time in front, [1:05]"))
            if len(problems) >= 20:
                break
    if not texts:
        return [], problems[:1]
    cues: list[Cue] = []
    for k, (start, body_lines) in enumerate(zip(starts, texts, strict=True)):
        later = starts[k + 1] if k + 1 < len(starts) else start + _LAST_LINE_S
        end = later if start <= later < start + _LONGEST_GAP_S else start + _LAST_LINE_S
        cues += _spoken(" ".join(body_lines), start, end)
    return cues, problems


def _bad_time(file: str, row: int, line: str) -> Problem:
    expected = "two times such as 00:01:05.000 --> 00:01:09.000"
    return Problem(file, row, "time", line.strip()[:_MAX_SHOWN], expected)


def _seconds(parts: tuple[str | None, ...]) -> float:
    hours, minutes, seconds, rest = parts
    fraction = float(f"0.{rest}") if rest else 0.0
    return int(hours or 0) * 3600 + int(minutes or 0) * 60 + int(seconds or 0) + fraction


def _voices(body: list[str]) -> bool:
    return sum(bool(_VOICE.search(b) or _label(b)) for b in body) > 1


def _spoken(body: str, start: float, end: float) -> list[Cue]:
    """Make one cue a speaker: two people may share a block, each on their line."""
    cues = []
    for part in body.split("\n") if "\n" in body else [body]:
        voice = _VOICE.search(part)
        speaker = voice.group(1).strip() if voice else ""
        words = _clean(part)
        if not speaker:
            label = _label(words)
            if label is not None:
                speaker, length = label
                words = words[length:]
        if any(c.isalnum() for c in words):
            cues.append(Cue(start, end, words, html.unescape(speaker)))
    return cues


def _label(words: str) -> tuple[str, int] | None:
    found = _LABEL.match(words)
    if not found:
        return None
    name = (found.group(1) or found.group(2)).strip()
    first = name.lower().split()[0] if name.split() else ""
    if not first or first in _NO_LABELS or first[0].isdigit():
        return None
    return name, found.end()


def _clean(text: str) -> str:
    """Take tags, entities, sounds in brackets and invisible marks out; single spaces."""
    plain = _CONTROL.sub(" ", _MARKS.sub("", html.unescape(_TAG.sub(" ", text))))
    # An escaped tag is a tag: "&lt;i&gt;".
    plain = _SOUND.sub(" ", _TAG.sub(" ", plain))
    return " ".join(plain.split())
