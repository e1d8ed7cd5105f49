"""On the demonstration survey the questions asked are those of plain enumeration.

Independent of the study: every combination of fact values is built as a list of works and judged
by root loss of the whole list; shares are counted from the table.
"""

import itertools
from collections import Counter

import pytest

from bolewalk.demo import survey_folder
from bolewalk.impact.assess import assess_all, site_of
from bolewalk.impact.clashes import crown_clash, obstacles
from bolewalk.impact.crown import crown_solid
from bolewalk.impact.facts import open_facts
from bolewalk.impact.near import near_works
from bolewalk.impact.roots import root_losses
from bolewalk.impact.thresholds import thresholds
from bolewalk.impact.tolerance import tolerance_of
from bolewalk.impact.verdicts import judge_roots
from bolewalk.impact.zones import root_zone
from bolewalk.intake.folder import read_folder

SURVEY = read_folder(survey_folder()).survey
IMPACTS = {i.tree: i for i in assess_all(SURVEY)}
MOST = 200  # combinations enumerated here; trees with more are left to the rule of draws


def test_enumeration_and_ranking_agree() -> None:
    method = SURVEY.method.root_zone
    clearance = site_of(SURVEY).widest_clearance_m
    seen: Counter[str] = Counter()
    for tree in SURVEY.trees:
        zone = root_zone(tree, method)
        if zone is None or tree.x_m is None or tree.y_m is None:
            continue
        at = (tree.x_m, tree.y_m)
        solid = crown_solid(tree)
        reach = max(zone.radius_m, zone.structural_radius_m)
        wide = max(reach, (max(solid.radii_m) if solid else 0.0) + clearance)
        near = near_works(at, wide, SURVEY.works)
        facts = [
            f for f in open_facts(tree, near, SURVEY.works, method, root_reach_m=reach) if f.touches
        ]
        sizes = [range(len(f.values)) for f in facts]
        combinations = list(itertools.product(*sizes))
        changes_trunk = any(f.kind == "diameter" for f in facts)
        if not 1 < len(combinations) <= MOST or changes_trunk:
            continue
        limits = thresholds().for_tree(method=method, age=tree.age)
        table = {}
        for chosen in combinations:
            works, one = [n.work for n in near], tree
            for fact, k in zip(facts, chosen, strict=True):
                value = fact.values[k]
                changed = [value.change(w) if w.id in fact.works else w for w in works]
                works = [w for w in changed if w is not None]
                one = value.of_tree(one)
            loss = root_losses(at, zone, works).with_later
            clash = crown_clash(
                solid, obstacles(works, ("existing", "proposed")), limits, detail=False
            )
            table[chosen] = judge_roots(loss, zone, tolerance_of(one).level, clash, limits)
        expected = {}
        for i, fact in enumerate(facts):
            others: dict[tuple[int, ...], set[str]] = {}
            for chosen, level in table.items():
                others.setdefault((*chosen[:i], *chosen[i + 1 :]), set()).add(level)
            share = sum(len(s) > 1 for s in others.values()) / len(others)
            if share > 0:
                expected[fact.id] = share
        asked = {q.fact: q.flips for q in IMPACTS[tree.id].questions}
        assert asked == pytest.approx(expected), tree.id
        ranked = [q.flips for q in IMPACTS[tree.id].questions]
        assert ranked == sorted(ranked, reverse=True)
        seen["asked" if asked else "nothing to ask"] += 1
    # Both kinds occur, or the demonstration shows nothing.
    assert seen["asked"] >= 4
    assert seen["nothing to ask"] >= 1
