"""The wheel holds what the desk needs to run: templates, scripts, styles, fonts, licences."""

import hashlib
import re
import subprocess
import sys
import zipfile
from importlib import resources
from pathlib import Path

ROOT = Path(__file__).parents[2]


def test_wheel_holds_every_file_of_the_desk(tmp_path: Path) -> None:
    subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path)],
        cwd=ROOT, check=True, capture_output=True,
    )  # fmt: skip
    wheel = next(tmp_path.glob("*.whl"))
    packed = set(zipfile.ZipFile(wheel).namelist())
    here = {
        p.relative_to(ROOT).as_posix()
        for p in (ROOT / "bolewalk" / "desk").rglob("*")
        if p.is_file() and "__pycache__" not in p.parts
    }
    assert here <= packed, sorted(here - packed)
    for name in ("templates/site.html", "static/plan/plan.js", "static/vendor/ol.js",
                 "openapi.json"):  # fmt: skip
        assert f"bolewalk/desk/{name}" in packed


def test_vendored_files_are_those_that_are_listed() -> None:
    room = resources.files("bolewalk.desk") / "static" / "vendor"
    listed = (room / "VENDORED.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| ([\w./-]+) \| (\S+) \| \S+ \| ([^|]+) \| ([0-9a-f]{64}) \|$",
                      listed, re.M)  # fmt: skip
    assert {r[0].rsplit(".", 1)[-1] for r in rows} == {"js", "css", "woff2"}
    for name, _, licence, sha256 in rows:
        file = room.joinpath(*name.split("/"))
        assert hashlib.sha256(file.read_bytes()).hexdigest() == sha256, name
        text = licence.split(", ")[1].strip()
        assert room.joinpath(*text.split("/")).is_file(), text
    kept = {p.relative_to(str(room)).as_posix() for p in Path(str(room)).rglob("*") if p.is_file()}
    others = {n for n in kept if "LICENSE" not in n and n != "VENDORED.md"}
    assert others == {r[0] for r in rows}
