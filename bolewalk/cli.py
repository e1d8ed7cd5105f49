"""The command line: data to stdout, talk to stderr; exit 0 done, 1 something left out, 2 misuse."""

import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NoReturn

import click

from bolewalk import __version__
from bolewalk.model.problems import Problem, has_faults
from bolewalk.model.survey import ROOT_ZONE_METHODS
from bolewalk.model.units import UnitSystem

__all__ = ["main"]

# Rooms are imported inside the commands: `bolewalk --version` must not load GIS and PDF libraries.

Survey = click.argument("survey", type=click.Path(path_type=Path))
AsJson = click.option("--json", "as_json", is_flag=True, help="Print the problems as JSON.")
Lenient = click.option(
    "--lenient", is_flag=True, help="Exit 0 even where rows or features were left out."
)


def _for_speech(command: Callable[..., None]) -> Callable[..., None]:
    """Give a command the options of the speech recogniser."""
    folder = click.Path(path_type=Path, file_okay=False)
    for option in (
        click.option("--region", help="Where the walk was: us-e, us-s, us-w, uk or au."),
        click.option(
            "--hints/--no-hints", default=True, show_default=True,
            help="Whether the recogniser is told the likely species of the region.",
        ),
        click.option(
            "--model", type=folder,
            help="Folder of the speech model; else BOLEWALK_SPEECH_MODEL names it.",
        ),
    ):  # fmt: skip
        command = option(command)
    return command


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
    job = _read(survey, as_json=as_json)
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
    problems = _make(survey, out, as_json=as_json)
    _report(problems, as_json=as_json)
    _leave(problems, lenient=lenient)


@main.command()
@click.argument("recording", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="One transcript for all; without it, one beside each recording.",
)
@_for_speech
@click.option("--replace", is_flag=True, help="Take down anew where a transcript exists.")
@AsJson
@Lenient
def transcribe(
    recording: Sequence[Path], *, out: Path | None, model: Path | None, hints: bool,
    region: str | None, replace: bool, as_json: bool, lenient: bool,
) -> None:  # fmt: skip
    """Take down the speech of the recordings RECORDING, in order, as WebVTT.

    A run that was stopped goes on where it stopped when it is started again.
    """
    _all_there(recording)
    listen = _Listener(model, hints=hints, region=region)
    if out is not None:
        jobs = [(out, tuple(recording))]
    else:
        jobs = [(p.with_suffix(".vtt"), (p,)) for p in recording]
    made = [o.resolve() for o, _ in jobs]
    if len(set(made)) < len(made) or set(made) & {p.resolve() for p in recording}:
        _misuse("two of these would share a transcript; name it with --out")
    existing = [o for o, _ in jobs if o.exists()]
    if existing and not replace:
        _misuse(
            f"there is a transcript: {', '.join(map(str, existing))}; it may have been corrected "
            "by hand. --replace takes down anew."
        )
    problems = [p for o, files in jobs for p in listen.take_down(files, o)]
    _report(problems, as_json=as_json)
    _leave(problems, lenient=lenient)


@main.command()
@click.argument("walk", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File for the draft; without it the draft goes to stdout.",
)
@click.option(
    "--stills",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder for a picture of each tree, from the videos of the walk.",
)
@_for_speech
@AsJson
@Lenient
def draft(
    walk: Sequence[Path], *, out: Path | None, stills: Path | None, model: Path | None,
    hints: bool, region: str | None, as_json: bool, lenient: bool,
) -> None:  # fmt: skip
    """Draft the tree table from the walk WALK: transcripts or recordings, in order.

    A recording is transcribed first, once: its transcript is written beside it and read from
    then on.
    """
    from bolewalk.walk.cues import read_walk
    from bolewalk.walk.draft import draft as draft_walk
    from bolewalk.walk.draft_json import draft_json

    _all_there(walk)
    transcripts, unheard = _transcripts(walk, _Listener(model, hints=hints, region=region))
    if out is not None and out.resolve() in {
        p.resolve() for pair in transcripts for p in pair if p
    }:
        _misuse(f"the draft would replace {out}, from which it is made: name another file")
    cues, problems = read_walk([(p, p.name) for p, _ in transcripts])
    problems = (*unheard, *problems)
    found = draft_walk(cues)
    text = json.dumps(draft_json(found), ensure_ascii=False, indent=1) + "\n"
    if stills is not None:
        problems = (*problems, *_stills(transcripts, found, stills))
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
@click.option("--port", default=8712, show_default=True, help="Port of the desk; 0 = any free one.")
def demo(*, out: Path, no_desk: bool, port: int) -> None:
    """Build the demonstration survey, make its papers and open the desk on it."""
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
        _desk(out / "desk", "127.0.0.1", port, survey=survey)
    _leave(problems, lenient=False)


