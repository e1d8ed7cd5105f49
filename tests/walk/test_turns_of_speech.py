"""Turns of speech of many voices, one by one. Expected readings by hand (no source)."""

import csv
import json
from pathlib import Path

import pytest

from bolewalk.walk.cues import Cue, parse_cues
from bolewalk.walk.draft import draft

DATA = Path(__file__).parent.parent / "data" / "walk"


def heard(*lines: str):
    return draft([Cue(k * 8.0, (k + 1) * 8.0, text) for k, text in enumerate(lines)])


def fragments():
    with (DATA / "decision_fragments.csv").open(encoding="utf-8", newline="") as f:
        return [(r["said"], r["decision"] or None) for r in csv.DictReader(f)]


@pytest.mark.parametrize("decision", ["remove", "retain", "prune", "monitor", "inspect", None])
def test_decisions_in_trade_talk(decision):
    wrong = {}
    for said, expected in fragments():
        if expected == decision:
            trees = heard("There's a red oak by the gate, twenty inches.", said).trees
            got = [t.decision for t in trees]
            if got != [expected]:
                wrong[said] = got
    assert wrong == {}


def groups():
    return json.loads((DATA / "group_fragments.json").read_text(encoding="utf-8"))


@pytest.mark.parametrize("each", groups(), ids=lambda g: g["said"][-1][:40])
def test_parts_of_a_group(each):
    d = heard(*each["said"])
    got = sorted(([t.count, t.decision] for t in d.trees), key=str)
    assert got == sorted(each["expected"], key=str)


INVENTORY = (
    "One. Silver maple. Thirty four. Raise it to fourteen.",
    "Two and three. Honeylocust. Twelve and twelve. Fine, nothing.",
    "Four. American linden. Scratch that. Littleleaf linden, seventeen. Watch it.",
    "Five is an empty pit.",
    "Six. Siberian elm. Sixty inches. No opinion yet.",
    "Seven. Callery pear. Ten feet from the kerb. Out.",
    "Totals. One to trim, number one. Two to remove, six and seven. One to watch.",
)


def test_numbered_inventory():
    d = heard(*INVENTORY)
    rows = [(t.said_number, t.species.botanical, t.count, t.decision) for t in d.trees]
    assert rows == [
        ("1", "Acer saccharinum", 1, "prune"),
        ("2", "Gleditsia triacanthos", 2, "retain"),
        ("4", "Tilia cordata", 1, "monitor"),
        ("6", "Ulmus pumila", 1, "remove"),
        ("7", "Pyrus calleryana", 1, "remove"),
    ]
    assert [(m.what, m.value, m.unit) for m in d.trees[0].measures] == [("diameter", 34.0, "in")]


@pytest.mark.parametrize(
    ("said", "botanical"),
    [
        ("At the yard there's a beach, a big one, twenty metres.", "Fagus sylvatica"),
        ("There's a very old you by the wall, four metres tall.", "Taxus baccata"),
        ("A tulip popular, twenty nine inches.", "Liriodendron tulipifera"),
        ("Here's a grand fur, nineteen inches.", "Abies grandis"),
        ("This is a gumball limbo, eighteen inches.", "Bursera simaruba"),
        ("The spruce at the yard, Sitka, twenty metres.", "Picea sitchensis"),
        ("The royal, by the flag pole, fifty feet.", "Roystonea regia"),
    ],
)
def test_names_otherwise_said(said, botanical):
    (tree,) = heard(said, "Keep it.").trees
    # Without a region a loose name may stay at its genus.
    assert tree.species.botanical in (botanical, botanical.split()[0])


@pytest.mark.parametrize(
    "said",
    [
        "We went down to the beach for a swim.",
        "That walk is popular with the neighbours.",
        "I don't know how old you are.",
        "Mrs Oakes will show us the trunk.",
        "It's Mr. Birch's hedge trimmer.",
        "Thanks, Hazel, we'll cut it short.",
        "The tall one, with the orange bark.",
        "Somebody set an ash can on the roots.",
        "The nursery sells a Norway maple.",
        "If somebody offers you a ficus, run.",
    ],
)
def test_what_names_no_tree(said):
    d = heard(said)
    assert (d.trees, d.plantings) == ((), ())


