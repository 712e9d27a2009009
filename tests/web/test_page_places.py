"""The pages of a job beside its rounds: each can be read as it comes, and what is sent from it is kept once."""

from __future__ import annotations

from pathlib import Path

import pytest
from page_client import PageClient, phone_at

from matrixcheck.bench import Bench
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.record.job_state import JobState
from tests.machines import saltmarsh_tram

OTHER = "ffeeddccbbaa9988"
COLUMN = "11 12 13 31- 32- 33- 34- 35- 36- 38- 41 42 43 51 61."


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "bench.book"


@pytest.fixture
def job(book: Path) -> str:
    bench = Bench(book)
    opened = bench.new_job(saltmarsh_tram(), "pier arcade", "1187", "F. Quay")
    bench.mark(opened, "switches", COLUMN)
    return opened


def state_of(book: Path, job: str) -> JobState:
    return Bench(book).state(job)


def key_of(state: JobState, number: int, matrix: str = "switches") -> CellKey:
    return state.layout.matrix(matrix).by_number[number].key


async def whole(phone: PageClient, path: str) -> str:
    """A page once the answer is whole: each look waits a moment for it."""
    for _ in range(100):
        page = await phone.page(path)
        if "Still looking" not in page:
            return page
    raise AssertionError("the answer never came")


@pytest.mark.parametrize(
    ("path", "reads"),
    [
        ("", "What is wrong"),
        ("/cell/switches/r1c3", "31 tram stop 1"),
        ("/safety", "mains lead"),
        ("/functions", "Displays"),
        ("/later", "Start a round"),
        ("/repair?what=Q3", "Q3. Cells behind it: 8 of switches."),
        ("/repair?what=belt&outside=1", "belt, outside the layout"),
        ("/repair?what=Q99", "Q99"),
        ("/notes", "None yet."),
        ("/history", "switch 38 (buffer stop) dead"),
        ("/history/2", "Strike it out?"),
    ],
)
async def test_a_page_reads_as_it_comes(book, job, path, reads) -> None:
    async with phone_at(book) as phone:
        page = await phone.page(f"/job/{job}{path}")
        assert reads in page
        assert page.count("<h1") == 1


@pytest.mark.parametrize(
    "path", ["/cell/switches/r9c9", "/cell/none/r1c1", "/card/x", "/history/x", "/history/999", "/history?before=-1"]
)
async def test_a_place_that_is_not_there_is_said_in_a_page(book, job, path) -> None:
    async with phone_at(book) as phone:
        answer = await phone.client.get(f"/job/{job}{path}")
        assert answer.status == 404
        assert "Nothing to show here" in await answer.text()


async def test_the_answer_comes_with_its_cards_and_each_card_with_its_checks(book, job) -> None:
    async with phone_at(book) as phone:
        assert "Switch column 3" in await whole(phone, f"/job/{job}")
        card = await phone.page(f"/job/{job}/card/1")
        assert "Switch column 3" in card
        assert 'value="wire.switches.c3"' in card
        kept = await phone.kept(f"/job/{job}/check", code="wire.switches.c3", said="OL")
        assert kept["words"].startswith("kept: wire.switches.c3 found faulty (OL).")
    (finding,) = state_of(book, job).findings
    assert (finding.verdict, finding.finding.value) == ("faulty", "OL")


async def test_until_a_mark_is_answered_the_answer_before_stays_in_sight(book, job) -> None:
    async with phone_at(book) as phone:
        await whole(phone, f"/job/{job}")
        await phone.kept(f"/job/{job}/switches/mark", text="44")
        assert "Switch column 3" in await phone.page(f"/job/{job}")
        await phone.kept(f"/job/{job}/coils/mark", text="3*")
        assert "Switch column 3" not in await phone.page(f"/job/{job}")


async def test_the_page_hears_of_a_better_answer(book, job) -> None:
    async with phone_at(book) as phone, phone.client.get(f"/live?job={job}") as stream:
        await phone.page(f"/job/{job}")
        async for line in stream.content:
            if line.startswith(b"event: answer"):
                break
        assert int((await stream.content.readline()).partition(b":")[2]) > 0


