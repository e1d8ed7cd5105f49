"""Commands on the recorded walk: take down the speech, draft the tree table."""

import csv
import io
import json
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

import click

from bolewalk.commands.talk import AsJson, Lenient, leave, misuse, report, say, write_text
from bolewalk.model.problems import Problem

__all__ = ["draft", "transcribe"]


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


@click.command(short_help="Take down the speech of recordings.")
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
        misuse("two of these would share a transcript; name it with --out")
    existing = [o for o, _ in jobs if o.exists()]
    if existing and not replace:
        misuse(
            f"there is a transcript: {', '.join(map(str, existing))}; it may have been corrected "
            "by hand. --replace takes down anew."
        )
    problems = [p for o, files in jobs for p in listen.take_down(files, o)]
    report(problems, as_json=as_json)
    leave(problems, lenient=lenient)


@click.command(short_help="Draft the tree table from a talked walk.")
@click.argument("walk", nargs=-1, required=True, type=click.Path(path_type=Path))
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File for the draft: a tree table to go through where it ends in .csv, else everything "
    "heard, as JSON; without it the JSON goes to stdout.",
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
        misuse(f"the draft would replace {out}, from which it is made: name another file")
    as_table = out is not None and out.suffix.lower() == ".csv"
    if as_table and out is not None and out.exists():
        misuse(f"there is a tree table: {out}; it may hold corrections. Name another file")
    cues, problems = read_walk([(p, p.name) for p, _ in transcripts])
    problems = (*unheard, *problems)
    found = draft_walk(cues)
    if as_table:
        text = _table(found)
    else:
        text = json.dumps(draft_json(found), ensure_ascii=False, indent=1) + "\n"
    if stills is not None:
        problems = (*problems, *_stills(transcripts, found, stills))
    if out is None:
        click.echo(text, nl=False)
    else:
        write_text(out, text)
        say(f"trees heard: {sum(t.count for t in found.trees)}; a proposal to check: {out}")
    report(problems, as_json=as_json and out is not None)
    leave(problems, lenient=lenient)


def _table(found: Any) -> str:
    from bolewalk.walk.table_rows import ROW_COLUMNS, table_rows

    text = io.StringIO()
    rows = csv.DictWriter(text, ROW_COLUMNS, restval="", lineterminator="\n")
    rows.writeheader()
    rows.writerows(table_rows(found))
    return text.getvalue()


class _Listener:
    """The speech recogniser, loaded when the first recording needs it."""

    def __init__(self, model: Path | None, *, hints: bool, region: str | None) -> None:
        from bolewalk.reference.plants import REGIONS

        known = next((r for r in REGIONS if r == region), None)
        if region is not None and known is None:
            misuse(f"no region {region!r}; one of {', '.join(REGIONS)}")
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
            misuse(str(e))
        except OSError as e:
            misuse(f"cannot write {out}: {e}")
        except KeyboardInterrupt:
            say(f"stopped; {partial_path(out)} holds what is finished, the next run goes on there")
            sys.exit(1)
        if done.sections:
            say(f"transcript: {out}")
        return done.problems

    def _recogniser(self) -> Any:
        from bolewalk.walk.hints import likely_species
        from bolewalk.walk.recogniser import SpeechModelError, find_model, load_recogniser

        if self._loaded is None:
            if self._hints and self._region is None:
                say("no --region: the recogniser is not told which species are likely")
            names = likely_species(self._region) if self._hints and self._region else ()
            try:
                self._loaded = load_recogniser(find_model(self._model), hints=names)
            except SpeechModelError as e:
                misuse(str(e))
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
                misuse(f"{out} is the transcript of {', '.join(names)}, not of {path.name}")
            say(f"{path.name}: its transcript {out} is read")
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
        misuse(str(e))
    except OSError as e:
        misuse(f"cannot write to {folder}: {e}")
    say(f"stills: {len(cut)} of {len(found.trees)} trees, in {folder}")
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
        misuse(f"no such file: {', '.join(str(p) for p in missing)}")
