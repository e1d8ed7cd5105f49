"""The palette and its candidates: complete rows, published classes, reasons that say why."""

import pytest

from bolewalk.model.units import M_PER_FT as FT
from bolewalk.planting.candidates import Surroundings, list_candidates
from bolewalk.planting.palette import find_taxon, load_palette, plant_factor, water_class
from bolewalk.planting.plan import LIGHTS, PURPOSES, PlantingSite
from bolewalk.reference.plants import find_plant


def test_every_taxon_is_complete():
    palette = load_palette()
    assert len(palette) >= 120
    assert len({t.botanical for t in palette}) == len(palette)
    for t in palette:
        assert t.common, t
        assert t.family.endswith("aceae"), t
        assert t.origin, t
        assert t.evergreen is not None, t
        assert t.light, t
        assert set(t.light) <= set(LIGHTS), t
        assert set(t.uses) <= set(PURPOSES), t
        assert t.roots in ("low", "moderate", "high")
        assert set(t.stands) <= {"salt", "wind", "shallow soil"}
        for figure in (t.height_m, t.spread_m):
            assert 0 < figure.low <= figure.value <= figure.high, t
            assert figure.source, t
        assert 0.05 <= t.spread_m.value <= 30, t
        assert 0.1 <= t.height_m.value <= 60, t


def test_kinds_and_sizes_agree():
    for t in load_palette():
        if t.kind == "ground cover":
            assert t.height_m.value <= 1.3, t
        if t.kind == "tree":
            assert t.height_m.high >= 3, t


def test_genera_agree_with_the_gazetteer():
    for t in load_palette():
        plant = find_plant(t.botanical)
        assert plant is None or plant.genus in (t.genus, plant.botanical.split()[0])


@pytest.mark.parametrize(
    ("botanical", "region", "word"),
    [
        # University of California list.
        ("Quercus agrifolia", "South Coastal", "very low"),
        ("Quercus lobata", "South Inland Valley", "moderate"),
        ("Alnus rhombifolia", "Central Valley", "high"),
        ("Arbutus menziesii", "South Coastal", "not for this region"),
        ("Salvia clevelandii", "South Coastal", "not rated"),  # not in the tree list
        ("Ceanothus 'Ray Hartman'", "Central Valley", "low"),
        ("Ceanothus 'Concha'", "Central Valley", "not rated"),  # another garden form is no rating
    ],
)
def test_water_classes_are_never_guessed(botanical, region, word):
    assert water_class(botanical, region) == word


def test_plant_factors_are_the_middle_of_the_published_bands():
    # Bands: under 10, 10 to 30, 40 to 60, 70 to 90 % of reference evapotranspiration.
    words = ("very low", "low", "moderate", "high")
    assert [plant_factor(w) for w in words] == pytest.approx([0.05, 0.2, 0.5, 0.8])
    assert plant_factor("not rated") is None


@pytest.mark.parametrize("name", ["Toyon", "heteromeles arbutifolia", "coast live oaks"])
def test_names_are_found(name):
    assert find_taxon(name) is not None


def test_unknown_names_are_not_guessed():
    assert find_taxon("blue gum of the moon") is None


def judged(site, purposes=("shade",), **around):
    found = list_candidates(site, purposes, around=Surroundings(**around))
    return {c.taxon.botanical: c for c in found}


def codes(statements):
    return {s.code for s in statements}


def test_every_candidate_is_listed_with_reasons():
    found = list_candidates(PlantingSite(light="sun"), ("shade",))
    assert len(found) == len(load_palette())
    assert all(c.reasons for c in found)
    fits = [c.fits for c in found]
    assert fits == sorted(fits, reverse=True)
    names = [c.taxon.botanical for c in found if c.fits]
    assert names == sorted(names)


def test_limits_break_and_say_so():
    site = PlantingSite(
        light="shade", native_to="California", natives_only=True, evergreen=True,
        water_region="Central Valley", water_at_most="low", height_at_most_m=30 * FT,
    )  # fmt: skip
    found = judged(site)
    sycamore = found["Platanus racemosa"]
    assert codes(sycamore.breaks) == {
        "planting.light_wrong", "planting.water_over", "planting.too_tall", "planting.deciduous",
    }  # fmt: skip
    assert "planting.not_native" in codes(found["Ginkgo biloba"].breaks)
    assert found["Frangula californica"].fits
    assert "planting.native" in codes(found["Frangula californica"].reasons)


def test_width_and_water_class_are_told():
    found = judged(PlantingSite(water_region="Central Valley", width_at_most_m=20 * FT))
    oak, toyon = found["Quercus lobata"], found["Heteromeles arbutifolia"]
    assert "planting.too_wide" in codes(oak.breaks)
    assert "planting.too_wide" not in codes(toyon.breaks)
    said = {s.code: dict(s.values) for s in toyon.reasons}
    assert said["planting.water_class"]["water"] == water_class(
        "Heteromeles arbutifolia", "Central Valley"
    )


def test_wires_paving_and_what_stands():
    oaks = (("Quercus agrifolia", "Quercus", "Fagaceae"),) * 12
    found = judged(PlantingSite(salt=True), under_wire=True, paving_near=True, standing=oaks)
    oak = found["Quercus agrifolia"]
    # 25 ft is the most beside wires; a coast live oak grows past it.
    assert "planting.too_tall_for_wires" in codes(oak.breaks)
    assert {"planting.over_species", "planting.roots_moderate"} <= codes(oak.against)
    assert "planting.stands" in codes(oak.reasons)
    assert "planting.stands_not" in codes(found["Acer palmatum"].against)


def test_not_rated_speaks_against_but_breaks_nothing():
    found = judged(PlantingSite(water_region="Central Valley", water_at_most="very low"))
    sage = found["Salvia clevelandii"]
    assert sage.fits
    assert "planting.water_not_rated" in codes(sage.against)
