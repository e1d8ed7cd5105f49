"""What was wrong with the input, told all at once."""

import dataclasses
from dataclasses import dataclass
from typing import Any, Literal

__all__ = ["Level", "Problem", "has_faults"]

Level = Literal["fault", "notice"]
"""fault: something was left out, exit code 1. notice: worth knowing, exit code unchanged."""

_LONGEST = (("row", 300), ("field", 300), ("value", 300), ("expected", 2000))
"""Characters of each part; longer ones end in an ellipsis."""


@dataclass(frozen=True, slots=True)
class Problem:
    """One problem: where it stands, what was found, what was expected.

    Attributes
    ----------
    file : str
        Path relative to the survey folder, with forward slashes.
    row : int or str or None
        Row of a table (the header is row 1), feature or entity id, cue number; None = whole file.
    field : str or None
        Column, property, key or layer.
    value : str or None
        What was found, as text.
    expected : str
        What would have been accepted, in words that tell what to do.
    level : Level
    left_out_m : tuple of float or None
        Of a work that was left out: west, south, east and north of what could be read of its
        place [m], empty where nothing could. None = no work was left out. Not in the report.
    """

    file: str
    row: int | str | None
    field: str | None
    value: str | None
    expected: str
    level: Level = "fault"
    left_out_m: tuple[float, ...] | None = dataclasses.field(
        default=None, compare=False, repr=False
    )

    def __post_init__(self) -> None:
        """Shorten what a file made to fill screens would put here."""
        for name, most in _LONGEST:
            text = getattr(self, name)
            if isinstance(text, str) and len(text) > most:
                object.__setattr__(self, name, text[: most - 1] + "…")

    def as_dict(self) -> dict[str, Any]:
        """Give the six keys of the `--json` report."""
        return {
            "file": self.file, "row": self.row, "field": self.field, "value": self.value,
            "expected": self.expected, "level": self.level,
        }  # fmt: skip

    def line(self) -> str:
        """Give the problem as one line of text."""
        where = self.file
        if self.row is not None:
            where += f", {'row ' if isinstance(self.row, int) else ''}{self.row}"
        if self.field is not None:
            where += f", {self.field}"
        found = "" if self.value is None else f" found {self.value!r};"
        text = f"{self.level}: {where}:{found} expected {self.expected}"
        # A terminal would obey what it is not meant to print.
        return "".join(c if c.isprintable() else ascii(c)[1:-1] for c in text)


def has_faults(problems: "list[Problem] | tuple[Problem, ...]") -> bool:
    """Tell whether anything was left out."""
    return any(p.level == "fault" for p in problems)
