"""A survey being read: its files, its head, and what was wrong so far."""

from dataclasses import dataclass, field
from pathlib import PurePosixPath

from bolewalk.drawing.details import Place
from bolewalk.intake.job import RawTable
from bolewalk.intake.source import Source
from bolewalk.intake.survey_toml import HEAD_FILE, Head
from bolewalk.intake.toml_file import TomlError
from bolewalk.model.problems import Problem

__all__ = ["SurveyReading", "stem_of", "suffix_of"]


@dataclass(slots=True)
class SurveyReading:
    """Where the files are, what survey.toml says, and the problems so far."""

    source: Source
    head: Head
    problems: list[Problem] = field(default_factory=list)

    def named(self, name: str, key: str, *, folder: bool = False) -> str | None:
        """Give the plain name of a file survey.toml names under `key`; None and a problem where
        it is not there."""
        place = Place(HEAD_FILE, None, self.problems)
        return self.source.find(name, place, key, folder=folder)

    def table(self, name: str, key: str) -> RawTable | None:
        """Give a TOML file survey.toml names; None where it names none or it cannot be read."""
        file = self.named(name, key) if name else None
        if file is None:
            return None
        try:
            return RawTable(file, self.source.toml(file))
        except TomlError as e:
            Place(file, None, self.problems).tell(None, str(e), "a TOML file")
            return None


def suffix_of(name: str) -> str:
    """Give the ending of a file's name, in lower case."""
    return PurePosixPath(name).suffix.lower()


def stem_of(name: str) -> str:
    """Give a file's name with its folders, without its ending."""
    return name[: len(name) - len(suffix_of(name))]
