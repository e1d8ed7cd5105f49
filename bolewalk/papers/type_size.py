"""How large a survey asks its papers to be set."""

import tomllib
from dataclasses import dataclass
from functools import lru_cache
from importlib import resources

from bolewalk.papers.reading import Reading

__all__ = ["TypeSize", "type_of"]


@dataclass(frozen=True, slots=True)
class TypeSize:
    """How much larger text is set [pt], how many times as wide columns are that are set in
    millimetres, and the text of the client's page [px]."""

    larger_pt: float
    wider_times: float
    screen_px: int


def type_of(reading: Reading) -> TypeSize:
    """Give the size of type a survey asks for; the normal one where it asks for none."""
    return _sizes()[reading.findings.survey.told.get("papers.type", "normal")]


@lru_cache(maxsize=1)
def _sizes() -> dict[str, TypeSize]:
    text = (resources.files(__package__) / "data" / "type.toml").read_text(encoding="utf-8")
    return {name: TypeSize(**sizes) for name, sizes in tomllib.loads(text).items()}
