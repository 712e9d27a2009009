"""What the page's addresses answer: entries are kept once, refused ones say why, and each phone has its own round."""

from __future__ import annotations

import asyncio
import json
import re
from pathlib import Path

import pytest
from page_client import PHONE, phone_at

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from matrixcheck.web.page.benches import Benches
from tests.machines import saltmarsh_tram

OTHER = "ffeeddccbbaa9988"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "bench.book"


@pytest.fixture
def job(book: Path) -> str:
    return Bench(book).new_job(saltmarsh_tram(), "pier arcade")


def standing(book: Path, job: str, number: int) -> Mark:
    state = Bench(book).state(job)
    return state.standings[state.layout.matrix("switches").by_number[number].key].mark


def data_of(page: str) -> dict:
    return json.loads(re.search(r'id="round-data">(.*?)</script>', page, re.DOTALL)[1])


async def test_an_address_from_before_leads_to_its_job(book, job) -> None:
    async with phone_at(book) as phone:
        assert f'data-onward="/job/{job}"' in await phone.page(f"/?job={job}")
        assert f'data-onward="/job/{job}#lamps"' in await phone.page(f"/?job={job}&matrix=lamps")
        assert 'data-onward=""' in await phone.page("/")
        assert "pier arcade" in await phone.page("/")
        assert (await phone.client.get(f"/?job={job}&matrix=none")).status == 404


async def test_a_mark_is_on_the_disk_when_the_answer_says_kept(book, job) -> None:
    async with phone_at(book) as phone:
        await phone.kept(f"/job/{job}/switches/begin", sort="roll")
        answer = await phone.kept(f"/job/{job}/switches/mark", text="24-")
        assert standing(book, job, 24) is Mark.DEAD
        assert answer["seq"] == Bench(book).state(job).seq
        (cell,) = answer["kept"]
        assert (cell["number"], cell["name"], cell["mark"]) == ("24", "right outlane", "dead")
        assert "24 right outlane" in answer["words"]


async def test_a_faint_glow_needs_one_lit_cell_and_one_that_glows(book, job) -> None:
    async with phone_at(book) as phone:
        base = f"/job/{job}/lamps"
        for body in ({"cell": "1", "text": ""}, {"text": "2"}, {"cell": "1 3", "text": "2"}):
            assert "nothing was named that glows" in (await phone.refused(f"{base}/faint", **body))["what"]
        assert "99" in (await phone.refused(f"{base}/faint", cell="1", text="99"))["what"]
        (cell,) = (await phone.kept(f"{base}/faint", cell="1", text="2 3"))["kept"]
        assert (cell["number"], cell["mark"]) == ("1", "working")
        await phone.kept(f"{base}/undo")
        (back,) = (await phone.kept(f"{base}/redo"))["kept"]
        assert (back["number"], back["mark"]) == ("1", "working")
        assert "nothing to redo" in (await phone.refused(f"{base}/redo"))["what"]


async def test_one_send_is_kept_once_however_often_it_comes(book, job) -> None:
    async with phone_at(book) as phone:
        await phone.kept(f"/job/{job}/switches/begin", sort="roll", send="a")
        first = await phone.kept(f"/job/{job}/switches/mark", text="24-", send="b")
        again = await phone.kept(f"/job/{job}/switches/mark", text="24-", send="b")
        assert again == first
        assert [one.event.kind for one in Bench(book).state(job).history].count("reading") == 1


async def test_what_cannot_be_kept_is_refused_with_the_reason_and_leaves_nothing(book, job) -> None:
    async with phone_at(book) as phone:
        before = Bench(book).state(job).seq
        for body, says in (
            ({"text": "99"}, "99"), ({"text": ""}, "nothing was typed"), ({"text": 24}, "text"), ({}, "nothing"),
        ):  # fmt: skip
            error = await phone.refused(f"/job/{job}/switches/mark", **body)
            assert says in error["what"]
            assert error["hint"]
        assert "zz" in (await phone.refused("/job/zz/switches/mark", text="24"))["what"]
        assert (await phone.client.post(f"/job/{job}/switches/mark", data=b"{", headers={})).status == 403
        assert Bench(book).state(job).seq == before


async def test_a_round_is_begun_once_and_belongs_to_the_phone_that_began_it(book, job) -> None:
    async with phone_at(book) as phone:
        assert data_of(await phone.page(f"/job/{job}/switches/roll"))["round"] is None
        for _ in range(2):
            await phone.kept(f"/job/{job}/switches/begin", sort="roll")
        began = data_of(await phone.page(f"/job/{job}/switches/roll"))["round"]
        assert began is not None
        assert data_of(await phone.page(f"/job/{job}/switches/walk"))["round"] is None
        assert data_of(await phone.page(f"/job/{job}/switches/roll", phone=OTHER))["round"] is None
        kinds = [one.event.kind for one in Bench(book).state(job).history]
        assert len(kinds) == 2
        assert Bench(book, client=f"page {PHONE}").state(job).round.seq == began


async def test_typing_a_number_again_corrects_it_and_both_outcomes_count_if_it_did_both(book, job) -> None:
    async with phone_at(book) as phone:
        await phone.kept(f"/job/{job}/switches/begin", sort="roll")
        await phone.kept(f"/job/{job}/switches/mark", text="24-")
        answer = await phone.kept(f"/job/{job}/switches/mark", text="24")
        assert answer["kept"][0]["corrected"]
        assert "Did both" in answer["words"]
        assert standing(book, job, 24) is Mark.WORKING
        both = await phone.kept(f"/job/{job}/switches/differed", cell=answer["kept"][0]["address"])
        assert both["kept"][0]["unsteady"]


