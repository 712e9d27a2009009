"""Photos are kept with what they show, proven with the book, and go wherever their job goes."""

from __future__ import annotations

import base64
import json
import sqlite3
from collections.abc import Callable, Iterator
from contextlib import nullcontext
from pathlib import Path

import pytest
from msgspec.structs import replace
from record_case import LAYOUT, LAYOUT_TEXT, recorded

from matrixcheck.bench import Bench
from matrixcheck.errors import BookError, InputError, MatrixCheckError, UsageError
from matrixcheck.layout.files import parse_layout
from matrixcheck.layout.reading import Finding
from matrixcheck.record.events import JobOpened, Noted, PhotoTaken
from matrixcheck.record.job_files import job_text, read_job
from matrixcheck.record.job_state import PhotoMade
from matrixcheck.record.journal import Journal
from matrixcheck.record.photo_words import shown_by
from matrixcheck.record.photos import name_of, photo_of
from matrixcheck.record.schema import MIGRATIONS, bring_up_to_date
from tests.drawn_photos import MADE_BY, drawn, jpeg

PICTURE, OTHER = jpeg(camera=True), jpeg(drawn(seed=2))


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    shop = Bench(tmp_path / "shop.book", client="shop", initials="AB")
    yield shop
    shop.close()


@pytest.fixture
def home(tmp_path: Path) -> Iterator[Bench]:
    """Another book."""
    bench = Bench(tmp_path / "home.book", client="home")
    yield bench
    bench.close()


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(LAYOUT, "lighthouse")


def attach(bench: Bench, job: str, picture: bytes = PICTURE, **what: object) -> PhotoMade:
    return bench.attach(job, picture, "pin.jpg", **what)  # type: ignore[arg-type]


def raw(path: Path) -> sqlite3.Connection:
    """A book as any program may open it."""
    return sqlite3.connect(path, isolation_level=None)


def test_a_photo_belongs_to_what_it_shows(bench: Bench, job: str) -> None:
    bench.note(job, "pin 3 burnt")
    bench.finding(job, Finding(place="switches.c2", verdict="faulty"))
    made = [
        attach(bench, job, place="switch 5", caption="rust"),
        attach(bench, job, place="q2"),
        attach(bench, job, place="switches.c2"),
        attach(bench, job, check="Mains Lead"),
        attach(bench, job, check="wire.switches.c2"),
        attach(bench, job, note=2),
        attach(bench, job),
    ]
    state = bench.state(job)
    assert list(state.photos) == made
    assert [shown_by(one, state) for one in made] == [
        "switch 5 (crab)",
        "Q2",
        "switch column 2 wire",
        "safety check: mains lead",
        "bench check: wire.switches.c2",
        "note: pin 3 burnt",
        "the machine",
    ]
    assert [line.text for line in bench.log(job)][-7:] == [
        "photo of switch 5 (crab) (rust)",
        "photo of Q2",
        "photo of switch column 2 wire",
        "photo of safety check: mains lead",
        "photo of bench check: wire.switches.c2",
        "photo of a note",
        "photo of the machine",
    ]
    assert bench.photo(made[0].name) == photo_of(PICTURE, "", shrink=True).jpeg
    assert MADE_BY not in bench.path.read_bytes()
    assert (bench.count_photos(), bench.verify()) == (1, 10), "the same picture is kept once"


WRONG: dict[str, tuple[dict[str, object], str]] = {
    "two things": ({"place": "Q2", "check": "mains lead"}, "shows one thing"),
    "no such part": ({"place": "Q99"}, "has no part"),
    "no such check": ({"check": "tea kettle"}, "there is no check"),
    "several checks": ({"check": "plugs"}, "there is no check|are . checks"),
    "no such code": ({"check": "wire.switches.c99"}, "no bench check is called"),
    "no note": ({"note": 1}, "is no note that counts"),
    "no event": ({"note": 77}, "has no event"),
    "a long caption": ({"caption": "x" * 2_001}, "2001 characters"),
}


