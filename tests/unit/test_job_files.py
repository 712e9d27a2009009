"""A job goes out as a file and comes back as it was; what is new is appended, what collides is refused."""

from __future__ import annotations

import hashlib
import json
import sqlite3
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace
from record_case import BATCHES, LAYOUT, START, at, recorded, withdrawal_of

from matrixcheck.bench import Bench
from matrixcheck.cli.main import main
from matrixcheck.errors import InputError, MatrixCheckError, UsageError
from matrixcheck.layout.reading import Mark
from matrixcheck.record.copying import renumbered
from matrixcheck.record.events import Event, JobOpened, Noted, Recorded, Repaired, Restored, body_of, event_from
from matrixcheck.record.job_files import job_text, placed, read_job, what_is_new
from matrixcheck.record.journal import Journal
from matrixcheck.record.replay import replay
from matrixcheck.record.schema import MIGRATIONS, bring_up_to_date

CRAB, ROPE = at(2, 2), at(2, 3)


@pytest.fixture
def books(tmp_path: Path) -> Iterator[Callable[[str], Bench]]:
    """Give a bench on the book of that name; the same one each time."""
    opened: dict[str, Bench] = {}

    def book(name: str) -> Bench:
        if name not in opened:
            opened[name] = Bench(tmp_path / f"{name}.book", client=name, initials="AB")
        return opened[name]

    yield book
    for one in opened.values():
        one.close()


@pytest.fixture
def job(books: Callable[[str], Bench]) -> str:
    """A job with a bit of everything, in a book that holds another one too."""
    bench = books("shop")
    bench.new_job(LAYOUT, "another")
    job = bench.new_job(LAYOUT, "lighthouse", serial="0417", owner="the harbour")
    bench.start_round(job, "switches", "hold", [ROPE])
    bench.rest_scan(job, "switches", "8")
    bench.mark(job, "switches", "4 5- 11.")
    bench.end_round(job)
    bench.note(job, 'elsewhere too: ß, 木, a "quote"')
    bench.mark(job, "switches", "1 2-")
    bench.undo(job, event=8)
    bench.redo(job)
    bench.repair(job, "Q2", "new", did="replaced", fitted="an equal one")
    bench.repair(job, "belt", did="new belt", outside=True)
    bench.safety(job, "earth pin", passed=False)
    bench.mark(job, "lamps", "11 12-")
    bench.undo(job)
    return job


def test_a_job_is_the_same_after_a_round_trip(books: Callable[[str], Bench], job: str) -> None:
    text = books("shop").exported(job)
    came = books("home").import_job(text, "a file")
    assert (came.job, came.added, came.ahead) == (job, came.events, 0)
    assert books("home").exported(job) == text
    assert books("home").verify() == came.events
    here, there = books("shop").state(job), books("home").state(job)
    assert here.standings.keys() == there.standings.keys()
    assert [replace(one, seen=(), since=0, repaired_by=()) for one in here.standings.values()] == [
        replace(one, seen=(), since=0, repaired_by=()) for one in there.standings.values()
    ]
    assert here.current == there.current
    assert [line.text for line in books("shop").log(job)] == [line.text for line in books("home").log(job)]


def test_imported_twice_is_once(books: Callable[[str], Bench], job: str) -> None:
    text = books("shop").exported(job)
    for name in ("shop", "home", "home"):
        books(name).import_job(text, "a file")
    assert books("home").import_job(text, "a file").added == 0
    assert books("shop").exported(job) == books("home").exported(job) == text


def test_what_went_on_elsewhere_is_appended_and_a_book_that_is_ahead_keeps_what_it_has(
    books: Callable[[str], Bench], job: str
) -> None:
    books("home").import_job(books("shop").exported(job), "a file")
    old = books("home").exported(job)
    books("home").new_job(LAYOUT, "a third")
    books("home").mark(job, "switches", "5")
    books("home").undo(job)
    books("home").undo(job, event=6)
    came = books("shop").import_job(books("home").exported(job), "a file")
    assert came.added == 3
    assert books("shop").exported(job) == books("home").exported(job)
    assert books("shop").state(job).current == books("home").state(job).current
    assert books("shop").import_job(old, "a file")[1::2] == (0, 3)


def test_what_went_on_in_both_places_is_refused_with_what_collides(books: Callable[[str], Bench], job: str) -> None:
    books("home").import_job(books("shop").exported(job), "a file")
    books("home").mark(job, "switches", "5 8")
    books("shop").mark(job, "switches", "5-")
    before = books("shop").exported(job)
    count = len(before.splitlines()) - 2
    with pytest.raises(UsageError, match=f"after event {count}: 1 event here.*2 events in the file"):
        books("shop").import_job(books("home").exported(job), "a file")
    assert books("shop").exported(job) == before
    assert books("shop").verify()


def test_another_job_of_the_same_id_is_no_job_to_go_on_with(books: Callable[[str], Bench], job: str) -> None:
    text = job_text([one._replace(job=job) for one in recorded(Noted(text="x"))], {})
    with pytest.raises(UsageError, match="another job"):
        books("shop").import_job(text, "a file")


