"""Commands that take things out of the store for good: surveys of a client, a stretch of a walk."""

import importlib.util
import json
import re
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from bolewalk.commands.opening import Data, Media, opened
from bolewalk.commands.talk import Steps, misuse, say, write_text

if TYPE_CHECKING:
    from bolewalk.store.privacy import Certificate
    from bolewalk.store.privacy_cut import Cut, IssueTouched
    from bolewalk.store.store import Store

__all__ = ["cut", "forget"]

_TIME = re.compile(r"(?:(\d+):)?(?:(\d+):)?(\d+(?:\.\d+)?)")
Yes = click.option("--yes", is_flag=True, help="Do it; without, what would go is told and kept.")


class _Seconds(click.ParamType[float]):
    name = "time"

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        found = _TIME.fullmatch(str(value))
        if found is None:
            self.fail("a time, such as 75, 1:15 or 1:02:15.5", param, ctx)
        seconds = 0.0
        for part in str(value).split(":"):
            seconds = seconds * 60 + float(part)
        return seconds


@click.command(short_help="Take a client's surveys out for good.")
@Data
@Media
@click.option("--client", help="Name of the client, as survey.toml has it, now or ever.")
@click.option("--survey", "numbers", type=int, multiple=True, help="Number of a survey; any often.")
@click.option(
    "--out",
    type=click.Path(path_type=Path, dir_okay=False),
    help="File for the certificate of what went; needed with --yes.",
)
@click.option(
    "--wipe", is_flag=True, help="Only write the database anew, where others kept it from being so."
)
@Yes
def forget(
    *, data: str, media: Path | None, client: str | None, numbers: tuple[int, ...],
    out: Path | None, wipe: bool, yes: bool,
) -> None:  # fmt: skip
    """Take surveys out of the store for good: all of a client's, or some by number.

    Rows, history, recordings, photographs, sealed papers, links and their openings go; files that
    another survey has as well stay for that one. Without --yes nothing goes, and what would is
    told. The certificate (JSON) holds counts, hashes and dates, and no personal text. What is to be
    kept is written out before with `bolewalk export`. Backups made earlier still hold everything:
    bring them up to date with `bolewalk backup`, or destroy them.
    """
    from bolewalk.store.errors import NotWipedError
    from bolewalk.store.privacy import forget as take_out
    from bolewalk.store.privacy import surveys_of_client, would_forget

    if (client is not None) + bool(numbers) + wipe != 1:
        misuse("give --client NAME, or --survey NUMBER as often as needed")
    if yes and out is None and not wipe:
        misuse("--yes needs --out FILE for the certificate")
    when, unwiped = datetime.now(UTC), ""
    with opened(data, media) as store:
        ids = set(numbers)
        if client is not None:
            ids = {e.id for e in surveys_of_client(store, client)}
            if not ids:
                misuse(f"no survey names the client {client!r}; give --survey NUMBER instead")
        if out is not None and yes:
            # A disk that does not take the certificate is found out before anything goes.
            write_text(out, "")
        try:
            doing = take_out if yes or wipe else would_forget
            told = doing(store, ids, when=when)
        except NotWipedError as e:
            told, unwiped = e.done, str(e)
        if not wipe:
            _tell_certificate(store, told, done=yes)
    if yes and out is not None:
        _clear(data, media, ids)
        write_text(out, json.dumps(told.as_dict(), indent=1, sort_keys=True) + "\n")
        click.echo(out.resolve())
    if unwiped:
        misuse(unwiped)


def _tell_certificate(store: "Store", told: "Certificate", *, done: bool) -> None:
    names = {e.id: e.name for e in store.surveys()}
    verb = "gone" if done else "would go"
    for s in told.surveys:
        say(
            f"survey {s.id}{'' if done else f' ({names.get(s.id, chr(63))})'}: {verb}: {s.items} "
            f"items, {s.changes} changes, {len(s.seals)} issues, {s.links} links"
        )
    size = sum(m.size for m in told.files)
    say(f"{len(told.files)} files, {size:,} bytes: {verb}")
    if told.files_elsewhere:
        say(f"{len(told.files_elsewhere)} files stay: other surveys have them as well")
    if not done:
        say("nothing was taken away; with --yes it is")


