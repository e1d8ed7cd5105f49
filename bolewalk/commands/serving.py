"""The desk as a command."""

from pathlib import Path

import click

from bolewalk.commands.opening import Media
from bolewalk.commands.talk import misuse, say

__all__ = ["desk", "open_desk"]


@click.command(short_help="Serve the desk, in a browser.")
@click.option(
    "--data",
    default="desk",
    show_default=True,
    help="Folder of the store, made if missing; or the URL of a PostgreSQL database.",
)
@Media
@click.option(
    "--host",
    default="127.0.0.1",
    show_default=True,
    help="Address it answers at; any but a loopback one needs accounts.",
)
@click.option("--port", default=8712, show_default=True, help="0 = any free one.")
@click.option("--accounts", is_flag=True, help="Ask for a sign-in on a loopback address too.")
@click.option(
    "--name", "names", multiple=True, help="Name it answers under, such as desk.example.org."
)
@click.option(
    "--certificate",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="TLS certificate with its chain, PEM.",
)
@click.option(
    "--key",
    type=click.Path(path_type=Path, dir_okay=False, exists=True),
    help="Its private key, PEM.",
)
@click.option(
    "--proxy",
    default="",
    help="Address of the web server in front; what it says of visitors is believed.",
)
def desk(
    *, data: str, media: Path | None, host: str, port: int, accounts: bool,
    names: tuple[str, ...], certificate: Path | None, key: Path | None, proxy: str,
) -> None:  # fmt: skip
    """Serve the desk, the web application, until interrupted.

    On a loopback address nobody signs in, whoever sits at this computer is at the desk. For other
    computers see docs/deployment.md.
    """
    from bolewalk.desk.serve import Reach

    reach = Reach(
        host=host, port=port, names=names, certificate=certificate, key=key, proxy=proxy,
        accounts=accounts,
    )  # fmt: skip
    open_desk(data, reach, media=media)


def open_desk(
    data: str | Path, reach: object, *, media: Path | None = None, survey: Path | None = None
) -> None:
    """Serve a store, beginning with a survey folder where one is given; leaves where it cannot.

    `reach` is a `bolewalk.desk.serve.Reach`; the web libraries are loaded here and no sooner.
    """
    from bolewalk.desk.serve import DeskError, Reach, open_with, serve
    from bolewalk.store.errors import StoreError

    assert isinstance(reach, Reach)
    try:
        start = "" if survey is None else open_with(Path(data), survey)
        serve(data, media=media, reach=reach, ready=lambda at: _tell(at + start), warn=say)
    except (DeskError, StoreError) as e:
        misuse(str(e))


def _tell(address: str) -> None:
    click.echo(f"desk: {address}")
    say("Open this address in a browser. Ctrl-C stops the desk; what was done is kept.")