@given(st.lists(BATCHES, max_size=8), st.data())
def test_any_job_comes_back_as_it_was(batches: list[tuple[Event, ...]], data: st.DataObject) -> None:
    events = recorded(*batches)
    undoable = [one.batch for one in events[1:] if one.event.undoable]
    if undoable and data.draw(st.booleans()):
        undo = withdrawal_of(events, data.draw(st.sampled_from(undoable)))
        events = (*events, undo)
        if data.draw(st.booleans()):
            events = (*events, Recorded(undo.seq + 1, "job1", undo.seq + 1, START, Restored(withdrawal=undo.seq)))
    # As a book gives them: with blanks for what would steer a terminal.
    events = tuple(one._replace(event=event_from(one.event.kind, body_of(one.event))) for one in events)
    text = job_text(events, {})
    back = read_job(text, "a file").events
    assert job_text(back, {}) == text
    cut = data.draw(st.integers(1, len(events)))
    if cut == len(events) or events[cut].batch == events[cut].seq:
        there = renumbered(events[:cut], 7)
        assert what_is_new(renumbered(there, 1), back) == cut
        head = 7 + cut + 5
        again = (*there, *placed(back, there, head))
        assert renumbered(again, 1) == back
        assert [one.seq for one in again[cut:]] == list(range(head + 1, head + 1 + len(events) - cut))
        assert replay(again).current == replay(events).current


def _lines(text: str) -> list[dict[str, object]]:
    return [json.loads(line) for line in text.splitlines()]


def test_the_chain_of_a_file_is_its_own_and_can_be_proven_by_anybody(books: Callable[[str], Bench], job: str) -> None:
    """SHA-256 (FIPS 180-4, by hashlib) over the hash before and the fields, with unit separators between."""
    head, *lines = _lines(books("shop").exported(job))
    assert head == {"matrixcheck": "job", "format": 1, "job": job, "events": len(lines)}
    before = bytes(32)
    events = books("shop").state(job).everything
    for number, (line, one) in enumerate(zip(lines, renumbered(events, 1), strict=True), 1):
        fields = [line["seq"], job, line["batch"], line["at"], line["kind"], body_of(one.event)]
        fields += [line["id"], line["client"], line["initials"]]
        before = hashlib.sha256(before + "\x1f".join(map(str, fields)).encode()).digest()
        assert (line["seq"], line["hash"]) == (number, before.hex())


@pytest.mark.parametrize("place", range(1, 16, 2))
@pytest.mark.parametrize("how", ["altered", "dropped", "twice", "swapped", "cut off"])
def test_a_file_that_was_altered_is_refused_whole(
    books: Callable[[str], Bench], job: str, place: int, how: str
) -> None:
    lines = books("shop").exported(job).splitlines()
    if how == "altered":
        line = json.loads(lines[place])
        lines[place] = json.dumps({**line, "initials": "XY"})
    elif how == "dropped":
        del lines[place]
    elif how == "twice":
        lines.insert(place, lines[place])
    elif how == "swapped":
        lines[place], lines[place + 1] = lines[place + 1], lines[place]
    else:
        del lines[place:]
    with pytest.raises(InputError, match="a file"):
        books("home").import_job("\n".join(lines), "a file")
    assert books("home").jobs() == ()


def test_events_that_can_not_have_happened_are_refused_though_their_chain_is_whole() -> None:
    wrong: list[Event] = [
        Repaired(place="Q99"),
        JobOpened(name="again", layout=LAYOUT),
        Restored(withdrawal=1),
    ]
    for event in wrong:
        with pytest.raises(InputError, match="a file:3: event 2"):
            read_job(job_text(recorded(event), {}), "a file")
    with pytest.raises(InputError, match="begins with its opening"):
        read_job(job_text(recorded(Noted(text="x"))[1:], {}), "a file")
    assert read_job(job_text(recorded(Repaired(place="Q99", outside=True)), {}), "a file")


@given(st.text(max_size=200) | st.binary(max_size=200).map(lambda raw: raw.decode("latin-1")))
def test_no_text_is_taken_for_a_job(text: str) -> None:
    for attempt in (text, '{"matrixcheck":"job","format":1,"job":"abcd","events":1}\n' + text):
        with pytest.raises(InputError) as caught:
            read_job(attempt, "a file")
        assert "\n" not in str(caught.value)


AS_WRITTEN_THEN = (
    ("safety-check", '{"item":"earth pin","passed":true}'),
    ("round-started", '{"matrix":"switches","round":"walk"}'),
    ("reading", '{"reading":{"matrix":"switches","cell":["switches",1,2],"mark":"dead"}}'),
    ("round-ended", "{}"),
    ("repair", '{"place":"Q2","note":"new"}'),
    ("reading", '{"reading":{"matrix":"switches","cell":["switches",1,2],"mark":"dead"}}'),
    ("finding", '{"finding":{"place":"X5-2","verdict":"faulty"}}'),
    ("note", '{"text":"y"}'),
    ("withdrawal", '{"batch":9}'),
)
"""Events of a job after its opening, each in a batch of its own."""