async def test_checks_before_power_are_kept_with_their_readings_and_reasons(book, job) -> None:
    async with phone_at(book) as phone:
        home = f"/job/{job}/safety"
        await phone.kept(f"{home}/judge", item="mains lead", verdict="passed")
        await phone.kept(f"{home}/judge", item="plug wiring", verdict="failed", note="no earth")
        assert "plug wiring" in await phone.page(f"/job/{job}/notes"), "the danger stands above all"
        await phone.kept(f"{home}/waive", item="plug wiring", note="two-core by design")
        words = await phone.kept(f"{home}/measure", item="earth bond", reading="0,05", limit="2.5x0.75")
        assert words["words"] == "kept: earth bond passed"
        assert (await phone.kept(f"{home}/measure", item="earth bond: door", reading="3"))["words"].endswith("FAILED")
        assert (await phone.kept(f"{home}/measure", item="insulation", reading="0.2"))["words"].endswith("FAILED")
        assert "not a reading" in (await phone.refused(f"{home}/measure", item="insulation", reading="ok"))["what"]
        assert "empty" in (await phone.refused(f"{home}/waive", item="insulation", note=""))["what"]
    made = {one.item: one for one in state_of(book, job).safety}
    assert made["mains lead"].passed
    assert (made["plug wiring"].waived, made["plug wiring"].note) == (True, "two-core by design")
    assert (made["earth bond"].reading, made["earth bond"].passed) == (0.05, True)
    assert made["earth bond: door"].failed
    assert made["insulation"].failed


async def test_a_fuse_is_judged_by_what_is_printed_on_it(book, job) -> None:
    async with phone_at(book) as phone:
        home = f"/job/{job}/safety"
        assert "What is printed on the fuse in the holder? Due:" in await phone.page(home)
        due = state_of(book, job).layout.part_by_ref["F7"].rating
        assert (await phone.kept(f"{home}/fuse", item="fuse F7", found=due))["words"] == "kept: fuse F7 passed"
        assert (await phone.kept(f"{home}/fuse", item="fuse F7", found="20 A T"))["words"] == "kept: fuse F7 FAILED"


async def test_a_repair_is_kept_once_and_leads_into_its_retest(book, job) -> None:
    async with phone_at(book) as phone:
        home = f"/job/{job}/repair"
        first = await phone.kept(home, what="Q3", did="replaced", fitted="new one", value="", note="open", send="r1")
        again = await phone.kept(home, what="Q3", did="replaced", fitted="new one", value="", note="open", send="r1")
        assert first == again
        assert first["words"] == "kept: Q3 repaired; 7 cells are to be tested again"
        assert "Test again: 7 cells of switches" in await phone.page(home)
        assert "what was done is empty" in (await phone.refused(home, what="belt", outside=True))["what"]
        await phone.kept(home, what="belt", did="new belt", outside=True)
    state = state_of(book, job)
    assert [(one.place, one.did, one.outside) for one in state.repairs] == [
        ("Q3", "replaced", False),
        ("belt", "new belt", True),
    ]
    assert len(state.due) == 7


async def test_an_entry_is_struck_out_and_counts_again(book, job) -> None:
    async with phone_at(book) as phone:
        number = next(one.seq for one in Bench(book).log(job) if one.text.startswith("switch 31 "))
        entry = f"/job/{job}/history/{number}"
        assert (await phone.kept(entry))["words"].startswith("undone: switch 31")
        assert state_of(book, job).standings[key_of(state_of(book, job), 31)].mark is Mark.UNTESTED
        assert "Count it again?" in await phone.page(entry)
        assert "undone since" in await phone.page(f"/job/{job}/history")
        assert (await phone.kept(entry, back=True))["words"].startswith("counts again: switch 31")
        assert state_of(book, job).standings[key_of(state_of(book, job), 31)].mark is Mark.DEAD


async def test_undo_and_redo_are_this_phones_own(book, job) -> None:
    async with phone_at(book) as phone:
        await phone.kept(f"/job/{job}/notes", note="mine")
        await phone.kept(f"/job/{job}/notes", note="theirs", phone=OTHER)
        assert (await phone.kept(f"/job/{job}/undo"))["words"] == "undone: note: mine"
        assert [one.text for one in state_of(book, job).notes] == ["theirs"]
        await phone.kept(f"/job/{job}/redo")
        assert {one.text for one in state_of(book, job).notes} == {"mine", "theirs"}


