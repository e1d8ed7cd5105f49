"""A stored survey read as a survey folder is: by the same checks, without writing the folder."""

from collections import OrderedDict
from collections.abc import Callable
from pathlib import Path
from threading import Lock
from typing import Any

from bolewalk.drawing.dxf import PlanRead, read_dxf
from bolewalk.intake.source import KeptSource
from bolewalk.store.items import StoredSurvey
from bolewalk.store.tables import records

__all__ = ["PlanReader", "source_of"]

_PLANS_KEPT = 16


class PlanReader:
    """Reads drawings, each once for as long as neither it nor its placement changes.

    Kept drawings lie under the name of their content, so the path stands for the bytes.
    """

    def __init__(self) -> None:
        self._kept: OrderedDict[str, PlanRead] = OrderedDict()
        self._lock = Lock()

    def __call__(self, path: Path, **options: Any) -> PlanRead:
        """Read a drawing as `read_dxf` does."""
        listed = options["listed"]
        told = {**options, "listed": (listed.file, listed.row)}
        name = repr((path, sorted(told.items())))
        with self._lock:
            if name in self._kept:
                self._kept.move_to_end(name)
                return self._kept[name]
        plan = read_dxf(path, **options)
        with self._lock:
            self._kept[name] = plan
            while len(self._kept) > _PLANS_KEPT:
                self._kept.popitem(last=False)
        return plan


def source_of(
    stored: StoredSurvey,
    path_of: Callable[[str], Path],
    *,
    variant: str = "",
    read_plan: Callable[..., PlanRead] = read_dxf,
) -> KeptSource:
    """Give the files of a stored survey.

    Parameters
    ----------
    stored : StoredSurvey
    path_of : callable
        SHA-256 -> where the file lies.
    variant : str
        Key of the what-if copy whose works count; "" = the works themselves.
    read_plan : callable
        Reads drawings.
    """
    bodies = [(i.kind, i.key, i.body) for i in stored.items if i.body is not None]
    features: dict[str, list[Any]] = {}
    for item in stored.works(variant):
        if item.body is not None:
            features.setdefault(item.body["file"], []).append(item.body["feature"])
    rows = [body for kind, _, body in bodies if kind == "tree"]
    return KeptSource(
        paths={key: path_of(body["sha256"]) for kind, key, body in bodies if kind == "file"},
        texts={key: body["text"] for kind, key, body in bodies if kind in ("head", "table")},
        tables={key: records(body, rows) for kind, key, body in bodies if kind == "columns"},
        collections={
            key: {**body["top"], "features": features.get(key, [])}
            for kind, key, body in bodies
            if kind == "works"
        },
        read_plan=read_plan,
    )
