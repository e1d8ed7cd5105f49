"""Passwords kept in a quick way: for tests that sign in often and are not about their strength."""

import pytest
from argon2 import PasswordHasher

from bolewalk.store import passwords


@pytest.fixture(scope="session", autouse=True)
def quick_hashes():
    """Keep passwords in microseconds where the desk takes a tenth of a second.

    It holds for the tests beside the conftest it is imported into.
    """
    with pytest.MonkeyPatch.context() as patch:
        quick = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
        patch.setattr(passwords, "_hasher", lambda: quick)
        passwords.nobodys_hash.cache_clear()
        yield
        passwords.nobodys_hash.cache_clear()
