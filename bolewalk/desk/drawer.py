"""The desk's hold on the store: which surveys there are, how each stands, and who changes what."""

import copy
import threading
from collections import OrderedDict
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any, Self

from bolewalk.desk.reckoning import Reckoning
from bolewalk.intake.job import Job
from bolewalk.intake.survey_toml import HEAD_FILE
from bolewalk.intake.toml_file import parse_toml
from bolewalk.model.units import UnitSystem
from bolewalk.model.works import Work
from bolewalk.store.items import Applied, Conflict, Edit, Item, StoredSurvey, SurveyEntry
from bolewalk.store.store import Store
from bolewalk.store.variants import adopt_variant, copy_works, drop_variant

__all__ = ["Drawer", "Sheet", "WorkItem", "feature_name", "now"]

_KEPT = 12
"""States of surveys kept worked out: those of a day's work, not of a whole office. Of the survey
at hand every what-if copy is kept, for they stand side by side."""


def now() -> datetime:
    """Give the time of this computer, with its zone."""
    return datetime.now(UTC)


@dataclass(frozen=True, slots=True)
class WorkItem:
    """A work and the feature it was read from; `item` is None where it stands in a drawing."""

    work: Work
    item: Item | None


@dataclass(frozen=True, slots=True)
class Sheet:
    """One survey as it stands: what was entered, and what was worked out of it.

    `variant` is the key of a what-if copy of the works, "" for the works as they are.
    """

    stored: StoredSurvey
    variant: str
    reckoning: Reckoning
    _by_tree: dict[str, Item] = field(default_factory=dict, repr=False, compare=False)

    @property
    def job(self) -> Job:
        """What was read."""
        return self.reckoning.job

    def head(self) -> dict[str, Any]:
        """Give survey.toml as it stands."""
        item = self.stored.get("head", HEAD_FILE)
        return {} if item is None or item.body is None else parse_toml(item.body["text"])

    def works(self) -> tuple[WorkItem, ...]:
        """Give the works of the sheet with the items behind them."""
        items: dict[tuple[str, str], Item] = {}
        counts: dict[str, int] = {}
        for item in self.stored.works(self.variant):
            body = item.body or {}
            file = body["file"]
            counts[file] = counts.get(file, 0) + 1
            items.setdefault((file, feature_name(body["feature"], counts[file])), item)
        return tuple(WorkItem(w, items.get((w.file, w.ref))) for w in self.job.survey.works)

    def tree_item(self, tree_id: str) -> Item | None:
        """Give the row of a tree, None where it is not there."""
        return self._rows().get(tree_id)

    def _rows(self) -> dict[str, Item]:
        if not self._by_tree:
            for item in self.stored.of("tree"):
                name = str((item.body or {})["cells"].get("tree", "")).strip()
                self._by_tree.setdefault(name, item)
        return self._by_tree

    def variants(self) -> tuple[tuple[str, str], ...]:
        """Give key and name of each what-if copy."""
        return tuple((i.key, str((i.body or {}).get("name", i.key)))
                     for i in self.stored.of("variant"))  # fmt: skip


def feature_name(feature: Any, n: int) -> str:
    """Give the name a reader of works calls a feature by: its id, else its number in the file."""
    if isinstance(feature, Mapping):
        properties = feature.get("properties")
        given = properties.get("id") if isinstance(properties, Mapping) else None
        for name in (given, feature.get("id")):
            if isinstance(name, str | int) and not isinstance(name, bool) and str(name).strip():
                return str(name).strip()
    return f"feature {n}"


