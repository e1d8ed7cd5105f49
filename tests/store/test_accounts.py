"""Accounts, signing in, sessions: on both databases, with a clock of the test's own."""

import threading
from datetime import UTC, datetime, timedelta

import pytest
from argon2 import PasswordHasher
from sqlalchemy import select, update

from bolewalk.store import passwords
from bolewalk.store.accounts import (
    add_account,
    find_account,
    has_accounts,
    list_accounts,
    set_active,
    set_password,
    set_role,
)
from bolewalk.store.backup import backup, restore
from bolewalk.store.errors import StoreError
from bolewalk.store.limits import limits
from bolewalk.store.passwords import hashed, matches, password_faults
from bolewalk.store.schema import accounts, sessions, sign_in_tries
from bolewalk.store.sessions import end_session, end_sessions, find_session, sign_in
from bolewalk.store.store import Store

WHEN = datetime(2026, 5, 12, 9, 0, tzinfo=UTC)
WORDS = "seven mossy fence posts"


def add(store, name="Mirela", *, role="owner", firm=""):
    return add_account(
        store, name, password=WORDS, role=role, who="desk", when=WHEN, firm=firm
    )  # fmt: skip


def enter(store, name="Mirela", password=WORDS, *, address="192.0.2.7", when=WHEN):
    return sign_in(store, name, password, address=address, when=when)


def test_an_account_is_found_by_name_however_it_is_typed(store):
    assert not has_accounts(store)
    made = add(store, "  Mirela   Ostrander ")
    assert made.name == "Mirela Ostrander"
    assert find_account(store, "mirela  OSTRANDER") == made == find_account(store, made.id)
    assert list_accounts(store) == (made,)
    assert has_accounts(store)
    with pytest.raises(StoreError, match="called 'MIRELA Ostrander' already"):
        add(store, "MIRELA Ostrander", firm="another")


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"name": " "}, "needs a name"),
        ({"name": "a\nb\x00"}, "needs a name"),
        ({"name": "a" * 81}, "up to 80"),
        ({"password": "eleven char"}, "at least 12"),
        ({"password": "a" * 129}, "at most 128"),
        ({"password": "aaaaaaaaaaaa"}, "first one tried"),
        ({"name": "Twelve Letters", "password": "twelve letters"}, "first one tried"),
        ({"role": "king"}, "no role 'king'; there are read-only, field, estimator, owner"),
        ({"firm": "x" * 81}, "name of a firm"),
    ],
)
def test_what_is_no_account_is_told(store, change, says):
    told = {"name": "Mirela", "password": WORDS, "role": "owner", "firm": ""} | change
    with pytest.raises(StoreError, match=says):
        add_account(store, told.pop("name"), who="desk", when=WHEN, **told)
    assert list_accounts(store) == ()


def test_passwords_are_kept_as_argon2id_of_the_recommended_strength(monkeypatch):
    # RFC 9106 section 4, second choice: t=3, p=4, m=2^16 KiB; 128-bit salt, 256-bit tag.
    real = passwords.PasswordHasher(limits().passes, limits().memory_kib, limits().lanes)
    monkeypatch.setattr(passwords, "_hasher", lambda: real)
    kept = hashed(WORDS)
    assert matches(kept, WORDS)
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    salt, tag = kept.split("$")[4:]
    assert (len(salt), len(tag)) == (22, 43)  # base64 of 16 and 32 bytes, without padding
    assert hashed(WORDS) != kept


def test_a_password_kept_in_an_older_way_is_kept_anew_when_it_is_next_typed(store):
    made = add(store)
    older = PasswordHasher(time_cost=2, memory_cost=16, parallelism=1).hash(WORDS)
    with store.engine.begin() as c:
        c.execute(update(accounts).values(password=older))
    assert enter(store).account == made
    with store.engine.connect() as c:
        now = c.execute(select(accounts.c.password)).scalar_one()
    assert now != older
    assert WORDS not in now
    assert enter(store).account == made


def test_a_password_is_the_same_typed_on_another_keyboard():
    # é as one code point, and as e with an accent: equal under NFKC (Unicode Annex 15).
    kept = hashed("caf\u00e9 by the river")
    assert matches(kept, "cafe\u0301 by the river")
    assert not matches(kept, "cafe by the river")
    assert not matches("no hash", WORDS)
    assert not matches(kept, "x" * 5000)
    assert not matches(kept, "\ud800")
    assert password_faults("zwölf Zeichen", name="a") == ()


def test_signing_in_gives_a_session_and_the_store_keeps_no_token(store):
    made = add(store)
    done = enter(store)
    assert done.account == made
    assert find_session(store, done.token, when=WHEN) == made
    assert find_session(store, done.token + "x", when=WHEN) is None
    assert find_session(store, "", when=WHEN) is None
    with store.engine.connect() as c:
        row = c.execute(select(sessions)).mappings().one()
    assert done.token not in map(str, row.values())
    assert len(done.token) >= 43  # 32 random bytes
    assert enter(store).token != done.token


@pytest.mark.parametrize(("name", "password"), [("Mirela", "wrong words here"), ("No one", WORDS)])
def test_wrong_name_and_wrong_password_are_told_alike(store, name, password):
    add(store)
    done = enter(store, name, password)
    assert (done.account, done.token, done.wait_s) == (None, "", 0)


