"""Open facts about the tree itself: which trunk size counts, and what species it is."""

from collections.abc import Sequence
from dataclasses import replace

from bolewalk.impact.fact import ChangeTree, Fact, FactValue, Kind, Touches
from bolewalk.impact.plausible import plausible_values
from bolewalk.impact.tolerance import tolerance_of_name
from bolewalk.model.figures import Figure
from bolewalk.model.statements import say
from bolewalk.model.survey import RootZoneMethod
from bolewalk.model.trees import Tree
from bolewalk.model.words import Tolerance
from bolewalk.reference.botanical import species_key
from bolewalk.reference.tolerance import rated_species
from bolewalk.trees.stems import combined_diameters

__all__ = ["species_facts", "trunk_facts"]


def _about_tree(
    kind: Kind, tree: Tree, values: Sequence[FactValue], touches: Sequence[Touches], **told: str
) -> Fact:
    said: dict[str, str] = {"tree": tree.id, **told}
    return Fact(
        f"{tree.id}.{kind}",
        kind,
        say(f"question.{kind}", **said),
        say(f"condition.settle_{kind}", **said),
        say(f"not_needed.{kind}", **said),
        "assessor",
        tuple(values),
        frozenset(touches),
    )


def trunk_facts(tree: Tree, method: RootZoneMethod) -> list[Fact]:
    """Give the fact of the trunk size where it is read in more than one way, else nothing.

    Several stems are, under a method that names no rule of its own for them; a single figure is
    where its range spans two readings (inches for centimetres, girth for diameter).
    """

    def with_trunk(diameter_cm: float) -> ChangeTree:
        figure = Figure(diameter_cm, "default", "one reading of several")
        return lambda tree: replace(tree, stems_cm=(figure,))

    table = plausible_values()
    stems = tree.stems_cm
    if len(stems) > 1 and method in table.methods_without_rule:
        by_rule = combined_diameters([s.value for s in stems])
        readings = [(r, float(getattr(by_rule, r))) for r in table.readings]
        values = [
            FactValue(say(f"answer.diameter_{name}", trunk_cm=d), of_tree=with_trunk(d))
            for name, d in readings
        ]
        return [_about_tree("diameter", tree, values, ("roots",))]
    if len(stems) == 1 and stems[0].low is not None and stems[0].high is not None:
        s = stems[0]
        ends = sorted({float(v) for v in (s.low, s.high) if v is not None and v > 0} - {s.value})
        if s.low and s.high and s.high >= table.two_readings_ratio * s.low and ends:
            values = [
                FactValue(say("answer.diameter_is", trunk_cm=d), of_tree=with_trunk(d))
                for d in (s.value, *ends)
            ]
            return [_about_tree("diameter", tree, values, ("roots",))]
    return []


def species_facts(tree: Tree, method: RootZoneMethod) -> list[Fact]:
    """Give the fact of the species where its candidates differ in tolerance, else nothing.

    What the tree table says of the tolerance settles it. A plant known by its genus alone may
    be any rated species of it.
    """
    species = tree.species
    table = plausible_values()
    sure = species.confidence is None or species.confidence >= table.doubt_below
    botanical = species.botanical
    genus_alone = botanical is not None and " " not in species_key(botanical)
    names = [botanical] if botanical and not genus_alone else []
    if not sure or botanical is None:
        names += [n for n in species.alternatives if n not in names]
    if genus_alone and botanical is not None:
        names += [n for n in rated_species(botanical) if n not in names]
    if tree.tolerance is not None or not names:
        return []
    by_level: dict[Tolerance | None, list[str]] = {}
    for name in names:
        by_level.setdefault(tolerance_of_name(name).level, []).append(name)
    if botanical is None or genus_alone:
        # What is counted until it is told comes first, be it alone or not.
        counted = tolerance_of_name(botanical).level
        by_level = {counted: by_level.pop(counted, [])} | by_level

    def as_species(name: str) -> ChangeTree:
        return lambda tree: replace(
            tree, species=replace(tree.species, botanical=name, alternatives=())
        )

    values = []
    for same in by_level.values():
        if same:
            answer = say("answer.species_is", species=" / ".join(same))
            values.append(FactValue(answer, of_tree=as_species(same[0])))
        else:
            values.append(FactValue(say("answer.species_untold")))
    if len(values) < 2:
        return []
    touches: tuple[Touches, ...] = ("tolerance",)
    if method == "tolerance-age":
        touches = ("tolerance", "roots")
    told = {"heard": species.as_heard or species.label, "candidates": ", ".join(names)}
    return [_about_tree("species", tree, values, touches, **told)]