async def test_an_undo_stops_at_the_beginning_of_the_round(book, job) -> None:
    async with phone_at(book) as phone:
        await phone.kept(f"/job/{job}/switches/mark", text="53-")
        await phone.kept(f"/job/{job}/switches/begin", sort="roll")
        await phone.kept(f"/job/{job}/switches/mark", text="24-")
        undone = await phone.kept(f"/job/{job}/switches/undo")
        assert undone["kept"][0]["mark"] == "untested"
        assert (await phone.refused(f"/job/{job}/switches/undo"))["what"]
        assert standing(book, job, 53) is Mark.DEAD


async def test_a_coil_that_is_on_stops_every_round_until_its_fuse_is_out(book, job) -> None:
    bench = Bench(book)
    coil = bench.state(job).layout.matrix("coils").fitted[0]
    bench.mark(job, "coils", f"{coil.number}*")
    async with phone_at(book) as phone:
        assert "Switch off now" in await phone.page(f"/job/{job}/switches/roll")
        assert "Switch off now" in (await phone.refused(f"/job/{job}/switches/begin", sort="roll"))["what"]
        await phone.kept(f"/job/{job}/fuse-out")
        assert "Switch off now" not in await phone.page(f"/job/{job}/switches/roll")


async def test_a_failed_check_before_power_is_said_at_the_start_of_a_round(book, job) -> None:
    Bench(book).safety(job, "mains lead", False, "sheath cut")
    async with phone_at(book) as phone:
        for where in ("rounds", "roll"):
            assert "safety check FAILED: mains lead" in await phone.page(f"/job/{job}/switches/{where}")


async def test_a_page_beyond_the_limit_is_told_so_and_one_that_is_open_may_load_again(book, job, monkeypatch) -> None:
    monkeypatch.setattr("matrixcheck.web.page.live.MOST_STREAMS", 2)
    async with phone_at(book) as phone:
        streams = [
            await phone.client.get(f"/live?job={job}", headers={"Cookie": f"matrixcheck-client={name}"})
            for name in (PHONE, OTHER)
        ]
        assert [(await each.content.readline()).strip() for each in streams] == [b"retry: 1000"] * 2
        third = {"Cookie": "matrixcheck-client=1111222233334444"}
        page = await phone.client.get(f"/job/{job}", headers=third)
        assert page.status == 503
        assert "too many pages are open at this book" in await page.text()
        assert (await phone.client.get(f"/live?job={job}", headers=third)).status == 503
        assert "pier arcade" in await phone.page(f"/job/{job}")
        for each in streams:
            each.close()


async def test_the_timing_of_a_walk_is_kept_and_comes_back_until_the_round_ends(book, job) -> None:
    async with phone_at(book) as phone:
        base = f"/job/{job}/lamps"
        assert (await phone.refused(f"{base}/pace", seconds=2.5, place=3))["what"] == "no timed walk is open"
        await phone.kept(f"{base}/begin", sort="timed")
        await phone.kept(f"{base}/pace", seconds=2.5, place=3, paused=True)
        assert "walk steps every" in (await phone.refused(f"{base}/pace", seconds=0.01, place=3))["what"]
        assert "number" in (await phone.refused(f"{base}/pace", seconds="2", place=3))["what"]
        assert data_of(await phone.page(f"{base}/timed"))["pace"] == {"seconds": 2.5, "place": 3, "gone": 0.0}
        await phone.kept(f"{base}/end")
        await phone.kept(f"{base}/end")
        assert data_of(await phone.page(f"{base}/timed"))["round"] is None


async def test_every_phone_is_told_of_news_and_that_the_line_is_up(book, job) -> None:
    async with phone_at(book) as phone, phone.client.get(f"/live?job={job}") as stream:

        async def next_event() -> bytes:
            async with asyncio.timeout(10):
                while not (line := await stream.content.readline()).startswith(b"event:"):
                    assert line
                return line.split()[1]

        first = {await next_event(), await next_event()}
        assert first == {b"beat", b"seq"}
        Bench(book).mark(job, "switches", "24-")
        while (event := await next_event()) != b"seq":
            assert event == b"beat"
        assert await next_event() == b"beat"


async def test_the_bench_of_the_phone_that_was_away_longest_is_closed_and_none_in_use(book, job) -> None:
    benches = Benches(book, most=2)
    held: list[Bench] = []

    def hold(bench: Bench) -> Bench:
        held.append(bench)
        for other in ("phone-bbbb", "phone-cccc"):
            benches.use_now(other, lambda _: None)
        return benches.use_now("phone-aaaa", lambda again: again)

    assert benches.use_now("phone-aaaa", hold) is held[0]
    assert held[0].state(job).id == job
    newest = benches.use_now("phone-dddd", lambda bench: bench)
    assert benches.use_now("phone-dddd", lambda bench: bench) is newest
    for other in ("phone-eeee", "phone-ffff"):
        benches.use_now(other, lambda _: None)
    assert benches.use_now("phone-aaaa", lambda bench: bench) is not held[0]
    benches.close()
