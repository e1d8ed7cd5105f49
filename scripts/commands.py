"""Writes the reference part of docs/commands.md from what the commands say of themselves.

python scripts/commands.py
"""

import inspect
import sys
from collections.abc import Iterator
from pathlib import Path

import click

from bolewalk.cli import main

PAGE = Path(__file__).parents[1] / "docs" / "commands.md"
BEGIN = "## bolewalk "


def commands(
    command: click.Command, above: click.Context | None = None
) -> Iterator[tuple[click.Command, click.Context]]:
    """Give every command that does something, in the order of the alphabet, with its context."""
    here = click.Context(command, info_name=command.name or "", parent=above)
    if not isinstance(command, click.Group):
        yield command, here
        return
    for name in sorted(command.commands):
        yield from commands(command.commands[name], here)


def section(command: click.Command, context: click.Context) -> str:
    """Give what a command says of itself: usage, help, a row for each option."""
    path = context.command_path.replace("main", "bolewalk", 1)
    pieces = [f"## {path}", " ".join(["   ", path, *command.collect_usage_pieces(context)])]
    for paragraph in inspect.cleandoc(command.help or "").split("\n\n"):
        lines = inspect.cleandoc(paragraph).splitlines()
        if lines[:1] == ["\b"]:  # the lines below it are to stand as they are
            pieces.append("\n".join(f"    {line}" for line in lines[1:]))
        else:
            pieces.append(" ".join(paragraph.split()))
    rows = [
        [cell.replace("|", r"\|") for cell in record]
        for option in command.params
        if isinstance(option, click.Option) and (record := option.get_help_record(context))
    ]
    if rows:
        table = "".join(f"\n| `{names}` | {' '.join(told.split())} |" for names, told in rows)
        pieces.append(f"| option | meaning |\n|---|---|{table}")
    return "\n\n".join(pieces)


def page(head: str) -> str:
    """Give the page: its head as it stands, and every command below it."""
    return head + "\n\n".join(section(*c) for c in commands(main)) + "\n"


def head_of(text: str) -> str:
    """Give what of the page is written by hand."""
    return text[: text.index(f"\n{BEGIN}") + 1]


if __name__ == "__main__":
    PAGE.write_text(page(head_of(PAGE.read_text("utf-8"))), encoding="utf-8")
    sys.stderr.write(f"{PAGE}\n")