@click.command(short_help="Cut a stretch out of a recording for good.")
@click.argument("recording")
@Data
@Media
@click.option("--survey", type=int, required=True, help="Number of the survey.")
@click.option("--from", "start", type=_Seconds(), required=True, help="First moment: 75 or 1:15.")
@click.option("--to", "end", type=_Seconds(), required=True, help="The moment after the last.")
@click.option("--who", default="desk", show_default=True, help="Name for the history.")
@Yes
def cut(
    *, recording: str, data: str, media: Path | None, survey: int, start: float, end: float,
    who: str, yes: bool,
) -> None:  # fmt: skip
    """Cut a stretch out of RECORDING, a file of a survey, and out of its transcript.

    The sound of the stretch becomes silence and the picture stands still, so that every other
    moment stays at its time and every tree still leads to where it was spoken of. The files as they
    were go for good, from the history and from sealed issues as well; the seals stay and say so.
    Papers already issued are not changed: those with words of the stretch in them are told, and
    what was entered by hand with such words. Without --yes nothing is changed.
    """
    from bolewalk.desk.apart.worker import pdf_text
    from bolewalk.model.extras import MissingExtraError
    from bolewalk.store.errors import NotWipedError
    from bolewalk.store.privacy_cut import cut_stretch, would_cut

    unwiped = ""
    with opened(data, media) as store, Steps() as begin:
        try:
            if yes:
                done = cut_stretch(
                    store, survey, recording, start_s=start, end_s=end, who=who,
                    when=datetime.now(UTC), read_pdf=pdf_text, progress=begin,
                )  # fmt: skip
            else:
                done = would_cut(
                    store, survey, recording, start_s=start, end_s=end, read_pdf=pdf_text
                )
        except NotWipedError as e:
            done, unwiped = e.done, str(e)
        except MissingExtraError as e:
            misuse(str(e))
    if yes:
        _clear(data, media, {survey})
    _tell_cut(done, yes=yes)
    if unwiped:
        misuse(unwiped)


def _tell_cut(done: "Cut", *, yes: bool) -> None:
    would = "" if yes else "would be "
    if done.recording:
        say(f"{done.recording}: {done.silent_s:.1f} s {would}silent")
    if done.still is not None:
        say(f"{done.recording}: the picture stands still from {done.still[0]:.1f} to "
            f"{done.still[1]:.1f} s")  # fmt: skip
    if done.transcript:
        say(f"{done.transcript}: {done.cues} cues {would}without words")
    size = sum(m.size for m in done.removed)
    say(f"{len(done.removed)} files as they were, {size:,} bytes: {'gone' if yes else 'would go'}")
    for number in done.elsewhere:
        say(f"survey {number} has the same file: cut it there as well")
    for issue in done.issues:
        _tell_issue(issue, would)
    if any(i.papers for i in done.issues):
        say("sealed papers stay as they are: withdraw such an issue, issue anew, and ask for the "
            "papers that were handed out")  # fmt: skip
    if any(i.unread for i in done.issues):
        say("what was not searched may hold words of the stretch: look it through")
        if importlib.util.find_spec("pypdfium2") is None:
            say("PDF files are searched with the extra pdf: pip install 'bolewalk[pdf]'")
    for left in done.left:
        where = "in it" if left.now else "in what it was before"
        say(f"{left.kind} {left.key}: words of the stretch stand {where}")
    if any(x.now for x in done.left):
        say("what was entered by hand is not changed: take the words out at the desk")
    if done.left:
        say("the history keeps them: `bolewalk export --now`, then `bolewalk forget`, then "
            "`bolewalk bring`; sealed issues are gone with it")  # fmt: skip
    if not yes:
        say("nothing was changed; with --yes it is")


def _tell_issue(issue: "IssueTouched", would: str) -> None:
    number = f"issue {issue.number}"
    if issue.state != "issued":
        number += f" ({issue.state})"
    for name in issue.files:
        say(f"{number}: {name} {would}removed; its seal stays and says so")
    for name in issue.papers:
        say(f"{number}: {name} holds words of the stretch; it was sealed and stays")
    for name in issue.unread:
        say(f"{number}: {name} was not searched, it cannot be read here")


def _clear(data: str, media: Path | None, ids: set[int]) -> None:
    """Take away what a desk has made of the surveys beside the store."""
    from bolewalk.desk.clearing import clear_made
    from bolewalk.store.database import is_url

    beside = media.parent if is_url(data) and media is not None else Path(data)
    made = clear_made(beside / "desk", ids)
    if made:
        say(f"{made} files made by the desk: gone")
