"""The command line: data to stdout, talk to stderr; exit 0 done, 1 something left out, 2 misuse."""

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

import click

from bolewalk import __version__
from bolewalk.model.problems import Problem, has_faults
from bolewalk.model.units import UnitSystem

__all__ = ["main"]

# Rooms are imported inside the commands: `bolewalk --version` must not load GIS and PDF libraries.

Survey = click.argument("survey", type=click.Path(path_type=Path))
AsJson = click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON.")
Lenient = click.option(
    "--lenient", is_flag=True, help="Exit 0 even where rows or features were left out."
)


@click.group(context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="bolewalk")
def main() -> None:
    """From a site walk and a plan to the papers of a consulting arborist."""


@main.command()
@Survey
@AsJson
@Lenient
def check(survey: Path, *, as_json: bool, lenient: bool) -> None:
    """Report every problem of the survey folder SURVEY, and write nothing."""
    job = _read(survey)
    _report(job.problems, as_json=as_json)
    _leave(job.problems, lenient=lenient)


@main.command()
@Survey
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
    problems = _make(survey, out)
    _report(problems, as_json=as_json)
    _leave(problems, lenient=lenient)


@main.command()
@click.argument("walk", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File for the draft; without it the draft goes to stdout.",
)
@AsJson
@Lenient
def draft(walk: Sequence[Path], *, out: Path | None, as_json: bool, lenient: bool) -> None:
    """Draft the tree table from the recorded walk WALK: transcripts, in order."""
    from bolewalk.walk.cues import read_walk
    from bolewalk.walk.draft import draft as draft_walk
    from bolewalk.walk.draft_json import draft_json

    missing = [p for p in walk if not p.is_file()]
    if missing:
        _misuse(f"no such file: {', '.join(str(p) for p in missing)}")
    cues, problems = read_walk([(p, p.name) for p in walk])
    text = json.dumps(draft_json(draft_walk(cues)), ensure_ascii=False, indent=1) + "\n"
    if out is None:
        click.echo(text, nl=False)
    else:
        _write(out, text)
    _report(problems, as_json=as_json and out is not None)
    _leave(problems, lenient=lenient)


@main.command()
@click.option(
    "--out",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("out/demo"),
    show_default=True,
    help="Folder for the demonstration survey and its papers.",
)
@click.option("--no-desk", is_flag=True, help="Stop once the papers are written.")
def demo(*, out: Path, no_desk: bool) -> None:
    """Build the demonstration survey and make its papers."""
    from bolewalk.demo.build import build_demo

    survey = out / "survey"
    try:
        build_demo(survey)
    except OSError as e:
        _misuse(f"cannot write the demonstration survey: {e}")
    problems = _make(survey, out / "papers")
    _report(problems, as_json=False)
    click.echo(f"survey: {survey.resolve()}")
    click.echo(f"papers: {(out / 'papers').resolve()}")
    click.echo(f"start with: {(out / 'papers' / 'report.pdf').resolve()}")
    if not no_desk:
        _say("The desk is not built yet; the papers above are the whole of it.")
    _leave(problems, lenient=False)


@main.command()
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
    from bolewalk.reference.species import species_facts

    words = " ".join(name)
    found = species_facts(words)
    if not found:
        _say(f"bolewalk: no plant called {words!r} is known here; try its botanical name")
        sys.exit(1)
    if len(found) > 1:
        _say(f"{words!r} may be any of {len(found)} plants:")
    for plant in found:
        click.echo(f"{plant.botanical} ({', '.join(plant.common)})")
        if plant.notes_for:
            click.echo(f"  notes are those of {plant.notes_for}")
        for fact in plant.facts:
            click.echo(f"  {fact.line(units)}")


@main.command()
@click.argument("folder", type=click.Path(path_type=Path))
def new(folder: Path) -> None:
    """Write a commented survey skeleton to FOLDER, which must be empty or missing."""
    from bolewalk.demo.make_skeleton import new_folder

    try:
        written = new_folder(folder)
    except OSError as e:
        _misuse(str(e))
    for path in written:
        click.echo(path)
    _say(f"Fill these in, then run: bolewalk check {folder}")


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
        _misuse(f"no completion for {shell}")
    click.echo(completer(main, {}, "bolewalk", "_BOLEWALK_COMPLETE").source())


def _read(survey: Path) -> Any:
    from bolewalk.intake.folder import SurveyUnreadableError, read_folder

    try:
        return read_folder(survey)
    except SurveyUnreadableError as e:
        _misuse(str(e))


def _make(survey: Path, out: Path) -> tuple[Problem, ...]:
    from bolewalk.papers.write import write_papers
    from bolewalk.survey import assess

    with _steps() as begin:
        begin("reading the survey")
        job = _read(survey)
        findings = assess(job, progress=begin)
        try:
            write_papers(findings, out, progress=begin)
        except OSError as e:
            _misuse(f"cannot write to {out}: {e}")
    return findings.problems


class _steps:  # noqa: N801 - reads as a verb in `with _steps() as begin`
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


def _write(path: Path, text: str) -> None:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8", newline="\n")
    except OSError as e:
        _misuse(f"cannot write {path}: {e}")


def _report(problems: Sequence[Problem], *, as_json: bool) -> None:
    if as_json:
        click.echo(json.dumps([p.as_dict() for p in problems], ensure_ascii=False, indent=1))
        return
    for problem in problems:
        _say(problem.line())
    faults = sum(p.level == "fault" for p in problems)
    if problems:
        _say(f"{faults} fault(s), {len(problems) - faults} notice(s)")


def _leave(problems: Sequence[Problem], *, lenient: bool) -> None:
    if has_faults(tuple(problems)) and not lenient:
        sys.exit(1)


def _misuse(message: str) -> NoReturn:
    _say(f"bolewalk: {message}")
    sys.exit(2)


def _say(message: str) -> None:
    click.echo(message, err=True)
