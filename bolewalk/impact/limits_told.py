"""Which limits a verdict was read against: the packaged ones, and what a file sets over them."""

from bolewalk.impact.thresholds import Threshold, Thresholds, thresholds
from bolewalk.model.statements import Statement, say

__all__ = ["limits_told"]


def limits_told(limits: Thresholds) -> tuple[Statement, ...]:
    """Name the version of the limits, and each row that a file sets over them with its source."""
    said = [say("limits.packaged", version=limits.version)]
    if limits.own is None:
        return tuple(said)
    own = limits.own
    code = "limits.set_over" if own.version else "limits.set_over_no_version"
    said.append(
        say(code, file=own.file, version=own.version, source=own.source, rows_count=len(own.rows))
    )
    said += [_row(row) for row in own.rows]
    return tuple(said)


def _row(row: Threshold) -> Statement:
    was = thresholds().for_tree(method=row.method, age=row.age).rows[row.key]
    where = ", ".join(w for w in (row.method, row.age) if w)
    code = "limits.row_for" if where else "limits.row"
    return say(
        code,
        limit=row.key,
        value=f"{row.value:g} {row.unit}",
        was=f"{was.value:g} {was.unit}",
        source=row.source,
        provenance=row.provenance,
        where=where,
    )
