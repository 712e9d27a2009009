"""Photos over the page's addresses: kept once, refused in words, handed out only to who may come in."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest
from aiohttp import ClientResponse
from page_client import PHONE, PageClient, phone_at
from PIL import Image
from served_site import serving

from matrixcheck.bench import Bench
from matrixcheck.layout.limits import LARGEST_PHOTO
from matrixcheck.web.page.screens.photos import photo_area
from tests.drawn_photos import MADE_BY, drawn, jpeg
from tests.machines import saltmarsh_tram

ADDRESS = "/job/{}/photo"


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "bench.book"


@pytest.fixture
def job(book: Path) -> str:
    return Bench(book).new_job(saltmarsh_tram(), "pier arcade")


async def send(
    phone: PageClient, job: str, picture: bytes, *, media_type: str = "image/jpeg", **query: str
) -> ClientResponse:
    return await phone.client.post(
        ADDRESS.format(job),
        params={"send": "one", "client": PHONE, **query},
        data=picture,
        headers={"Origin": phone.own, "Content-Type": media_type},
    )


async def refused(answer: ClientResponse) -> Mapping[str, Any]:
    assert answer.status == 422, await answer.text()
    return (await answer.json())["error"]


async def test_a_photo_stands_once_on_the_page_of_its_cell_and_once_at_its_part(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        await send(phone, job, jpeg(drawn(320, 240, 1)), place="switch 12")
        await send(phone, job, jpeg(drawn(320, 240, 2)), send="two", place="switches.c1")
        own, of_line = Bench(book).state(job).photos
        page = await phone.page(f"/job/{job}/cell/switches/r2c1")
        assert page.count(f'src="/photo/{own.name}"') == 1
        assert page.count(f'src="/photo/{of_line.name}"') == 1


async def test_a_photo_is_on_the_disk_when_the_answer_says_kept(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        answer = await send(
            phone, job, jpeg(camera=True), place="switch 12", caption="rust on the blade", initials="AB"
        )
        assert answer.status == 200, await answer.text()
        assert "rust on the blade" in (await answer.json())["words"]
        state = Bench(book).state(job)
        (made,) = state.photos
        assert (made.place, made.caption, (await answer.json())["seq"]) == (
            "switches.r2c1",
            "rust on the blade",
            state.seq,
        )
        assert (state.history[-1].client, state.history[-1].initials) == (f"page {PHONE}", "AB")
        handed = await phone.client.get(f"/photo/{made.name}")
        assert await handed.read() == Bench(book).photo(made.name)
        assert MADE_BY not in await handed.read()
        assert handed.headers["Content-Type"] == "image/jpeg"
        assert handed.headers["X-Content-Type-Options"] == "nosniff"
        assert handed.headers["Cache-Control"] == "private, max-age=31536000, immutable"
        assert "default-src 'none'" in handed.headers["Content-Security-Policy"]


async def test_a_photo_sent_again_is_kept_once(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        first, again = [await (await send(phone, job, jpeg())).json() for _ in range(2)]
        assert first == again
        assert len(Bench(book).state(job).photos) == 1


async def test_what_cannot_be_kept_is_refused_with_the_reason_and_leaves_nothing(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        before = Bench(book).state(job).seq
        for picture, query, says in (
            (b"a note", {}, "this photo is not a JPEG picture"),
            (jpeg()[:-9], {}, "cut off"),
            (jpeg(drawn(1_601, 20)), {}, "too large, or lies on its side"),
            (jpeg(orientation=6), {}, "too large, or lies on its side"),
            (bytes(LARGEST_PHOTO + 1), {}, "more than 1,000,000 bytes"),
            (jpeg(), {"place": "Q99"}, "Q99"),
            (jpeg(), {"check": "tea kettle"}, "there is no check"),
            (jpeg(), {"note": "1"}, "no note that counts"),
            (jpeg(), {"place": "Q3", "check": "mains lead"}, "shows one thing"),
            (jpeg(), {"caption": "x" * 2_001}, "2001 characters"),
            (jpeg(), {"send": ""}, "no send"),
        ):
            error = await refused(await send(phone, job, picture, **query))
            assert says in error["what"]
            assert error["hint"]
        error = await refused(await send(phone, job, jpeg(), media_type="image/png"))
        assert "image/jpeg" in error["what"]
        assert (await refused(await send(phone, "zz", jpeg())))["what"]
        assert Bench(book).state(job).seq == before
        assert Bench(book).count_photos() == 0


async def test_nothing_that_comes_over_the_network_is_decoded(
    book: Path, job: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    def never(*_: object, **__: object) -> None:
        raise AssertionError("a picture of a stranger was decoded")

    pictures = [jpeg(), jpeg(drawn(1_700, 20)), jpeg(orientation=3)]
    monkeypatch.setattr(Image, "open", never)
    async with phone_at(book) as phone:
        statuses = [(await send(phone, job, one, send=str(place))).status for place, one in enumerate(pictures)]
    assert statuses == [200, 422, 422]


async def test_a_photo_is_shown_large_and_taken_back(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        await send(phone, job, jpeg(), caption="<b>rust</b>")
        page = await phone.page(f"/job/{job}/photos")
        assert f'href="/job/{job}/photo/2"' in page
        large = await phone.page(f"/job/{job}/photo/2")
        assert "&lt;b&gt;rust" in large
        assert "<b>rust" not in large + page
        await phone.kept(f"/job/{job}/photo/2/undo")
        assert Bench(book).state(job).photos == ()
        assert (await phone.client.get(f"/job/{job}/photo/2")).status == 404
        assert "no photo 2" in (await phone.refused(f"/job/{job}/photo/2/undo"))["what"]


async def test_only_a_photo_is_handed_out_under_a_photos_address(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        for name in ("0" * 64, "x", "..%2Fbench.book", job):
            assert (await phone.client.get(f"/photo/{name}")).status == 404
        about = [f"/job/{job}/photos?{query}" for query in ("place=Q99", "note=1", "note=77")]
        for path in (*about, f"/job/{job}/photo/1", f"/job/{job}/photo/99", f"/job/{job}/photo/x", "/job/zz/photos"):
            assert (await phone.client.get(path)).status == 404
        undo = await phone.refused(f"/job/{job}/photo/1/undo")
        assert "no photo 1" in undo["what"]
        assert len(Bench(book).state(job).history) == 1


async def test_another_page_must_not_send_a_photo(book: Path, job: str) -> None:
    async with phone_at(book) as phone:
        for headers in ({"Origin": "http://evil.example"}, {}):
            answer = await phone.client.post(
                f"{ADDRESS.format(job)}?send=x", data=jpeg(), headers={"Content-Type": "image/jpeg", **headers}
            )
            assert answer.status == 403
        assert Bench(book).state(job).photos == ()


async def test_photos_are_for_paired_devices_only() -> None:
    async with serving(lan=True) as site:
        name, headers = "0" * 64, {"Origin": site.own, "Content-Type": "image/jpeg"}
        assert (await site.client.get(f"/photo/{name}")).status == 403
        assert (await site.client.post("/job/x/photo?send=a", data=jpeg(), headers=headers)).status == 403
        await site.enter()
        assert (await site.client.get(f"/photo/{name}")).status == 404
        assert (await site.client.post("/job/x/photo?send=a", data=jpeg(), headers=headers)).status == 422


def test_a_screen_shows_the_photos_of_its_own_thing(book: Path, job: str) -> None:
    bench = Bench(book)
    bench.note(job, "pin 3 burnt")
    for seed, about in enumerate(
        (
            {"place": "q3"},
            {"place": "switch 12"},
            {"check": "mains lead"},
            {"check": "wire.switches.c3"},
            {"note": 2},
            {},
        )
    ):
        bench.attach(job, jpeg(drawn(seed=seed)), "x.jpg", **about)
    state = bench.state(job)
    (note,) = state.notes
    areas = [
        photo_area(state, "Q3", place="Q3"),
        photo_area(state, "switch 12", place="switches.r2c1"),
        photo_area(state, "mains lead", check="mains lead"),
        photo_area(state, "the wire", check="wire.switches.c3"),
        photo_area(state, "the note", note=note.seq),
    ]
    assert [[one.number for one in area.photos] for area in areas] == [[3], [4], [5], [6], [7]]
    assert areas[-1].note == "2"
    assert len({area.id for area in areas}) == 5
    assert photo_area(state, "Q4", place="Q4").photos == []


async def test_the_report_on_the_page_has_the_photos(book: Path, job: str) -> None:
    Bench(book).attach(job, jpeg(drawn(1_400, 20)), "x.jpg", caption="as it came in")
    async with phone_at(book) as phone:
        for _ in range(100):
            if "<figcaption>" in (page := await phone.page(f"/job/{job}/report")):
                break
        assert 'src="data:image/jpeg;base64,' in page
        assert "as it came in" in page
