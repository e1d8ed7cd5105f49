"""The desk for others: refusing, TLS of its own, behind a real web server as the docs tell."""

import os
import re
import shutil
import signal
import socket
import ssl
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, date, datetime
from pathlib import Path

import httpx2
import pytest
from click.testing import CliRunner

from bolewalk.cli import main
from bolewalk.desk.serve import Reach
from bolewalk.store.accounts import list_accounts
from bolewalk.store.store import Store

from .conftest import WORDS, form_token

ROOT = Path(__file__).parents[3]
NAME = "desk.example.org"


def account(*arguments: str, data: Path, typed: str = "") -> str:
    done = CliRunner().invoke(main, ["account", *arguments, "--data", str(data)], input=typed)
    assert done.exit_code == 0, done.output
    return done.output


@pytest.fixture(scope="module")
def data(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A store with one account and one survey."""
    folder = tmp_path_factory.mktemp("deployed") / "data"
    with Store.open(folder) as store:
        store.create_survey(
            "Sedge Lane", visited=date(2026, 5, 1), units="metric", who="desk",
            when=datetime(2026, 5, 12, tzinfo=UTC),
        )  # fmt: skip
    account("add", "Rook", "--role", "read-only", data=folder, typed=f"{WORDS}\n")
    return folder


@pytest.fixture(scope="module")
def certificate(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Path]:
    """A certificate for the name, its own authority."""
    folder = tmp_path_factory.mktemp("tls")
    cert, key = folder / "desk.pem", folder / "desk.key"
    subprocess.run(
        ["openssl", "req", "-x509", "-newkey", "ec", "-pkeyopt", "ec_paramgen_curve:P-256",
         "-nodes", "-days", "2", "-subj", f"/CN={NAME}", "-addext", f"subjectAltName=DNS:{NAME}",
         "-keyout", key, "-out", cert],
        check=True, capture_output=True,
    )  # fmt: skip
    return cert, key


@contextmanager
def running(*arguments: str) -> Iterator[int]:
    """Run a desk; give its port."""
    process = subprocess.Popen(
        [sys.executable, "-m", "bolewalk", "desk", "--port", "0", *arguments],
        stdout=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    try:
        assert process.stdout is not None
        found = re.search(r":(\d+)$", process.stdout.readline().strip())
        assert found
        yield int(found[1])
    finally:
        os.killpg(process.pid, signal.SIGTERM)
        process.wait(30)
        if process.stdout is not None:
            process.stdout.close()


@contextmanager
def secure_browser(port: int, certificate: Path) -> Iterator[httpx2.Client]:
    """A browser that knows the certificate and believes the name to be on this computer."""
    trust = ssl.create_default_context(cafile=str(certificate))
    with httpx2.Client(
        base_url=f"https://127.0.0.1:{port}", verify=trust, headers={"host": f"{NAME}:{port}"}
    ) as browser:
        browser._transport = _Named(browser._transport)
        yield browser


class _Named(httpx2.BaseTransport):
    """Asks for the certificate of the name, whatever address it is reached at."""

    def __init__(self, inner: httpx2.BaseTransport) -> None:
        self._inner = inner

    def handle_request(self, request: httpx2.Request) -> httpx2.Response:
        request.extensions["sni_hostname"] = NAME
        return self._inner.handle_request(request)

    def close(self) -> None:
        self._inner.close()


def test_the_desk_by_its_own_certificate(data: Path, certificate: tuple[Path, Path]) -> None:
    cert, key = certificate
    own = ("--certificate", str(cert), "--key", str(key), "--name", NAME)
    with (
        running("--data", str(data), "--host", "0.0.0.0", *own) as port,
        secure_browser(port, cert) as browser,
    ):
        browser.headers["origin"] = f"https://{NAME}:{port}"
        entered = enter(browser)
        assert entered.status_code == 303
        assert entered.headers["set-cookie"].startswith("__Host-session=")
        home = browser.get("/")
        assert "Sedge Lane" in home.text
        assert home.headers["strict-transport-security"] == "max-age=31536000"
        assert browser.get("/", headers={"host": "elsewhere.example"}).status_code == 403
        # Older protocols are not spoken.
        old = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
        old.check_hostname = False
        old.verify_mode = ssl.CERT_NONE
        old.set_ciphers("ALL:@SECLEVEL=0")
        old.options &= ~ssl.OP_NO_TLSv1_1
        with pytest.warns(DeprecationWarning, match="TLSv1_1"):
            old.maximum_version = ssl.TLSVersion.TLSv1_1
        with socket.create_connection(("127.0.0.1", port)) as plain, pytest.raises(ssl.SSLError):
            old.wrap_socket(plain)


def enter(browser: httpx2.Client) -> httpx2.Response:
    page = browser.get("/sign-in")
    assert page.status_code == 200, page.text
    told = {"form_token": form_token(page.text), "name": "Rook", "password": WORDS, "back": "/"}
    return browser.post("/sign-in", data=told)


def nginx_block(port: int, desk: int, cert: Path, key: Path) -> str:
    """Give the block of the docs with the test's own names and files."""
    text = (ROOT / "docs" / "deployment.md").read_text(encoding="utf-8")
    found = re.search(r"```nginx\n(.*?)```", text, re.S)
    assert found
    block = found[1]
    for told, own in (
        ("listen 443 ssl", f"listen 127.0.0.1:{port} ssl"),
        ("/etc/ssl/desk.pem", str(cert)),
        ("/etc/ssl/desk.key", str(key)),
        ("127.0.0.1:8712", f"127.0.0.1:{desk}"),
    ):
        assert block.count(told) == 1, told
        block = block.replace(told, own)
    return block


@contextmanager
def nginx(folder: Path, block: str) -> Iterator[None]:
    found = shutil.which("nginx") or "/usr/sbin/nginx"
    assert Path(found).is_file(), "install Debian's nginx-light, or run ./scripts/test, which does"
    folder.mkdir()
    folder.chmod(0o755)
    own = "\n".join(
        f"{kind}_temp_path {folder}/{kind};"
        for kind in ("client_body", "proxy", "fastcgi", "uwsgi", "scgi")
    )
    (folder / "nginx.conf").write_text(
        f"daemon off; pid {folder}/pid; error_log {folder}/error.log;\n"
        f"{'user root;' if os.geteuid() == 0 else ''}\n"
        f"events {{}}\nhttp {{ access_log off; {own}\n{block}\n}}\n"
    )
    process = subprocess.Popen([found, "-c", folder / "nginx.conf", "-p", folder])
    try:
        yield
    finally:
        process.terminate()
        process.wait(30)


def free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        return int(taken.getsockname()[1])


def answering(port: int) -> None:
    end = time.monotonic() + 30
    while time.monotonic() < end:
        with socket.socket() as tried:
            if tried.connect_ex(("127.0.0.1", port)) == 0:
                return
        time.sleep(0.05)
    raise AssertionError("nothing answers")


def test_the_desk_behind_nginx_as_documented(
    data: Path, certificate: tuple[Path, Path], tmp_path: Path
) -> None:
    cert, key = certificate
    with running("--data", str(data), "--proxy", "127.0.0.1", "--name", NAME) as desk:
        port = free_port()
        with nginx(tmp_path / "nginx", nginx_block(port, desk, cert, key)):
            answering(port)
            with secure_browser(port, cert) as browser:
                # nginx hands the name on without the port; a browser at port 443 sends none.
                browser.headers["host"] = NAME
                browser.headers["origin"] = f"https://{NAME}"
                entered = enter(browser)
                assert entered.status_code == 303, entered.text
                # The desk, which itself speaks plainly, knows that the visitor came by TLS.
                assert entered.headers["set-cookie"].startswith("__Host-session=")
                home = browser.get("/")
                assert home.status_code == 200
                assert home.headers["strict-transport-security"] == "max-age=31536000"
                assert "default-src 'none'" in home.headers["content-security-policy"]
                assert browser.get("/", headers={"host": "e.example"}).status_code == 403
        # Whoever comes past the web server has to sign in as well.
        straight = httpx2.get(f"http://127.0.0.1:{desk}/", headers={"host": NAME})
        assert straight.status_code == 303


def test_nobody_elses_word_is_taken_about_visitors(data: Path) -> None:
    forged = {"host": NAME, "x-forwarded-proto": "https", "x-forwarded-for": "192.0.2.9"}
    with running("--data", str(data), "--proxy", "192.0.2.1", "--name", NAME) as port:
        page = httpx2.get(f"http://127.0.0.1:{port}/sign-in", headers=forged)
        assert page.headers["set-cookie"].startswith("visit=")
        assert "strict-transport-security" not in page.headers


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--host", "0.0.0.0"], "0.0.0.0 can be reached from other computers"),
        (["--proxy", "127.0.0.1"], "lets other computers in"),
        (["--accounts"], "--accounts asks for a sign-in"),
        (["--host", "0.0.0.0", "--proxy", "desk.example.org"], "give the address"),
    ],
)
def test_without_accounts_nobody_else_is_let_in(
    tmp_path: Path, arguments: list[str], says: str
) -> None:
    told = ["desk", "--data", str(tmp_path / "data"), "--port", "0", *arguments]
    done = CliRunner().invoke(main, told)
    assert done.exit_code == 2
    assert says in done.output
    if "reached" in says:
        assert "bolewalk account add NAME --role owner" in done.output


