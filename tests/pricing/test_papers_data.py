"""What papers take from a price: bid-compare sheet and close-out."""

from dataclasses import fields, replace

from bolewalk.pricing.bid_compare import BID_ANSWERS, bid_sheet
from bolewalk.pricing.closeout import closeout_form, past_jobs, past_jobs_csv
from bolewalk.pricing.learning import learn, read_jobs
from bolewalk.pricing.price import price_survey
from tests.pricing.jobs import demo_price, oak, rich_price, survey_of
from tests.pricing.money_files import rates


def test_the_bid_sheet_shows_no_figure_of_ours():
    sheet = bid_sheet(rich_price())
    assert len(sheet.rows) == len(rich_price().lines)
    assert "price" in BID_ANSWERS
    for row in sheet.rows:
        assert not any("minor" in f.name for f in fields(row))
        assert "hours" not in repr(row)
        assert row.task != "remove_climb"


def test_the_bid_sheet_states_scope_yes_or_no():
    price = price_survey(
        survey_of(oak("T1", decision="remove", trunk_cm=12.5 * 2.54)), rates(scope__wood="leave")
    )
    removal, grind = bid_sheet(price).rows
    assert [(w, yes) for w, yes, _ in removal.scope] == [
        ("stump", True), ("wood", False), ("chips", True), ("clean_up", True),
    ]  # fmt: skip
    assert removal.class_in == (12.0, 18.0)
    assert grind.task == "grind"


def test_closeout_goes_back_into_learning():
    form = closeout_form(demo_price(), job="J7")
    assert len(form.lines) == len(demo_price().of("base"))
    assert form.estimated_loads == demo_price().loads.count
    assert past_jobs(form) == ()  # nothing written down yet
    done = replace(
        form,
        actual_loads=2,
        lines=tuple(
            replace(x, actual_hours=x.estimated_hours * 2, done=x.task != "grind")
            for x in form.lines
        ),
    )
    jobs = past_jobs(done)
    assert {j.task for j in jobs} == {x.task for x in form.lines} - {"grind"}
    header, *rows = past_jobs_csv([done])
    text = "\n".join(",".join(r) for r in (header, *rows))
    read, problems = read_jobs(text, file="jobs.csv")
    assert problems == ()
    assert [(j.task, j.job) for j in read] == [(j.task, "J7") for j in jobs]
    assert learn(read).jobs == len(jobs)
