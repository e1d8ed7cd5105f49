"""Questions for one tree with six and with 180 open facts, and a pile dragged among 200 trees.

    python bench/questions.py

Times are of the process. The drag prints p50 and p95 of the new verdicts, and how many times
longer judging every tree anew takes.
"""

import math
import time
from dataclasses import replace
from datetime import date

import numpy as np

from bolewalk.impact.assess import assess_all, assess_tree, site_of, subject_of, verdicts_only
from bolewalk.model.figures import Figure
from bolewalk.model.survey import Method, Survey
from bolewalk.model.trees import Crown, Species, Tree
from bolewalk.model.works import Part, Work

DEEP = Figure(1.0, "drawn")


def tree(name, x, y, cm):
    return Tree(
        name, Species("Quercus agrifolia", "coast live oak", "live oak"), x_m=x, y_m=y,
        stems_cm=(Figure(cm, "measured"),), height_m=Figure(14.0, "measured"),
        crown_base_m=Figure(3.0, "measured"), crown=Crown(5, 5, 5, 5, Figure(5.0, "measured")),
    )  # fmt: skip


def survey(trees, works):
    return Survey(
        "Bench", date(2026, 1, 1), "metric", "opinion", Method("as4970-2009"),
        trees=tuple(trees), works=tuple(works),
    )  # fmt: skip


def line(name, kind, points, **kw):
    return Work(name, kind, (Part("line", points),), width_m=0.5, **kw)


def box(name, kind, x, y, size, **kw):
    ring = ((x, y), (x + size, y), (x + size, y + size), (x, y + size))
    return Work(name, kind, (Part("polygon", ring),), **kw)


def pile(name, x, y, **kw):
    return Work(name, "pile", (Part("point", ((x, y),)),), diameter_m=0.4, **kw)


def six_facts():
    """Three lines placed to within half a metre, a row of piles, a bore, a later building."""
    works = [
        line(f"W{i}", "trench", ((5 + i, -20 + i), (5 + i, 4 - i)), depth_m=DEEP,
             offset_m=0.5 + i / 100)
        for i in range(3)
    ]  # fmt: skip
    works += [pile(f"P{i}", -4.0, -3.0 + i) for i in range(6)]
    works.append(line("D1", "drain", ((-9, 6), (9, 5)), made="trenchless"))
    works.append(box("B2", "building", -9, -12, 6, phase="possible later", depth_m=DEEP, high_m=5))
    one = tree("T1", 0.0, 0.0, 80.0)
    start = time.process_time()
    impact = assess_tree(one, survey([one], works))
    spent = time.process_time() - start
    asked = [(q.fact, round(q.flips, 3)) for q in impact.questions]
    print(f"six open facts: {spent:.2f} s, {impact.verdict.now}, asked {asked}")


def sixty_piles():
    """Sixty piles whose presence, place and making are unknown, each under a label of its own."""
    works = [
        pile(f"P{i}", 3.5 * math.cos(i) + i % 4, 4 * math.sin(i) + i % 5 * 0.7,
             label=f"L{i}", present="unknown", offset_m=0.2)
        for i in range(60)
    ]  # fmt: skip
    one = tree("T1", 0.0, 0.0, 80.0)
    start = time.process_time()
    impact = assess_tree(one, survey([one], works))
    spent = time.process_time() - start
    print(f"180 open facts at one tree: {spent:.2f} s, {len(impact.questions)} asked")


def drag():
    rng = np.random.default_rng(3)
    trees = [
        tree(f"T{i}", float(rng.uniform(0, 150)), float(rng.uniform(0, 100)),
             float(rng.uniform(15, 90)))
        for i in range(200)
    ]  # fmt: skip
    made = ("hand", "bored", None)
    works = [
        pile(f"P{i}", 20 + 4 * (i % 10), 30 + 4 * (i // 10), made=made[i % 3]) for i in range(40)
    ]
    for i in range(6):
        points = tuple((float(x), float(y)) for x, y in rng.uniform((0, 0), (150, 100), (3, 2)))
        works.append(line(f"W{i}", "trench", points))
    for i, (x, y) in enumerate(rng.uniform((0, 0), (130, 90), (6, 2))):
        works.append(box(f"B{i}", "building", float(x), float(y), 12.0, high_m=5.0))
    for i, (x, y) in enumerate(rng.uniform((0, 0), (130, 90), (8, 2))):
        works.append(box(f"S{i}", "paving", float(x), float(y), 8.0))
    s = survey(trees, works)
    subjects = [subject_of(t, s.method) for t in trees]
    site = site_of(s)
    last = verdicts_only(subjects, site)
    old, spent, whole = works[5], [], []
    for k in range(60):
        start = time.process_time()
        new = pile("P5", 40 + 0.3 * k, 40 + 0.1 * k, made=works[5].made)
        site = site.replaced(5, new)
        last = verdicts_only(subjects, site, last=last, moved=(old, new))
        spent.append(time.process_time() - start)
        old = new
        if k % 10 == 0:
            start = time.process_time()
            verdicts_only(subjects, site)
            whole.append(time.process_time() - start)
    p50, p95 = np.percentile(spent, [50, 95]) * 1e3
    ratio = np.median(whole) * 1e3 / p50
    print(f"drag, 200 trees: p50 {p50:.0f} ms, p95 {p95:.0f} ms, all anew {ratio:.1f} x as long")
    start = time.process_time()
    assess_all(replace(s, works=(*works[:5], old, *works[6:])))
    print(f"all 200 trees with questions and nearest cuts: {time.process_time() - start:.2f} s")


if __name__ == "__main__":
    six_facts()
    sixty_piles()
    drag()
