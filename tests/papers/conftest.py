"""The invented survey set once for all tests of papers."""

from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from bolewalk.model.problems import Problem
from bolewalk.model.statements import say
from bolewalk.model.survey import Drawing, People, Person
from bolewalk.model.trees import Species
from bolewalk.papers.language import Catalogue, load_catalogue
from bolewalk.papers.write import write_papers
from bolewalk.survey import Findings
from tests.papers.invented import TEST_SENTENCES, findings


def invented_catalogue() -> Catalogue:
    return Catalogue("en", {**load_catalogue().tables, "test": TEST_SENTENCES})


@pytest.fixture(scope="session")
def catalogue() -> Catalogue:
    return invented_catalogue()


@pytest.fixture(scope="session")
def papers(tmp_path_factory: pytest.TempPathFactory, catalogue: Catalogue) -> Path:
    out = tmp_path_factory.mktemp("papers")
    write_papers(findings(), out, catalogue=catalogue)
    return out


def pdf_text(path: Path) -> str:
    with pypdfium2.PdfDocument(path) as pdf:
        return "\n".join(
            page.get_textpage().get_text_bounded() for page in (pdf[i] for i in range(len(pdf)))
        )


def pdf_sizes(path: Path) -> list[tuple[float, float]]:
    with pypdfium2.PdfDocument(path) as pdf:
        return [pdf[i].get_size() for i in range(len(pdf))]


def made_hostile(strings: tuple[str, ...]) -> Findings:
    """Findings with the strings in every field a person can fill."""
    f = findings()
    trees = []
    for i, h in enumerate(strings):
        t = f.trees[i % len(f.trees)]
        tree = replace(
            t.tree, id=f"{h}#{i}", species=Species(None if i % 2 else h, h, h), notes=h, tag=h,
            photo=h, access=h, failure=h, impact=h, consequence=h,
        )  # fmt: skip
        trees.append(replace(t, tree=tree, impact=replace(t.impact, tree=tree.id)))
    n = len(strings)
    survey = replace(
        f.survey,
        name=strings[10],
        place=strings[7],
        trees=tuple(t.tree for t in trees),
        works=tuple(
            replace(w, id=f"{strings[i % n]}{i}", label=strings[(i + 5) % n], drawing=strings[9],
                    layer=strings[3], file=strings[13])
            for i, w in enumerate(f.survey.works)
        ),
        drawings=tuple(Drawing(h, h, h, None, h) for h in strings),
        people=People(
            Person(strings[10], strings[0], strings[7], strings[1]),
            Person(strings[-1], strings[2]),
            tuple(Person(h, h) for h in strings),
        ),
    )  # fmt: skip
    return replace(
        f,
        survey=survey,
        trees=tuple(trees),
        problems=tuple(Problem(h, 1, h, h, h) for h in strings),
        defaults=(say("test.default_depth", work=strings[10]),),
    )