def test_a_closed_account_is_none(tmp_path: Path) -> None:
    account("add", "One", "--role", "owner", data=tmp_path, typed=f"{WORDS}\n")
    account("add", "Two", "--role", "owner", data=tmp_path, typed=f"{WORDS}\n")
    account("close", "Two", data=tmp_path)
    with Store.open(tmp_path) as store:
        assert [a.disabled_at is None for a in list_accounts(store)] == [True, False]
    done = CliRunner().invoke(main, ["account", "close", "One", "--data", str(tmp_path)])
    assert done.exit_code == 2
    assert "last owner" in done.output


def test_a_certificate_without_its_key_is_told(
    data: Path, certificate: tuple[Path, Path], tmp_path: Path
) -> None:
    broken = tmp_path / "broken.pem"
    broken.write_text("no certificate")
    for arguments, says in (
        (["--certificate", str(certificate[0])], "go together"),
        (["--certificate", str(broken), "--key", str(certificate[1])], "cannot be used"),
    ):
        told = ["desk", "--data", str(data), "--port", "0", "--accounts", *arguments]
        done = CliRunner().invoke(main, told)
        assert done.exit_code == 2
        assert says in done.output


def test_plain_passwords_are_warned_of() -> None:
    assert Reach(host="0.0.0.0").readable
    assert not Reach(host="127.0.0.1").readable
    assert not Reach(host="0.0.0.0", proxy="192.0.2.1").readable
    assert not Reach(host="0.0.0.0", certificate=Path("a"), key=Path("b")).readable


