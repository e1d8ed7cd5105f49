"""What is taken out of the store for good: searched for afterwards in every byte it keeps."""

import hashlib
import io
import json
import shutil
from pathlib import Path

import numpy as np
import openpyxl
import pytest
import typst
from click.testing import CliRunner
from sqlalchemy import func, insert, select, text

from bolewalk.cli import main
from bolewalk.desk.apart.worker import pdf_text
from bolewalk.store import database, privacy, removing, wiping
from bolewalk.store.backup import backup, restore
from bolewalk.store.checking import verify
from bolewalk.store.edits import set_cells
from bolewalk.store.errors import NotWipedError, StoreError
from bolewalk.store.issues import list_issues, seal, withdraw, write_issue
from bolewalk.store.items import Applied, Edit
from bolewalk.store.privacy import forget, surveys_of_client, would_forget
from bolewalk.store.privacy_cut import LeftIn, cut_stretch, would_cut
from bolewalk.store.schema import METADATA, client_links, link_openings
from bolewalk.store.store import Store
from tests.walk.sound import RATE, write_wav

SECRET = "Ostrander-Quillfeather"
"""A word no program has."""
HEAD = """[survey]
name = "{secret} garden"
date = 2026-05-12
units = "imperial"
[people]
client = {{name = "Mirela  {secret}"}}
[files]
walk = ["walk.vtt"]
trees = "trees.csv"
"""
WALK = """WEBVTT

00:01.000 --> 00:04.000
This red oak by the gate, forty feet, prune it.

00:04.000 --> 00:05.500
The code of the gate is {secret} seven one two.

00:06.000 --> 00:09.000
And the birch behind it comes out.
"""


def folder_of(path: Path, secret: str, *, sound: bool = True) -> Path:
    path.mkdir()
    (path / "survey.toml").write_text(HEAD.format(secret=secret))
    (path / "trees.csv").write_text(f"tree,species,notes\nT1,red oak,gate of {secret}\nT2,birch,\n")
    (path / "walk.vtt").write_text(WALK.format(secret=secret))
    (path / "common.txt").write_text("the same in every survey")
    if sound:
        t = np.arange(9 * RATE) / RATE
        said = (t >= 4) & (t < 5.5)
        write_wav(path / "walk.wav", 0.3 * np.sin(2 * np.pi * np.where(said, 700, 300) * t))
    return path


def wav_of(path: Path) -> bytes:
    t = np.arange(9 * RATE) / RATE
    write_wav(path, 0.2 * np.sin(2 * np.pi * 500 * t))
    return path.read_bytes()


def bytes_of(store: Store) -> dict[str, bytes]:
    """Every byte the store keeps: its files, and those of its database as the system has them."""
    found = {str(p): p.read_bytes() for p in store.files.root.rglob("*") if p.is_file()}
    if store.engine.dialect.name == "sqlite":
        database = Path(str(store.engine.url.database))
        return found | {p.name: p.read_bytes() for p in database.parent.glob(f"{database.name}*")}
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as c:
        c.execute(text("CHECKPOINT"))
        data = Path(c.execute(text("SHOW data_directory")).scalar_one())
        mine = c.execute(text("SELECT oid FROM pg_database WHERE datname = current_database()"))
        base = data / "base" / str(mine.scalar_one())
    return found | {p.name: p.read_bytes() for p in base.iterdir() if p.is_file()}


def holding(store: Store, word: str) -> list[str]:
    return sorted(n for n, data in bytes_of(store).items() if word.encode() in data)


def counted(store: Store) -> dict[str, int]:
    with store.engine.connect() as c:
        return {
            t.name: c.execute(select(func.count()).select_from(t)).scalar_one()
            for t in METADATA.sorted_tables
        }


