"""The command line: data to stdout, talk to stderr; exit 0 done, 1 something left out, 2 misuse."""

import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import click

from bolewalk import __version__
from bolewalk.commands.accounts import account
from bolewalk.commands.carrying import bring, export
from bolewalk.commands.keeping import backup, restore
from bolewalk.commands.listening import draft, transcribe
from bolewalk.commands.privacy import cut, forget
from bolewalk.commands.serving import desk, open_desk
from bolewalk.commands.talk import AsJson, Lenient, Steps, SurveyFolder, leave, misuse, report, say
from bolewalk.model.problems import Problem
from bolewalk.model.survey import ROOT_ZONE_METHODS
from bolewalk.model.units import UnitSystem

__all__ = ["main"]

# Rooms are imported inside the commands: `bolewalk --version` must not load GIS and PDF libraries.


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="bolewalk")
def main() -> None:
    """From a site walk and a plan to the papers of a consulting arborist."""


@main.command(short_help="List every problem of a survey folder.")
@SurveyFolder
@AsJson
@Lenient
def check(survey: Path, *, as_json: bool, lenient: bool) -> None:
    """Report every problem of the survey folder SURVEY, and write nothing."""
    job = _read(survey, as_json=as_json)
    report(job.problems, as_json=as_json)
    leave(job.problems, lenient=lenient)


@main.command(short_help="Write all papers of a survey folder.")
@SurveyFolder
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="Folder for the papers; made if missing.",
)
@AsJson
@Lenient
def make(survey: Path, *, out: Path, as_json: bool, lenient: bool) -> None:
    """Do the whole job for the survey folder SURVEY and write its papers to --out."""
    problems = _make(survey, out, as_json=as_json)
    report(problems, as_json=as_json)
    say(f"papers: {out.resolve()}")
    say(f"start with: {(out / 'report.pdf').resolve()}")
    leave(problems, lenient=lenient)


@main.command(short_help="Make the demonstration survey and open it.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("out/demo"),
    show_default=True,
    help="Folder for the demonstration survey and its papers.",
)
@click.option("--no-desk", is_flag=True, help="Stop once the papers are written.")
@click.option("--port", default=8712, show_default=True, help="Port of the desk; 0 = any free one.")
def demo(*, out: Path, no_desk: bool, port: int) -> None:
    """Build the demonstration survey, make its papers and open the desk on it."""
    from bolewalk.demo.build import build_demo

    survey = out / "survey"
    try:
        build_demo(survey)
    except OSError as e:
        misuse(f"cannot write the demonstration survey: {e}")
    problems = _make(survey, out / "papers")
    report(problems, as_json=False)
    click.echo(f"survey: {survey.resolve()}")
    click.echo(f"papers: {(out / 'papers').resolve()}")
    click.echo(f"start with: {(out / 'papers' / 'report.pdf').resolve()}")
    if not no_desk:
        from bolewalk.desk.serve import Reach

        open_desk(out / "desk", Reach(port=port), survey=survey)
    leave(problems, lenient=False)


@main.command(short_help="Print what is known of a plant.")
@click.argument("name", nargs=-1, required=True)
@click.option(
    "--units",
    type=click.Choice(["imperial", "metric"]),
    default="imperial",
    show_default=True,
    help="Units of sizes.",
)
def species(name: Sequence[str], *, units: UnitSystem) -> None:
    """Print what is known of the plant NAME (botanical or common), and from where."""
    from bolewalk.reference.plants import close_names
    from bolewalk.reference.species import species_facts

    words = " ".join(name)
    found = species_facts(words)
    if not found:
        close = close_names(words)
        hint = f"; perhaps {', '.join(close)}" if close else "; try its botanical name"
        say(f"bolewalk: no plant called {words!r} is known here{hint}")
        sys.exit(1)
    if len(found) > 1:
        say(f"{words!r} may be any of {len(found)} plants:")
    for plant in found:
        click.echo(f"{plant.botanical} ({', '.join(plant.common)})")
        if plant.notes_for:
            click.echo(f"  notes are those of {plant.notes_for}")
        for fact in plant.facts:
            click.echo(f"  {fact.line(units)}")


@main.command(short_help="Write a commented survey folder to fill in.")
@click.argument("folder", type=click.Path(path_type=Path))
def new(folder: Path) -> None:
    """Write a commented survey skeleton to FOLDER, which must be empty or missing."""
    from bolewalk.demo.make_skeleton import new_folder

    try:
        written = new_folder(folder)
    except OSError as e:
        misuse(str(e))
    for path in written:
        click.echo(path)
    say(f"Fill these in, then run: bolewalk check {folder}")