def test_accounts_from_the_command_line(tmp_path: Path) -> None:
    account("add", "Mirela", "--role", "owner", data=tmp_path, typed=f"{WORDS}\n")
    account("add", "Fenna", "--role", "field", "--firm", "Hale", data=tmp_path, typed=f"{WORDS}\n")
    account("role", "fenna", "estimator", data=tmp_path)
    account("password", "Fenna", data=tmp_path, typed="nine rusty gate hinges\n")
    account("sign-out", "Fenna", data=tmp_path)
    account("close", "Fenna", data=tmp_path)
    listed = account("list", data=tmp_path).splitlines()
    assert listed[0].startswith("Fenna\testimator\tHale\tclosed 20")
    assert listed[1] == "Mirela\towner\t\t"
    account("open", "Fenna", data=tmp_path)
    assert "closed" not in account("list", data=tmp_path)
    done = CliRunner().invoke(
        main, ["account", "add", "Weak", "--role", "field", "--data", str(tmp_path)], input="x\n"
    )
    assert done.exit_code == 2
    assert "at least 12" in done.output
    assert "x\n" not in done.output.replace("characters", "")
    done = CliRunner().invoke(main, ["account", "close", "Nobody", "--data", str(tmp_path)])
    assert done.exit_code == 2
    assert "no account 'Nobody'" in done.output


@pytest.mark.parametrize("arguments", [["list"], ["close", "Nobody"], ["sign-out", "Nobody"]])
def test_a_mistyped_folder_is_told_and_not_made(tmp_path: Path, arguments: list[str]) -> None:
    wrong = tmp_path / "dekst"
    done = CliRunner().invoke(main, ["account", *arguments, "--data", str(wrong)])
    assert done.exit_code == 2
    assert f"no store in {wrong}" in done.stderr
    assert not wrong.exists()
