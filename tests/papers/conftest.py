"""The invented survey set once for all tests of papers."""

from dataclasses import replace
from pathlib import Path

import pypdfium2
import pytest

from bolewalk.intake.discussion import DISCUSSION_KEYS
from bolewalk.intake.head_keys import TOLD
from bolewalk.model.problems import Problem
from bolewalk.model.statements import say
from bolewalk.model.survey import Drawing, People, Person, Survey
from bolewalk.model.trees import Species, Tree
from bolewalk.papers.language import Catalogue, load_catalogue
from bolewalk.papers.write import write_papers
from bolewalk.survey import Findings
from bolewalk.visits.assumptions import Assumed
from bolewalk.visits.compare import ReturnVisit, compare_visits
from bolewalk.visits.record import Choice, Choices, Done, EarlierVisit, IssueOf, TreeThen, WorkThen
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
    tables = {**TOLD, "insurer": (*TOLD["insurer"], "trees")}
    told = {
        f"{table}.{key}": strings[i % n]
        for i, (table, key) in enumerate((t, k) for t, keys in tables.items() for k in keys)
    }
    survey = replace(
        f.survey,
        purpose="hazard visit",
        told={**told, "insurer.asked_on": "2026-01-01", "risk.years": "2", "risk.level": "basic"},
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
        returned=hostile_return(strings, trees[0].tree, survey),
        choices=Choices(
            tuple(
                Choice(t.tree.id, "no", h, survey.date, None, h, h)
                for t, h in zip(trees, strings, strict=True)
            ),
            tuple(
                Done(t.tree.id, "prune", survey.date, h, h)
                for t, h in zip(trees, strings, strict=True)
            ),
        ),
        photos=tuple(f"{h}.jpg" for h in strings),
        discussion={
            t.tree.id: {
                **{k.path: h for k in DISCUSSION_KEYS if not k.choices and k.path != "tree"},
                "use": "rare",
                "after_failure": "improbable",
            }
            for t, h in zip(trees, strings, strict=True)
        },
        defaults=(say("test.default_depth", work=strings[10]),),
    )


def hostile_return(strings: tuple[str, ...], tree: Tree, survey: Survey) -> ReturnVisit:
    """A return visit whose every text of then is one of the strings."""
    day = survey.date.replace(year=survey.date.year - 2)
    trees = tuple(
        TreeThen(
            replace(tree, id=f"{h}#{i}", species=Species(None, h, h), notes=h, x_m=None, y_m=None,
                    decision="prune"),
            "keep", "keep", (h,), (h,), (h,), ((h, h),),
        )
        for i, h in enumerate(strings)
    )  # fmt: skip
    then = EarlierVisit(
        strings[3], day, strings[10], strings[7], strings[8], day, day,
        tuple(Drawing(h, h, h, None, h) for h in strings), trees,
        tuple(WorkThen(h, h, h, h, h) for h in strings), {h: h for h in strings},
        IssueOf(strings[0], strings[1], strings[2], strings[7], strings[10]),
    )  # fmt: skip
    choices = Choices(tuple(Choice(t.tree.id, "no", strings[7], day, None, strings[10])
                            for t in trees))  # fmt: skip
    back = compare_visits([then], survey, choices)
    assert back is not None
    noted = tuple(
        Assumed("ended", say("visit.assumption_ended", text=h, day="2026-01-01"), (h,))
        for h in strings
    )
    return replace(back, assumptions=(*noted, *back.assumptions))
