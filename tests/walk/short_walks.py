"""Short walks of many voices, each one paragraph with what a person wrote down from it.

`tests/data/walk/short_walks.txt` holds for each walk a line `# name`, the words, and the truth:

    + botanical=also accepted|count|decision or -|what value unit; ...|words said|words said
    p planted;planted
    q words in which a fact is said to be missing;...

Words are quoted so far that the moment is found. The paragraph is cut into cues as a recogniser
would: at full stops, or every 18 words.
"""

import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from bolewalk.walk.cues import Cue, parse_cues

PATH = Path(__file__).parent.parent / "data" / "walk" / "short_walks.txt"
WORD_S = 0.42  # two words and a half a second, a usual pace of talk
LONGEST, SHORTEST = 18, 8
MARKS = re.compile(r"[.,;:?!…—–\"()]")


@dataclass
class ShortWalk:
    """One walk: its words and the lines of its truth."""

    name: str
    text: str = ""
    trees: list[str] = field(default_factory=list)
    plantings: list[str] = field(default_factory=list)
    questions: list[str] = field(default_factory=list)

    @property
    def punctuated(self) -> bool:
        return bool(re.search(r"[.,]", self.text))

    def _spans(self, *, bare: bool) -> list[tuple[int, int]]:
        words = self.text.split()
        spans, begin = [], 0
        for i, word in enumerate(words):
            stopped = not bare and i > begin and words[i - 1][-1] in ".?!" and self.punctuated
            label = stopped and word.endswith(":")
            if i - begin >= LONGEST or label or (stopped and i - begin >= SHORTEST):
                spans.append((begin, i))
                begin = i
        return [*spans, (begin, len(words))]

    def cues(self, *, bare: bool = False) -> list[Cue]:
        """Give the cues; `bare` takes punctuation and capitals away."""
        words = self.text.split()
        out = []
        for a, b in self._spans(bare=bare):
            said = " ".join(words[a:b])
            said = MARKS.sub(" ", said).lower() if bare else said
            out.append(f"{_clock(a * WORD_S)} --> {_clock(b * WORD_S)}\n{said}\n")
        cues, problems = parse_cues("WEBVTT\n\n" + "\n".join(out))
        assert not problems, self.name
        return list(cues)

    def truth(self, *, bare: bool = False) -> dict[str, Any]:
        """Give the truth in the form of the design."""
        trees = []
        for line in self.trees:
            names, count, decision, sizes, *quotes = line.split("|")
            first, *accept = names.split("=")
            measures = [
                {"what": w[0], "value": float(w[1]), "unit": "".join(w[2:])}
                for w in (x.split() for x in sizes.split(";"))
                if w
            ]
            trees.append({
                "species": {"botanical": first}, "accept": accept, "count": int(count),
                "decision": None if decision == "-" else decision, "measures": measures,
                "moments": [self._moment(q, bare=bare) for q in quotes],
            })  # fmt: skip
        return {
            "trees": trees,
            "plantings": [{"species": {"botanical": p}} for p in self.plantings],
            "questions": [{"moments": [self._moment(q, bare=bare)]} for q in self.questions],
        }

    def _moment(self, quote: str, *, bare: bool) -> dict[str, float]:
        at = " ".join(self.text.split()).lower().find(quote.lower())
        assert at >= 0, f"{self.name}: {quote!r} is not said"
        word = " ".join(self.text.split())[:at].count(" ")
        a, b = next(s for s in self._spans(bare=bare) if s[0] <= word < s[1])
        return {"start": a * WORD_S, "end": b * WORD_S}


def _clock(seconds: float) -> str:
    return f"{int(seconds) // 60:02d}:{seconds % 60:06.3f}"


def short_walks(path: Path = PATH) -> list[ShortWalk]:
    """Read the short walks."""
    found: list[ShortWalk] = []
    for line in path.read_text(encoding="utf-8").splitlines():
        mark, rest = line[:2], line[2:].strip()
        if mark == "# ":
            found.append(ShortWalk(rest))
        elif mark == "+ ":
            found[-1].trees.append(rest)
        elif mark == "p ":
            found[-1].plantings = rest.split(";")
        elif mark == "q ":
            found[-1].questions = rest.split(";")
        elif line:
            found[-1].text += line + " "
    return found
