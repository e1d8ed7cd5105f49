"""Everything about one tree: what was recorded and how, what follows from it, what was said."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote

from markupsafe import Markup

from bolewalk.desk.desk import glimpse
from bolewalk.desk.drawer import Drawer, Sheet
from bolewalk.desk.views.asked import AskedRow, asked_rows
from bolewalk.desk.views.head import SurveyHead, survey_head
from bolewalk.desk.views.history import ChangeLine, change_lines
from bolewalk.desk.views.pictures import TreePictures
from bolewalk.desk.views.questions import GivenAnswer, given_answers
from bolewalk.desk.views.rules import TreeRuleTexts, tree_rules
from bolewalk.impact.results import COMPASS, TreeImpact
from bolewalk.model.figures import Figure
from bolewalk.model.trees import Tree
from bolewalk.papers.cut_rows import cut_rows
from bolewalk.papers.draw.svg import svg
from bolewalk.papers.reading import DASH, Reading
from bolewalk.papers.tables import NOTHING, loss_row
from bolewalk.papers.tree_rose import tree_rose
from bolewalk.papers.write import reading_of
from bolewalk.survey import TreeFinding
from bolewalk.trees.growth import project
from bolewalk.trees.stems import combined_diameters

__all__ = ["BASIS_WORDS", "OneTreeView", "one_tree_view"]

BASIS_WORDS = {
    "measured": "measured",
    "estimated": "estimated by eye",
    "said": "said on the walk",
    "drawn": "drawn",
    "predicted": "predicted",
    "default": "assumed",
}
_YEARS = (0, 5, 10, 15, 20, 30)


@dataclass(frozen=True, slots=True)
class Measure:
    """One figure with where it came from."""

    name: str
    value: str
    basis: str
    entered: str
    source: str


@dataclass(frozen=True, slots=True)
class Said:
    """One moment of the walk that speaks of the tree."""

    clock: str
    start: float
    words: str


@dataclass(frozen=True, slots=True)
class OneTreeView:
    """The page of one tree."""

    head: SurveyHead
    id: str
    name: str
    botanical: str
    as_heard: str
    recorded: tuple[tuple[str, str], ...]
    measures: tuple[Measure, ...]
    rules: tuple[tuple[str, str], ...]
    local: TreeRuleTexts
    trunk_unit: str
    mark: str
    verdict: str
    later_mark: str
    later: str
    because: tuple[str, ...]
    conditions: tuple[str, ...]
    flips_if: tuple[str, ...]
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    loss: dict[str, Any] | None
    rose: Markup | None
    compass: tuple[str, ...]
    cuts: tuple[tuple[str, tuple[str, ...]], ...]
    cut_notes: tuple[str, ...]
    length_unit: str
    crown: tuple[tuple[str, str], ...]
    questions: tuple[AskedRow, ...]
    given: tuple[GivenAnswer, ...]
    back: str
    not_needed: tuple[str, ...]
    growth: tuple[tuple[str, ...], ...]
    growth_source: str
    defaults: tuple[str, ...]
    said: tuple[Said, ...]
    history: tuple[ChangeLine, ...]
    pictures: TreePictures
    row_key: str
    before: str
    after: str


def one_tree_view(
    sheet: Sheet, drawer: Drawer, tree_id: str, *, pictures: TreePictures
) -> OneTreeView:
    """Give the page of one tree, its open facts tried. Raises KeyError for an unknown tree."""
    reckoning = sheet.reckoning
    impact = reckoning.impact(tree_id)
    reading = glimpse(sheet)
    row = reckoning.row_of[tree_id]
    trees = sheet.job.survey.trees
    finding = reading.findings.trees[row]
    tree = finding.tree
    names = reading.species(tree)
    item = sheet.tree_item(tree_id)
    verdict = impact.verdict
    growth, source = _growth(reading, tree, sheet.job.survey.method.growth_region)
    alone = reading_of(_only(reading, finding))
    suffix = f"?plan={sheet.variant}" if sheet.variant else ""
    return OneTreeView(
        head=survey_head(sheet, reading, "trees"),
        id=tree.id,
        name=names["name"],
        botanical=names["botanical"],
        as_heard=tree.species.as_heard,
        recorded=_recorded(reading, tree),
        measures=_measures(reading, tree),
        rules=_rules(reading, tree),
        local=tree_rules(reading, reckoning.rules(), tree_id),
        trunk_unit=reading.speaker.amounts.trunk_unit,
        mark=verdict.now if verdict else "none",
        verdict=reading.word("verdict", verdict.now)
        if verdict
        else reading.labels("report")["not_judged"],
        later_mark=verdict.with_later if verdict else "none",
        later=reading.word("verdict", verdict.with_later)
        if verdict and verdict.with_later != verdict.now
        else "",
        because=_texts(reading, verdict.because if verdict else ()),
        conditions=_texts(reading, verdict.conditions if verdict else ()),
        flips_if=_texts(reading, verdict.flips_if if verdict else ()),
        missing=_texts(reading, impact.missing),
        notes=_texts(reading, impact.zone.notes if impact.zone else ()),
        loss=_in_words(loss_row(reading, finding)),
        rose=_rose(reading, impact),
        compass=COMPASS,
        cuts=_cuts(reading, impact),
        cut_notes=_cut_notes(reading, impact),
        length_unit=reading.speaker.amounts.length_unit,
        crown=_crown(reading, impact),
        questions=asked_rows(alone),
        given=given_answers(sheet, drawer, tree_id),
        back=f"/surveys/{sheet.stored.id}/trees/{quote(tree_id)}{suffix}#q-title",
        not_needed=_texts(reading, impact.not_needed),
        growth=growth,
        growth_source=source,
        defaults=_texts(reading, impact.defaults),
        said=_said(reading, sheet, tree_id),
        history=() if item is None else change_lines(
            drawer.store.history(sheet.stored.id, "tree", item.key)
        ),
        pictures=pictures,
        row_key="" if item is None else item.key,
        before=trees[row - 1].id if row > 0 else "",
        after=trees[row + 1].id if row + 1 < len(trees) else "",
    )  # fmt: skip


def _only(reading: Reading, finding: TreeFinding) -> Any:
    return replace(reading.findings, trees=(finding,))


def _texts(reading: Reading, statements: Sequence[Any]) -> tuple[str, ...]:
    return tuple(reading.texts(statements))


def _recorded(reading: Reading, tree: Tree) -> tuple[tuple[str, str], ...]:
    rows = [
        ("Decision", reading.word("decision", tree.decision)),
        ("Owner", tree.owner),
        ("Age", tree.age or DASH),
        ("Health", tree.health or DASH),
        ("Structure", tree.structure or DASH),
        ("Form", tree.form or DASH),
        ("Tolerance", tree.tolerance or DASH),
        ("Tag", tree.tag or DASH),
        ("Access", tree.access or DASH),
    ]
    if tree.failure or tree.impact or tree.consequence:
        rows += [
            ("Likelihood of failure", tree.failure or DASH),
            ("Likelihood of impact", tree.impact or DASH),
            ("Consequence", tree.consequence or DASH),
        ]
    rows.append(("Notes", tree.notes or DASH))
    return tuple(rows)


def _measures(reading: Reading, tree: Tree) -> tuple[Measure, ...]:
    amounts = reading.speaker.amounts
    rows = [
        _measure(f"Stem {n}" if len(tree.stems_cm) > 1 else "Trunk", stem, amounts.trunk)
        for n, stem in enumerate(tree.stems_cm, start=1)
    ]
    for name, figure in (("Height", tree.height_m), ("Crown base", tree.crown_base_m)):
        if figure is not None:
            rows.append(_measure(name, figure, amounts.length))
    if tree.crown is not None:
        radii = " / ".join(amounts.length_number(r) for r in tree.crown.radii_m)
        basis = tree.crown.basis
        rows.append(
            Measure(
                "Crown north / east / south / west",
                f"{radii} {amounts.length_unit}",
                BASIS_WORDS[basis.basis],
                basis.as_entered or "",
                basis.source,
            )
        )
    if tree.flare_cm is not None:
        rows.append(_measure("Above the root flare", tree.flare_cm, amounts.trunk))
    if tree.x_m is not None and tree.y_m is not None:
        unit_m = reading.findings.survey.m_per_grid_unit
        place = f"east {tree.x_m / unit_m:,.1f}, north {tree.y_m / unit_m:,.1f}"
        rows.append(Measure("Place on the survey’s grid", place, "", "", ""))
    return tuple(rows)


def _measure(name: str, figure: Figure, write: Any) -> Measure:
    value = write(figure.value)
    if figure.low is not None and figure.high is not None:
        value += f" ({write(figure.low)} to {write(figure.high)})"
    return Measure(name, value, BASIS_WORDS[figure.basis], figure.as_entered or "", figure.source)


def _rules(reading: Reading, tree: Tree) -> tuple[tuple[str, str], ...]:
    if len(tree.stems_cm) < 2:
        return ()
    d = combined_diameters([s.value for s in tree.stems_cm])
    write = reading.speaker.amounts.trunk
    return (
        ("Equal cross-section", write(d.equal_area)),
        ("All stems added", write(d.sum)),
        ("Largest and half of the others", write(d.largest_plus_half_of_rest)),
        ("Largest and the mean of the others", write(d.largest_plus_mean_of_rest)),
        ("Two largest added", write(d.two_largest)),
    )


def _rose(reading: Reading, impact: TreeImpact) -> Markup | None:
    scene = tree_rose(reading, impact, size_mm=64)
    if scene is None:
        return None
    # Every text in the drawing was escaped as it was written.
    return Markup(svg(scene, words=True, title=reading.say("plan_alt.rose")))


def _cuts(reading: Reading, impact: TreeImpact) -> tuple[tuple[str, tuple[str, ...]], ...]:
    return tuple((row["label"], tuple(row["cells"])) for row in cut_rows(reading, impact))


def _cut_notes(reading: Reading, impact: TreeImpact) -> tuple[str, ...]:
    return () if impact.nearest_cut is None else tuple(reading.texts(impact.nearest_cut.notes))


def _crown(reading: Reading, impact: TreeImpact) -> tuple[tuple[str, str], ...]:
    c = impact.crown
    if c is None:
        return ()
    amounts = reading.speaker.amounts
    rows = []
    if c.volume_m3 is not None:
        rows.append(("Volume", amounts.volume(c.volume_m3)))
    if c.removed_pct is not None:
        rows.append(("In the way of the works", amounts.percent(c.removed_pct)))
    if c.clearance_m is not None:
        apart = amounts.length(c.clearance_m) if c.clearance_m > 0 else "none, they meet"
        rows.append(("Clearance now", apart))
    if c.clearance_m and c.clash_in_years is not None and math.isfinite(c.clash_in_years):
        rows.append(("Clearance likely closed in", f"{c.clash_in_years:.0f} years"))
    if c.lowest_clash_m is not None:
        rows.append(("Lowest clash above ground", amounts.length(c.lowest_clash_m)))
    if c.sides:
        rows.append(("Sides", ", ".join(c.sides)))
    if c.thickest_limb_cm is not None:
        rows.append(("Thickest limb likely met, an estimate", amounts.trunk(c.thickest_limb_cm)))
    return tuple(rows)


def _growth(
    reading: Reading, tree: Tree, region: str | None
) -> tuple[tuple[tuple[str, ...], ...], str]:
    if region is None or tree.species.botanical is None:
        return (), ""
    if not tree.stems_cm and tree.height_m is None:
        return (), ""
    trunk = (
        combined_diameters([s.value for s in tree.stems_cm]).equal_area if tree.stems_cm else None
    )
    path = project(
        tree.species.botanical,
        region,
        years=_YEARS[-1],
        trunk_cm=trunk,
        height_m=None if tree.height_m is None else tree.height_m.value,
        crown_radius_m=None if tree.crown is None else tree.crown.mean_m,
    )
    if path is None:
        return (), ""
    amounts = reading.speaker.amounts

    def span(low: Any, mid: Any, high: Any, year: int, write: Any) -> str:
        if not math.isfinite(mid[year]):
            return DASH
        text: str = write(float(mid[year]))
        if year and math.isfinite(low[year]) and math.isfinite(high[year]):
            text += f" ({write(float(low[year]))}–{write(float(high[year]))})"
        return text

    rows = tuple(
        (
            str(y),
            span(path.trunk_low_cm, path.trunk_cm, path.trunk_high_cm, y, amounts.trunk_number),
            span(path.height_low_m, path.height_m, path.height_high_m, y, amounts.length_number),
            span(
                path.crown_radius_low_m,
                path.crown_radius_m,
                path.crown_radius_high_m,
                y,
                amounts.length_number,
            ),
        )
        for y in _YEARS
    )
    return rows, " ".join(x for x in (path.source, path.stand_in) if x)


def _said(reading: Reading, sheet: Sheet, tree_id: str) -> tuple[Said, ...]:
    _, said = sheet.reckoning.heard()
    entry = said.get(tree_id)
    if entry is None:
        return ()
    clock = reading.speaker.amounts.clock
    return tuple(Said(clock(m.start), m.start, m.said) for m in entry.moments)


def _in_words(row: dict[str, Any] | None) -> dict[str, Any] | None:
    """Give a row of the table of root losses as it stands outside one: shares with their unit."""
    if row is None:
        return None
    shares = ("existing", "proposed", "later", "depth", "overlap", "covered", "half")
    told = {k: "none" if row[k] == NOTHING else f"{row[k]} %" for k in shares}
    span = "" if row["range"] == NOTHING else f"{row['range']} %"
    return {**row, **told, "range": span}
