"""How every command talks: options they share, progress, problems, exit codes."""

import json
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from typing import NoReturn

import click

from bolewalk.model.problems import Problem, has_faults

__all__ = [
    "AsJson", "Lenient", "Steps", "SurveyFolder", "grouped_lines", "leave", "misuse", "report",
    "say", "write_text",
]  # fmt: skip

_SHOWN = 5
"""Problems alike that are printed before the rest is counted."""
_NUMBER = re.compile(r"\d+")

SurveyFolder = click.argument("survey", type=click.Path(path_type=Path))
AsJson = click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON.")
Lenient = click.option(
    "--lenient", is_flag=True, help="Exit 0 even where rows or features were left out."
)


class Steps:
    """Progress on stderr: one line a step, redrawn in place on a terminal."""

    def __init__(self) -> None:
        self._live = sys.stderr.isatty()

    def __enter__(self) -> Callable[[str], None]:
        return self._begin

    def _begin(self, step: str) -> None:
        click.echo(f"\r\x1b[2K{step} ..." if self._live else step, err=True, nl=not self._live)

    def __exit__(self, *_: object) -> None:
        if self._live:
            click.echo("\r\x1b[2K", err=True, nl=False)


def write_text(path: Path, text: str) -> None:
    """Write a text file, its folders made; exit 2 where that cannot be done."""
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as e:
        misuse(f"cannot write {path}: {e}")


def report(problems: Sequence[Problem], *, as_json: bool) -> None:
    """Tell the problems: as JSON on stdout, or as lines on stderr with their count."""
    if as_json:
        click.echo(json.dumps([p.as_dict() for p in problems], ensure_ascii=False, indent=1))
        return
    for line in grouped_lines(problems):
        say(line)
    faults = sum(p.level == "fault" for p in problems)
    if problems:
        say(f"{_many(faults, 'fault')}, {_many(len(problems) - faults, 'notice')}")


def _many(n: int, what: str) -> str:
    return f"{n or 'no'} {what}{'' if n == 1 else 's'}"


def grouped_lines(problems: Sequence[Problem]) -> Iterator[str]:
    """Give the problems as lines: of those alike in one file, the first few and how many more.

    A column filled in wrongly in every row is one thing to mend, however long the table; every
    single one is in the JSON.
    """
    alike: dict[tuple[str, str, str | None, str], list[Problem]] = {}
    for p in problems:
        # Numbers in what was expected (a row, a count) make no other problem of it.
        key = (p.level, p.file, p.field, _NUMBER.sub("#", p.expected))
        alike.setdefault(key, []).append(p)
    for group in alike.values():
        shown = group if len(group) <= _SHOWN + 1 else group[:_SHOWN]
        yield from (p.line() for p in shown)
        if len(group) > len(shown):
            first = group[0]
            where = f"{first.file}{f', {first.field}' if first.field else ''}"
            more = len(group) - len(shown)
            yield f"{first.level}: {where}: and {more:,} more like it (--json lists every one)"


def leave(problems: Sequence[Problem], *, lenient: bool) -> None:
    """Exit 1 where anything was left out, unless that is accepted."""
    if has_faults(tuple(problems)) and not lenient:
        sys.exit(1)


def misuse(message: str) -> NoReturn:
    """Say what was misused and exit 2."""
    say(f"bolewalk: {message}")
    sys.exit(2)


def say(message: str) -> None:
    """Talk on stderr; stdout is for data."""
    click.echo(message, err=True)
