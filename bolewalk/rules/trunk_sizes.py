"""A trunk's size, by every reading of its stems, against what a rule asks of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from bolewalk.model.trees import Tree
from bolewalk.rules.settings import packaged
from bolewalk.rules.table import READINGS, ReadingName, SizeTest, StemRule
from bolewalk.trees.stems import combined_diameters

__all__ = [
    "SIZE_SLACK", "ReadingAgainst", "SizeStatus", "deciding_reading", "is_heritage",
    "readings_against", "size_status",
]  # fmt: skip

SizeStatus = Literal["protected", "not_protected", "depends", "cannot_tell"]

SIZE_SLACK = 1e-9
"""Share by which a size may miss a threshold through the conversion of units alone."""


@dataclass(frozen=True, slots=True)
class ReadingAgainst:
    """One reading of the stems against the threshold [cm]; `over_cm` < 0 lies below it.
    `decides` marks the reading the rule names."""

    name: ReadingName
    size_cm: float
    over_cm: float
    meets: bool
    decides: bool


def readings_against(
    tree: Tree, size: SizeTest | None
) -> tuple[tuple[ReadingAgainst, ...], float | None]:
    """Give every reading of a tree's stems against a rule's size, and the threshold [cm].

    No readings where no stem was measured, no threshold where the rule names no size.
    """
    if size is None or not tree.stems_cm:
        return (), None if size is None else size.from_cm
    threshold = size.from_cm if len(tree.stems_cm) == 1 else size.multi_from_cm
    all_readings = combined_diameters([s.value for s in tree.stems_cm])
    in_class = _in_class(tree, size)
    return (
        tuple(
            ReadingAgainst(
                name,
                value := getattr(all_readings, name),
                value - threshold,
                in_class and value >= threshold * (1 - SIZE_SLACK),
                size.stems == name,
            )
            for name in READINGS
        ),
        threshold,
    )


def _in_class(tree: Tree, size: SizeTest) -> bool:
    """Whether the thickest stem lies below the upper end of the rule's class."""
    largest = max(s.value for s in tree.stems_cm)
    return size.below_cm is None or largest < size.below_cm * (1 - SIZE_SLACK)


def deciding_reading(size: SizeTest | None, readings: Sequence[ReadingAgainst]) -> StemRule | None:
    """Give the reading a rule names; None where no size decides or it names none."""
    if size is None or not readings or size.stems == "unknown":
        return None
    return size.stems


def size_status(
    tree: Tree, size: SizeTest | None, readings: tuple[ReadingAgainst, ...]
) -> tuple[SizeStatus, str, dict[str, str | float]]:
    """Give status, sentence and its values, by the size of the trunk alone."""
    if size is None:
        return "protected", "any_size", {}
    if not readings:
        return "cannot_tell", "no_size", {"threshold_cm": size.from_cm}
    largest = max(s.value for s in tree.stems_cm)
    threshold = readings[0].size_cm - readings[0].over_cm
    met = [r for r in readings if r.meets]
    values: dict[str, str | float] = {"threshold_cm": threshold}
    several = len(tree.stems_cm) > 1
    if not _in_class(tree, size):
        return "not_protected", "size_above_class", {"below_cm": size.below_cm or 0.0}
    if several and largest >= size.from_cm * (1 - SIZE_SLACK):
        # A stem that is enough by itself is not made less by another beside it.
        values = {"size_cm": largest, "over_cm": largest - size.from_cm}
        return "protected", "largest_alone", {**values, "threshold_cm": size.from_cm}
    if size.stems == "unknown" and several:
        if 0 < len(met) < len(readings):
            return "depends", "readings_disagree", {**values, "met_count": len(met)}
        deciding = max(readings, key=lambda r: r.size_cm) if not met else min(
            readings, key=lambda r: r.size_cm
        )  # fmt: skip
        code = "all_readings_over" if met else "all_readings_under"
    else:
        deciding = next((r for r in readings if r.decides), readings[0])
        met = [deciding] if deciding.meets else []
        code = "size_over" if met else "size_under"
    values |= {"reading": deciding.name, "size_cm": deciding.size_cm}
    values["over_cm"] = abs(deciding.over_cm)
    if not several:
        code = code.replace("all_readings", "size")
    if not met and _high(tree, deciding.size_cm) >= threshold * (1 - SIZE_SLACK):
        return "cannot_tell", "near_by_eye", values
    return ("protected" if met else "not_protected"), code + ("" if several else "_single"), values


def _high(tree: Tree, size_cm: float) -> float:
    """Give how thick the trunk may be, for the range told or the error of an eye estimate."""
    share = packaged("settings.toml")["by_eye"]["share"]
    times = 1.0
    for s in tree.stems_cm:
        if s.high is not None:
            times = max(times, s.high / s.value)
        elif s.basis == "estimated":
            times = max(times, 1 + share)
    return size_cm * times


def is_heritage(size: SizeTest | None, readings: Sequence[ReadingAgainst]) -> bool | None:
    """Tell whether a rule's higher class is reached; None where it has none."""
    if size is None or size.heritage_cm is None or not readings:
        return None
    over = [r for r in readings if r.size_cm >= size.heritage_cm * (1 - SIZE_SLACK)]
    named = [r for r in readings if r.decides]
    if named:
        return named[0] in over
    return bool(over)