@pytest.mark.parametrize(
    ("said", "count"),
    [
        ("An avenue of common limes, six a side.", 12),
        ("There's a Douglas fir either side of it.", 2),
        ("Cabbage palms, let me count, seven, eight, nine.", 9),
        ("The pair by the canteen, they're Chinese elms.", 2),
        ("Ash, two of, by the wall.", 2),
        ("Bigleaf maple, one two three, four trunks.", 1),
    ],
)
def test_counts_otherwise_said(said, count):
    assert [t.count for t in heard(said, "Keep.").trees] == [count]


@pytest.mark.parametrize(
    ("said", "botanical"),
    [
        ("Where the ash comes out I'd go with a field maple.", "Acer campestre"),
        ("When the ash is gone, bur oak there.", "Quercus macrocarpa"),
        ("I suggest a hornbeam.", "Carpinus betulus"),
        ("I'd sooner have a hornbeam.", "Carpinus betulus"),
        ("A hornbeam would suit.", "Carpinus betulus"),
        ("What you want there is a hornbeam.", "Carpinus betulus"),
        ("I'd put rowan back.", "Sorbus aucuparia"),
        ("Put a field maple back.", "Acer campestre"),
        ("Plant a rowan, no, a hornbeam.", "Carpinus betulus"),
        ("I wouldn't be putting in beech, nor oak either.", None),
    ],
)
def test_proposals(said, botanical):
    d = heard("There's an ash by the wall, twelve metres.", "Fell it.", said)
    found = [p.species.botanical for p in d.plantings]
    wanted = [botanical, botanical.split()[0]] if botanical else []
    assert len(found) == (botanical is not None)
    assert set(found) <= set(wanted)
    assert len(d.trees) == 1


def test_label_holds_until_the_next():
    cues, _ = parse_cues(
        "[0:01] ANN: There's a live oak by the lobby, thirty inches and it\n"
        "[0:08] runs sixty feet side to side. Leave it alone.\n"
        "[0:15] BEA: I want it gone,\n[0:20] cut it down.\n[0:25] ANN: No, it stays.\n"
    )
    d = draft(cues)
    assert [t.decision for t in d.trees] == ["retain"]
    assert [(m.what, m.value) for m in d.trees[0].measures] == [("diameter", 30), ("spread", 60)]


def test_sizes_wait_for_the_name():
    d = heard("First up is the one everyone knows. Sixteen metres.", "It's a jacaranda. Keep it.")
    assert [(m.what, m.value) for m in d.trees[0].measures] == [("height", 16.0)]


def test_a_slip_of_the_tape():
    d = heard("There's a grand fir, nineteen inches.", "Hold on, tape slipped.", "Twenty.")
    (m,) = d.trees[0].measures
    assert (m.value, m.unit, m.first_said) == (20.0, "in", "19 in")


def test_the_summary_reaches_by_place_and_likeness():
    d = heard(
        "There's a red oak by the gate, twenty inches.",
        "Two Douglas firs by the bridge, thirty inches.",
        "Then a cascara, twenty feet.",
        "To sum up. Red oak, prune it.",
        "The two by the bridge stay, and so does the cascara.",
    )
    assert [t.decision for t in d.trees] == ["prune", "retain", "retain"]


def test_a_question_what_to_plant_is_answered():
    d = heard("The wattle's had it, out.", "What would you put there?", "A blueberry ash.")
    assert [p.species.botanical for p in d.plantings] == ["Elaeocarpus reticulatus"]
    assert len(d.trees) == 1


