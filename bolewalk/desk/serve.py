"""The desk served on this computer."""

import getpass
import hashlib
import socket
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path

import uvicorn

from bolewalk.desk.app import create_app
from bolewalk.desk.guards import is_loopback
from bolewalk.store.store import Store

__all__ = ["DeskError", "address_of", "listen", "open_with", "person", "serve"]


class DeskError(RuntimeError):
    """The desk cannot start; the text says why and what to do."""


def serve(
    data: Path,
    *,
    host: str = "127.0.0.1",
    port: int = 8712,
    who: str = "",
    ready: Callable[[str], None] = lambda _: None,
) -> None:
    """Serve a data folder until interrupted.

    Parameters
    ----------
    data : Path
        Folder of the store, made where it is missing.
    host : str
        A loopback address; any other needs accounts, which are not built yet.
    port : int
        0 = any free one.
    who : str
        The person at the desk, for the history; the name this computer knows where left out.
    ready : callable
        Told the address once it answers there.

    Raises
    ------
    DeskError
        Another host than loopback, or the address is taken.
    StoreError
        The store cannot be opened.
    """
    listening = listen(host, port)
    try:
        with Store.open(data) as store:
            config = uvicorn.Config(
                create_app(store, data, who=who or person()),
                log_level="warning",
                access_log=False,
                server_header=False,
                lifespan="off",
            )
            listening.listen()
            ready(address_of(listening))
            uvicorn.Server(config).run(sockets=[listening])
    finally:
        listening.close()


def person() -> str:
    """Give the name this computer knows the person at it by."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "desk"


def address_of(listening: socket.socket) -> str:
    """Give the address of a socket as a browser takes it."""
    host, port = listening.getsockname()[:2]
    return f"http://{f'[{host}]' if ':' in host else host}:{port}"


def open_with(data: Path, survey: Path) -> str:
    """Take a survey folder into a store that does not hold it yet, and give where its plan is.

    A folder that was changed since is taken in beside the older one: what was done with that on
    the desk stays.

    Raises
    ------
    StoreError
        The store cannot be opened, or the folder cannot be taken in.
    """
    mark = data / "desk" / "opened-with.txt"
    content = hashlib.sha256()
    for path in sorted(p for p in survey.rglob("*") if p.is_file()):
        content.update(path.relative_to(survey).as_posix().encode() + path.read_bytes())
    line = content.hexdigest()
    known = mark.read_text(encoding="utf-8").split() if mark.is_file() else []
    if len(known) == 2 and known[0] == line:
        return f"/surveys/{known[1]}/site"
    with Store.open(data) as store:
        taken = store.import_folder(survey, who=person(), when=datetime.now(UTC))
    mark.parent.mkdir(parents=True, exist_ok=True)
    mark.write_text(f"{line} {taken.survey_id}\n", encoding="utf-8")
    return f"/surveys/{taken.survey_id}/site"


def listen(host: str, port: int) -> socket.socket:
    """Take the address the desk will answer at. Raises DeskError as `serve`."""
    if not is_loopback(host):
        raise DeskError(
            f"{host} can be reached from other computers, and the desk has no accounts yet: "
            "anybody there could read and change every survey. Use --host 127.0.0.1."
        )
    family = socket.AF_INET6 if ":" in host else socket.AF_INET
    taken = socket.socket(family, socket.SOCK_STREAM)
    taken.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        taken.bind((host.strip("[]"), port))
    except OSError as e:
        taken.close()
        raise DeskError(
            f"port {port} of {host} cannot be used ({e.strerror}): give another with --port"
        ) from None
    return taken