@pytest.mark.parametrize("what", WRONG)
def test_a_photo_of_what_is_not_there_is_refused_and_leaves_nothing(bench: Bench, job: str, what: str) -> None:
    named, said = WRONG[what]
    with pytest.raises(UsageError, match=said):
        attach(bench, job, **named)
    assert bench.state(job).photos == ()
    assert bench.count_photos() == 0


def test_what_is_no_picture_is_refused_and_leaves_nothing(bench: Bench, job: str) -> None:
    with pytest.raises(InputError, match=r"pin\.jpg is not a JPEG picture"):
        attach(bench, job, b"a note")
    assert (bench.verify(), bench.count_photos()) == (1, 0)


def test_a_note_that_was_undone_takes_no_photo(bench: Bench, job: str) -> None:
    bench.note(job, "burnt")
    attach(bench, job, note=2)
    bench.undo(job, event=2)
    with pytest.raises(UsageError, match="no note that counts"):
        attach(bench, job, note=2)
    state = bench.state(job)
    assert [shown_by(one, state) for one in state.photos] == ["note that was undone: burnt"]
    bench.redo(job)
    state = bench.state(job)
    assert [shown_by(one, state) for one in state.photos] == ["note: burnt"]


def test_a_job_has_so_many_photos_and_no_more(bench: Bench, job: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("matrixcheck.bench.photographing.MOST_PHOTOS", 2)
    attach(bench, job)
    attach(bench, job)
    bench.undo(job)
    with pytest.raises(UsageError, match="has 2 photos"):
        attach(bench, job)
    attach(bench, bench.new_job(LAYOUT, "windmill"))


def test_an_undo_takes_a_photo_back_and_a_redo_brings_it(bench: Bench, job: str) -> None:
    made = attach(bench, job, place="q2")
    assert bench.undo(job).what == ("photo of Q2",)
    assert bench.state(job).photos == ()
    assert bench.verify() == 3, "its file stays, as its event does"
    bench.redo(job)
    assert bench.state(job).photos == (made,)
    assert bench.photo(made.name)


def test_a_photo_sent_again_is_kept_once(bench: Bench, job: str) -> None:
    first = attach(bench, job, send="s1")
    assert attach(bench, job, send="s1") == first
    assert attach(Bench(bench.path, client="shop"), job, send="s1") == first
    assert bench.state(job).photos == (first,)


def test_another_client_sees_it_at_its_next_look(bench: Bench, job: str) -> None:
    other = Bench(bench.path, client="phone")
    assert not other.changed()
    made = attach(bench, job)
    assert other.changed()
    assert other.state(job).photos == (made,)
    assert other.photo(made.name) == bench.photo(made.name)
    other.close()


def test_a_photo_that_is_not_kept_whole_leaves_no_trace(
    bench: Bench, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The power goes between the file and its event: neither is there."""

    def fails(*_: object, **__: object) -> None:
        raise OSError(5, "power is gone")

    with monkeypatch.context() as patch:
        patch.setattr("matrixcheck.record.rows.append", fails)
        with pytest.raises(BookError):
            attach(bench, job)
    assert (bench.count_photos(), bench.verify()) == (0, 1)
    attach(bench, job)
    assert (bench.count_photos(), bench.verify()) == (1, 2)


@pytest.mark.parametrize(
    "statement",
    [
        "UPDATE photo SET jpeg = x'00'",
        "UPDATE photo SET name = 'x'",
        "DELETE FROM photo",
        "INSERT OR REPLACE INTO photo (name, jpeg) SELECT name, x'00' FROM photo",
    ],
)
def test_the_book_itself_refuses_to_change_a_photo(bench: Bench, job: str, statement: str) -> None:
    attach(bench, job)
    bench.close()
    connection = raw(bench.path)
    with pytest.raises(sqlite3.IntegrityError, match="only ever grows"):
        connection.execute(statement)
    connection.close()
    assert bench.verify() == 2


TAMPERED = {
    "altered": ("UPDATE photo SET jpeg = CAST(jpeg || x'00' AS BLOB)", "was altered or is damaged"),
    "one letter": ("UPDATE photo SET jpeg = CAST(substr(jpeg, 2) || x'41' AS BLOB)", "was altered or is damaged"),
    "taken out": ("DELETE FROM photo", "is missing"),
    "slipped in": ("INSERT INTO photo (name, jpeg) SELECT replace(hex(zeroblob(32)), '0', 'a'), x'00'", "belongs to"),
    "another": ("UPDATE photo SET name = replace(name, substr(name, 1, 8), '00000000')", "belongs to no event"),
}


@pytest.mark.parametrize("how", TAMPERED)
def test_verify_names_a_photo_that_is_not_as_it_was(bench: Bench, job: str, how: str) -> None:
    statement, said = TAMPERED[how]
    name = attach(bench, job).name
    bench.close()
    connection = raw(bench.path)
    guards = connection.execute("SELECT name, sql FROM sqlite_schema WHERE name LIKE 'photo_is%'").fetchall()
    for guard, _ in guards:
        connection.execute(f"DROP TRIGGER {guard}")
    connection.execute(statement)
    for _, sql in guards:
        connection.execute(sql)
    connection.close()
    with pytest.raises(BookError, match=f"photo [0-9a-f]{{12}} {said}"):
        bench.verify()
    assert [one.name for one in bench.state(job).photos] == [name], "marks go on"
    with nullcontext() if how == "slipped in" else pytest.raises(MatrixCheckError):
        bench.photo(name)
    with pytest.raises(BookError):
        bench.back_up(bench.path.with_name("copy.book"))
    assert not bench.path.with_name("copy.book").exists()


def test_a_book_of_before_has_no_photos_and_takes_one(tmp_path: Path) -> None:
    path = tmp_path / "old.book"
    connection = raw(path)
    connection.execute("PRAGMA journal_mode = WAL")
    bring_up_to_date(connection, MIGRATIONS[:5])
    connection.close()
    old = Bench(path)
    before = path.read_bytes()
    assert (old.jobs(), old.count_photos()) == ((), 0)
    with pytest.raises(UsageError, match="there is no photo"):
        old.photo("0" * 64)
    assert path.read_bytes() == before
    made = attach(old, old.new_job(LAYOUT, "lighthouse"))
    assert (old.verify(), old.photo(made.name)[:2]) == (2, b"\xff\xd8")
    old.close()


def test_a_copy_of_the_book_has_its_photos(bench: Bench, job: str, tmp_path: Path) -> None:
    names = {attach(bench, job).name, attach(bench, job, OTHER).name}
    bench.back_up(tmp_path / "copy.book")
    copy = Bench(tmp_path / "copy.book")
    assert (copy.verify(), copy.count_photos()) == (3, 2)
    assert {name: copy.photo(name) for name in names} == {name: bench.photo(name) for name in names}


@pytest.fixture
def exported(bench: Bench, job: str) -> str:
    """A job's file with two photos, one of them taken twice and undone once."""
    bench.note(job, "burnt")
    attach(bench, job, note=2, caption="here")
    attach(bench, job, OTHER, place="Q2")
    attach(bench, job, place="switch 5")
    bench.undo(job)
    return bench.exported(job)


def test_a_job_takes_its_photos_along_in_its_file(bench: Bench, home: Bench, job: str, exported: str) -> None:
    came = home.import_job(exported, "a file")
    assert (came.added, home.verify(), home.count_photos()) == (6, 6, 2)
    assert home.exported(job) == exported
    here, there = bench.state(job), home.state(job)
    assert [shown_by(one, there) for one in there.photos] == ["note: burnt", "Q2"]
    assert there.photos == here.photos
    for one in here.photos:
        assert home.photo(one.name) == bench.photo(one.name)
    assert home.import_job(exported, "a file").added == 0


def test_the_photos_of_a_file_stand_behind_its_events_in_base64(exported: str) -> None:
    head, *lines = map(json.loads, exported.splitlines())
    assert head["format"] == 1
    events, photos = lines[: head["events"]], lines[head["events"] :]
    assert [one["kind"] for one in events] == ["job-opened", "note", "photo", "photo", "photo", "withdrawal"]
    assert photos == [
        {"photo": photo.name, "jpeg": base64.b64encode(photo.jpeg).decode()}
        for photo in (photo_of(each, "", shrink=True) for each in (PICTURE, OTHER))
    ]


def test_a_job_without_photos_is_written_as_it_always_was(bench: Bench, job: str) -> None:
    bench.note(job, "burnt")
    head, *lines = map(json.loads, bench.exported(job).splitlines())
    assert head == {"matrixcheck": "job", "format": 1, "job": job, "events": 2}
    assert len(lines) == 2


def _photo(line: str, **other: object) -> str:
    return json.dumps({**json.loads(line), **other})


SPOILT: dict[str, tuple[Callable[[list[str]], object], str]] = {
    "dropped": (lambda lines: lines.pop(), "1 photos are there, 2 are due"),
    "swapped": (lambda lines: lines.append(lines.pop(-2)), "not the photo that is due"),
    "twice": (lambda lines: lines.append(lines[-1]), "not the photo that is due"),
    "another file": (lambda lines: lines.append(_photo(lines.pop(), jpeg="AAAA")), "altered or is damaged"),
    "no base64": (lambda lines: lines.append(_photo(lines.pop(), jpeg="%%%")), "no photo"),
    "no text": (lambda lines: lines.append(_photo(lines.pop(), jpeg=7)), "no photo"),
    "more in it": (lambda lines: lines.append(_photo(lines.pop(), more=7)), "no photo"),
    "a word": (lambda lines: lines.append("photo"), "no photo"),
}


@pytest.mark.parametrize("how", SPOILT)
def test_a_file_whose_photos_are_not_whole_is_refused_whole(home: Bench, exported: str, how: str) -> None:
    spoil, said = SPOILT[how]
    lines = exported.splitlines()
    spoil(lines)
    with pytest.raises(InputError, match=said) as caught:
        home.import_job("\n".join(lines), "a file")
    assert "\n" not in str(caught.value)
    assert home.jobs() == ()
    assert not home.path.exists() or home.count_photos() == 0


def _file_with(event: PhotoTaken, jpeg_line: bytes) -> str:
    events = recorded(Noted(text="burnt"), event)
    return job_text(events, {event.photo: jpeg_line})


CLEAN = photo_of(PICTURE, "", shrink=True)
TAKEN = PhotoTaken(photo=CLEAN.name, width=48, height=32, size=len(CLEAN.jpeg))
IMPOSSIBLE = {
    "no name": replace(TAKEN, photo="../x"),
    "capitals": replace(TAKEN, photo=CLEAN.name.upper()),
    "two things": replace(TAKEN, place="Q2", safety="mains lead"),
    "no such part": replace(TAKEN, place="Q99"),
    "a note that is none": replace(TAKEN, note=1),
    "a note to come": replace(TAKEN, note=3),
    "too large": replace(TAKEN, width=1_601),
    "nothing": replace(TAKEN, height=0),
    "another size": replace(TAKEN, size=7),
}


@pytest.mark.parametrize("what", IMPOSSIBLE)
def test_a_photo_that_can_not_have_been_taken_is_refused(what: str) -> None:
    assert read_job(_file_with(replace(TAKEN, note=2), CLEAN.jpeg), "a file").photos == {CLEAN.name: CLEAN.jpeg}
    with pytest.raises(InputError, match=r"a file:[345]"):
        read_job(_file_with(IMPOSSIBLE[what], CLEAN.jpeg), "a file")


def test_a_photo_that_says_where_it_was_taken_is_refused_in_a_file() -> None:
    told = replace(TAKEN, photo=name_of(PICTURE), size=len(PICTURE))
    with pytest.raises(InputError, match="not as a book keeps it"):
        read_job(_file_with(told, PICTURE), "a file")


def test_more_photos_than_a_job_may_have_are_refused_in_a_file() -> None:
    with pytest.raises(InputError, match="at most 100 photos"):
        read_job(job_text(recorded(*[TAKEN] * 101), {CLEAN.name: CLEAN.jpeg}), "a file")
    assert read_job(job_text(recorded(*[TAKEN] * 100), {CLEAN.name: CLEAN.jpeg}), "a file")


@pytest.mark.usefixtures("exported")
@pytest.mark.parametrize("open_still", [True, False])
def test_photos_go_along_when_a_job_goes_on_in_another_book(
    bench: Bench, job: str, tmp_path: Path, open_still: bool
) -> None:
    """Also from a file that was removed, for as long as it is open here."""
    bench.undo(job, event=2)
    state = bench.state(job)
    if open_still:
        bench.path.unlink()
    bench.move_to(tmp_path / "other.book", [job])
    moved = bench.state(job)
    assert [(one.name, one.note) for one in moved.photos] == [(one.name, 0) for one in state.photos]
    assert all(bench.photo(one.name) for one in moved.photos)
    assert (bench.verify(), bench.count_photos()) == (len(moved.history), 2)


@pytest.mark.usefixtures("exported")
def test_photos_of_a_book_that_is_lost_are_marked_so_until_they_come_back(
    bench: Bench, job: str, tmp_path: Path
) -> None:
    reader = Bench(bench.path, client="reader")
    (first, second) = reader.state(job).photos
    bench.close()
    bench.path.unlink()
    reader.move_to(tmp_path / "other.book", [job])
    assert (reader.verify(), reader.count_photos()) == (4, 2), "the book is whole, and says what it lacks"
    with pytest.raises(UsageError, match="was lost with an earlier book"):
        reader.photo(first.name)
    text = reader.exported(job)
    assert [json.loads(line)["jpeg"] for line in text.splitlines()[-2:]] == [None, None]
    copy = Bench(tmp_path / "copy.book", client="copy")
    copy.import_job(text, "a file")
    attach(copy, job, OTHER)
    assert copy.photo(second.name), "the same picture, taken in again"
    with pytest.raises(UsageError, match="was lost"):
        copy.photo(first.name)
    assert copy.verify() == 5
    reader.import_job(copy.exported(job), "a file")
    assert reader.photo(second.name)
    assert reader.verify() == 5
    for one in (reader, copy):
        one.close()


def test_a_photo_follows_its_place_into_a_layout_put_right(bench: Bench, job: str) -> None:
    for what in ({"place": "lamp 11"}, {"place": "lamps.c2"}, {"check": "wire.lamps.c2"}, {"place": "lamp 13"}, {}):
        attach(bench, job, **what)
    renumbered = LAYOUT_TEXT.replace("[[11, 12, 13]", "[[12, 51, 0]").replace('"amber", "green"', '"amber", ""')
    bench.relayout(job, parse_layout(renumbered.replace('"red"', '"scarlet"'), "lantern-pier"))
    state = bench.state(job)
    assert len(state.photos) + len(state.without_cell) == 5
    texts = [line.text for line in bench.log(job) if line.text.startswith("photo")]
    assert len(texts) == 5
    assert [text for text in texts if text.endswith("kept without a cell")]
    assert bench.verify() == 7


def test_a_picture_turned_by_the_camera_is_kept_upright(bench: Bench, job: str) -> None:
    made = attach(bench, job, jpeg(drawn(200, 100), orientation=6))
    assert (made.width, made.height) == (100, 200)
    with pytest.raises(InputError, match="lies on its side"):
        attach(bench, job, jpeg(orientation=6), shrink=False)


def test_a_picture_is_a_journal_row_only_with_its_file(tmp_path: Path) -> None:
    journal = Journal(tmp_path / "bench.book")
    with journal.writing() as book:
        book.append("job1", [JobOpened(name="x", layout=LAYOUT), TAKEN])
    with pytest.raises(BookError, match="is missing"):
        journal.verify()
    with journal.writing() as book:
        book.keep_photos({CLEAN.name: CLEAN.jpeg})
    assert journal.verify() == 2
    journal.close()
