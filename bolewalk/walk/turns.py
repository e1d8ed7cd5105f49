"""Speakers that change within a cue: "ANN: Is it dead? BEN: Not yet." """

import re
from collections import Counter
from collections.abc import Collection, Iterator, Sequence

__all__ = ["split_turns", "turn_labels"]

_INSIDE = re.compile(
    r"(?<=[.?!…,;—–-])[\"”')]*\s+"
    r"(?P<name>[A-Z][\w.'-]{0,30}(?: [A-Z0-9][\w.'-]{0,20}){0,2}):\s+(?=\S)"
)
_FEWEST = 2  # times a label must stand within cues where it opens none


def turn_labels(
    texts: Sequence[str], *, openers: Collection[str], never: Collection[str]
) -> frozenset[str]:
    """Give the labels that may begin a turn within a cue.

    Parameters
    ----------
    texts : sequence of str
        The words of the cues.
    openers : collection of str
        Labels that stand at the beginning of cues.
    never : collection of str
        First words, in small letters, that are no speaker: "height".
    """
    inside = Counter(m["name"] for text in texts for m in _INSIDE.finditer(text))
    often = {name for name, n in inside.items() if n >= _FEWEST or name in openers}
    return frozenset(name for name in often if name.lower().split()[0] not in never)


def split_turns(text: str, labels: Collection[str]) -> Iterator[tuple[str, str]]:
    """Yield (speaker, words) for each turn of a cue; the first speaker is "", as the cue tells."""
    speaker, begin = "", 0
    for m in _INSIDE.finditer(text):
        if m["name"] not in labels:
            continue
        yield speaker, text[begin : m.start()].strip()
        speaker, begin = m["name"], m.end()
    yield speaker, text[begin:].strip()
