"""Signing in as a browser does it: forms, cookies, tokens, limits, out again."""

import re
from datetime import timedelta

import pytest

from bolewalk.desk.accounts.tokens import is_token, new_token, with_fields
from bolewalk.store.accounts import find_account
from bolewalk.store.limits import limits

from .conftest import NAME, WORDS, Office, form_token, sign_in


def test_signed_in_one_goes_where_one_wanted_to(office: Office) -> None:
    browser = office.visitor()
    asked = browser.get("/surveys/1/trees?plan=a")
    assert asked.headers["location"] == "/sign-in?back=/surveys/1/trees%3Fplan%3Da"
    page = browser.get(asked.headers["location"]).text
    assert '<input type="hidden" name="back" value="/surveys/1/trees?plan=a">' in page
    answer = sign_in(browser, "rook", back="/surveys/1/trees")
    assert answer.headers["location"] == "/surveys/1/trees"
    assert NAME in browser.get("/surveys/1/trees").text
    assert browser.get("/sign-in?back=/surveys/1/trees").headers["location"] == "/surveys/1/trees"


@pytest.mark.parametrize(
    "back", ["https://elsewhere.example", "//elsewhere.example", "/\\e.example"]
)
def test_nobody_is_carried_off_by_signing_in(office: Office, back: str) -> None:
    assert sign_in(office.visitor(), "Rook", back=back).headers["location"] == "/"


def test_the_cookie_is_the_servers_alone(office: Office) -> None:
    browser = office.visitor()
    page = browser.get("/sign-in")
    # RFC 6265 section 5.2 and its revision's SameSite and __Host- prefix.
    assert re.search(r"visit=\S+; HttpOnly; Path=/; SameSite=lax", page.headers["set-cookie"])
    cookie = sign_in(browser, "Rook").headers["set-cookie"]
    assert re.search(r"session=[\w-]{43}; HttpOnly; Max-Age=604800; Path=/; SameSite=lax", cookie)
    secure = office.visitor()
    secure.base_url = "https://localhost"
    cookie = sign_in(secure, "Rook").headers["set-cookie"]
    assert cookie.startswith("__Host-session=")
    assert cookie.endswith("SameSite=lax; Secure")
    policy = secure.get("/").headers["strict-transport-security"]
    assert policy == "max-age=31536000"
    assert "strict-transport-security" not in browser.get("/").headers


def test_wrong_words_are_told_without_telling_which(office: Office) -> None:
    for name, password in (("Rook", "wrong words here"), ("Nobody Here", WORDS)):
        answer = sign_in(office.visitor(), name, password)
        assert answer.status_code == 401
        assert "Name or password is not right." in answer.text
        assert password not in answer.text
        assert "session=" not in answer.headers.get("set-cookie", "")


def test_too_many_tries_have_to_wait(office: Office) -> None:
    for _ in range(limits().tries_of_account):
        sign_in(office.visitor(), "Rook", "wrong words here")
    answer = sign_in(office.visitor(address="198.51.100.9"), "Rook")
    assert answer.status_code == 429
    assert answer.headers["retry-after"] == "900"
    assert "Wait 15 minutes." in answer.text
    office.clock.now += limits().window + timedelta(seconds=1)
    assert sign_in(office.visitor(), "Rook").status_code == 303


def test_a_session_from_before_is_not_taken_over(office: Office) -> None:
    browser = office.enter("Rook")
    before = browser.cookies["session"]
    assert sign_in_again(browser, "Fenna") != before
    other = office.visitor()
    other.cookies.set("session", before)
    assert other.get("/").status_code == 303


def sign_in_again(browser, name: str) -> str:  # type: ignore[no-untyped-def]
    told = {"name": name, "password": WORDS, "back": "/"}
    assert browser.post("/sign-in", data=told).status_code == 303
    return str(browser.cookies["session"])


def test_out_here_and_out_everywhere(office: Office) -> None:
    one, two = office.enter("Rook"), office.enter("Rook")
    answer = one.post("/account/sign-out")
    assert answer.headers["location"] == "/sign-in"
    assert 'session=""' in answer.headers["set-cookie"]
    assert one.get("/").status_code == 303
    assert two.get("/").status_code == 200
    three = office.enter("Rook")
    assert three.post("/account/sign-out-everywhere").status_code == 303
    assert two.get("/").status_code == 303
    assert two.get("/api/surveys").status_code == 401


def test_a_new_password_signs_the_others_out(office: Office) -> None:
    one, two = office.enter("Rook"), office.enter("Rook")
    new = "nine rusty gate hinges"
    wrong = {"old": "wrong words here", "new": new, "again": new}
    assert "old password is not right" in one.post("/account/password", data=wrong).text
    uneven = {"old": WORDS, "new": new, "again": "other"}
    assert "typed in two ways" in one.post("/account/password", data=uneven).text
    weak = {"old": WORDS, "new": "short", "again": "short"}
    assert "at least 12" in one.post("/account/password", data=weak).text
    right = {"old": WORDS, "new": new, "again": new}
    assert one.post("/account/password", data=right).status_code == 303
    assert one.get("/account").status_code == 200
    assert two.get("/").status_code == 303
    assert sign_in(office.visitor(), "Rook").status_code == 401
    assert sign_in(office.visitor(), "Rook", new).status_code == 303


