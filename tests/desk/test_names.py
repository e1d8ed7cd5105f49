"""The names in the papers, filled in at the desk."""

import html

import pytest
from starlette.testclient import TestClient

from bolewalk.intake.toml_file import parse_toml
from bolewalk.store.edits import set_head
from bolewalk.store.store import Store

from .conftest import WHEN

NAMES = "/surveys/1/names"
LEAST = {"survey.name": "Teasel Court", "survey.date": "2026-11-11"}


def head(store: Store) -> dict:
    item = store.load(1).get("head", "survey.toml")
    assert item is not None
    assert item.body is not None
    return parse_toml(item.body["text"])


def test_what_is_filled_in_stands_in_the_survey_and_in_the_title_block(
    store: Store, desk: TestClient
) -> None:
    assert 'value="Tobin Hale"' in desk.get(NAMES).text
    told = LEAST | {
        "people.assessor.name": "Ros Calder", "people.assessor.expires": "2028-01-31",
        "people.assessor.credential": "", "people.assessor.number": "",
        "firm.name": "Calder & Daughter",
        "people.client.name": "", "people.client.role": "", "people.client.contact": "",
    }  # fmt: skip
    done = desk.post(NAMES, data=told)
    assert done.status_code == 303
    people = head(store)["people"]
    assert "client" not in people
    assert people["assessor"]["name"] == "Ros Calder"
    assert str(people["assessor"]["expires"]) == "2028-01-31"
    assert "credential" not in people["assessor"]
    assert head(store)["firm"] == {"name": "Calder & Daughter"}
    block = desk.get("/surveys/1/trees").text.partition('class="titleblock"')[2]
    assert "Ros Calder" in block


def test_a_name_alone_becomes_a_person(store: Store, desk: TestClient) -> None:
    edit = set_head(store.load(1), (("people", "client"), "Mirela Ostrander"))
    store.change(1, [edit], who="Tobin", when=WHEN)
    assert 'value="Mirela Ostrander"' in desk.get(NAMES).text
    told = LEAST | {"people.client.name": "Mirela Ostrander", "people.client.contact": "555-0161"}
    assert desk.post(NAMES, data=told).status_code == 303
    assert head(store)["people"]["client"] == {"name": "Mirela Ostrander", "contact": "555-0161"}


@pytest.mark.parametrize(
    ("told", "says"),
    [
        ({"survey.name": ""}, "Property, name: it cannot be left empty."),
        ({"survey.date": "May 3"}, "Property, day of the walk: a day such as 2027-12-31."),
        ({"people.client.name": ""}, "Client: a name is needed beside the rest."),
    ],
)
def test_what_cannot_be_kept_is_said_and_nothing_is(
    store: Store, desk: TestClient, told: dict, says: str
) -> None:
    before = store.load(1).revision
    done = desk.post(NAMES, data=LEAST | {"survey.place": "7 <Nye> Lane"} | told)
    assert done.status_code == 422
    assert says in html.unescape(done.text)
    assert 'value="7 &lt;Nye&gt; Lane"' in done.text
    assert store.load(1).revision == before
