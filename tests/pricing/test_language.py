"""Every statement this room can make has a sentence, and its fields are given."""

import re
from pathlib import Path

import pytest

import bolewalk.pricing
from bolewalk.model.words import DECISIONS
from bolewalk.papers.amounts import Amounts
from bolewalk.papers.language import Speaker, load_catalogue
from bolewalk.pricing.bid_compare import bid_sheet
from bolewalk.pricing.futures import compare_paths
from bolewalk.pricing.phases import plan_phases
from bolewalk.pricing.tasks import hours_table
from bolewalk.pricing.word_check import check_words, scope_words
from tests.pricing.jobs import demo_price, rich_price
from tests.pricing.money_files import FAN_PALM, PELL, futures_of, phases_of

TABLES = ("price", "scope", "phase", "future", "bid")
SPEAKER = Speaker(load_catalogue("en"), Amounts("imperial"))


def codes_in_source() -> set[str]:
    """Codes written out whole in the modules."""
    found = set()
    for path in Path(bolewalk.pricing.__file__).parent.glob("*.py"):
        found |= set(re.findall(r'say\(\s*"([a-z_.]+)"', path.read_text()))
    return found


def codes_by_pattern() -> set[str]:
    """Codes made from a word of a closed set, spelled out here."""
    tasks = set(hours_table()["task"])
    scoped = {t for t in tasks if not t.startswith("remove")} | {"remove", "monitor"}
    methods = ("fell", "climb", "lift", "crane")
    drivers = {
        t[stage]["driver"] for t in hours_table()["task"].values() for stage in ("cut", "handle")
        if stage in t
    } - {"count"}  # fmt: skip
    return (
        {f"scope.{t}" for t in scoped}
        | {f"scope.{w}" for w in ("stump_grind", "stump_leave", "wood_haul", "wood_leave",
                                  "chips_haul", "chips_leave", "clean_up_rake",
                                  "clean_up_drag_only")}
        | {f"scope.blocked_{o}" for o in ("shared", "neighbour", "public")}
        | {f"scope.ask_{v['ask']}" for v in scope_words()["vague"]}
        | {f"price.not_priced_{d}" for d in drivers}
        | {f"price.not_{m}_no_gear" for m in methods}
        | {f"price.dearer_{m}" for m in methods}
        | {f"price.exclude_{e}" for e in scope_words()["exclusions"]["always"]}
        | {f"price.mover_{m}" for m in ("carry", "slope", "gate", "targets", "wood_left",
                                        "chips_left")}
        | {f"bid.objective_{t}" for t in scoped}
        | {"price.loads_by_volume", "price.loads_by_weight"}
    )  # fmt: skip


def test_every_code_has_a_sentence():
    wanted = codes_in_source() | codes_by_pattern()
    assert len(wanted) > 120
    one_each = [("x_count", 1)]
    missing = []
    for code in sorted(wanted):
        try:
            SPEAKER.catalogue.sentence(code, tuple(one_each))
        except LookupError as e:
            missing.append(str(e))
    assert not missing


def test_every_task_and_decision_has_a_word():
    for task in hours_table()["task"]:
        assert SPEAKER.catalogue.word("task", task) != task or task in {
            "grind", "cable", "plant", "water", "report",
        }  # fmt: skip
    assert {SPEAKER.catalogue.word("decision", d) for d in DECISIONS} == set(DECISIONS)


def statements_of(price):
    for line in price.lines:
        yield from (*line.item.says, *line.item.assumed, *line.unpriced, *line.method, *line.notes)
        if line.item.blocked_by is not None:
            yield line.item.blocked_by
    for job in price.job_lines:
        yield job.says
    yield from (*price.exclusions, *price.notes, *price.defaults)
    yield from (m.says for m in price.movers)


@pytest.mark.parametrize("make", [demo_price, rich_price])
def test_every_statement_of_a_price_can_be_said(make):
    price = make()
    said = [SPEAKER.text(s) for s in statements_of(price)]
    assert len(said) > 30
    for text in said:
        assert "{" not in text
        assert not re.search(r"\b(safe|guaranteed|approved)\b", text, re.IGNORECASE)


def test_bids_phases_and_futures_can_be_said():
    sheet = bid_sheet(rich_price())
    for row in sheet.rows:
        SPEAKER.texts((row.objective, row.parts, *row.limits, *row.method))
        SPEAKER.texts(tuple(s for _, _, s in row.scope))
    for schedule in plan_phases(phases_of(PELL)).best:
        SPEAKER.texts((*schedule.carried, *schedule.differs))
    future = compare_paths(futures_of(FAN_PALM)[0])
    assert any("climb" in t for t in SPEAKER.texts(future.says))
    SPEAKER.texts(future.not_in_money)
    SPEAKER.texts(tuple(w.ask for w in check_words("trim and clean up")))


def test_no_sentence_promises():
    for table in TABLES:
        text = str(SPEAKER.catalogue.tables[table])
        assert not re.search(r"\b(safe|guarantee\w*|approved)\b", text, re.IGNORECASE)