@main.command(short_help="Judge a city's trees near a scheme of works.")
@click.option(
    "--trees",
    type=click.Path(path_type=Path),
    required=True,
    help="Inventory: (Geo)Parquet file or folder of them, GeoPackage, CSV.",
)
@click.option(
    "--works",
    type=click.Path(path_type=Path),
    required=True,
    help="Scheme of works: the same formats, or GeoJSON.",
)
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    required=True,
    help="Folder for the answer; a run that was stopped goes on there.",
)
@click.option(
    "--columns",
    type=click.Path(path_type=Path, dir_okay=False),
    help="TOML file telling which columns mean what.",
)
@click.option(
    "--method", type=click.Choice(list(ROOT_ZONE_METHODS)), help="Root zone rule; else by units."
)
@click.option("--scheduler", help="Address of a Dask scheduler, tcp://host:8786.")
@click.option(
    "--processes",
    type=click.IntRange(min=1),
    default=None,
    help="Processes of this computer; as many as it has processors where left out.",
)
@AsJson
@Lenient
def screen(
    *, trees: Path, works: Path, out: Path, columns: Path | None, method: Any,
    scheduler: str | None, processes: int | None, as_json: bool, lenient: bool,
) -> None:  # fmt: skip
    """Judge every tree of an inventory that a scheme of works comes near."""
    import os

    from bolewalk.model.extras import MissingExtraError
    from bolewalk.region.columns import ColumnsError
    from bolewalk.region.frames import FrameError
    from bolewalk.region.screen import screen as screen_all
    from bolewalk.region.tables import TableError
    from bolewalk.region.workers import WorkersLostError

    try:
        with Steps() as begin:
            found = screen_all(
                trees, works, out, columns=columns, method=method, scheduler=scheduler,
                processes=processes or os.cpu_count() or 1,
                progress=lambda what, done, of: begin(f"{what}: {done} of {of}"),
            )  # fmt: skip
    except (TableError, ColumnsError, FrameError, MissingExtraError) as e:
        misuse(str(e))
    except WorkersLostError as e:
        say(f"bolewalk: {e}; what is finished is kept, the next run goes on there")
        sys.exit(1)
    except OSError as e:
        misuse(f"cannot write to {out}, or no answer from {scheduler}: {e}")
    report(found.problems, as_json=as_json)
    say(f"{found.rows:,} rows, {found.near:,} trees near works, {found.left_out:,} not placed")
    for verdict, count in found.verdicts.items():
        say(f"{verdict}: {count:,}")
    say(f"start with: {(out / 'summary.html').resolve()}")
    leave(found.problems, lenient=lenient)


@main.command()
@click.argument("shell", type=click.Choice(["bash", "zsh", "fish"]))
def completion(shell: str) -> None:
    """Print the completion script for SHELL.

    \b
    bash: bolewalk completion bash > ~/.local/share/bash-completion/completions/bolewalk
    zsh:  bolewalk completion zsh > "${fpath[1]}/_bolewalk"
    fish: bolewalk completion fish > ~/.config/fish/completions/bolewalk.fish
    """
    from click.shell_completion import get_completion_class

    completer = get_completion_class(shell)
    if completer is None:
        misuse(f"no completion for {shell}")
    click.echo(completer(main, {}, "bolewalk", "_BOLEWALK_COMPLETE").source())


def _read(survey: Path, *, as_json: bool) -> Any:
    from bolewalk.intake.folder import SurveyUnreadableError, read_folder

    try:
        return read_folder(survey)
    except SurveyUnreadableError as e:
        if as_json:
            report(e.problems, as_json=True)
        misuse(f"{survey}: {e}")


def _make(survey: Path, out: Path, *, as_json: bool = False) -> tuple[Problem, ...]:
    from bolewalk.papers.write import files_in, write_papers
    from bolewalk.survey import assess

    with Steps() as begin:
        begin("reading the survey")
        job = _read(survey, as_json=as_json)
        if out.resolve() == survey.resolve():
            # survey.dxf or decisions.pdf may be a file of the survey's own, which would be lost.
            misuse(
                f"the papers would lie among the survey's own files in {out}: name another folder"
            )
        findings = assess(job, progress=begin)
        try:
            write_papers(findings, out, progress=begin, files=files_in(survey))
        except OSError as e:
            misuse(f"cannot write to {out}: {e}")
    return findings.problems


for _command in (account, desk, transcribe, draft, backup, restore, export, bring, cut, forget):
    main.add_command(_command)