@pytest.mark.parametrize(
    ("said", "botanical"),
    [
        # Somebody's name, denied, with another tree just before.
        (["A sugar maple, keep it.", "On the lawn she says copper beech. It isn't, it's an "
          "American beech."], ["Acer saccharum", "Fagus grandifolia"]),
        (["A red oak, twenty inches, fell it.", "Front lawn, the big one, the label says bigleaf "
          "maple.", "It's not a maple, it's a western sycamore."],
         ["Quercus rubra", "Platanus racemosa"]),
        (["Husband says the one by the shed is a hickory.", "It's not a hickory, it's a black "
          "walnut. Eighteen inches."], ["Juglans nigra"]),
        (["What about this one, is it an ash?", "It's a Chinese pistache. Ten inches."],
         ["Pistacia chinensis"]),
        (["A river birch, forty feet.", "The bloke said it was a poinciana but it's not."],
         ["Betula nigra"]),
        # Taken back by number.
        (["Tree four, ash, 30 centimetres, keep.", "Tree five, field maple. Fell.",
          "Number four, I said ash, make that rowan."], ["Sorbus aucuparia", "Acer campestre"]),
        (["T1, oak, 900. T2, field maple, 400.", "Correction, T1, that's a Turkey oak."],
         ["Quercus cerris", "Acer campestre"]),
        # Kinds told apart, and a kind only spoken of.
        (["That little juniper, the Rocky Mountain one, fourteen feet."], ["Juniperus scopulorum"]),
        (["A coast live oak, twenty inches.", "I won't guess on an oak."], ["Quercus agrifolia"]),
        (["A red oak by the gate, sixty feet.", "I'd have talked them into a rowan."],
         ["Quercus rubra"]),
    ],
)  # fmt: skip
def test_names_given_and_taken_back(said, botanical):
    assert [t.species.botanical for t in heard(*said).trees] == botanical


@pytest.mark.parametrize(
    ("said", "decision"),
    [
        ("If it were mine I'd have it out, but she's fond of it, so we'll leave it.", "retain"),
        ("Take it down if it gets any worse.", None),
        ("It's full of mistletoe, get that out of there.", "prune"),
        ("My instinct is remove, but the client would like it kept, so monitor annually.",
         "monitor"),
        ("Shorten that limb by a third. So we're not removing it.", "prune"),
        ("Nobody prunes it till the lab comes back.", None),
        ("Don't let anybody prune it.", "retain"),
        ("The owner wants it kept and so do I.", "retain"),
        ("I'd get a climbing guy to open that up and look inside.", "inspect"),
        ("He's not too bad, we'll look at him again next summer.", "monitor"),
        ("I'd want to know that before I sign anything.", None),
    ],
)  # fmt: skip
def test_conditions_and_contrasts(said, decision):
    assert (
        heard("There's a red oak by the gate, twenty inches.", said).trees[0].decision == decision
    )


def test_another_speaker_names_the_tree_that_is_judged():
    cues, _ = parse_cues(
        "00:00.000 --> 00:05.000\nAl: Start with the red oak, thirty inches, leave it.\n\n"
        "00:05.000 --> 00:08.000\nJo: This crabapple's a mess.\n\n"
        "00:08.000 --> 00:12.000\nAl: Yes, thin it out. Eight inches.\n"
    )
    assert [(t.species.botanical, t.decision) for t in draft(cues).trees] == [
        ("Quercus rubra", "retain"),
        ("Malus", "prune"),
    ]


def test_marks_are_guessed_and_not_shown():
    lines = (
        "okay first one is a pin oak by the gate thirty inches sixty feet nothing wrong with it",
        "leave it next to it is a silver maple it's split down the middle take it out then there's",
        "three red maples along the wall lift them over the path to eight feet",
    )
    d = heard(*lines)
    assert [(t.species.botanical, t.count, t.decision) for t in d.trees] == [
        ("Quercus palustris", 1, "retain"),
        ("Acer saccharinum", 1, "remove"),
        ("Acer rubrum", 3, "prune"),
    ]
    said = " ".join(m.said for t in d.trees for m in t.moments)
    assert not set(".,") & set(said)
