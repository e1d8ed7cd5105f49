"""The desk served on this computer."""

import socket
from pathlib import Path

import uvicorn

from bolewalk.desk.app import create_app
from bolewalk.desk.guards import is_loopback
from bolewalk.store.store import Store

__all__ = ["DeskError", "serve"]


class DeskError(RuntimeError):
    """The desk cannot start; the text says why and what to do."""


def serve(data: Path, *, host: str = "127.0.0.1", port: int = 8712, who: str = "desk") -> None:
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
        The person at the desk, for the history.

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
                create_app(store, data, who=who),
                log_level="warning",
                access_log=False,
                server_header=False,
                lifespan="off",
            )
            uvicorn.Server(config).run(sockets=[listening])
    finally:
        listening.close()


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
