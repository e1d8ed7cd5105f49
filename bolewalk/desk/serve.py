"""The desk served: on this computer, or to others once there are accounts."""

import getpass
import hashlib
import ipaddress
import socket
import ssl
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path

import uvicorn

from bolewalk.desk.app import create_app
from bolewalk.desk.guards import is_loopback
from bolewalk.desk.logs import Logged, log_config, wordless_threads
from bolewalk.store.accounts import has_accounts
from bolewalk.store.database import is_url
from bolewalk.store.store import Store

__all__ = ["DeskError", "Reach", "address_of", "listen", "open_with", "person", "serve"]


class DeskError(RuntimeError):
    """The desk cannot start; the text says why and what to do."""


@dataclass(frozen=True, slots=True)
class Reach:
    """From where a desk can be reached, and how.

    Attributes
    ----------
    host : str
        Address it answers at; only a loopback one can do without accounts.
    port : int
        0 = any free one.
    names : tuple of str
        Names it answers under, beside the loopback ones and `host`.
    certificate, key : Path or None
        For TLS: PEM files, both or neither.
    proxy : str
        Address of the web server in front of it, the only one believed about who comes and how.
    accounts : bool
        Ask for a sign-in on the loopback address too.
    """

    host: str = "127.0.0.1"
    port: int = 8712
    names: tuple[str, ...] = ()
    certificate: Path | None = None
    key: Path | None = None
    proxy: str = ""
    accounts: bool = False

    @property
    def login(self) -> bool:
        """Whether whoever comes has to sign in: others than who sits here may come."""
        return self.accounts or bool(self.proxy) or not is_loopback(self.host)

    @property
    def readable(self) -> bool:
        """Whether passwords would travel readable for anybody on the way."""
        return not is_loopback(self.host) and not self.proxy and self.certificate is None


def serve(
    data: str | Path,
    *,
    media: Path | None = None,
    reach: Reach = Reach(),
    who: str = "",
    ready: Callable[[str], None] = lambda _: None,
    warn: Callable[[str], None] = lambda _: None,
) -> None:
    """Serve a store until interrupted.

    Parameters
    ----------
    data, media
        As for `Store.open`. Papers that are made are kept beside the media.
    reach : Reach
    who : str
        The person at the desk, for the history, where nobody signs in; the name this computer
        knows where left out.
    ready : callable
        Told the address once it answers there.
    warn : callable
        Told what whoever started it should know.

    Raises
    ------
    DeskError
        It can be reached by others and has no account, the address is taken, the certificate
        cannot be used.
    StoreError
        The store cannot be opened.
    """
    _check(reach)
    with Store.open(data, media=media) as store:
        if reach.login and not has_accounts(store):
            raise DeskError(_no_accounts(reach, data, media))
        if reach.readable:
            warn(
                "without --certificate and --key, or --proxy, passwords travel readable for "
                "anybody on the network between"
            )
        listening = listen(reach.host, reach.port)
        try:
            config = _config(store, data, reach, who or person())
            listening.listen()
            ready(address_of(listening, tls=reach.certificate is not None))
            uvicorn.Server(config).run(sockets=[listening])
        finally:
            listening.close()


def _config(store: Store, data: str | Path, reach: Reach, who: str) -> uvicorn.Config:
    folder = store.files.root.parent if is_url(data) else Path(data)
    app = create_app(
        store, folder, where=data, who=who, login=reach.login, hosts=(reach.host, *reach.names),
        addresses=not is_loopback(reach.host),
    )  # fmt: skip
    wordless_threads()
    try:
        config = uvicorn.Config(
            Logged(app),
            log_config=log_config(access=reach.login),
            access_log=False,
            server_header=False,
            lifespan="off",
            # A reader looks at a sheet for a while: a line that is closed just as the next change
            # is sent on it loses the change. nginx, too, keeps one for 75 s.
            timeout_keep_alive=75,
            # Left to itself the server believes these headers of whoever connects from here.
            proxy_headers=bool(reach.proxy),
            forwarded_allow_ips=reach.proxy or [],
            ssl_certfile=reach.certificate,
            ssl_keyfile=reach.key,
        )
        config.load()
    except (OSError, ssl.SSLError) as e:
        raise DeskError(f"the certificate or its key cannot be used: {e}") from None
    return config


def _check(reach: Reach) -> None:
    if (reach.certificate is None) != (reach.key is None):
        raise DeskError("--certificate and --key go together: give both PEM files")
    if reach.proxy:
        try:
            ipaddress.ip_network(reach.proxy)
        except ValueError:
            raise DeskError(
                f"--proxy {reach.proxy!r}: give the address the web server connects from, "
                "such as 127.0.0.1"
            ) from None


def _no_accounts(reach: Reach, data: str | Path, media: Path | None) -> str:
    kept = f" --media {media}" if media else ""
    why = (
        "--accounts asks for a sign-in"
        if is_loopback(reach.host) and not reach.proxy
        else "the web server in front of it lets other computers in"
        if reach.proxy
        else f"{reach.host} can be reached from other computers"
    )
    return (
        f"{why}, and there are no accounts yet. Make the first one:\n"
        f"  bolewalk account add NAME --role owner --data {data}{kept}\n"
        "or leave it to this computer with --host 127.0.0.1."
    )


def person() -> str:
    """Give the name this computer knows the person at it by."""
    try:
        return getpass.getuser()
    except (OSError, KeyError):
        return "desk"


def address_of(listening: socket.socket, *, tls: bool = False) -> str:
    """Give the address of a socket as a browser takes it."""
    host, port = listening.getsockname()[:2]
    return f"http{'s' if tls else ''}://{f'[{host}]' if ':' in host else host}:{port}"


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
    """Take the address the desk will answer at. Raises DeskError where it is taken."""
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