async def test_glow_is_called_normal_and_counts_again(book, job) -> None:
    async with phone_at(book) as phone:
        lamp = key_of(state_of(book, job), 20, "lamps")
        cell = f"/job/{job}/cell/lamps/{lamp.address}"
        await phone.refused(f"{cell}/glow", note="LED")
        await phone.kept(f"/job/{job}/lamps/mark", text="20*")
        assert "Glow is normal" in await phone.page(cell)
        await phone.kept(f"{cell}/glow", note="LED")
        assert state_of(book, job).standings[lamp].accepted == "LED"
        await phone.kept(f"{cell}/glow", back=True)
        assert state_of(book, job).standings[lamp].accepted is None


async def test_a_place_is_found_good_or_faulty_and_nothing_else(book, job) -> None:
    async with phone_at(book) as phone:
        await phone.kept(f"/job/{job}/found", place="Q3", verdict="faulty")
        error = await phone.refused(f"/job/{job}/found", place="Q3", verdict="replaced")
        assert "replaced" in error["what"]
    assert [(one.place, one.verdict) for one in state_of(book, job).findings] == [("Q3", "faulty")]


async def test_lines_of_the_test_mode_are_kept(book, job) -> None:
    async with phone_at(book) as phone:
        home = f"/job/{job}/functions"
        await phone.kept(home, item="sound: speakers", verdict="faulty", note="left one rattles")
        await phone.kept(home, item="sound: knocker", verdict="faulty")
        assert "no line comes to" in (await phone.refused(home, item="sound: speakers", verdict="fine"))["what"]
    made = state_of(book, job).functions
    assert [(one.item, one.verdict, one.note) for one in made] == [
        ("speakers", "faulty", "left one rattles"),
        ("knocker", "faulty", ""),
    ]


async def test_a_new_job_takes_a_layout_of_the_list_and_no_path(book, tmp_path) -> None:
    own = tmp_path / "own.toml"
    own.write_text("format = 1\n")
    async with phone_at(book) as phone:
        page = await phone.page("/new")
        assert 'value="saltmarsh-tram"' in page
        answer = await phone.kept("/new", layout="saltmarsh-tram", name="second", serial="", owner="", send="n1")
        again = await phone.kept("/new", layout="saltmarsh-tram", name="second", serial="", owner="", send="n1")
        assert answer["kept"] == again["kept"]
        for path in (str(own), "../layouts/saltmarsh-tram.toml", "/dev/zero", ""):
            await phone.refused("/new", layout=path, name="third")
    assert sorted(one.name for one in Bench(book).jobs()) == ["second"]


async def test_a_job_is_put_right_closed_archived_and_visited_again(book, job) -> None:
    async with phone_at(book) as phone:
        home = f"/job/{job}"
        await phone.kept(f"{home}/edit", name="pier arcade 4", serial="1187", owner="")
        await phone.kept(f"{home}/close", verdict="works")
        assert "Closed: works" in await phone.page(home)
        await phone.kept(f"{home}/archive")
        bench = await phone.page("/")
        assert bench.index("Archived: 1") < bench.index("pier arcade 4")
        await phone.kept(f"{home}/archive", back=True)
        await phone.kept(f"{home}/reopen")
        (onward,) = (await phone.kept(f"{home}/again", name="second visit"))["kept"]
        assert "second visit" in await phone.page(onward["onward"])
    state = state_of(book, job)
    assert (state.name, state.owner, state.verdict, state.archived) == ("pier arcade 4", "", None, False)


async def test_the_report_is_the_one_that_prints(book, job) -> None:
    async with phone_at(book) as phone:
        page = await whole(phone, f"/job/{job}/report")
        assert "@page" in page
        assert "pier arcade" in page


async def test_a_coil_that_is_on_stands_above_every_page_until_its_fuse_is_out(book, job) -> None:
    Bench(book).mark(job, "coils", "3*")
    async with phone_at(book) as phone:
        for path in ("", "/safety", "/later", "/notes", "/history", "/repair", "/card/1", "/functions"):
            page = await phone.page(f"/job/{job}{path}")
            assert page.index("Switch off now.") < page.index("<h1"), path
        await phone.kept(f"/job/{job}/fuse-out")
        page = await phone.page(f"/job/{job}/notes")
        assert "Switch off now." not in page
        assert "The coil fuse is out." in page
