"""Damage that keeps most of a file's structure, so that it reaches past the first check."""

import random
import re

__all__ = ["mutated"]

_SCRAPS = (
    b"nan", b"inf", b"-inf", b"1e999", b"-1e999", b"1e308", b"5e-324", b"-0", b"0", b"-1", b"1",
    b"9" * 30, b"9" * 400, b"1" * 5000, b"0x10", b"1_000", b"1,5", b"~", b"~~12", b"12/15/10/14",
    b"1/2/3/4/5", b"8+6+5", b"6'6\"", b"3.2 m", b"61cm", b"12.5in", b"\xc2\xbd",
    b"\xd9\xa1\xd9\xa2",
    b"\xef\xbb\xbf", b"\xff\xfe", b"\x00", b"\x1a", b"\xed\xa0\x80", b"\xf0\x9f\x8c\xb3",
    b"\xe2\x80\xae", b"e\xcc\x81", b"\xe2\x80\xa8", b"\n", b"\r", b"\r\n", b"\n\n", b",", b";",
    b"\t",
    b'"', b'""', b"'", b'"""', b"\\", b"\\u0000", b"\\ud800", b"{", b"}", b"[", b"]", b"[[", b"]]",
    b"[" * 200, b"{" * 200, b"{\"a\":" * 200, b"a." * 30, b"null", b"true", b"false", b"[]", b"{}",
    b'""', b"2026-02-29", b"0001-01-01", b"9999-12-31", b"2026-05-12T25:61:00", b"-->",
    b"00:00:00.000 --> 99:99:99.999", b"9999:59:59.999", b"[9:99]", b"WEBVTT", b"NOTE",
    b"<v >", b"&#0;", b"&#x110000;", b"&amp;lt;", b"../", b"..\\", b"/etc", b"C:", b"CON", b"EOF",
    b"0\nINSERT\n", b"0\nENDSEC\n", b"0\nPOLYLINE\n", b"0\nVERTEX\n", b"0\nSPLINE\n", b"0\nHATCH\n",
    b"0\nSECTION\n2\nBLOCKS\n", b"40\n0\n", b"210\n0\n220\n0\n230\n0\n", b"70\n-1\n",
    b"90\n2147483647\n",
    b"metric", b"imperial", b"ft", b"us-ft", b"EPSG:4326", b"EPSG:3857", b"EPSG:0",
)  # fmt: skip
_NUMBER = re.compile(rb"-?\d+(?:\.\d+)?")
_TOKEN = re.compile(rb"[A-Za-z_][\w-]*|\"[^\"\n]*\"|-?\d+(?:\.\d+)?")


def mutated(seeds: list[bytes], chance: random.Random, *, text: bool, most: int = 60_000) -> bytes:
    """Give a damaged file, the same for the same state of `chance`.

    Parameters
    ----------
    seeds : list of bytes
        Sound files of the kind.
    chance : Random
    text : bool
        Lines, tokens and numbers are damaged as well as bytes.
    most : int
        Longest result, bytes.
    """
    data = chance.choice(seeds)
    tools = (*_TEXT, *_BYTES) if text else _BYTES
    for _ in range(chance.choice((1, 1, 1, 2, 2, 3, 5, 12))):
        data = chance.choice(tools)(data or b"\n", chance, seeds)
    return data[:most]


def _flip(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    out = bytearray(data)
    out[chance.randrange(len(out))] ^= 1 << chance.randrange(8)
    return bytes(out)


def _extreme(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    """Set a run of bytes to what lengths and counts break at."""
    i = chance.randrange(len(data))
    fill = chance.choice(
        (b"\xff" * 4, b"\x00" * 4, b"\x7f\xff\xff\xff", b"\xff\xff\xff\x7f", b"\x80")
    )
    return data[:i] + fill + data[i + len(fill) :]


def _cut(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    i = chance.randrange(len(data))
    return data[:i] + data[i + chance.randrange(1, 200) :]


def _end(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    return data[: chance.randrange(len(data))]


def _scrap(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    i = chance.randrange(len(data) + 1)
    return data[:i] + chance.choice(_SCRAPS) + data[i:]


def _repeat(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    i = chance.randrange(len(data))
    piece = data[i : i + chance.randrange(1, 80)]
    return data[:i] + piece * chance.choice((2, 3, 50, 400)) + data[i:]


def _graft(data: bytes, chance: random.Random, seeds: list[bytes]) -> bytes:
    other = chance.choice(seeds) or b"\n"
    i, j = chance.randrange(len(data)), chance.randrange(len(other))
    return data[:i] + other[j : j + chance.randrange(1, 400)] + data[i:]


def _number(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    found = list(_NUMBER.finditer(data))
    if not found:
        return data
    m = chance.choice(found)
    return data[: m.start()] + chance.choice(_SCRAPS[:32]) + data[m.end() :]


def _token(data: bytes, chance: random.Random, seeds: list[bytes]) -> bytes:
    """Put one word, text or number where another stood."""
    found = list(_TOKEN.finditer(data))
    other = _TOKEN.findall(chance.choice(seeds))
    if not found or not other:
        return data
    m = chance.choice(found)
    new = chance.choice(other) if chance.random() < 0.6 else chance.choice(_SCRAPS)
    return data[: m.start()] + new + data[m.end() :]


def _lines(data: bytes, chance: random.Random, seeds: list[bytes]) -> bytes:
    """Drop, double, move or bring in a line."""
    lines = data.split(b"\n")
    i, j = chance.randrange(len(lines)), chance.randrange(len(lines))
    match chance.randrange(5):
        case 0:
            del lines[i]
        case 1:
            lines.insert(j, lines[i])
        case 2:
            lines[i], lines[j] = lines[j], lines[i]
        case 3:
            lines.insert(i, chance.choice(chance.choice(seeds).split(b"\n")))
        case _:
            lines[i:i] = [lines[i]] * chance.choice((10, 300))
    return b"\n".join(lines)


def _recode(data: bytes, chance: random.Random, _: list[bytes]) -> bytes:
    text = data.decode("utf-8", errors="replace")
    coding = chance.choice(("utf-16", "utf-16-le", "utf-8-sig", "cp1252", "latin-1", "utf-32"))
    return text.encode(coding, errors="replace")


_BYTES = (_flip, _extreme, _cut, _end, _scrap, _repeat, _graft)
_TEXT = (_number, _number, _number, _token, _token, _token, _lines, _lines, _scrap, _recode)
