"""Whether a plant's name stands for a plant: "cedar fence", "Ash Lane", "pepper on it"."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from bolewalk.walk.phrases import read_table, word_set
from bolewalk.walk.sentences import Token

__all__ = ["other_meaning"]

_NEAR = 4
_WOOD_NEAR = word_set("meanings.wood_near")
# Words that, capitalised after another capital, are more often part of a place's name.
_SURNAMES = word_set("meanings.surnames")
_DETERMINERS = word_set("meanings.determiners")
_TITLES = word_set("meanings.titles")
_GIVEN = word_set("meanings.given_names")


@dataclass(frozen=True, slots=True)
class _Rule:
    plant: str
    side: str
    words: frozenset[str]
    meaning: str


@lru_cache(maxsize=1)
def _rules() -> tuple[_Rule, ...]:
    rows = read_table("other_meanings.csv")
    return tuple(
        _Rule(r["plant"], r["side"], frozenset(r["words"].split()), r["meaning"]) for r in rows
    )


def other_meaning(tokens: Sequence[Token], start: int, end: int) -> str:
    """Tell what a plant's name means here if not a plant, "" where it may be a plant.

    Parameters
    ----------
    tokens : sequence of Token
        One sentence.
    start, end : int
        The name's tokens.
    """
    before = tokens[start - 1].word if start and not tokens[start - 1].after else ""
    after = tokens[end].word if end < len(tokens) and not tokens[end - 1].after else ""
    around = {t.word for t in tokens[max(0, start - _NEAR) : end + _NEAR]}
    name = tokens[end - 1].word
    singular = name[:-1] if name.endswith("s") else name
    both_capital = (
        end < len(tokens) and tokens[end].text[:1].isupper() and tokens[start].text[:1].isupper()
    )
    previous = tokens[start - 1] if start else None
    if previous is not None and previous.word in _TITLES and previous.after in ("", "."):
        return "person"
    in_a_name = end - start == 1 and start > 1 and name in _SURNAMES and tokens[start].capital
    if in_a_name and before not in _DETERMINERS | {""} and tokens[start - 1].text[:1].isupper():
        return "name"
    if _at_a_crossing(tokens, start, end, before):
        return "place"
    for rule in _rules():
        if rule.plant not in ("*", name, singular):
            continue
        if rule.plant != "*" and end - start > 1:
            continue
        hit = (
            (rule.side == "after" and after in rule.words)
            or (rule.side == "before" and before in rule.words)
            or (rule.side == "near" and bool(around & rule.words))
        )
        if not hit:
            continue
        if rule.meaning.endswith("where both are capitalised") and not both_capital:
            continue
        if rule.meaning.endswith("where capitalised") and (
            not tokens[start].text[:1].isupper() or before in _DETERMINERS
        ):
            continue
        if rule.meaning.endswith("where no determiner stands before"):
            # "the cedar fence" is wood too, "the cedar, fence side" has a comma.
            return "wood"
        return rule.meaning.split(" where ")[0]
    if _bare_wood(tokens, start, end, before):
        return "wood"
    return "person" if _called(tokens, start, end) else ""


def _at_a_crossing(tokens: Sequence[Token], start: int, end: int, before: str) -> bool:
    """Whether streets are named: "the corner of Elm and Third", "over on Maple", "at 214 Oak"."""
    if before in _DETERMINERS:
        return False
    words = [t.word for t in tokens[max(0, start - 4) : start]]
    if words[-2:] == ["corner", "of"]:
        return True
    joined = before in ("and", "at", "&") and "corner" in words and "of" in words
    capital = tokens[start].capital and end - start == 1
    if not capital:
        return joined
    if len(words) > 1 and before == "on" and words[-2] in ("over", "up", "down", "out", "back"):
        return True
    numbered = before.isdigit() and len(before) > 1 and words[-2:-1] in (["at"], ["on"])
    return joined or numbered


def _called(tokens: Sequence[Token], start: int, end: int) -> bool:
    """Whether somebody is called by the name, as its capital tells: "thanks, Hazel"."""
    previous = tokens[start - 1] if start else None
    first = tokens[start]
    if end - start > 1 or not first.capital or previous is None:
        return False
    determined = not previous.after and (
        previous.word in _DETERMINERS or previous.word.isdigit()
    )  # fmt: skip
    return first.word in _GIVEN and not determined


def _bare_wood(tokens: Sequence[Token], start: int, end: int, before: str) -> bool:
    """Whether the name is a material: no article before it, and wood spoken of around it."""
    if before in _DETERMINERS - {"some", "dead", "old"}:
        return False
    words = [t.word for t in tokens]
    if not _WOOD_NEAR & set(words[max(0, start - 12) : end + 3]):
        return False
    return not (start and tokens[start - 1].word in _DETERMINERS - {"some", "dead", "old"})
