"""Every key of the three files is documented, and nothing that is not a key."""

import re
import tomllib
from pathlib import Path

import pytest

from bolewalk.pricing.future_cases import (
    CASE_KEYS,
    COST_KEYS,
    FUTURE_KEYS,
    PATH_KEYS,
    STEP_KEYS,
    read_futures,
)
from bolewalk.pricing.learning import JOB_COLUMNS
from bolewalk.pricing.phase_items import ITEM_KEYS, PHASE_KEYS
from bolewalk.pricing.rates import RATE_KEYS
from bolewalk.pricing.tasks import hours_table

DOCS = Path(__file__).parents[2] / "docs"


def documented(page):
    return re.findall(r"^\| `([a-z_.*]+)` \|", (DOCS / page).read_text(), re.MULTILINE)


def general(path):
    """A key of one machine or material stands in the table under the name for all of them."""
    return re.sub(r"^(gear|disposal)\.[a-z_]+\.", r"\1.*.", path)


@pytest.mark.parametrize(
    ("page", "keys"),
    [
        ("rates.md", {general(k.path) for k in RATE_KEYS}),
        ("phases.md", {k.path for k in PHASE_KEYS} | {f"item.{k.path}" for k in ITEM_KEYS}),
        (
            "futures.md",
            {k.path for k in FUTURE_KEYS}
            | {f"case.{k.path}" for k in CASE_KEYS}
            | {f"case.path.{k.path}" for k in PATH_KEYS}
            | {f"case.path.cost.{k.path}" for k in COST_KEYS}
            | {f"case.path.cost.steps.{k.path}" for k in STEP_KEYS},
        ),
    ],
)
def test_every_key_is_documented_once(page, keys):
    listed = documented(page)
    assert len(listed) == len(set(listed))
    assert set(listed) == keys


def test_the_example_rates_hold_every_kind_of_key():
    text = (DOCS.parent / "bolewalk/pricing/data/example_rates.toml").read_text()
    for key in RATE_KEYS:
        last = key.path.split(".")[-1]
        if key.path.startswith("hours."):
            continue
        assert re.search(rf"^{last} =", text, re.MULTILINE), key.path


def test_examples_in_the_pages_are_toml():
    for page in ("phases.md", "futures.md"):
        for block in re.findall(r"```toml\n(.*?)```", (DOCS / page).read_text(), re.DOTALL):
            tomllib.loads(block)
    (block,) = re.findall(r"```toml\n(.*?)```", (DOCS / "futures.md").read_text(), re.DOTALL)
    cases, problems = read_futures(tomllib.loads(block), file="futures.toml")
    assert problems == ()
    assert cases[0].years == 20


def test_the_columns_of_past_jobs_are_documented():
    text = " ".join((DOCS / "price.md").read_text().split())
    (listed,) = re.findall(r"A CSV with the columns (.*?)\. ", text)
    assert re.sub(r" \(.*?\)", "", listed).split(", ") == list(JOB_COLUMNS)


def test_the_tasks_are_documented():
    text = (DOCS / "price.md").read_text()
    (listed,) = re.findall(r"^Tasks: (.*?)\.\n", text, re.MULTILINE | re.DOTALL)
    assert listed.replace("\n", " ").split(", ") == list(hours_table()["task"])
