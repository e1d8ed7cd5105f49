"""The reader in a process of its own: python -m bolewalk.desk.apart.inside, started by `worker`.

It is told on its input what to read, and answers on its output in lines of JSON: {"at": name}
before each file it opens, {"piece": text} for what it hands over, and last
{"problems": [...], "facts": {...}}. It gives itself limits first; then it writes no file, opens no
connection and starts nothing.
"""

import base64
import contextlib
import json
import os
import sys
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from bolewalk.model.problems import Problem

__all__: list[str] = []

_STARVED = ("MemoryError", "Unable to allocate", "std::bad_alloc")
Answer = tuple[Sequence[Problem], dict[str, Any]]


def _limit(memory_bytes: int, cpu_s: int) -> None:
    try:
        import resource
    except ImportError:
        # Windows has none of these: there only the clock ends a reader.
        return
    for which, most in (
        (resource.RLIMIT_AS, memory_bytes),
        (resource.RLIMIT_CPU, cpu_s),
        (resource.RLIMIT_FSIZE, 0),
        (resource.RLIMIT_NOFILE, 128),
        (resource.RLIMIT_CORE, 0),
    ):
        _, hard = resource.getrlimit(which)
        most = most if hard == resource.RLIM_INFINITY else min(most, hard)
        # At the soft limit on processor time a signal says why; at the hard one it is a plain kill.
        end = most + 5 if which == resource.RLIMIT_CPU and hard == resource.RLIM_INFINITY else most
        # Some systems refuse one or other of them; the rest still hold.
        with contextlib.suppress(OSError, ValueError):
            resource.setrlimit(which, (most, end))


_FORBIDDEN = frozenset({
    "socket.connect", "socket.bind", "socket.getaddrinfo", "subprocess.Popen", "os.system",
    "os.exec", "os.posix_spawn", "os.fork", "os.forkpty", "os.remove", "os.rename", "os.rmdir",
    "os.symlink", "os.link", "shutil.rmtree",
})  # fmt: skip


def _forbid(event: str, _: Any) -> None:
    """Refuse what no reader has to do. Python code cannot get round it, native code could."""
    if event in _FORBIDDEN:
        raise PermissionError(f"a reader does no {event}")


def _at(name: str) -> None:
    _say({"at": name})


def _say(line: dict[str, Any]) -> None:
    # ASCII, one line: any text of the file passes.
    os.write(_OUT, json.dumps(line, ensure_ascii=True).encode() + b"\n")


def _survey(path: Path, name: str) -> Answer:
    """Read a whole survey folder, as the desk will."""
    from bolewalk.desk.apart.listing import read_listed

    del name
    problems, facts = read_listed(path, _at)
    _fed(problems)
    return problems, facts


def _file(path: Path, name: str) -> Answer:
    """Read a single file as what it is."""
    from bolewalk.desk.apart.listing import read_alone

    _at(name)
    problems = read_alone(path, name)
    _fed(problems)
    return problems, {}


def _fed(problems: Sequence[Problem]) -> None:
    """Raise MemoryError where a reader told of one as damage, as readers do of any error: with
    the desk's own memory it would not be one."""
    starved = next((p for p in problems if str(p.value).startswith(_STARVED)), None)
    if starved is not None:
        _at(starved.file)
        raise MemoryError


def _recording(path: Path, name: str) -> Answer:
    from bolewalk.model.extras import MissingExtraError
    from bolewalk.walk.recordings import media, open_media, probe

    _at(name)
    try:
        found, problems = probe(path, file=name)
    except MissingExtraError:
        # Nothing here can decode it then, so nothing can be made to.
        return (), {}
    if found is None:
        return problems, {}
    frame_px = 0
    with contextlib.suppress(media().FFmpegError), open_media(path) as container:
        frame_px = max((s.width * s.height for s in container.streams.video), default=0)
    # A silent video is told when it is listened to; here it is only held against the limits.
    return (), {"duration_s": found.duration_s, "frame_px": frame_px}


def _probe(path: Path, name: str) -> Answer:
    from bolewalk.walk.recordings import probe

    _at(name)
    found, problems = probe(path, file=name)
    if found is None:
        return problems, {}
    return problems, {
        "duration_s": found.duration_s, "sound_s": found.sound_s,
        "has_audio": found.has_audio, "has_video": found.has_video,
    }  # fmt: skip


def _sound(path: Path, name: str) -> Answer:
    """Decode a recording; its blocks of sound are handed over as little-endian float32."""
    from bolewalk.walk.recordings import Sound, probe

    _at(name)
    found, problems = probe(path, file=name)
    if found is None or not found.has_audio:
        return problems, {}
    sound = Sound(found)
    for block in sound:
        _say({"piece": base64.b64encode(block.astype("<f4").tobytes()).decode("ascii")})
    return sound.problems(), {}


def _pdf(path: Path, name: str) -> Answer:
    return _of_pdf(path, name, _pages)


def _pdf_text(path: Path, name: str) -> Answer:
    return _of_pdf(path, name, _text)


def _of_pdf(path: Path, name: str, read: Callable[[Any], dict[str, Any]]) -> Answer:
    from bolewalk.model.extras import MissingExtraError, extra

    _at(name)
    try:
        with extra("pdf", what="Reading PDF files"):
            import pypdfium2
    except MissingExtraError:
        return (), {}
    try:
        with pypdfium2.PdfDocument(path) as pdf:
            return (), read(pdf)
    except pypdfium2.PdfiumError as e:
        expected = "a PDF file that can be read without a password"
        return (Problem(name, None, None, str(e), expected),), {}


def _pages(pdf: Any) -> dict[str, Any]:
    pages = len(pdf)
    # The size of a page stands in its own entry or one above it: reading it parses both.
    sides = [max(pdf.get_page_size(n)) for n in range(min(pages, 1_000))]
    return {"pages": pages, "page_pt": max(sides, default=0.0)}


def _text(pdf: Any) -> dict[str, Any]:
    return {"text": "\n".join(page.get_textpage().get_text_bounded() for page in pdf)}


_JOBS: dict[str, Callable[[Path, str], Answer]] = {
    "survey": _survey,
    "file": _file, "recording": _recording, "pdf": _pdf, "pdf text": _pdf_text,
    "probe": _probe, "sound": _sound,
}  # fmt: skip
_FULL = 0.9
_OUT = 100
"""Number of the stream the answer goes to."""


def _most_used() -> int:
    """Give the most address space ever taken [bytes]; 0 where the system does not say."""
    try:
        status = Path("/proc/self/status").read_text(encoding="ascii")
    except (OSError, ValueError):
        return 0
    peak = next((x for x in status.splitlines() if x.startswith("VmPeak:")), "VmPeak: 0 kB")
    return int(peak.split()[1]) * 1024


def _main() -> None:
    asked = json.loads(sys.stdin.buffer.readline())
    _limit(asked["memory_bytes"], asked["cpu_s"])
    # What libraries print must not come between the lines of the answer.
    os.dup2(1, _OUT)
    os.dup2(2, 1)
    sys.addaudithook(_forbid)
    try:
        problems, facts = _JOBS[asked["job"]](Path(asked["path"]), asked["name"])
    except Exception:
        # Short of memory even the interpreter breaks in ways that do not say so.
        if _most_used() > _FULL * asked["memory_bytes"]:
            raise MemoryError from None
        raise
    _say({"problems": [p.as_dict() for p in problems], "facts": facts})


if __name__ == "__main__":
    _main()