@pytest.mark.parametrize("version", range(1, len(MIGRATIONS) + 1))
def test_a_job_of_a_book_of_any_version_goes_out_and_the_book_goes_on(tmp_path: Path, version: int) -> None:
    """Books as each version wrote them: the first without makers of its rows, its hash over six fields.

    The bodies are those of a time when repairs said no more than their place, and checks no more than that they passed.
    """
    path = tmp_path / "old.book"
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA journal_mode = WAL")
    bring_up_to_date(connection, MIGRATIONS[:version])
    before = bytes(32)
    opened = JobOpened(name="x", layout=LAYOUT)
    for seq, (kind, body) in enumerate(((opened.kind, body_of(opened)), *AS_WRITTEN_THEN), 1):
        maker = () if version == 1 else (f"id{seq}", "here", "AB")
        row = (seq, "job1", seq, START.isoformat(), kind, body, *maker)
        before = hashlib.sha256(before + "\x1f".join(map(str, row)).encode()).digest()
        names = "seq, job, batch, at, kind, body, hash" + ("" if version == 1 else ", id, client, initials")
        values = (*row[:6], before, *maker)
        connection.execute(f"INSERT INTO event ({names}) VALUES ({', '.join('?' * len(values))})", values)
    connection.close()
    old = Bench(path, client="there")
    count = 1 + len(AS_WRITTEN_THEN)
    assert old.verify() == count
    text = old.exported("job1")
    new = Bench(tmp_path / "new.book")
    assert new.import_job(text, "a file").added == count
    assert new.exported("job1") == text
    for bench in (old, new):
        state = bench.state("job1")
        assert [(one.place, one.note, one.outcome) for one in state.repairs] == [("Q2", "new", "failed")]
        assert [(one.item, one.passed) for one in state.safety] == [("earth pin", True)]
        assert [one.mark for one in state.standings.values()].count(Mark.DEAD) == 1
        assert state.notes == ()
    old.mark("job1", "switches", "5-")
    assert old.verify() == count + 1
    assert new.import_job(old.exported("job1"), "a file").added == 1
    for one in (old, new):
        one.close()


def test_a_backup_is_the_book_as_it_is_also_while_it_is_written(
    books: Callable[[str], Bench], job: str, tmp_path: Path
) -> None:
    copy = tmp_path / "copy.book"
    reader = Bench(tmp_path / "shop.book")
    with Journal(tmp_path / "shop.book").writing() as writing:
        writing.append(job, [Noted(text="not yet kept")])
        count = reader.back_up(copy)
    assert count == books("shop").verify() - 1
    other = Bench(copy)
    assert other.verify() == count
    assert [line.text for line in other.log(job)] == [line.text for line in books("shop").log(job)][:-1]
    other.mark(job, "switches", "5")
    assert other.verify() == count + 1
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")) == []
    for one in (reader, other):
        one.close()


def test_a_backup_never_takes_the_place_of_a_file_and_needs_a_book(
    books: Callable[[str], Bench], job: str, tmp_path: Path
) -> None:
    taken = tmp_path / "taken"
    taken.write_text("mine")
    attempts: list[tuple[str, Path]] = [
        ("shop", taken),
        ("shop", tmp_path / "none" / "copy"),
        ("nowhere", tmp_path / "copy"),
    ]
    for name, target in attempts:
        with pytest.raises(MatrixCheckError):
            books(name).back_up(target)
        assert not (tmp_path / "copy").exists()
    assert taken.read_text() == "mine"
    assert books("shop").state(job)


def test_the_commands_carry_a_job_to_another_book(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "shop.book"))
    monkeypatch.chdir(tmp_path)

    def run(*words: str, code: int = 0) -> str:
        assert main([*words]) == code
        shown = capsys.readouterr()
        return shown.err if code else shown.out

    job = run("job", "new", "saltmarsh-tram", "--name", "invented").strip()
    run("mark", job, "switches", "c3-")
    run("job", "export", job, "job.jsonl")
    assert run("job", "export", job, "-") == (tmp_path / "job.jsonl").read_text()
    assert run("job", "import", "job.jsonl") == f"job {job}: nothing in it is new\n"
    home = ("--book", "home.book")
    assert run("job", "import", "job.jsonl", *home) == f"job {job}: 9 of its 9 events are new\n"
    run("mark", job, "switches", "31", *home)
    run("job", "export", job, "later.jsonl", *home)
    assert run("job", "import", "later.jsonl") == f"job {job}: 1 of its 10 events are new\n"
    assert run("job", "import", "job.jsonl") == f"job {job}: nothing in it is new; this book has 1 more\n"
    run("job", "export", job, "readings.jsonl", "--readings")
    assert len((tmp_path / "readings.jsonl").read_text().splitlines()) == 9
    assert "is not a job's file" in run("job", "import", "readings.jsonl", code=3)
    assert run("book", "path") == f"{tmp_path / 'shop.book'}\n"
    assert run("book", "backup", "copy.book") == "copy.book: a copy of the book, 10 events, no problems found\n"
    assert "is there already" in run("book", "backup", "copy.book", code=2)
    assert "10 events" in run("book", "verify", "--book", "copy.book")
