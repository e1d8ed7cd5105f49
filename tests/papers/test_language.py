"""Statements become whole sentences; expected texts are written by hand."""

import tomllib
from importlib import resources
from typing import Any

import pytest

from bolewalk.model.statements import say
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Catalogue, LanguageError, Speaker, load_catalogue

FEET = Speaker(
    Catalogue(
        "xx",
        {
            "cut": {"at": "Cut at {distance_m}, trunk {size_cm}, {share_pct}, {toward_deg}."},
            "n": {"trees": {"one": "One tree.", "other": "{trees_count} trees."}},
            "who": {"says": "{name} says {verdict}."},
            "words": {"verdict": {"keep_if": "can be kept if"}},
        },
    ),
    Amounts("imperial"),
)
METRES = Speaker(FEET.catalogue, Amounts("metric"))


def test_units_follow_the_reader() -> None:
    # By hand: 3.81 m = 12.5 ft, 60.96 cm = 24 in; 68 degrees lies nearest to ENE (67.5).
    s = say("cut.at", distance_m=3.81, size_cm=60.96, share_pct=19.55, toward_deg=68.0)
    assert FEET.text(s) == "Cut at 12.5 ft, trunk 24.0 in, 19.6 %, ENE, 68°."
    assert METRES.text(s) == "Cut at 3.81 m, trunk 61.0 cm, 19.6 %, ENE, 68°."


@pytest.mark.parametrize(
    ("n", "text"), [(0, "0 trees."), (1, "One tree."), (2, "2 trees."), (1200, "1,200 trees.")]
)
def test_counts_choose_the_sentence(n: int, text: str) -> None:
    assert FEET.text(say("n.trees", trees_count=n)) == text


def test_text_is_put_in_as_it_is_and_never_read_again() -> None:
    said = FEET.text(say("who.says", name="{verdict} {0} %s #x", verdict="keep_if"))
    assert said == "{verdict} {0} %s #x says can be kept if."


@pytest.mark.parametrize(
    ("statement", "hint"),
    [
        (say("cut.missing"), r"'cut.missing' cannot be said in 'xx'.*'missing'"),
        (say("cut"), "leads to a group"),
        (say("cut.at", distance_m=1.0), r"no value for \{size_cm\}"),
        (say("n.trees"), "_count must choose"),
    ],
)
def test_what_cannot_be_said_is_an_error(statement: Any, hint: str) -> None:
    with pytest.raises(LanguageError, match=hint):
        FEET.text(statement)


@pytest.mark.parametrize(
    ("name", "value", "imperial", "metric"),
    [
        # Exact by definition: 1 ft = 0.3048 m, 1 lb = 0.45359237 kg, 1 US gal = 231 cubic inches.
        ("a_m2", 0.3048**2 * 1271, "1,271 sq ft", "118.1 m²"),
        ("v_m3", 0.9144**3 * 55, "55.0 cu yd", "42.1 m³"),
        ("w_kg", 453.59237, "1,000 lb", "454 kg"),
        ("w_l", 3.785411784 * 450, "450 gal", "1,703 l"),
        ("t_s", 249.4, "4:09", "4:09"),
        ("x_pct", -0.01, "0.0 %", "0.0 %"),
        ("b_deg", 359.9, "N, 0°", "N, 0°"),
        ("n_years", 5.0, "5", "5"),
        ("share", 0.5, "0.5", "0.5"),
    ],
)
def test_amounts_by_name(name: str, value: float, imperial: str, metric: str) -> None:
    assert Amounts("imperial").by_name(name, value) == imperial
    assert Amounts("metric").by_name(name, value) == metric


@pytest.mark.parametrize(
    ("currency", "digits", "minor", "text"),
    [
        ("USD", 2, 123450, "$1,234.50"),
        ("USD", 2, -5, "-$0.05"),
        ("EUR", 2, 100, "EUR 1.00"),
        ("JPY", 0, 1500, "JPY 1,500"),
    ],
)
def test_money(currency: str, digits: int, minor: int, text: str) -> None:
    assert Amounts("metric", currency, digits).money(minor) == text


def test_no_sentence_promises() -> None:
    """The words no paper may print: safe, guaranteed, approved."""

    def walk(found: Any) -> list[str]:
        if isinstance(found, str):
            return [found]
        return [t for v in found.values() for t in walk(v)]

    texts = walk(load_catalogue().tables)
    assert len(texts) > 100
    for text in texts:
        for word in ("safe", "guarantee", "approved", "hazard-free", "certified by"):
            assert word not in text.lower(), text


def test_no_two_files_of_the_catalogue_say_the_same() -> None:
    said: dict[str, str] = {}

    def walk(table: dict[str, object], at: str, file: str) -> None:
        for key, value in table.items():
            if isinstance(value, dict):
                walk(value, f"{at}{key}.", file)
            else:
                assert said.setdefault(f"{at}{key}", file) == file, f"{at}{key}"

    folder = resources.files("bolewalk.papers.language")
    for source in sorted(folder.iterdir(), key=lambda f: f.name):
        if source.name.startswith("en") and source.name.endswith(".toml"):
            walk(tomllib.loads(source.read_text(encoding="utf-8")), "", source.name)
    tables = load_catalogue("en").tables
    for name in said:
        found: Any = tables
        for key in name.split("."):
            found = found[key]
        assert isinstance(found, str)


def test_unknown_language() -> None:
    with pytest.raises(LanguageError, match="no catalogue of that language"):
        load_catalogue("zz")
