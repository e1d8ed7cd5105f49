"""All papers of 60 trees, and the plan of a big site.

    python bench/papers.py

Prints processor time of the process and its highest memory so far; the machine's load does not
count. The same survey is written twice and the bytes compared.
"""

import hashlib
import random
import resource
import tempfile
import time
from dataclasses import replace
from datetime import date
from pathlib import Path

from bolewalk.intake.job import Job
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.works import Part, Work
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.plan_sheet import site_sheet
from bolewalk.papers.write import reading_of, write_papers
from bolewalk.survey import assess

KINDS = ("trench", "building", "paving", "pile", "drain", "utility", "wall", "fill", "slab", "wire")
LINES = {"trench", "drain", "utility", "wall", "wire"}


def tree(i, x, y, rng):
    radii = [2 + 4 * rng.random() for _ in range(4)]
    return Tree(
        f"T{i + 1}", Species("Quercus robur", "English oak", "oak"), x_m=x, y_m=y,
        stems_cm=(Figure(20 + 50 * rng.random(), "measured"),), height_m=Figure(14.0, "measured"),
        crown_base_m=Figure(3.0, "measured"), crown=Crown(*radii, Figure(4.0, "measured")),
        decision="retain",
    )  # fmt: skip


def work(i, x, y, rng):
    kind = KINDS[i % len(KINDS)]
    a, b = 1 + 6 * rng.random(), 1 + 6 * rng.random()
    if kind in LINES:
        part = Part("line", ((x, y), (x + a, y + b)))
    elif kind == "pile":
        part = Part("point", ((x, y),))
    else:
        part = Part("polygon", ((x, y), (x + a, y), (x + a, y + b), (x, y + b)))
    sized = {"width_m": 0.5} if kind in LINES else {"diameter_m": 0.3} if kind == "pile" else {}
    return Work(f"{kind} {i}", kind, (part,), label=f"{kind} {i}", depth_m=Figure(0.8, "drawn"),
                **sized)  # fmt: skip


def findings(n_trees, n_works, side_m):
    rng = random.Random(1)
    trees = tuple(tree(i, side_m * rng.random(), side_m * rng.random(), rng)
                  for i in range(n_trees))  # fmt: skip
    works = tuple(work(i, side_m * rng.random(), side_m * rng.random(), rng)
                  for i in range(n_works))  # fmt: skip
    survey = Survey("Bench", date(2026, 1, 1), "metric", "opinion", Method("as4970-2009"),
                    trees=trees, works=works)  # fmt: skip
    return assess(Job(survey))


def memory_mb():
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def digests(folder):
    return {p.relative_to(folder): hashlib.sha256(p.read_bytes()).hexdigest()
            for p in sorted(folder.rglob("*")) if p.is_file()}  # fmt: skip


def main():
    sixty = findings(60, 12, 90.0)
    written = []
    for _ in range(2):
        with tempfile.TemporaryDirectory() as folder:
            start = time.process_time()
            write_papers(sixty, Path(folder))
            print(f"60 trees, all papers: {time.process_time() - start:.2f} s, "
                  f"{memory_mb():.0f} MB")  # fmt: skip
            written.append(digests(Path(folder)))
    print("same bytes:", written[0] == written[1], f"({len(written[0])} files)")
    for n_trees, n_works in ((20, 2000), (200, 200), (1000, 200), (5000, 2000)):
        few = findings(min(n_trees, 60), 0, 90.0)
        # The impact of a tree is not what is measured here: places are dealt anew.
        rng = random.Random(2)
        side = max(60.0, 9.0 * n_trees**0.5)
        trees = []
        for i in range(n_trees):
            t = few.trees[i % len(few.trees)]
            moved = replace(
                t.tree, id=f"T{i + 1}", x_m=side * rng.random(), y_m=side * rng.random()
            )
            trees.append(replace(t, tree=moved, impact=replace(t.impact, tree=moved.id)))
        works = tuple(work(i, side * rng.random(), side * rng.random(), rng)
                      for i in range(n_works))  # fmt: skip
        survey = replace(few.survey, works=works, trees=tuple(t.tree for t in trees))
        reading = reading_of(replace(few, survey=survey, trees=tuple(trees)))
        start = time.process_time()
        sheet = site_sheet(reading)
        drawn = time.process_time() - start
        text = svg(sheet.scene, words=True)
        said = [n.text for n in sheet.scene.notes if n.text.startswith("Left out")]
        print(f"plan of {n_trees} trees x {n_works} works: {drawn:.2f} s, {sheet.scale.text},")
        print(f"  SVG {len(text) / 1e6:.1f} MB, memory {memory_mb():.0f} MB. {' '.join(said)}")


if __name__ == "__main__":
    main()
