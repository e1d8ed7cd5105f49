"""The transcript of recordings as WebVTT, with the times of the words in the cues."""

import html
import re
from collections.abc import Sequence
from dataclasses import dataclass

from bolewalk.walk.recogniser import Word
from bolewalk.walk.recording_settings import recording_settings

__all__ = ["Section", "sections_of", "transcript_vtt"]

_SECTION = re.compile(
    r"^recording (?P<name>.+) from (?P<start>\d+\.\d{3}) s, (?P<length>\d+\.\d{3}) s long$"
)
_SENTENCE_END = (".", "?", "!")


@dataclass(frozen=True, slots=True)
class Section:
    """Where a recording lies on the time line of the transcript [s]. `name` is its file name."""

    name: str
    start_s: float
    duration_s: float


def transcript_vtt(
    words: Sequence[Word], sections: Sequence[Section], *, heard_by: str = ""
) -> str:
    """Write words as WebVTT.

    Parameters
    ----------
    words : sequence of Word
        In the order they were said, with times on the common time line.
    sections : sequence of Section
        The recordings, written into a note so that a moment leads back to its recording.
    heard_by : str
        What took the words down, for the note.

    Returns
    -------
    str
        One cue a sentence; a cue also ends at a pause or where it gets long (`[cues]` of
        `recordings.toml`), and with its recording. Inside a cue every word but the first stands
        behind its time stamp, as WebVTT allows. The file holds no time of its making.
    """
    note = ["NOTE", "Taken down by machine; correct it here, this file is what counts."]
    if heard_by:
        note.append(_plain(heard_by))
    note += [
        f"recording {_plain(s.name)} from {s.start_s:.3f} s, {s.duration_s:.3f} s long"
        for s in sections
    ]
    blocks = ["WEBVTT", "\n".join(note)]
    blocks += [_cue(c) for c in _cues(words, [s.start_s for s in sections])]
    return "\n\n".join(blocks) + "\n"


def sections_of(text: str) -> tuple[Section, ...]:
    """Read the note `transcript_vtt` writes; empty where a transcript has none."""
    head = text.split("-->", 1)[0]
    found = (_SECTION.match(line) for line in head.splitlines())
    return tuple(
        Section(html.unescape(m["name"]), float(m["start"]), float(m["length"])) for m in found if m
    )  # fmt: skip


def _cues(words: Sequence[Word], breaks: Sequence[float]) -> list[list[Word]]:
    s = recording_settings().cues
    cues: list[list[Word]] = []
    for word in words:
        # A word that follows without a space belongs to the one before: "12" and "-inch".
        joined = not word.text.startswith(" ")
        last = cues[-1] if cues else None
        if last is None:
            cues.append([word])
        elif (joined and not _apart(last[-1], word, breaks)) or not _ends(
            last, word, s.longest_s, s.pause_s, breaks
        ):
            last.append(word)
        else:
            cues.append([word])
    return cues


def _ends(
    cue: Sequence[Word], word: Word, longest_s: float, pause_s: float, breaks: Sequence[float]
) -> bool:
    last = cue[-1]
    return (
        last.text.rstrip().endswith(_SENTENCE_END)
        or word.start_s - last.end_s > pause_s
        or word.end_s - cue[0].start_s > longest_s
        or (last.text.rstrip().endswith(",") and last.end_s - cue[0].start_s > longest_s / 2)
        or _apart(last, word, breaks)
    )


def _apart(a: Word, b: Word, breaks: Sequence[float]) -> bool:
    """Whether a recording ends between two words."""
    return any(a.start_s < x <= b.start_s for x in breaks)


def _cue(words: Sequence[Word]) -> str:
    start = words[0].start_s
    end = max(*(w.end_s for w in words), start + 0.001)
    parts = [_plain(words[0].text).strip()]
    latest = start
    for word in words[1:]:
        text = _plain(word.text)
        # Stamps inside a cue must lie between its times and grow (WebVTT, 4.2.2).
        if word.text.startswith(" ") and latest + 0.0005 < word.start_s < end - 0.0005:
            latest = word.start_s
            text = f" <{_stamp(word.start_s)}>{text.strip()}"
        elif word.text.startswith(" "):
            text = f" {text.strip()}"
        parts.append(text)
    return f"{_stamp(start)} --> {_stamp(end)}\n{''.join(parts)}"


def _plain(text: str) -> str:
    lead = " " if text.startswith(" ") else ""
    inner = " ".join(text.split()).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
    return lead + inner


def _stamp(seconds: float) -> str:
    total = round(max(0.0, seconds) * 1000)
    hours, rest = divmod(total, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"