def test_a_disabled_account_is_out_at_once_and_cannot_come_in(store):
    add(store)
    other = add(store, "Tobin", role="field")
    token = enter(store, "Tobin").token
    set_active(store, other.id, False, when=WHEN)
    assert find_session(store, token, when=WHEN) is None
    assert enter(store, "Tobin").account is None
    set_active(store, other.id, True, when=WHEN)
    assert find_session(store, token, when=WHEN) is None
    assert enter(store, "Tobin").account is not None


def test_the_last_owner_of_a_firm_stays(store):
    one = add(store, "One")
    add(store, "Elsewhere", firm="another")
    with pytest.raises(StoreError, match="last owner"):
        set_active(store, one.id, False, when=WHEN)
    with pytest.raises(StoreError, match="last owner"):
        set_role(store, one.id, "estimator")
    two = add(store, "Two")
    set_role(store, one.id, "estimator")
    assert find_account(store, one.id).role == "estimator"
    with pytest.raises(StoreError, match="last owner"):
        set_active(store, two.id, False, when=WHEN)


def test_sessions_end_after_idle_time_and_after_all(store):
    made = add(store)
    idle, longest = limits().idle, limits().longest
    token = enter(store).token
    assert find_session(store, token, when=WHEN + idle) == made
    token = enter(store).token
    assert find_session(store, token, when=WHEN + idle + timedelta(seconds=1)) is None
    # Ended for good: a clock that goes back does not bring it again.
    assert find_session(store, token, when=WHEN) is None
    token = enter(store).token
    when = WHEN
    while when + idle < WHEN + longest:
        when += idle
        assert find_session(store, token, when=when) == made
    assert find_session(store, token, when=WHEN + longest + timedelta(seconds=1)) is None


def test_signing_out_here_everywhere_and_by_a_new_password(store):
    made = add(store)
    one, two = enter(store).token, enter(store).token
    end_session(store, one)
    assert find_session(store, one, when=WHEN) is None
    assert find_session(store, two, when=WHEN) == made
    assert end_sessions(store, made.id) == 1
    assert find_session(store, two, when=WHEN) is None
    three = enter(store).token
    set_password(store, made.id, "nine rusty gate hinges")
    assert find_session(store, three, when=WHEN) is None
    assert enter(store).account is None
    assert enter(store, password="nine rusty gate hinges").account == made
    with pytest.raises(StoreError, match="at least 12"):
        set_password(store, made.id, "short")


def test_tries_on_one_account_are_limited_and_let_through_again(store):
    made = add(store)
    most = limits().tries_of_account
    for n in range(most):
        tried = enter(store, password="wrong words here", address=f"192.0.2.{n}")
        assert tried.wait_s == 0
    # The right password is not looked at either: it would tell which of many was right.
    refused = enter(store, address="198.51.100.1", when=WHEN + timedelta(minutes=5))
    assert (refused.account, refused.wait_s) == (None, 600)
    # Refused tries do not make it longer.
    after = WHEN + limits().window + timedelta(seconds=1)
    assert enter(store, address="198.51.100.1", when=after).account == made
    # Another account was never held up.
    with store.engine.connect() as c:
        assert c.execute(select(sign_in_tries)).all() == []


def test_a_right_password_clears_the_count(store):
    made = add(store)
    for _ in range(3):
        for _ in range(limits().tries_of_account - 1):
            enter(store, password="wrong words here", address="")
        assert enter(store, address="").account == made


def test_tries_from_one_address_are_limited_whatever_the_name(store):
    add(store)
    for n in range(limits().tries_of_address):
        enter(store, f"guess {n}", "x", address="2001:db8:0:1::a")
    # The same network of version 6; another one is let through.
    assert enter(store, address="2001:db8:0:1:ffff::b").wait_s > 0
    assert enter(store, address="2001:db8:0:2::a").account is not None


def test_tries_at_the_same_moment_do_not_pass_the_limit_together(store):
    add(store)
    looked_at = []

    def guess():
        done = enter(store, password="wrong words here")
        looked_at.append(done.wait_s == 0)

    threads = [threading.Thread(target=guess) for _ in range(limits().tries_of_account + 6)]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert sum(looked_at) <= limits().tries_of_account
    assert len(looked_at) == len(threads)


def test_names_and_addresses_are_not_kept_with_tries(store):
    enter(store, "Mirela", "x", address="192.0.2.7")
    with store.engine.connect() as c:
        tries = c.execute(select(sign_in_tries)).all()
    assert len(tries) == 2  # one of the account, one of the address
    assert "irela" not in str(tries)
    assert "192.0.2" not in str(tries)


def test_a_restored_store_knows_the_accounts_and_signs_everybody_out(store, tmp_path):
    made = add(store)
    token = enter(store).token
    assert backup(store, tmp_path / "copy").faults == ()
    restore(tmp_path / "copy", tmp_path / "back")
    with Store.open(tmp_path / "back") as back:
        assert list_accounts(back) == (made,)
        assert find_session(back, token, when=WHEN) is None
        assert enter(back).account == made
        assert add(back, "New").id > made.id
