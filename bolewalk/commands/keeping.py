"""Commands on what the desk keeps: copy it, bring it back."""

import sys
from collections.abc import Sequence
from pathlib import Path

import click

from bolewalk.commands.opening import Data, Media, opened
from bolewalk.commands.talk import misuse, say

__all__ = ["backup", "restore"]


@click.command(short_help="Copy all the desk keeps, while it is used.")
@Data
@Media
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="New or empty folder, or an earlier backup to bring up to date.",
)
def backup(*, data: str, media: Path | None, out: Path) -> None:
    """Copy everything the desk keeps to --out, while it is running, and check the copy."""
    from bolewalk.store.backup import backup as copy_store

    with opened(data, media) as store:
        copied = copy_store(store, out)
    say(f"{copied.files} kept files, {copied.size:,} bytes; {copied.new_files} copied now")
    _sound(copied.faults)
    click.echo(out.resolve())


@click.command(short_help="Bring a backup back.")
@click.argument("folder", type=click.Path(path_type=Path))
@Data
@Media
def restore(*, folder: Path, data: str, media: Path | None) -> None:
    """Bring the backup FOLDER back to --data, where no surveys may be yet."""
    from bolewalk.store.backup import restore as bring_back
    from bolewalk.store.errors import StoreError

    try:
        copied = bring_back(folder, data, media_folder=media)
    except StoreError as e:
        misuse(str(e))
    say(f"{copied.files} kept files, {copied.size:,} bytes")
    _sound(copied.faults)


def _sound(faults: Sequence[str]) -> None:
    for fault in faults:
        say(f"fault: {fault}")
    if faults:
        sys.exit(1)
