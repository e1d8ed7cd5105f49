"""What-if copies of the works: apart from them until they are taken over."""

import pytest

from bolewalk.store.edits import new_work, remove, set_feature
from bolewalk.store.errors import StoreError
from bolewalk.store.items import Applied
from bolewalk.store.variants import adopt_variant, copy_works, drop_variant
from tests.intake.surveys import feature, write_survey


@pytest.fixture
def survey(store, tmp_path, clock):
    folder = write_survey(tmp_path / "in", plan=False)
    return store.import_folder(folder, who="Ada", when=clock()).survey_id


def depth(store, survey, **of):
    works = {w.id: w for w in store.job(survey, **of).survey.works}
    return {k: w.depth_m and round(w.depth_m.value / 0.3048, 3) for k, w in works.items()}


@pytest.fixture
def tried(store, survey, clock):
    """A copy: W1 made shallow, W2 gone, W3 new."""
    key = copy_works(store, survey, "shallow", who="Ada", when=clock())
    seen = {w.body["feature"]["properties"]["id"]: w for w in store.load(survey).works(key)}
    shallow = {**seen["W1"].body["feature"]}
    shallow["properties"] = {**shallow["properties"], "depth": 1}
    new = feature("W3", "trench", "LineString", [[0, 20], [80, 20]], depth=2)
    edits = [set_feature(seen["W1"], shallow), remove(seen["W2"]), new_work(new, variant=key)]
    assert isinstance(store.change(survey, edits, who="Ada", when=clock()), Applied)
    return key


def test_the_works_stay_while_a_copy_changes(store, survey, tried):
    assert depth(store, survey) == {"W1": 3, "W2": 4}
    assert depth(store, survey, variant=tried) == {"W1": 1, "W3": 2}


@pytest.mark.usefixtures("tried")
def test_a_copy_is_not_exported_as_works(store, survey, tmp_path):
    store.export_folder(survey, tmp_path / "out")
    same = (tmp_path / "in" / "works.geojson").read_bytes()
    assert (tmp_path / "out" / "works.geojson").read_bytes() == same


def test_taking_over_keeps_histories_and_is_one_undo(store, survey, tried, clock):
    key = store.load(survey).works()[0].key
    assert isinstance(adopt_variant(store, survey, tried, who="Ada", when=clock()), Applied)
    assert depth(store, survey) == depth(store, survey, variant=tried) == {"W1": 1, "W3": 2}
    assert [c.note for c in store.history(survey, "work", key)] == ["", "works taken over: shallow"]
    store.undo(survey, who="Ada", when=clock())
    assert depth(store, survey) == {"W1": 3, "W2": 4}


def test_a_copy_of_a_copy(store, survey, tried, clock):
    second = copy_works(store, survey, "shallow, again", who="Ada", when=clock(), of=tried)
    assert second != tried
    assert depth(store, survey, variant=second) == {"W1": 1, "W3": 2}
    assert isinstance(adopt_variant(store, survey, second, who="Ada", when=clock()), Applied)
    assert len(store.history(survey, "work", store.load(survey).works()[0].key)) == 2


def test_dropped_and_brought_back(store, survey, tried, clock):
    drop_variant(store, survey, tried, who="Ada", when=clock())
    assert store.load(survey).works(tried) == ()
    store.undo(survey, who="Ada", when=clock())
    assert depth(store, survey, variant=tried) == {"W1": 1, "W3": 2}


@pytest.mark.usefixtures("tried")
def test_names_are_told_apart(store, survey, clock):
    for name in ("shallow", " "):
        with pytest.raises(StoreError, match="a name no other copy has"):
            copy_works(store, survey, name, who="Ada", when=clock())
    with pytest.raises(StoreError, match="no copy variant-9"):
        adopt_variant(store, survey, "variant-9", who="Ada", when=clock())