def filled(store: Store, tmp_path: Path, clock, secret: str, name: str) -> int:
    """A survey with changes, an undo, an issue with a mark, and a link that was opened."""
    folder = folder_of(tmp_path / name, secret)
    number = store.import_folder(folder, who=f"{secret} the client", when=clock()).survey_id
    tree = store.load(number).of("tree")[0]
    store.change(number, [set_cells(tree, {"notes": f"{secret} says"})], who="Ada", when=clock())
    store.undo(number, who="Ada", when=clock())
    papers = tmp_path / f"papers-{name}"
    (papers / "client").mkdir(parents=True)
    (papers / "report.pdf").write_bytes(f"%PDF {secret}".encode())
    (papers / "walk-index.vtt").write_text(
        f"WEBVTT\n\nThe code of the gate is {secret} seven one two."
    )
    shutil.copy(folder / "walk.wav", papers / "client" / "recording.wav")
    issue = seal(
        store, number, papers, revision=store.load(number).revision, title=f"For {secret}",
        who="Ada", when=clock(), number=f"{secret}-1",
    )  # fmt: skip
    withdraw(store, issue.id, who="Ada", when=clock(), reason=f"{secret} asked")
    with store.engine.begin() as c:
        made = insert(client_links).values(
            issue_id=issue.id, papers=f'["{secret}.pdf"]', made_at="2026-05-12", made_by="Ada",
            expires_at="2026-06-12",
        )  # fmt: skip
        key = c.execute(made.returning(client_links.c.id)).scalar_one()
        c.execute(insert(link_openings).values(link_id=key, at="2026-05-13", paper=secret))
    return number


def test_a_client_forgotten_is_in_no_byte_of_the_store(store, tmp_path, clock):
    other = filled(store, tmp_path, clock, "Sedgewick", "other")
    before = counted(store)
    kept = store.load(other), store.history(other), list_issues(store, other)
    number = filled(store, tmp_path, clock, SECRET, "theirs")
    assert len(holding(store, SECRET)) > 3

    (entry,) = surveys_of_client(store, f"mirela {SECRET.upper()}")
    assert entry.id == number
    told = would_forget(store, {number}, when=clock())
    assert len(holding(store, SECRET)) > 3
    gone = forget(store, {number}, when=clock())

    assert holding(store, SECRET) == []
    assert counted(store) == before
    assert (store.load(other), store.history(other), list_issues(store, other)) == kept
    assert verify(store) == ()
    assert (gone.surveys, gone.files) == (told.surveys, told.files)
    (survey,) = gone.surveys
    assert (survey.changes, survey.issue_marks, survey.links, survey.link_openings) == (3, 1, 1, 1)
    # The recording of both is the same sound, and the note the same words: they stay for the other.
    same = {
        hashlib.sha256((tmp_path / "other" / n).read_bytes()).hexdigest()
        for n in ("walk.wav", "common.txt")
    }
    assert set(gone.files_elsewhere) == same
    assert {m.sha256 for m in gone.files}.isdisjoint(same)
    assert all(store.files.check(s) is not None for s in same)
    with pytest.raises(StoreError, match=f"there is no survey {number}"):
        store.load(number)
    with pytest.raises(StoreError, match=f"there is no survey {number}"):
        forget(store, {other, number}, when=clock())
    assert store.load(other) == kept[0]


def test_the_certificate_holds_nothing_anybody_entered(store, tmp_path, clock):
    number = filled(store, tmp_path, clock, SECRET, "theirs")
    when = clock()
    told = forget(store, {number}, when=when).as_dict()
    shown = json.dumps(told)
    for word in (
        SECRET,
        "Mirela",
        "Ada",
        "oak",
        "gate",
        "walk.vtt",
        "trees.csv",
        "report",
        "garden",
    ):
        assert word not in shown
    assert told["at"].startswith(when.isoformat()[:16])
    # The seal is by hand: SHA-256 of all the rest as JSON, keys in order, no spaces.
    seal_ = told.pop("sha256")
    text_ = json.dumps(told, sort_keys=True, separators=(",", ":"))
    assert hashlib.sha256(text_.encode()).hexdigest() == seal_


