"""Limits of signing in and of links for clients, read from sign_in.toml."""

import tomllib
from dataclasses import dataclass
from datetime import timedelta
from functools import lru_cache
from importlib import resources

__all__ = ["Limits", "limits"]


@dataclass(frozen=True, slots=True)
class Limits:
    """The limits; where each comes from stands beside it in the file."""

    least_characters: int
    most_characters: int
    passes: int
    memory_kib: int
    lanes: int
    at_once: int
    window: timedelta
    tries_of_account: int
    tries_of_address: int
    idle: timedelta
    longest: timedelta
    usual_link: timedelta
    longest_link: timedelta


@lru_cache(maxsize=1)
def limits() -> Limits:
    """Give the limits."""
    read = tomllib.loads(
        (resources.files("bolewalk.store") / "sign_in.toml").read_text(encoding="utf-8")
    )
    password, hashed, tries = read["password"], read["hash"], read["tries"]
    session, link = read["session"], read["link"]
    return Limits(
        least_characters=password["least_characters"],
        most_characters=password["most_characters"],
        passes=hashed["passes"],
        memory_kib=hashed["memory_kib"],
        lanes=hashed["lanes"],
        at_once=hashed["at_once"],
        window=timedelta(minutes=tries["window_minutes"]),
        tries_of_account=tries["of_account"],
        tries_of_address=tries["of_address"],
        idle=timedelta(hours=session["idle_hours"]),
        longest=timedelta(days=session["longest_days"]),
        usual_link=timedelta(days=link["usual_days"]),
        longest_link=timedelta(days=link["longest_days"]),
    )
