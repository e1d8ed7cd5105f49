"""A stretch taken out of what was said: transcripts keep every other time as it was."""

import re
from collections.abc import Sequence

from bolewalk.walk.cues import arrow_times, line_head

__all__ = ["blank_transcript"]

_LAST_S = 5.0
_HOUR_S = 3600.0
_BLANK = "—"
_LINES = re.compile(r"[^\r\n]*(?:\r\n|\r|\n)|[^\r\n]+")


def blank_transcript(raw: bytes, *, start_s: float, end_s: float) -> tuple[bytes, int]:
    """Take the words between two times out of a transcript.

    Parameters
    ----------
    raw : bytes
        WebVTT, SubRip or `[m:ss]` lines, in any of the codings `read_cues` reads.
    start_s, end_s : float
        Seconds of the transcript, start_s < end_s.

    Returns
    -------
    raw, taken : bytes, int
        The transcript without the words of every cue that touches the stretch, whole cues, and
        how many these were. Their times stay, so that all others mean what they meant; the rest
        is the same bytes. A name given to such a cue goes with it.
    """
    coding = _coding(raw)
    # Half a character that no coding reads passes through as it came.
    text = raw.decode(coding, errors="surrogateescape")
    # As the reader parts them: other marks that end lines elsewhere are text here.
    lines = _LINES.findall(text)
    arrows = any("-->" in line for line in lines)
    kept, taken = (_arrowed if arrows else _bracketed)(lines, start_s, end_s)
    return "".join(kept).encode(coding, errors="surrogateescape"), taken


def _coding(raw: bytes) -> str:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16-le" if raw[:2] == b"\xff\xfe" else "utf-16-be"
    try:
        raw.decode("utf-8")
    except UnicodeDecodeError:
        return "latin-1"
    return "utf-8"


def _ending(line: str) -> str:
    return line[len(line.rstrip("\r\n")) :]


def _touches(a: float, b: float, start_s: float, end_s: float) -> bool:
    """Tell whether a cue from a to b holds any of the stretch; one of no length is a moment."""
    return a < end_s and (max(a, b) > start_s or a >= start_s)


def _arrowed(lines: Sequence[str], start_s: float, end_s: float) -> tuple[list[str], int]:
    kept: list[str] = []
    taken = 0
    cutting = False
    for n, line in enumerate(lines):
        heads_next = n + 1 < len(lines) and "-->" in lines[n + 1]
        if "-->" in line:
            times = arrow_times(line)
            cutting = times is not None and _touches(*times, start_s, end_s)
            taken += cutting
            # Settings behind the times say where on the picture words stand, and nothing else.
        elif not line.strip():
            cutting = False
        elif heads_next and not line.strip().isdigit() and _cut_next(lines[n + 1], start_s, end_s):
            # The name of a cue may say what the cue says.
            continue
        elif cutting and not (heads_next and line.strip().isdigit()):
            continue
        kept.append(line)
    return kept, taken


def _cut_next(arrow: str, start_s: float, end_s: float) -> bool:
    times = arrow_times(arrow)
    return times is not None and _touches(*times, start_s, end_s)


def _bracketed(lines: Sequence[str], start_s: float, end_s: float) -> tuple[list[str], int]:
    heads = [(n, *head) for n, line in enumerate(lines) if (head := line_head(line)) is not None]
    kept = list(lines[: heads[0][0]]) if heads else list(lines)
    taken = 0
    for k, (n, at, words) in enumerate(heads):
        following = heads[k + 1] if k + 1 < len(heads) else None
        after = at + _LAST_S if following is None else following[1]
        end = after if at <= after < at + _HOUR_S else at + _LAST_S
        block = lines[n : None if following is None else following[0]]
        if _touches(at, end, start_s, end_s):
            taken += 1
            rest = [x for x in block[1:] if not x.strip()]
            block = [f"{block[0][:words]} {_BLANK}{_ending(block[0])}", *rest]
        kept += block
    return kept, taken
