"""What the core has to say, before it is said in a language.

A judgement is kept as a code and its values, so that a paper can say it in the reader's
language and units as one whole sentence, and a later survey can compare it.
"""

from dataclasses import dataclass

__all__ = ["Statement", "Value", "say"]

Value = str | float | int


@dataclass(frozen=True, slots=True)
class Statement:
    """One thing to say.

    Attributes
    ----------
    code : str
        Key of the sentence in the language catalogue, dotted: "verdict.severed_over_limit".
    values : tuple of (name, value)
        What the sentence fills in, sorted by name. Numbers carry their unit in the name's
        ending: `_m` metres, `_cm` trunk centimetres, `_pct` percent, `_deg` bearing, `_years`,
        `_count`, `_minor` money in minor units; anything else is text printed as it is.
    """

    code: str
    values: tuple[tuple[str, Value], ...] = ()


def say(code: str, **values: Value) -> Statement:
    """Make a statement; values in any order."""
    return Statement(code, tuple(sorted(values.items())))
