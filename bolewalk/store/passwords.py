"""Passwords: what is asked of them, and how they are kept (Argon2id)."""

import threading
import unicodedata
from functools import lru_cache

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from bolewalk.store.limits import limits

__all__ = ["hashed", "is_stale", "matches", "nobodys_hash", "password_faults"]


@lru_cache(maxsize=1)
def _hasher() -> PasswordHasher:
    kept = limits()
    return PasswordHasher(kept.passes, kept.memory_kib, kept.lanes)


@lru_cache(maxsize=1)
def _turns() -> threading.BoundedSemaphore:
    return threading.BoundedSemaphore(limits().at_once)


def password_faults(password: str, *, name: str) -> tuple[str, ...]:
    """Give what is wrong with a new password, in words; empty where nothing is."""
    kept = limits()
    length = len(_normal(password))
    if length < kept.least_characters:
        return (
            f"The password needs at least {kept.least_characters} characters: "
            "several words are easy to remember.",
        )
    if length > kept.most_characters:
        return (f"The password may have at most {kept.most_characters} characters.",)
    if len(set(_normal(password))) < 4 or _normal(name).casefold() == _normal(password).casefold():
        return ("That password would be the first one tried: choose another.",)
    return ()


def hashed(password: str) -> str:
    """Give what is kept of a password: salted, slow to try; no way back."""
    with _turns():
        return _hasher().hash(_bytes(password))


def matches(kept: str, password: str) -> bool:
    """Tell whether a password is the one something was kept of."""
    if len(password) > 8 * limits().most_characters:
        return False
    try:
        with _turns():
            return _hasher().verify(kept, _bytes(password))
    except (VerificationError, InvalidHashError):
        return False


def is_stale(kept: str) -> bool:
    """Tell whether a password was kept under other settings than today's."""
    return _hasher().check_needs_rehash(kept)


@lru_cache(maxsize=1)
def nobodys_hash() -> str:
    """Give a hash no password is meant to match: an unknown name takes as long as a known one."""
    return hashed("nobody's password")


def _normal(password: str) -> str:
    # The same letters may be typed as different code points on two keyboards.
    return unicodedata.normalize("NFKC", password)


def _bytes(password: str) -> bytes:
    return _normal(password).encode("utf-8", "surrogatepass")