class Drawer:
    """Surveys at hand. Safe for several threads.

    Parameters
    ----------
    store : Store
    who : str
        The person at the desk, for the history.
    clock : callable
        The time, with its zone.
    """

    def __init__(
        self, store: Store, *, who: str = "desk", clock: Callable[[], datetime] = now
    ) -> None:
        self.store = store
        self.who = who
        self.firm: str | None = None
        self.send = ""
        self.clock = clock
        self._lock = threading.Lock()
        self._sheets: OrderedDict[tuple[int, str], Sheet] = OrderedDict()
        self._opening: dict[tuple[int, str], threading.Lock] = {}

    def held_by(self, who: str, firm: str) -> Self:
        """Give the same drawer in the hands of someone else: what is worked out serves all."""
        other = copy.copy(self)
        other.who, other.firm = who, firm
        return other

    def sending(self, send: str) -> Self:
        """Give the same drawer for one sending of one change, by the id it came with."""
        other = copy.copy(self)
        other.send = send
        return other

    def sent(self, survey_id: int) -> Applied | None:
        """Give what came of this sending before, None where it comes for the first time."""
        return self.store.sent(survey_id, who=self.who, send=self.send) if self.send else None

    def surveys(self) -> tuple[SurveyEntry, ...]:
        """Give the list of surveys whoever holds the drawer may see, newest first."""
        return tuple(e for e in self.store.surveys() if self.firm in (None, e.firm))

    def sheet(self, survey_id: int, variant: str = "") -> Sheet:
        """Give a survey as it stands now.

        Raises
        ------
        StoreError
            No such survey.
        SurveyUnreadableError
            Its survey.toml cannot be read.
        KeyError
            No such what-if copy.
        """
        name = (survey_id, variant)
        with self._lock:
            opening = self._opening.setdefault(name, threading.Lock())
        # One thread works a state out; the others of the same survey wait for it.
        with opening:
            with self._lock:
                known = self._sheets.get(name)
            if known is not None and known.stored.revision == self.store.revision_of(survey_id):
                return known
            stored = self.store.load(survey_id)
            if variant and stored.get("variant", variant) is None:
                raise KeyError(variant)
            job = self.store.job_of(stored, variant=variant)
            # The works as they are stand in for a copy that was just made of them.
            base = known or self._sheets.get((survey_id, ""))
            before = None if base is None else base.reckoning
            sheet = Sheet(stored, variant, Reckoning(job, before=before))
            with self._lock:
                self._sheets[name] = sheet
                self._sheets.move_to_end(name)
                self._leave_earlier(sheet)
            if known is not None:
                known.reckoning.stop()
            return sheet

    def _leave_earlier(self, sheet: Sheet) -> None:
        """Stop what is worked out of earlier states of a survey, and drop other surveys' sheets
        where there are too many; under the lock."""
        survey_id, revision = sheet.stored.id, sheet.stored.revision
        others = []
        for name, kept in self._sheets.items():
            if name[0] != survey_id:
                others.append(name)
            elif kept.stored.revision < revision:
                kept.reckoning.stop()
        for name in others[: max(0, len(self._sheets) - _KEPT)]:
            self._sheets.pop(name).reckoning.stop()

    def change(
        self, survey_id: int, edits: Sequence[Edit], *, note: str = ""
    ) -> Applied | Conflict:
        """Make a change, one step of undo."""
        return self.store.change(
            survey_id, edits, who=self.who, when=self.clock(), note=note, send=self.send
        )

    def undo(self, survey_id: int) -> Applied | Conflict | None:
        """Take back the last change."""
        return self.store.undo(survey_id, who=self.who, when=self.clock(), send=self.send)

    def redo(self, survey_id: int) -> Applied | Conflict | None:
        """Do again what was taken back."""
        return self.store.redo(survey_id, who=self.who, when=self.clock(), send=self.send)

    def copy_works(
        self,
        survey_id: int,
        name: str,
        *,
        of: str = "",
        more: Callable[[str], Sequence[Edit]] = lambda _: (),
    ) -> str:
        """Make a what-if copy, with `more` edits of it by its key, and give its key.

        Raises StoreError where the name is taken.
        """
        return copy_works(
            self.store, survey_id, name, who=self.who, when=self.clock(), of=of, more=more,
            send=self.send,
        )  # fmt: skip

    def adopt_copy(self, survey_id: int, key: str) -> Applied | Conflict:
        """Make the works what a copy is. Raises StoreError where there is no such copy."""
        return adopt_variant(
            self.store, survey_id, key, who=self.who, when=self.clock(), send=self.send
        )

    def drop_copy(self, survey_id: int, key: str) -> Applied | Conflict:
        """Drop a what-if copy. Raises StoreError where there is no such copy."""
        return drop_variant(
            self.store, survey_id, key, who=self.who, when=self.clock(), send=self.send
        )

    def begin(self, name: str, visited: date, units: UnitSystem, purpose: str) -> int:
        """Begin an empty survey and give its number."""
        return self.store.create_survey(
            name,
            visited=visited,
            units=units,
            purpose=purpose,
            who=self.who,
            when=self.clock(),
            firm=self.firm or "",
            send=self.send,
        )

    def bring_in(self, folder: Path) -> int:
        """Take in a survey folder and give its number; raises as `Store.import_folder`."""
        return self.store.import_folder(
            folder, who=self.who, when=self.clock(), firm=self.firm or "", send=self.send
        ).survey_id