def test_owners_keep_the_accounts_of_their_firm(office: Office) -> None:
    owner = office.enter("Mirela")
    told = {"name": "Perrin", "password": WORDS, "role": "field", "firm": "Another Firm"}
    assert owner.post("/accounts", data=told).status_code == 303
    made = find_account(office.store, "Perrin")
    assert (made.firm, made.role, made.created_by) == ("Hale and Ostrander", "field", "Mirela")
    assert "already" in owner.post("/accounts", data=told).text
    person = office.enter("Perrin")
    at = f"/accounts/{made.id}"
    assert owner.post(f"{at}/role", data={"role": "read-only"}).status_code == 303
    assert person.post("/surveys/1/trees/rows", data={"tree": "T9"}).status_code == 403
    assert owner.post(f"{at}/disable").status_code == 303
    assert person.get("/").status_code == 303
    assert owner.post(f"{at}/enable").status_code == 303
    assert owner.post(f"{at}/password", data={"password": "nine rusty gate hinges"}).is_redirect
    assert sign_in(office.visitor(), "Perrin", "nine rusty gate hinges").status_code == 303
    own = find_account(office.store, "Mirela").id
    assert "last owner" in owner.post(f"/accounts/{own}/disable").text


def test_what_one_does_stands_under_ones_name(office: Office) -> None:
    office.enter("Fenna").post("/surveys/1/trees/rows", data={"tree": "T7"})
    office.enter("Tobin").post("/surveys/1/trees/rows", data={"tree": "T8"})
    did = [(c.who, (c.after or {})["cells"]["tree"]) for c in office.store.history(1, "tree")[1:]]
    assert did == [("Fenna", "T7"), ("Tobin", "T8")]
    # Undo takes back one's own change, not the newest.
    office.enter("Fenna").post("/api/surveys/1/undo", json={})
    kept = [i.body["cells"]["tree"] for i in office.store.load(1).of("tree") if i.body]
    assert kept == ["T1", "T8"]


def test_a_new_survey_belongs_to_the_firm_of_whoever_begins_it(office: Office) -> None:
    told = {"name": "Mill", "visited": "2026-05-12", "units": "metric", "purpose": "estimate"}
    made = office.enter("Odile").post("/surveys", data=told).headers["location"]
    assert office.enter("Odile").get(made).status_code == 200
    assert office.enter("Mirela").get(made).status_code == 404


def test_forms_of_pages_carry_the_token_without_scripts(office: Office) -> None:
    browser = office.enter("Fenna")
    del browser.headers["x-form-token"]
    for address in ("/", "/account", "/surveys/1/trees", "/surveys/1/papers"):
        page = browser.get(address).text
        forms = re.findall(r'<form\b[^>]*method="post"[^>]*>(.{0,40})', page, re.S)
        assert forms, address
        for after in forms:
            assert after.startswith('<input type="hidden" name="form_token"'), (address, after)
    row = {"tree": "T7", "species": ""}
    assert browser.post("/surveys/1/trees/rows", data=row).status_code == 403
    token = form_token(page)
    assert browser.post("/surveys/1/trees/rows", data={**row, "form_token": token}).is_redirect
    assert browser.post("/surveys/1/trees/rows", data={"tree": "T9", "x": "1"}).status_code == 403


def test_a_form_with_files_is_let_in_by_its_first_field(office: Office) -> None:
    browser = office.enter("Tobin")
    del browser.headers["x-form-token"]
    token = form_token(browser.get("/").text)
    packed = ("a.zip", b"PK\x03\x04 cut short" + bytes(200_000))
    first = [("form_token", (None, token)), ("files", packed)]
    answer = browser.post("/surveys/import", files=first)
    assert answer.status_code == 422
    assert "the zip cannot be read" in answer.text
    for sent in (
        [("files", packed)],
        [("files", packed), ("form_token", (None, token))],
        [("form_token", (None, token + "00"))],
        [("form_token", ("token.txt", token)), ("files", packed)],
        [("other", (None, "x")), ("form_token", (None, token)), ("files", packed)],
    ):
        assert browser.post("/surveys/import", files=sent).status_code == 403


def test_a_form_too_long_is_refused_before_it_is_read(office: Office) -> None:
    browser = office.enter("Tobin")
    del browser.headers["x-form-token"]
    answer = browser.post("/surveys", data={"name": "x" * 2_100_000})
    assert answer.status_code == 413


def test_tokens_differ_and_belong_to_one_browser() -> None:
    one, two = new_token("a session"), new_token("a session")
    assert one != two
    assert is_token(one, "a session")
    assert is_token(two, "a session")
    for token in ("", "zz", one[:-2], one + "00", "00" * 64, "\ud800", "é"):
        assert not is_token(token, "a session"), token
    assert not is_token(one, "another session")
    assert not is_token(new_token(""), "")


def test_only_forms_that_change_something_get_a_field() -> None:
    page = (
        '<form method="get"></form><FORM class="a" METHOD="post"><p>&lt;form method="post"&gt;</p>'
    )
    assert with_fields(page, "ab").count('value="ab"') == 1


def test_a_part_of_a_page_leads_to_signing_in(office: Office) -> None:
    answer = office.visitor().get("/surveys/1/trees/rows/a", headers={"hx-request": "true"})
    assert answer.status_code == 401
    assert answer.headers["hx-redirect"].startswith("/sign-in?back=")


def test_a_desk_for_this_computer_asks_nobody(office: Office, tmp_path) -> None:  # type: ignore[no-untyped-def]
    from starlette.testclient import TestClient

    from bolewalk.desk.app import create_app

    app = create_app(office.store, tmp_path, who="Tobin")
    desk = TestClient(app, base_url="http://localhost", follow_redirects=False)
    page = desk.get("/").text
    assert "form_token" not in page
    assert NAME in page
    assert "Elsewhere" in page
    assert desk.get("/sign-in").headers["location"] == "/"
    assert desk.post("/sign-in", data={"name": "Rook", "password": WORDS}).status_code == 404
    assert desk.get("/account").status_code == 404
    # Whoever sits at this computer can make the first account here too, of any firm.
    assert "Another Firm" in desk.get("/accounts").text
