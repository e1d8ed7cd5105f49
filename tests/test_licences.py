"""docs/licences.md against constraints.txt and against what the packages here state."""

import importlib.util
import re
import tomllib
from importlib.metadata import PackageNotFoundError, distribution, distributions
from pathlib import Path
from types import ModuleType

ROOT = Path(__file__).parents[1]
PINS = re.findall(
    r"^([A-Za-z0-9._-]+)==([^\s;]+)", (ROOT / "constraints.txt").read_text(encoding="utf-8"), re.M
)
ROWS = {
    name: (versions.split(", "), licence, what)
    for name, versions, licence, what in re.findall(
        r"^\| (\S+) \| ([^|]+) \| ([^|]+) \| (needed|extra|development) \|$",
        (ROOT / "docs" / "licences.md").read_text(encoding="utf-8"),
        re.M,
    )
}


def test_every_pin_is_listed_and_nothing_else() -> None:
    # After a change: python scripts/licences.py
    listed = {(name, v) for name, (versions, _, _) in ROWS.items() for v in versions}
    assert listed == set(PINS)


def script_of_licences() -> ModuleType:
    spec = importlib.util.spec_from_file_location("licences", ROOT / "scripts" / "licences.py")
    assert spec is not None
    assert spec.loader is not None
    script = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(script)
    return script


def test_what_is_pinned_is_what_pyproject_leads_to() -> None:
    # After a change of pyproject.toml: scripts/pins
    script = script_of_licences()
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    asked = [*project["dependencies"]]
    for extra in project["optional-dependencies"].values():
        asked += extra
    pinned = {script.folded(name) for name, _ in PINS}
    named = {script.folded(re.split(r"[^A-Za-z0-9._-]", r)[0]) for r in asked} - {"bolewalk"}
    assert named - pinned == set()
    here = {script.folded(d.metadata["Name"]) for d in distributions()}
    led_to = script.leads_to(asked)
    assert (led_to & here) - pinned == {"bolewalk"}
    # What a package that is not installed leads to cannot be told, nor then who needs its pin.
    told = pinned if named <= here else pinned & here
    assert told - led_to == set()


def test_licences_are_those_the_packages_state() -> None:
    script = script_of_licences()
    checked = 0
    for name, (_, licence, _) in ROWS.items():
        try:
            distribution(name)
        except PackageNotFoundError:
            continue
        assert script.licence(name) == licence, name
        checked += 1
    assert checked > 100


def test_what_is_handed_on_lets_itself_be_handed_on() -> None:
    # An Apache-2.0 program may need permissive and file-wise copyleft packages; the office extra
    # talks to PostgreSQL through an LGPL library, which is installed and replaced on its own.
    for name, (_, licence, what) in ROWS.items():
        if what == "needed":
            assert "GPL" not in licence, name
        elif what == "extra" and "GPL" in licence:
            assert name.startswith("psycopg"), name