@main.command()
@click.option(
    "--data",
    type=click.Path(path_type=Path, file_okay=False),
    default=Path("desk"),
    show_default=True,
    help="Folder of the store; made if missing.",
)
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="A loopback address; any other needs accounts, which are not built yet.",
)
@click.option("--port", default=8712, show_default=True, help="0 = any free one.")
def desk(*, data: Path, host: str, port: int) -> None:
    """Serve the desk, the web application, on this computer until interrupted."""
    _desk(data, host, port)


def _desk(data: Path, host: str, port: int, *, survey: Path | None = None) -> None:
    from bolewalk.desk.serve import DeskError, open_with, serve
    from bolewalk.store.errors import StoreError

    try:
        start = "" if survey is None else open_with(data, survey)
        serve(data, host=host, port=port, ready=lambda at: click.echo(f"desk: {at}{start}"))
    except (DeskError, StoreError) as e:
        _misuse(str(e))


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


Data = click.option(
    "--data",
    required=True,
    help="Data folder of the desk, or the URL of a PostgreSQL database.",
)
Media = click.option(
    "--media",
    type=click.Path(path_type=Path, file_okay=False),
    help="Folder of the kept files; needed with a URL.",
)


@main.command()
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
    from bolewalk.store.database import is_url
    from bolewalk.store.errors import StoreError
    from bolewalk.store.store import DATABASE, Store

    if not is_url(data) and not Path(data, DATABASE).is_file():
        _misuse(f"no store in {data}: there is no {DATABASE} in it")
    try:
        with Store.open(data, media=media) as store:
            copied = copy_store(store, out)
    except StoreError as e:
        _misuse(str(e))
    _say(f"{copied.files} kept files, {copied.size:,} bytes; {copied.new_files} copied now")
    _sound(copied.faults)
    click.echo(out.resolve())


@main.command()
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
        _misuse(str(e))
    _say(f"{copied.files} kept files, {copied.size:,} bytes")
    _sound(copied.faults)


def _sound(faults: Sequence[str]) -> None:
    for fault in faults:
        _say(f"fault: {fault}")
    if faults:
        sys.exit(1)


@main.command()
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
        with _steps() as begin:
            found = screen_all(
                trees, works, out, columns=columns, method=method, scheduler=scheduler,
                processes=processes or os.cpu_count() or 1,
                progress=lambda what, done, of: begin(f"{what}: {done} of {of}"),
            )  # fmt: skip
    except (TableError, ColumnsError, FrameError, MissingExtraError) as e:
        _misuse(str(e))
    except WorkersLostError as e:
        _say(f"bolewalk: {e}; what is finished is kept, the next run goes on there")
        sys.exit(1)
    except OSError as e:
        _misuse(f"cannot write to {out}, or no answer from {scheduler}: {e}")
    _report(found.problems, as_json=as_json)
    _say(f"{found.rows:,} rows, {found.near:,} trees near works, {found.left_out:,} not placed")
    for verdict, count in found.verdicts.items():
        _say(f"{verdict}: {count:,}")
    _say(f"start with: {(out / 'summary.html').resolve()}")
    _leave(found.problems, lenient=lenient)


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


def _read(survey: Path, *, as_json: bool) -> Any:
    from bolewalk.intake.folder import SurveyUnreadableError, read_folder

    try:
        return read_folder(survey)
    except SurveyUnreadableError as e:
        if as_json:
            _report(e.problems, as_json=True)
        _misuse(f"{survey}: {e}")


def _make(survey: Path, out: Path, *, as_json: bool = False) -> tuple[Problem, ...]:
    from bolewalk.intake.recording import recording_of
    from bolewalk.papers.write import write_papers
    from bolewalk.survey import assess

    with _steps() as begin:
        begin("reading the survey")
        job = _read(survey, as_json=as_json)
        if out.resolve() == survey.resolve():
            # survey.dxf or decisions.pdf may be a file of the survey's own, which would be lost.
            _misuse(
                f"the papers would lie among the survey's own files in {out}: name another folder"
            )
        findings = assess(job, progress=begin)
        try:
            write_papers(findings, out, progress=begin, recording=recording_of(survey))
        except OSError as e:
            _misuse(f"cannot write to {out}: {e}")
    return findings.problems


