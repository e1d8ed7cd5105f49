"""Where the files of a kept survey lie, by the names the survey uses."""

from collections.abc import Callable
from pathlib import Path

from bolewalk.store.store import Store

__all__ = ["kept_files"]


def kept_files(
    store: Store, survey_id: int, *, revision: int | None = None
) -> Callable[[str], Path | None]:
    """Give a finder of a survey's files, as `papers.write.write_papers` takes one.

    Photographs and recordings are files; tables people edit are not found here.

    Raises
    ------
    StoreError
        There is no such survey.
    """
    stored = store.load(survey_id, revision=revision)
    paths = {
        item.key: store.files.path(item.body["sha256"])
        for item in stored.items
        if item.kind == "file" and item.body is not None
    }

    def find(name: str) -> Path | None:
        path = paths.get(name)
        # One that was removed for good is named still.
        return path if path is not None and path.is_file() else None

    return find