def test_a_removal_broken_off_is_finished_when_the_store_is_opened(store, place, tmp_path, clock, monkeypatch):  # fmt: skip  # noqa: E501
    number = filled(store, tmp_path, clock, SECRET, "theirs")

    def killed(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(privacy, "finish_removal", killed)
    with pytest.raises(KeyboardInterrupt):
        forget(store, {number}, when=clock())
    monkeypatch.undo()
    # The rows are gone, the files are not: nothing was lost, and nothing is forgotten.
    assert store.surveys() == ()
    assert len(list(store.files.names())) > 3
    with Store.open(**place) as again:
        assert list(again.files.names()) == []
        forget(again, (), when=clock())
        assert holding(again, SECRET) == []


def test_broken_off_before_the_rows_are_gone_nothing_is_lost(store, place, tmp_path, clock, monkeypatch):  # fmt: skip  # noqa: E501
    number = filled(store, tmp_path, clock, SECRET, "theirs")

    def killed(*_):
        raise KeyboardInterrupt

    monkeypatch.setattr(privacy, "_delete", killed)
    with pytest.raises(KeyboardInterrupt):
        forget(store, {number}, when=clock())
    monkeypatch.undo()
    with Store.open(**place) as again:
        assert verify(again) == ()
        assert again.load(number).of("tree")


def test_a_file_taken_away_while_it_is_taken_in_is_not_counted_on(store, tmp_path, clock, monkeypatch):  # fmt: skip  # noqa: E501
    folder = folder_of(tmp_path / "a", SECRET, sound=False)
    real = removing.still_there

    def late(files, names):
        for n in names:
            files.path(n).unlink()
        real(files, names)

    monkeypatch.setattr("bolewalk.store.store.still_there", late)
    with pytest.raises(StoreError, match="bring it again"):
        store.import_folder(folder, who="Ada", when=clock())
    assert store.surveys() == ()


def test_a_backup_brought_up_to_date_has_forgotten_too(store, tmp_path, clock):
    number = filled(store, tmp_path, clock, SECRET, "theirs")
    backup(store, tmp_path / "backup")
    forget(store, {number}, when=clock())
    assert backup(store, tmp_path / "backup").faults == ()
    kept = [p for p in (tmp_path / "backup").rglob("*") if p.is_file()]
    assert not [p for p in kept if SECRET.encode() in p.read_bytes()]


# A stretch cut out of a recording.


@pytest.fixture
def walked(store, tmp_path, clock):
    number = filled(store, tmp_path, clock, SECRET, "theirs")
    heard = {
        "found": "w1", "of": "walk", "do": "accept", "trees": ["T1"], "into": "",
        "heard": {
            "moments": [
                {"start": 1.0, "end": 4.0, "said": "This red oak by the gate"},
                {"start": 4.0, "end": 5.5, "said": f"The code is {SECRET}"},
            ],
            "measures": [{"what": "height", "value": 7, "said": f"The code is {SECRET}"}],
        },
    }  # fmt: skip
    store.change(number, [Edit("correction", "", heard)], who="Ada", when=clock())
    return number


def test_a_stretch_is_gone_everywhere_and_no_moment_moves(store, walked, tmp_path, clock):
    wav = hashlib.sha256((tmp_path / "theirs" / "walk.wav").read_bytes()).hexdigest()
    vtt = hashlib.sha256((tmp_path / "theirs" / "walk.vtt").read_bytes()).hexdigest()
    before = store.job(walked).cues
    told = would_cut(store, walked, "walk.wav", start_s=4, end_s=5.5)
    assert (told.cues, {m.sha256 for m in told.removed}) == (1, {wav, vtt})
    done = cut_stretch(
        store, walked, "walk.wav", start_s=4, end_s=5.5, who="Ada", when=clock()
    )  # fmt: skip
    assert done.silent_s == pytest.approx(1.5, abs=0.001)
    assert {m.sha256 for m in done.removed} == {wav, vtt}
    # By hand: of three cues the second is gone, the others are what and where they were.
    assert store.job(walked).cues == (before[0], before[2])
    # The words are left where they were entered or issued by hand, and nowhere else.
    left = holding(store, "The code")
    issued = list_issues(store, walked)[0].papers["walk-index.vtt"].sha256
    assert [Path(n).name for n in left] == [issued]
    assert not store.files.path(wav).exists()
    assert not store.files.path(vtt).exists()
    assert verify(store) == ()
    body = store.load(walked).of("correction")[0].body
    assert [m["said"] for m in body["heard"]["moments"]] == ["This red oak by the gate", ""]
    assert body["heard"]["moments"][1]["start"] == 4.0
    assert store.history(walked)[-1].note == "walk.wav: 0:04.0 to 0:05.5 was cut out"


def test_no_earlier_state_leads_back_to_the_stretch(store, walked, tmp_path, clock):
    first = store.history(walked)[0].revision
    cut_stretch(store, walked, "walk.wav", start_s=4, end_s=5.5, who="Ada", when=clock())
    out = tmp_path / "then"
    store.export_folder(walked, out, revision=first)
    assert "The code" not in (out / "walk.vtt").read_text()
    assert "birch behind" in (out / "walk.vtt").read_text()
    now = store.load(walked).of("file")
    assert (out / "walk.wav").read_bytes() == store.files.path(
        next(i.body["sha256"] for i in now if i.key == "walk.wav")
    ).read_bytes()
    # Everything this person did can be taken back, and the stretch does not come with it.
    while isinstance(store.undo(walked, who="Ada", when=clock()), Applied):
        assert verify(store) == ()
    assert [Path(n).suffix for n in holding(store, "The code")] in ([""], [])


def test_seals_stand_and_say_what_is_gone(store, walked, tmp_path, clock):
    seals = [(i.sha256, i.papers, i.inputs) for i in list_issues(store, walked)]
    done = cut_stretch(store, walked, "walk.wav", start_s=4, end_s=5.5, who="A", when=clock())
    (touched,) = done.issues
    assert touched.files == ("client/recording.wav", "walk.vtt", "walk.wav")
    assert touched.papers == ("walk-index.vtt",)
    (issue,) = list_issues(store, walked)
    assert [(issue.sha256, issue.papers, issue.inputs)] == seals
    write_issue(store, issue, tmp_path / "printed")
    names = {
        p.relative_to(tmp_path / "printed").as_posix() for p in (tmp_path / "printed").rglob("*")
    }
    assert "papers/client/recording.wav.removed.txt" in names
    assert "papers/client/recording.wav" not in names
    assert (
        tmp_path / "printed" / "papers" / "report.pdf"
    ).read_bytes() == f"%PDF {SECRET}".encode()


SPOKEN = f"The code of the gate is {SECRET} seven one two."


def printed(text_: str) -> bytes:
    """A PDF set as papers are: narrow columns, words parted at line ends."""
    page = (
        "#set page(width: 55mm, height: 80mm)\n#set par(justify: true)\n#set text(hyphenate: true)"
    )
    return typst.compile(f"{page}\n{text_}".encode())


def as_sheet(text_: str) -> bytes:
    book = openpyxl.Workbook()
    book.active.append(["T1", text_])
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


PAPERS_HOLDING = {
    "report.pdf": printed(f"She said: {SPOKEN} And went on."),
    "data.json": json.dumps({"said": f"é \n{SPOKEN}"}).encode(),
    "page.html": SPOKEN.replace("the gate", "the&nbsp;<b>g</b>ate").encode(),
    "table.csv": f'T1,"said: {SPOKEN.upper()}"'.encode("utf-16"),
    "table.xlsx": as_sheet(SPOKEN),
    # A part of what was said.
    "quote.txt": f"the gate is\n{SECRET} seven one".encode(),
}
PAPERS_UNREAD = {
    "damaged.pdf": b"%PDF-1.7 cut off",
    "scanned.pdf": typst.compile(b"#rect()"),
    "plan.zip": b"PK\x03\x04",
    "broken.xlsx": b"PK\x03\x04",
}
PAPERS_WITHOUT = {
    "other.pdf": printed("This red oak by the gate, forty feet, prune it."),
    # Five words of it stand anywhere.
    "other.csv": b"T1,the code of the gate,was not told",
    "photo.jpg": SPOKEN.encode(),
}


def test_sealed_papers_with_words_of_the_stretch_are_told(store, walked, place, tmp_path, clock):
    papers = tmp_path / "more"
    papers.mkdir()
    for name, raw in {**PAPERS_HOLDING, **PAPERS_UNREAD, **PAPERS_WITHOUT}.items():
        (papers / name).write_bytes(raw)
    seal(
        store, walked, papers, revision=store.load(walked).revision, title="", who="Ada",
        when=clock(), number="2",
    )  # fmt: skip
    told = would_cut(store, walked, "walk.wav", start_s=4, end_s=5.5, read_pdf=pdf_text)
    first, second = told.issues
    assert (first.number, first.state) == (f"{SECRET}-1", "withdrawn")
    assert (second.number, second.state) == ("2", "issued")
    assert second.papers == tuple(sorted(PAPERS_HOLDING))
    assert second.unread == tuple(sorted(PAPERS_UNREAD))
    run = CliRunner().invoke(
        main,
        ["cut", "walk.wav", *options(place), "--survey", str(walked), "--from", "4", "--to", "5.5"],
    )
    for name in PAPERS_HOLDING:
        assert f"issue 2: {name} holds words of the stretch; it was sealed and stays" in run.output
    assert "withdraw such an issue, issue anew" in run.output
    assert "issue 2: damaged.pdf was not searched, it cannot be read here" in run.output
    assert "other.pdf" not in run.output
    assert SECRET not in run.output.replace(f"issue {SECRET}-1 (withdrawn)", "")
    # Without a reader no PDF counts as searched.
    blind = would_cut(store, walked, "walk.wav", start_s=4, end_s=5.5).issues[1]
    assert "report.pdf" in blind.unread
    done = cut_stretch(
        store, walked, "walk.wav", start_s=4, end_s=5.5, who="A", when=clock(), read_pdf=pdf_text
    )
    assert done.issues == told.issues


def test_files_of_the_same_name_before_go_too(store, walked, tmp_path, clock):
    # The recording was taken down anew, and brought anew, since.
    name = "walk.vtt"
    olds = {n: store.load(walked).get("file", n).body for n in (name, "walk.wav")}
    new = WALK.format(secret="Hollinbrook")
    for n, raw in ((name, new.encode()), ("walk.wav", wav_of(tmp_path / "again.wav"))):
        medium = store.put_media(io.BytesIO(raw), when=clock())
        item = store.load(walked).get("file", n)
        body = {**item.body, "sha256": medium.sha256, "size": medium.size}
        edit = Edit("file", n, body, version=item.version)
        store.change(walked, [edit], who="Ada", when=clock())
    first = store.history(walked)[0].revision
    done = cut_stretch(store, walked, "walk.wav", start_s=4, end_s=5.5, who="A", when=clock())
    assert {b["sha256"] for b in olds.values()} < {m.sha256 for m in done.removed}
    assert len(done.removed) == 4
    assert done.left == ()
    issued = list_issues(store, walked)[0].papers["walk-index.vtt"].sha256
    assert [Path(n).name for n in holding(store, "The code")] == [issued]
    assert verify(store) == ()
    store.export_folder(walked, tmp_path / "then", revision=first)
    assert "The code" not in (tmp_path / "then" / name).read_text()


def test_what_was_entered_by_hand_is_told(store, walked, clock, place, tmp_path):
    tree = store.load(walked).of("tree")[0]
    store.change(walked, [set_cells(tree, {"notes": SPOKEN})], who="Ada", when=clock())
    gone = store.load(walked).of("tree")[1]
    store.change(walked, [set_cells(gone, {"notes": SPOKEN})], who="Ada", when=clock())
    store.undo(walked, who="Ada", when=clock())
    medium = store.put_media(io.BytesIO(SPOKEN.encode()), when=clock())
    common = store.load(walked).get("file", "common.txt")
    body = {**common.body, "sha256": medium.sha256, "size": medium.size}
    store.change(
        walked, [Edit("file", "common.txt", body, version=common.version)], who="A", when=clock()
    )
    told = would_cut(store, walked, "walk.wav", start_s=4, end_s=5.5)
    assert set(told.left) == {
        LeftIn("tree", "T1", now=True), LeftIn("tree", "T2", now=False),
        LeftIn("file", "common.txt", now=True),
    }  # fmt: skip
    run = CliRunner().invoke(
        main,
        ["cut", "walk.wav", *options(place), "--survey", str(walked), "--from", "4", "--to", "5.5"],
    )
    assert "tree T1: words of the stretch stand in it" in run.output
    assert "tree T2: words of the stretch stand in what it was before" in run.output
    assert "take the words out at the desk" in run.output
    assert "`bolewalk export --now`, then `bolewalk forget`, then `bolewalk bring`" in run.output
    tree = store.load(walked).of("tree")[0]
    store.change(walked, [set_cells(tree, {"notes": ""})], who="Ada", when=clock())
    common = store.load(walked).get("file", "common.txt")
    store.change(
        walked, [Edit("file", "common.txt", None, version=common.version)], who="A", when=clock()
    )
    cut_stretch(store, walked, "walk.wav", start_s=4, end_s=5.5, who="Ada", when=clock())
    assert holding(store, SPOKEN)
    out = str(tmp_path / "out")
    number = str(walked)
    for command in (
        ["export", *options(place), "--survey", number, "--out", out, "--now"],
        ["forget", *options(place), "--survey", number, "--out", f"{out}.json", "--yes"],
        ["bring", f"{out}/{number}", *options(place)],
    ):
        ran = CliRunner().invoke(main, command)
        assert ran.exit_code == 0, ran.output
    (entry,) = store.surveys()
    assert store.load(entry.id).of("tree")
    assert holding(store, SPOKEN) == []


def test_a_cut_survives_backup_and_restore(store, walked, tmp_path, clock):
    cut_stretch(store, walked, "walk.wav", start_s=4, end_s=5.5, who="Ada", when=clock())
    assert backup(store, tmp_path / "backup").faults == ()
    assert restore(tmp_path / "backup", tmp_path / "new").faults == ()


@pytest.mark.parametrize(
    ("name", "start", "end", "says"),
    [
        ("walk.mp4", 1, 2, "has no file walk.mp4"),
        ("walk.vtt", 1, 2, "was taken down from walk.wav: name that"),
        ("walk.wav", 2, 2, "no stretch from 2 to 2 seconds"),
        ("walk.wav", -1, 2, "no stretch"),
        ("common.txt", 1, 2, "cannot be written anew"),
    ],
)
def test_what_cannot_be_cut_is_told_and_nothing_changes(
    store, walked, clock, name, start, end, says
):
    before = store.load(walked), sorted(store.files.names())
    with pytest.raises(StoreError, match=says):
        cut_stretch(store, walked, name, start_s=start, end_s=end, who="Ada", when=clock())
    assert (store.load(walked), sorted(store.files.names())) == before


def test_another_survey_with_the_same_recording_is_told(store, walked, tmp_path, clock):
    other = filled(store, tmp_path, clock, "Sedgewick", "other")
    done = cut_stretch(store, walked, "walk.wav", start_s=4, end_s=5.5, who="Ada", when=clock())
    assert done.elsewhere == (str(other),)
    assert len(done.removed) == 1  # the transcript; the sound is the other survey's too
    assert verify(store) == ()


def test_another_survey_that_once_had_the_same_recording_is_told(store, walked, tmp_path, clock):
    other = filled(store, tmp_path, clock, "Sedgewick", "other")
    item = store.load(other).get("file", "walk.wav")
    done = store.change(
        other, [Edit("file", "walk.wav", None, item.version)], who="Ada", when=clock()
    )
    assert isinstance(done, Applied)
    span = {"start_s": 4, "end_s": 5.5}
    foreseen = would_cut(store, walked, "walk.wav", **span)
    done = cut_stretch(store, walked, "walk.wav", **span, who="Ada", when=clock())
    # Undone there, it plays again: its file stays, and that is told before as after.
    assert foreseen.elsewhere == done.elsewhere == (str(other),)
    assert len(done.removed) == 1
    assert verify(store) == ()


# The commands.


def options(place) -> list[str]:
    told = ["--data", str(place["where"])]
    return told + (["--media", str(place["media"])] if "media" in place else [])


@pytest.mark.usefixtures("walked")
def test_the_commands_tell_first_and_then_do(store, place, tmp_path):
    run = CliRunner()
    beside = Path(place.get("media", Path(place["where"], "media"))).parent / "desk"
    for made in ("papers/1/as-drawn/3/report.pdf", "stills/1/a.jpg", "papers/12/x"):
        (beside / made).parent.mkdir(parents=True)
        (beside / made).write_text(SECRET)
    (beside / "tasks").mkdir()
    (beside / "tasks" / "a.json").write_text(json.dumps({"survey": 1, "title": SECRET}))
    stretch = ["cut", "walk.wav", *options(place), "--survey", "1", "--from", "0:04", "--to", "5.5"]
    told = run.invoke(main, stretch)
    assert told.exit_code == 0, told.output
    assert "nothing was changed" in told.output
    assert "walk.vtt: 1 cues would be without words" in told.output
    assert holding(store, "The code is")
    done = run.invoke(main, [*stretch, "--yes"])
    assert done.exit_code == 0, done.output
    assert "walk.wav: 1.5 s silent" in done.output
    assert "walk-index.vtt holds words of the stretch" in done.output
    assert not (beside / "papers" / "1").exists()

    client = ["forget", *options(place), "--client", f"Mirela {SECRET}"]
    told = run.invoke(main, client)
    assert told.exit_code == 0, told.output
    assert "would go" in told.output
    assert len(store.surveys()) == 1
    assert run.invoke(main, [*client, "--yes"]).exit_code == 2
    done = run.invoke(main, [*client, "--yes", "--out", str(tmp_path / "gone.json")])
    assert done.exit_code == 0, done.output
    assert SECRET not in (tmp_path / "gone.json").read_text()
    assert json.loads((tmp_path / "gone.json").read_text())["surveys"][0]["id"] == 1
    assert holding(store, SECRET) == []
    assert [p.name for p in beside.rglob("*") if p.is_file()] == ["x"]


# What the database itself keeps of what was deleted.


def test_nothing_is_left_in_what_the_server_knows_of_values(store, tmp_path, clock):
    filled(store, tmp_path, clock, "Sedgewick", "other")
    number = filled(store, tmp_path, clock, SECRET, "theirs")
    with store.engine.connect().execution_options(isolation_level="AUTOCOMMIT") as c:
        # The server does so on its own, in time.
        c.execute(text("ANALYZE"))
    forget(store, {number}, when=clock())
    assert holding(store, SECRET) == []
    # Nor where the tables are empty now, of which no new samples are taken.
    forget(store, {s.id for s in store.surveys()}, when=clock())
    assert holding(store, "Sedgewick") == []


@pytest.fixture
def read_all_the_time(store, monkeypatch):
    """Somebody who reads a state of the database and does not end."""
    monkeypatch.setattr(wiping, "_WAIT_MS", 200)
    postgres = store.engine.dialect.name == "postgresql"
    level = {"isolation_level": "REPEATABLE READ"} if postgres else {}
    with store.engine.connect().execution_options(**level) as c:
        # SQLite has its state from the first table on, PostgreSQL from the first question.
        c.execute(text("SELECT 1" if postgres else "SELECT * FROM surveys"))
        yield c


def test_what_is_held_open_is_told_with_what_was_done(
    store, walked, place, tmp_path, read_all_the_time, monkeypatch
):
    monkeypatch.setattr(database, "_WAIT_S", 1)
    stretch = ["cut", "walk.wav", *options(place), "--survey", "1", "--from", "4", "--to", "5.5"]
    done = CliRunner().invoke(main, [*stretch, "--yes"])
    assert done.exit_code == 2
    assert "walk-index.vtt holds words of the stretch" in done.output
    assert "still in pages or the log of the database" in done.output
    certificate = tmp_path / "gone.json"
    command = ["forget", *options(place), "--survey", str(walked), "--yes", "--out", certificate]
    done = CliRunner().invoke(main, list(map(str, command)))
    assert done.exit_code == 2
    assert "run `bolewalk forget --wipe`" in done.output
    told = json.loads(certificate.read_text())
    assert [s["id"] for s in told["surveys"]] == [walked]
    assert not told["written_anew"]
    assert holding(store, SECRET)
    again = ["forget", *options(place), "--wipe"]
    assert CliRunner().invoke(main, again).exit_code == 2
    read_all_the_time.rollback()
    done = CliRunner().invoke(main, again)
    assert (done.exit_code, done.output) == (0, "")
    assert holding(store, SECRET) == []


# SQLite locks no table.
@pytest.mark.parametrize("place", ["postgresql"], indirect=True)
def test_a_table_held_by_others_is_told(store, walked, clock, monkeypatch):
    monkeypatch.setattr(wiping, "_WAIT_MS", 200)
    with store.engine.connect() as c:
        c.execute(text("LOCK TABLE changes IN ACCESS SHARE MODE"))
        with pytest.raises(NotWipedError, match="lock timeout"):
            forget(store, {walked}, when=clock())
    assert forget(store, (), when=clock()).written_anew


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["forget"], "Missing option '--data'"),
        (["forget", "--data", "none"], "give --client NAME, or --survey NUMBER"),
        (["forget", "--data", "none", "--survey", "1"], "no store in none"),
        (
            ["cut", "a", "--data", "none", "--survey", "1", "--from", "x", "--to", "2"],
            "a time, such",
        ),
        (
            ["cut", "a", "--data", "none", "--survey", "1", "--from", "1", "--to", "2"],
            "no store in",
        ),
    ],
)
def test_misuse_is_exit_2(arguments, says, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    done = CliRunner().invoke(main, arguments)
    assert done.exit_code == 2
    assert says in done.output
    assert list(tmp_path.iterdir()) == []
