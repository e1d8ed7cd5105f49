"""The pages: each can be reached, leads somewhere, and names what there is."""

import re
import runpy
from fnmatch import fnmatch
from pathlib import Path
from urllib.parse import unquote

import click
import pytest

from bolewalk.cli import main
from bolewalk.desk.apart import worker
from bolewalk.walk.recogniser import MODEL_VARIABLE

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
README = ROOT / "README.md"
EXAMPLES = ROOT / "examples" / "README.md"
PAGES = [README, EXAMPLES, *sorted(DOCS.glob("*.md"))]


def name_of(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


def read(path: Path) -> str:
    return path.read_text(encoding="utf-8")


def links(page: Path) -> list[tuple[str, Path, str]]:
    """Give each link inside the project: as written, the file it leads to, its anchor."""
    prose = re.sub(r"^```.*?^```", "", read(page), flags=re.DOTALL | re.MULTILINE)
    found = []
    for target in re.findall(r"\]\(([^)\s]+)\)", prose):
        if "://" not in target:
            name, _, anchor = unquote(target).partition("#")
            found.append((target, (page.parent / name).resolve() if name else page, anchor))
    return found


def anchors(page: Path) -> set[str]:
    """Give the anchors of a page's headings as a reader of Markdown on the web makes them."""
    headings = re.findall(r"^#+ (.+)$", read(page), re.MULTILINE)
    return {re.sub(r"[^\w\- ]", "", h.lower()).replace(" ", "-") for h in headings}


def first_column(text: str) -> set[str]:
    """Give the names set as code in the first column of the tables of a text."""
    cells = re.findall(r"^\| ([^|]*`[^|]*) \|", text, re.MULTILINE)
    return {name for cell in cells for name in re.findall(r"`([^`]+)`", cell)}


def under(heading: str, page: str) -> str:
    """Give what stands under a heading of a page, up to the next of its level."""
    return re.split(r"^## ", read(DOCS / page).split(f"\n## {heading}\n", 1)[1], flags=re.M)[0]


def test_every_page_can_be_reached_from_the_readme() -> None:
    reached, todo = {README}, [README]
    while todo:
        new = {to for _, to, _ in links(todo.pop()) if to.suffix == ".md"} - reached
        reached |= new
        todo += new
    assert [name_of(p) for p in PAGES if p not in reached] == []


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_link_leads_somewhere(page: Path) -> None:
    broken = [
        target
        for target, to, anchor in links(page)
        if not to.exists() or (anchor and anchor not in anchors(to))
    ]
    assert broken == []


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_file_of_the_project_that_is_named_is_there(page: Path) -> None:
    """Code, pages and data by their path or its end, `walk/cues.py`; a star stands for anything."""
    rooms = ("bolewalk", "tests", "bench", "scripts", "docs")
    there = [p.relative_to(ROOT).as_posix() for r in rooms for p in (ROOT / r).rglob("*.*")]
    named = re.findall(r"`((?:[\w.*-]+/)*[\w.*-]+\.(?:py|md|typ))`", read(page))
    named += re.findall(r"`((?:bolewalk|tests|bench|scripts)/[\w./*-]+\.\w+)`", read(page))
    missing = [
        name
        for name in named
        if not any(fnmatch(path, name) or fnmatch(path, f"*/{name}") for path in there)
    ]
    assert missing == []


def test_every_example_has_its_question() -> None:
    folders = {p.parent for p in EXAMPLES.parent.glob("*/survey.toml")}
    assert {to for _, to, _ in links(EXAMPLES)} == folders


def test_the_commands_stand_there_as_they_tell_of_themselves() -> None:
    """After a change of a command: python scripts/commands.py."""
    script = runpy.run_path(str(ROOT / "scripts/commands.py"))
    text = read(DOCS / "commands.md")
    assert text == script["page"](script["head_of"](text))


@pytest.mark.parametrize("page", PAGES, ids=name_of)
def test_every_command_written_out_is_one(page: Path) -> None:
    text = read(page).replace("\\\n", " ")
    code = re.findall(r"^```\w*\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
    code += re.findall(r"^ {4}(.*)$", text, re.MULTILINE) + re.findall(r"`([^`\n]+)`", text)
    written = [
        called
        for line in "\n".join(code).splitlines()
        for called in re.findall(r"^bolewalk +([a-z][^#|]*)", line)
    ]
    wrong = []
    for line in written:
        command: click.Command = main
        words = line.split()
        while isinstance(command, click.Group) and words and words[0] in command.commands:
            command = command.commands[words.pop(0)]
        known = {o for p in command.params for o in (*p.opts, *p.secondary_opts)}
        known |= {"--help", "-h"}
        asked = [w for w in words if w.startswith("-")]
        if command is main or not set(asked) <= known:
            wrong.append(line)
    assert wrong == []


def test_every_exit_code() -> None:
    source = "".join(map(read, (ROOT / "bolewalk").rglob("*.py")))
    # 0 is how a command ends by itself; any other is asked for by number.
    codes = {"0", *re.findall(r"sys\.exit\((\d+)\)", source)}
    rows = re.findall(r"^\| (\d) \|", under("How a command ends", "commands.md"), re.MULTILINE)
    assert rows == sorted(codes)


def test_every_variable_of_the_environment() -> None:
    told = first_column(under("What it takes from the environment", "commands.md"))
    assert told == {MODEL_VARIABLE, *worker._KEPT_NAMES}
    source = "".join(map(read, (ROOT / "bolewalk").rglob("*.py")))
    asked = re.findall(r"\bos\.(?:environ|getenv)\b.*?(?:get\(|\[|getenv\()([\w\"']+)", source)
    assert set(asked) == {"MODEL_VARIABLE", "k"}  # k: each of the names kept for the process apart


def test_every_variable_of_the_scripts() -> None:
    scripts = "".join(read(p) for p in (ROOT / "scripts").iterdir() if p.suffix == "")
    taken = set(re.findall(r"\$\{([A-Z]+):-", scripts)) | {"HYPOTHESIS_PROFILE"}
    told = set(re.findall(r"`([A-Z_]+)`", read(DOCS / "checks.md")))
    assert told == taken


def test_every_script_part_and_benchmark() -> None:
    told = first_column(read(DOCS / "checks.md"))
    (parts,) = re.findall(r"^every=\((.*)\)$", read(ROOT / "scripts/long"), re.MULTILINE)
    scripts = {f"scripts/{p.name}" for p in (ROOT / "scripts").iterdir() if p.is_file()}
    benchmarks = {f"bench/{p.name}" for p in (ROOT / "bench").glob("*.py")}
    variables = {t for t in told if t.isupper()}
    assert told - variables == scripts | benchmarks | set(parts.split())


def test_every_picture_is_shown() -> None:
    shown = {to for page in PAGES for _, to, _ in links(page) if to.parent == DOCS / "pictures"}
    assert shown == set((DOCS / "pictures").iterdir())


def test_drawings_are_those_the_program_draws_today() -> None:
    """After a change of the demonstration or of the drawing: ./scripts/pictures."""
    drawn = runpy.run_path(str(ROOT / "scripts/pictures.py"))["drawings"]()
    kept = {p.name: read(p) for p in (DOCS / "pictures").glob("*.svg")}
    assert drawn.keys() == kept.keys()
    assert [name for name in drawn if drawn[name] != kept[name]] == []
