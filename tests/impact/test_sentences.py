"""Every code the impact rooms can say has a whole English sentence that its values fill."""

import ast
import re
from pathlib import Path
from typing import get_args

import pytest

import bolewalk.impact
from bolewalk.impact.fact import Kind
from bolewalk.impact.standing import OpenFacts
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.verdicts import verdict
from bolewalk.model.words import TOLERANCES, VERDICTS
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue

from .hands import loss, standing

MODULES = sorted(Path(bolewalk.impact.__file__).parent.glob("*.py"))
TABLES = {
    "verdict", "tolerance", "condition", "flip", "question", "answer", "not_needed", "missing",
    "default", "stake", "pile", "nearest", "zone",
}  # fmt: skip
# What an f-string's variable can be, by its name in the source.
SETS: dict[str, tuple[str, ...]] = {
    "kind": get_args(Kind),
    "level": TOLERANCES,
    "tree.tolerance": TOLERANCES,
    "later": VERDICTS,
    "how": ("hand", "bored"),
    "way": ("bored", "on_piles", "by_hand", "moved", "left_out", "together"),
    "name": ("equal_area", "sum", "largest_plus_half_of_rest"),
    "what": ("end", "bend", "corner"),
    "code": ("from_tree", "from_work"),
}


def sentence_of(code: str) -> object:
    found: object = load_catalogue("en").tables
    for step in code.split("."):
        if not isinstance(found, dict) or step not in found:
            return None
        found = found[step]
    return found


def spoken(path: Path) -> list[tuple[str, set[str] | None]]:
    """Codes a module can say, with the names of the values given where they are written out."""
    found: list[tuple[str, set[str] | None]] = []
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and isinstance(node.value, str):
            first = node.value.split(".")[0]
            code = re.fullmatch(r"[a-z_]+\.[a-z_0-9]*[a-z0-9]", node.value)
            if code and first in TABLES and node.value not in thresholds().rows:
                found.append((node.value, None))
        is_say = isinstance(node, ast.Call) and getattr(node.func, "id", "") == "say"
        if not is_say:
            continue
        names: set[str] | None = {k.arg for k in node.keywords if k.arg}
        if any(k.arg is None for k in node.keywords):
            names = None
        what = node.args[0]
        if isinstance(what, ast.Constant):
            found.append((what.value, names))
        elif isinstance(what, ast.JoinedStr):
            codes = [""]
            for part in what.values:
                if isinstance(part, ast.Constant):
                    codes = [c + part.value for c in codes]
                    continue
                assert isinstance(part, ast.FormattedValue)
                options = SETS[ast.unparse(part.value)]
                if codes == ["answer."]:  # heights alone build an answer's code from the kind
                    options = ("roof_low", "height", "wire_low")
                if path.stem == "changes" and ast.unparse(part.value) == "level":
                    options = ("keep", "keep_if")
                codes = [c + o for c in codes for o in options]
            found += [(c, names) for c in codes]
    return found


SPOKEN = [(p.stem, code, names) for p in MODULES for code, names in spoken(p)]


def test_the_scan_finds_what_is_said() -> None:
    codes = {code for _, code, _ in SPOKEN}
    assert len(codes) > 120
    for known in ("verdict.inside_stability_floor", "answer.offset_nearer", "question.made",
                  "tolerance.poor_as_recorded", "stake.corner", "pile.shift"):  # fmt: skip
        assert known in codes


@pytest.mark.parametrize(("module", "code", "names"), SPOKEN)
def test_every_code_has_a_sentence_its_values_fill(module, code, names) -> None:
    sentence = sentence_of(code)
    assert sentence is not None, f"{module}: {code} has no sentence"
    texts = [sentence] if isinstance(sentence, str) else list(sentence.values())  # type: ignore[attr-defined]
    for text in texts:
        if names is not None:
            assert set(re.findall(r"\{(\w+)\}", text)) <= names, f"{module}: {code}"
        assert not re.search(r"\b(safe|safely|guarantee\w*|approved?)\b", text, re.IGNORECASE)


def test_a_verdict_reads_as_sentences_in_the_readers_units() -> None:
    s = standing(loss(severed_pct=40.0, nearest_cut_m=1.524, best_half_severed_pct=30.0))
    v = verdict(
        s, thresholds(), open_facts=OpenFacts(frozenset({"keep", "redesign"}), frozenset({"keep"}))
    )
    speaker = Speaker(load_catalogue("en"), Amounts("imperial"))
    text = " ".join(speaker.texts(v.because + v.flips_if + v.conditions))
    assert "5.0 ft from the trunk" in text
    assert "{" not in text
