"""What the demonstration plants is offered with a price, and changes no other."""

from dataclasses import replace

import pytest

from bolewalk.demo import survey_folder
from bolewalk.intake.folder import read_folder
from bolewalk.survey import assess


@pytest.fixture(scope="module")
def both():
    job = read_folder(survey_folder())
    return assess(job).price, assess(replace(job, planting=None)).price


def test_alike_plants_are_one_option_at_the_price_of_their_size(both):
    price, _ = both
    lines = {x.item.label: x for x in price.of("option") if x.item.task == "plant"}
    # rates.toml of the demonstration: 105.00 for 15 gal, 32.00 for 5 gal; counts of planting.toml.
    goods = {label: x.money.goods_minor for label, x in lines.items()}
    assert goods["1 x western redbud, 15 gal"] == 10500
    assert goods["1 x bigleaf maple, 5 gal"] == 3200
    assert goods["4 x flowering currant, 5 gal"] == 4 * 3200
    assert sum(int(label.split(" x ")[0]) for label in lines) == 9


def test_the_total_stays_what_it_was(both):
    price, without = both
    assert price.total_minor == without.total_minor
    assert price.subtotal_minor == without.subtotal_minor
    # Bands are drawn over all lines together and may shift a little; prices may not.
    others = {x.item.id: x.money for x in price.lines if x.item.task != "plant"}
    assert others == {x.item.id: x.money for x in without.lines}
    offered = sum(x.price_minor for x in price.lines if x.item.task == "plant")
    assert price.options_minor == without.options_minor + offered
    assert offered > 0