class _Listener:
    """The speech recogniser, loaded when the first recording needs it."""

    def __init__(self, model: Path | None, *, hints: bool, region: str | None) -> None:
        from bolewalk.reference.plants import REGIONS

        known = next((r for r in REGIONS if r == region), None)
        if region is not None and known is None:
            _misuse(f"no region {region!r}; one of {', '.join(REGIONS)}")
        self._model, self._hints, self._region = model, hints, known
        self._loaded: Any = None

    def take_down(self, recordings: Sequence[Path], out: Path) -> tuple[Problem, ...]:
        """Write the transcript of recordings, with progress on stderr."""
        import time

        from bolewalk.model.extras import MissingExtraError
        from bolewalk.walk.speech import partial_path
        from bolewalk.walk.speech import transcribe as take_down

        try:
            with _sound_steps() as tell:
                done = take_down(
                    [(p, p.name) for p in recordings], out=out, recogniser=self._recogniser(),
                    progress=tell, clock=time.monotonic,
                )  # fmt: skip
        except MissingExtraError as e:
            _misuse(str(e))
        except OSError as e:
            _misuse(f"cannot write {out}: {e}")
        except KeyboardInterrupt:
            _say(f"stopped; {partial_path(out)} holds what is finished, the next run goes on there")
            sys.exit(1)
        if done.sections:
            _say(f"transcript: {out}")
        return done.problems

    def _recogniser(self) -> Any:
        from bolewalk.walk.hints import likely_species
        from bolewalk.walk.recogniser import SpeechModelError, find_model, load_recogniser

        if self._loaded is None:
            if self._hints and self._region is None:
                _say("no --region: the recogniser is not told which species are likely")
            names = likely_species(self._region) if self._hints and self._region else ()
            try:
                self._loaded = load_recogniser(find_model(self._model), hints=names)
            except SpeechModelError as e:
                _misuse(str(e))
        return self._loaded


def _transcripts(
    walk: Sequence[Path], listen: _Listener
) -> tuple[list[tuple[Path, Path | None]], tuple[Problem, ...]]:
    """Give the transcript of each part of a walk, with its recording where that was named."""
    from bolewalk.walk.recordings import is_recording
    from bolewalk.walk.transcript import sections_of

    found: list[tuple[Path, Path | None]] = []
    problems: tuple[Problem, ...] = ()
    for path in walk:
        if not is_recording(path):
            found.append((path, None))
            continue
        beside = [path.with_suffix(s) for s in (".vtt", ".srt", ".txt")]
        out = next((p for p in beside if p.is_file() and p != path), None)
        if out is not None:
            names = [s.name for s in sections_of(out.read_text("utf-8", errors="replace"))]
            if names and path.name not in names:
                _misuse(f"{out} is the transcript of {', '.join(names)}, not of {path.name}")
            _say(f"{path.name}: its transcript {out} is read")
        else:
            out = beside[0]
            problems += listen.take_down([path], out)
        if out.is_file():
            found.append((out, path))
    return found, problems


def _stills(
    transcripts: Sequence[tuple[Path, Path | None]], found: Any, folder: Path
) -> tuple[Problem, ...]:
    from bolewalk.model.extras import MissingExtraError
    from bolewalk.walk.stills import cut_stills, footage_of

    try:
        footage, unread = footage_of(transcripts)
        cut, problems = cut_stills(found.trees, footage, out=folder)
    except MissingExtraError as e:
        _misuse(str(e))
    except OSError as e:
        _misuse(f"cannot write to {folder}: {e}")
    _say(f"stills: {len(cut)} of {len(found.trees)} trees, in {folder}")
    return (*unread, *problems)


class _sound_steps:  # noqa: N801 - reads as a verb in `with _sound_steps() as tell`
    """Progress through the sound on stderr: redrawn on a terminal, else a line every tenth."""

    def __init__(self) -> None:
        self._live = sys.stderr.isatty()
        self._tenth = 0

    def __enter__(self) -> Callable[[Any], None]:
        return self._tell

    def _tell(self, at: Any) -> None:
        share = at.done_s / at.total_s if at.total_s else 1.0
        left = "" if at.left_s is None else f", about {_minutes(at.left_s)} left"
        line = f"listening: {_minutes(at.done_s)} of {_minutes(at.total_s)}{left}"
        if self._live:
            click.echo(f"\r\x1b[2K{line}", err=True, nl=False)
        elif int(share * 10) > self._tenth:
            self._tenth = int(share * 10)
            click.echo(line, err=True)

    def __exit__(self, *_: object) -> None:
        if self._live:
            click.echo("\r\x1b[2K", err=True, nl=False)


def _minutes(seconds: float) -> str:
    return f"{int(seconds) // 60}:{int(seconds) % 60:02d}"


def _all_there(files: Sequence[Path]) -> None:
    missing = [p for p in files if not p.is_file()]
    if missing:
        _misuse(f"no such file: {', '.join(str(p) for p in missing)}")


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
