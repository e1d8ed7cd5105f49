"""Commands that carry surveys out of the store in open formats, and into another."""

import sys
from datetime import UTC, datetime
from pathlib import Path

import click

from bolewalk.commands.opening import Data, Media, opened
from bolewalk.commands.talk import misuse, report, say

__all__ = ["bring", "export"]


@click.command(short_help="Write surveys as folders anybody can read.")
@Data
@Media
@click.option("--survey", "numbers", type=int, multiple=True, help="Number of a survey; any often.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="New or empty folder.",
)
@click.option(
    "--now", is_flag=True, help="As surveys are: no history, no earlier files, no issues."
)
def export(
    *, data: str, media: Path | None, numbers: tuple[int, ...], out: Path, now: bool
) -> None:
    """Write surveys, all where none is named, as folders anybody can read.

    Each gets a folder by its number: `survey`, the survey folder with every file and, in
    record.json, its whole history; and `issues`, what was sealed, laid out to be read.
    Only open formats: TOML, CSV, GeoJSON, JSON, and files as they came. `bolewalk bring` takes a
    survey in elsewhere.
    """
    from bolewalk.store.issues import list_issues, write_issue

    try:
        with opened(data, media) as store:
            if out.exists() and any(out.iterdir()):
                misuse(f"{out} is not empty")
            there = {e.id for e in store.surveys()}
            unknown = set(numbers) - there
            if unknown:
                misuse(f"there is no survey {min(unknown)}")
            for number in sorted(numbers or there):
                folder = out / str(number)
                written = store.export_folder(number, folder / "survey", record=not now)
                sealed = () if now else list_issues(store, number)
                for n, issue in enumerate(sealed, start=1):
                    # Numbers are any text, and not always the name of a folder.
                    write_issue(store, issue, folder / "issues" / str(n))
                say(f"survey {number}: {len(written)} files, {len(sealed)} issues")
                click.echo(folder.resolve())
    except OSError as e:
        misuse(f"cannot write to {out}: {e.strerror or e}")


@click.command(short_help="Take survey folders into the desk's store.")
@click.argument("folders", nargs=-1, required=True, type=click.Path(path_type=Path))
@Data
@Media
@click.option("--who", default="desk", show_default=True, help="Name for the history.")
def bring(*, folders: tuple[Path, ...], data: str, media: Path | None, who: str) -> None:
    """Take survey FOLDERS into the store, each with its history where it has a record.json.

    What `bolewalk export` wrote may be given as well: its survey is taken in.
    """
    from bolewalk.intake.folder import SurveyUnreadableError
    from bolewalk.intake.survey_toml import HEAD_FILE

    failed = False
    with opened(data, media, make=True) as store:
        for folder in folders:
            inner = folder / "survey"
            place = inner if (inner / HEAD_FILE).is_file() else folder
            try:
                taken = store.import_folder(place, who=who, when=datetime.now(UTC))
            except (SurveyUnreadableError, OSError) as e:
                say(f"bolewalk: {folder}: {e}")
                failed = True
                continue
            report(taken.problems, as_json=False)
            click.echo(f"survey {taken.survey_id}: {folder}")
    if failed:
        sys.exit(1)
