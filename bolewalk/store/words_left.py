"""Where something of a stretch that was cut out is left: papers that were sealed, what was entered
by hand, other surveys."""

from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path

from bolewalk.intake.reading import suffix_of
from bolewalk.store.history_bodies import bodies, without_stretch
from bolewalk.store.issues import State, list_issues
from bolewalk.store.items import as_text
from bolewalk.store.said_words import PdfText, Runs, file_holds, text_holds
from bolewalk.store.store import Store

__all__ = ["IssueTouched", "LeftIn", "WordsLeft", "no_pdf", "others_with"]


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


def no_pdf(path: Path, name: str) -> str | None:
    """Stand for a reader of PDF files where there is none."""
    del path, name
    return None


class WordsLeft:
    """The search for words of a stretch in what is sealed and in what was entered."""

    def __init__(self, store: Store, words: Runs, gone: Collection[str], read_pdf: PdfText) -> None:
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
        for kind, key, body, now in bodies(self.store, survey_id):
            if kind == "file":
                held = self._holds(key, body["sha256"])
            else:
                left = as_text(without_stretch(body, {}, span))
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


def others_with(store: Store, survey_id: int, hashes: Collection[str]) -> tuple[str, ...]:
    """Give the numbers of other surveys that have files of these hashes, or once had: in an
    earlier state or a sealed issue."""
    found = []
    for entry in store.surveys():
        if entry.id == survey_id:
            continue
        sealed = list_issues(store, entry.id)
        named = {m.sha256 for i in sealed for m in (*i.inputs.values(), *i.papers.values())}
        named |= {b["sha256"] for kind, _, b, _ in bodies(store, entry.id) if kind == "file"}
        if not named.isdisjoint(hashes):
            found.append(str(entry.id))
    return tuple(sorted(found, key=int))
