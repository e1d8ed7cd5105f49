"""Writes docs/licences.md: every package constraints.txt pins, with the licence it states.

    python scripts/licences.py

Packages that are not installed here (other systems, other versions of Python) are named in OTHERS.
"""

import re
import sys
import tomllib
from importlib.metadata import PackageNotFoundError, distribution
from pathlib import Path

ROOT = Path(__file__).parents[1]
PAGE = ROOT / "docs" / "licences.md"

# Licence -> words by which packages state it that is not its SPDX name.
SPELLINGS = {
    "Apache-2.0": ("Apache 2.0", "Apache License", "Apache License, Version 2.0",
                   "Apache Software License"),
    "BSD-2-Clause": ("BSD 2-Clause License",),
    "BSD-3-Clause": ("3-Clause BSD License",),
    "BSD, form not told": ("BSD", "BSD License"),
    "GPL-2.0-or-later OR LGPL-2.0-or-later OR MPL-1.1": (
        "GNU General Public License v2 or later (GPLv2+) OR "
        "GNU Lesser General Public License v2 or later (LGPLv2+) OR "
        "Mozilla Public License 1.1 (MPL 1.1)",
    ),
    "MIT": ("MIT License",),
    "MIT AND PSF-2.0 AND Apache-2.0": ("All contributions towards LibCST are MIT licensed.",),
    "MPL-2.0": ("Mozilla Public License 2.0 (MPL 2.0)",),
    "PSF-2.0": ("PSFL", "Python Software Foundation License"),
}  # fmt: skip

# Not installed on this system: as their makers state them on the registry, read by hand.
OTHERS = {"colorama": "BSD-3-Clause", "httpx2-jsfetch": "BSD-3-Clause", "pyyaml-ft": "MIT"}

# Extras that serve tests and figures only.
TESTING = frozenset({"dev", "mutation", "speech-test", "speech-bench"})

HEAD = """# Licences of what bolewalk stands on

Every package pinned in constraints.txt, as it states its licence itself; made by
`python scripts/licences.py`. bolewalk is Apache-2.0. "needed" comes with bolewalk, "extra" with
one of its extras, "development" serves tests and checks only and is not handed on. Scripts, styles
and the typeface of the desk are listed in `bolewalk/desk/static/vendor/VENDORED.md`, plant and
rate data with their sources beside them.

| package | version | licence | for |
|---|---|---|---|
"""


def pins() -> list[tuple[str, str]]:
    """Give name and version of every pin, in order; a package may be pinned twice."""
    text = (ROOT / "constraints.txt").read_text(encoding="utf-8")
    return re.findall(r"^([A-Za-z0-9._-]+)==([^\s;]+)", text, re.M)


def folded(name: str) -> str:
    """Give the form of a package's name under which it is found (PEP 503)."""
    return re.sub(r"[-_.]+", "-", name).lower()


def licence(name: str) -> str:
    """Give a package's licence. SystemExit where it states none that is known here."""
    try:
        told = distribution(name).metadata
    except PackageNotFoundError:
        if name in OTHERS:
            return OTHERS[name]
        raise SystemExit(f"{name} is not installed and not listed in OTHERS") from None
    if told.get("License-Expression"):
        return str(told["License-Expression"])
    classed = [c.split(" :: ")[-1] for c in told.get_all("Classifier") or []
               if c.startswith("License :: ")]  # fmt: skip
    line = (told.get("License") or "").strip().split("\n")[0]
    # A whole licence text in the place of its name: the classifier is the name.
    stated = line if line and len(line) < 80 and "Copyright" not in line else " OR ".join(classed)
    for known, spellings in SPELLINGS.items():
        if stated in spellings:
            return known
    if not stated:
        raise SystemExit(f"{name} states no licence: read its files and list it")
    return stated


def leads_to(requirements: list[str]) -> set[str]:
    """Give the names of all packages some requirements lead to, themselves among them."""
    found: set[tuple[str, frozenset[str]]] = set()
    todo = list(requirements)
    while todo:
        match = re.match(r"([A-Za-z0-9._-]+)(?:\[([^\]]*)\])?", todo.pop())
        assert match
        asked = frozenset(e.strip() for e in (match[2] or "").split(",") if e.strip())
        here = (folded(match[1]), asked)
        if here in found:
            continue
        found.add(here)
        try:
            needs = distribution(here[0]).requires or []
        except PackageNotFoundError:
            continue
        for need in needs:
            extra = re.search(r"extra\s*==\s*['\"]([^'\"]+)['\"]", need)
            if extra is None or extra[1] in asked:
                todo.append(need)
    return {name for name, _ in found}


def page() -> str:
    """Give the page."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    needed = leads_to(project["dependencies"])
    extra = leads_to([r for name in extras if name not in TESTING for r in extras[name]])
    rows: dict[str, tuple[list[str], str, str]] = {}
    for name, version in pins():
        key = folded(name)
        what = "needed" if key in needed else "extra" if key in extra else "development"
        versions = [*rows[key][0], version] if key in rows else [version]
        rows[key] = (versions, licence(key), what)
    return HEAD + "".join(
        f"| {name} | {', '.join(v)} | {told} | {what} |\n"
        for name, (v, told, what) in sorted(rows.items())
    )


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
    sys.stderr.write(f"{PAGE}\n")
