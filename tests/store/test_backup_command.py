"""`bolewalk backup` and `bolewalk restore`."""

from click.testing import CliRunner

from bolewalk.cli import main
from bolewalk.store.store import Store


def run(*arguments):
    return CliRunner().invoke(main, [str(a) for a in arguments])


def arguments(place):
    media = place.get("media")
    return ["--data", place["where"], *(["--media", media] if media else [])]


def test_there_and_back_while_the_store_is_open(store, place, demo, tmp_path, clock):
    number = store.import_folder(demo, who="Ada", when=clock()).survey_id
    done = run("backup", *arguments(place), "--out", tmp_path / "backup")
    assert (done.exit_code, done.stdout) == (0, f"{(tmp_path / 'backup').resolve()}\n")
    assert "10 kept files" in done.stderr
    done = run("restore", tmp_path / "backup", "--data", tmp_path / "new")
    assert (done.exit_code, done.stdout) == (0, "")
    with Store.open(tmp_path / "new") as other:
        assert other.job(number) == store.job(number)


def test_damage_is_exit_1_and_names_the_file(store, place, demo, tmp_path, clock):
    store.import_folder(demo, who="Ada", when=clock())
    name = next(store.files.names())
    store.files.path(name).write_bytes(b"other")
    done = run("backup", *arguments(place), "--out", tmp_path / "backup")
    assert done.exit_code == 1
    assert f"fault: kept file {name[:12]}: missing or changed" in done.stderr


def test_misuse_is_exit_2_and_makes_nothing(tmp_path):
    done = run("backup", "--data", tmp_path / "none", "--out", tmp_path / "backup")
    assert done.exit_code == 2
    assert "there is no store.db in it" in done.stderr
    assert not (tmp_path / "none").exists()
    assert not (tmp_path / "backup").exists()
    done = run("restore", tmp_path / "backup", "--data", tmp_path / "new")
    assert done.exit_code == 2
    assert "is no backup" in done.stderr
    assert not (tmp_path / "new").exists()
