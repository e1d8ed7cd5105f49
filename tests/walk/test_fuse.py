"""The draft beside the tree table, and the chapters of the recording. Expected by hand."""

import re

from bolewalk.model.figures import Figure
from bolewalk.model.trees import Species, Tree
from bolewalk.walk.chapters import walk_index
from bolewalk.walk.cues import Cue
from bolewalk.walk.draft import draft
from bolewalk.walk.fuse import fuse


def heard(*lines):
    return draft([Cue(k * 10.0, (k + 1) * 10.0, text) for k, text in enumerate(lines)])


def row(tree_id, botanical, *, cm=None, number=2):
    stems = () if cm is None else (Figure(cm, "measured"),)
    return Tree(tree_id, Species(botanical, None, botanical), row=number, stems_cm=stems)


WALK = heard(
    "There's a silver maple, forty inches. Leave it alone.",
    "Next a bur oak, thirty inches. Keep it.",
    "By the fence two blue spruce, forty feet. Take them down.",
)


def test_same_species_in_order():
    trees = [
        row("A", "Acer saccharinum", cm=101.6),
        row("B", "Quercus macrocarpa", cm=76.0),
        row("C", "Picea pungens"),
        row("D", "Picea pungens"),
    ]
    said, problems = fuse(WALK, trees)
    assert {k: v.id for k, v in said.items()} == {"A": "w1", "B": "w2", "C": "w3", "D": "w3"}
    assert problems == ()


def test_order_may_skip_rows_and_entries():
    trees = [row("X", "Ulmus americana"), row("B", "Quercus macrocarpa"), row("C", "Picea pungens")]
    said, problems = fuse(WALK, trees)
    assert said["B"].id == "w2"
    assert "X" not in said
    assert [(p.level, p.value) for p in problems if p.field == "tree"] == [("notice", "w1")]


def test_genus_alone_is_reported_not_merged():
    said, problems = fuse(heard("There's a silver maple, forty inches."), [row("A", "Acer rubrum")])
    assert dict(said) == {}
    assert [(p.level, p.row, p.field) for p in problems] == [("notice", 2, "species")]
    assert "w1" in problems[0].expected


def test_two_rows_for_one_entry_are_in_doubt_unless_size_tells():
    walk = heard("There's a silver maple, forty inches. Leave it alone.")
    alike = [row("A", "Acer saccharinum"), row("B", "Acer saccharinum", number=3)]
    said, problems = fuse(walk, alike)
    assert dict(said) == {}
    assert len(problems) == 1
    told = [row("A", "Acer saccharinum", cm=30.0), row("B", "Acer saccharinum", cm=101.6)]
    said, _ = fuse(walk, told)
    assert {k: v.id for k, v in said.items()} == {"B": "w1"}


def test_a_number_said_holds_whatever_the_order():
    walk = heard("Tree two, silver maple, forty inches.", "Tree one, silver maple, twenty inches.")
    trees = [row("T1", "Acer saccharinum"), row("T2", "Acer saccharinum", number=3)]
    said, problems = fuse(walk, trees)
    assert {k: v.said_number for k, v in said.items()} == {"T1": "1", "T2": "2"}
    assert problems == ()


def test_names_that_moved_are_one_plant():
    walk = heard("There's a London plane, twenty metres.")
    said, _ = fuse(walk, [row("A", "Platanus x acerifolia")])
    assert list(said) == ["A"]


def test_chapters():
    text = walk_index(WALK, ids={"w1": "T7"})
    assert text.startswith("WEBVTT\n\n")
    cues = re.findall(r"^(\S+)\n([\d:.]+) --> ([\d:.]+)\n(.+)$", text, flags=re.M)
    assert [(c[0], c[1]) for c in cues] == [
        ("T7", "00:00:00.000"),
        ("w2", "00:00:10.000"),
        ("w3", "00:00:20.000"),
    ]
    assert cues[0][2] == "00:00:10.000"
    assert cues[2][3] == "w3 2 x blue spruce, remove"
    assert walk_index(heard()) == "WEBVTT\n"
