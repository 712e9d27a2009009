"""Photos taken on a phone, in a real browser: shrunk, without what the camera wrote, kept once, also after silence.

What is shown of a photo elsewhere, by an asking client too, is left to the long run."""

from __future__ import annotations

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from browser_client import PHONE, chromium
from PIL import Image
from playwright.sync_api import Browser, BrowserContext, Page, expect
from served_book import Server

from matrixcheck.bench import Bench
from matrixcheck.layout.limits import LARGEST_PHOTO, LONGEST_SIDE
from matrixcheck.record.job_state import PhotoMade
from tests.drawn_photos import MADE_BY, drawn, jpeg, noise
from tests.machines import saltmarsh_tram

FILES = Path(__file__).parents[2] / "matrixcheck" / "web" / "page" / "files"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Server]:
    book = tmp_path_factory.mktemp("photos") / "bench.book"
    Bench(book).new_job(saltmarsh_tram(), "another")
    running = Server(book, "--port", "0")
    yield running
    running.end()


class Phone:
    """A phone at a job of its own, in a browser of its own."""

    def __init__(self, browser: Browser, server: Server, book: Path) -> None:
        self.bench = Bench(book)
        self.job = self.bench.new_job(saltmarsh_tram(), "pier arcade")
        self.context: BrowserContext = browser.new_context(**PHONE)
        self.complaints: list[str] = []
        self._root = server.root
        self.page = self.open()

    def open(self) -> Page:
        page = self.context.new_page()
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.goto(f"{self._root}/job/{self.job}/photos")
        expect(page.locator("form[data-photo]")).to_be_visible()
        return page

    def pick(self, data: bytes, kind: str = "image/jpeg", page: Page | None = None) -> None:
        """Take a photo, as if the camera had given it."""
        taken = {"name": "picture", "mimeType": kind, "buffer": data}
        form = (page or self.page).locator("form[data-photo]")
        expect(form).to_be_visible()
        form.locator(".picks").first.set_input_files(taken)

    def says(self, words: str | re.Pattern[str], page: Page | None = None) -> None:
        expect((page or self.page).locator("form[data-photo] .became")).to_have_text(words)

    @property
    def photos(self) -> tuple[PhotoMade, ...]:
        return self.bench.state(self.job).photos


@pytest.fixture
def phone(browser: Browser, server: Server, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Phone]:
    one = Phone(browser, server, next(tmp_path_factory.getbasetemp().glob("photos*/bench.book")))
    yield one
    one.context.close()
    assert one.complaints == []


def test_a_photo_is_shrunk_set_upright_and_says_nothing_of_where_it_was_taken(phone: Phone) -> None:
    picture = jpeg(drawn(3_000, 2_000), camera=True, orientation=6, quality=95)
    phone.page.get_by_label("A few words about the photo").fill("as it came in")
    phone.pick(picture)
    phone.says("kept: photo of the machine: as it came in")
    expect(phone.page.locator("#status")).to_have_text("all kept")
    (made,) = phone.photos
    assert (made.width, made.height, made.caption) == (1_067, LONGEST_SIDE, "as it came in")
    kept = phone.bench.photo(made.name)
    assert MADE_BY not in kept
    with Image.open(BytesIO(kept)) as there, Image.open(BytesIO(picture)) as taken:
        assert dict(there.getexif()) == {}
        upright = taken.transpose(Image.Transpose.ROTATE_270).resize((8, 8))
        for mine, theirs in zip(there.resize((8, 8)).get_flattened_data(), upright.get_flattened_data(), strict=True):
            assert mine == pytest.approx(theirs, abs=40)


@pytest.mark.slow
def test_a_photo_is_seen_with_its_words_large_and_taken_back(phone: Phone) -> None:
    other = phone.open()
    phone.page.get_by_label("A few words about the photo").fill("rust")
    phone.pick(jpeg(drawn(640, 480)))
    for page in (phone.page, other):
        shown = page.get_by_role("img", name=re.compile("Photo of the machine: rust"))
        expect(shown).to_be_visible()
        assert shown.evaluate("one => one.decode().then(() => one.naturalWidth)") == 640
    phone.page.locator(".album a").click()
    expect(phone.page).to_have_title("Photo of the machine: rust · pier arcade")
    phone.page.get_by_role("button", name="Undo").click()
    expect(phone.page.get_by_role("heading", name="Photos")).to_be_visible()
    for page in (phone.page, other):
        expect(page.locator(".album img")).to_have_count(0)
    assert phone.photos == ()


@pytest.mark.slow
def test_other_pictures_become_jpeg_and_what_is_none_is_said(phone: Phone) -> None:
    png = BytesIO()
    Image.new("RGBA", (60, 40), (0, 0, 0, 0)).save(png, "PNG")
    phone.pick(png.getvalue(), "image/png")
    phone.says("kept: photo of the machine")
    with Image.open(BytesIO(phone.bench.photo(phone.photos[0].name))) as kept:
        assert kept.getpixel((5, 5)) == (255, 255, 255), "what is see-through is white, not black"
    phone.pick(b"a note, and no picture")
    phone.says("This browser can't read that picture. Take or choose another.")
    assert len(phone.photos) == 1


@pytest.mark.slow
def test_a_picture_that_stays_large_is_made_smaller_still(phone: Phone) -> None:
    phone.pick(jpeg(noise(2_400, 1_800), quality=95))
    phone.says("kept: photo of the machine")
    (made,) = phone.photos
    assert (made.width, made.height) == (1_600, 1_200)
    assert made.size <= LARGEST_PHOTO


def test_a_photo_without_an_answer_waits_and_is_kept_once_when_the_page_is_opened_again(phone: Phone) -> None:
    phone.context.set_offline(True)
    phone.pick(jpeg(drawn(64, 48, 1)))
    phone.says("Waits on this phone. It is sent as soon as the computer answers.")
    phone.pick(jpeg(drawn(64, 48, 2)))
    phone.says("waits on this phone behind 1 other")
    expect(phone.page.locator("#status")).to_have_text(re.compile("2"))
    assert phone.photos == ()
    phone.page.close()
    phone.context.set_offline(False)
    page = phone.open()
    expect(page.locator(".album img")).to_have_count(2)
    expect(page.locator("#status")).to_have_text("all kept")
    assert len(phone.photos) == 2
    page.reload()
    expect(page.locator("#status")).to_have_text("all kept")
    assert len(phone.photos) == 2


@pytest.mark.slow
def test_a_photo_that_is_refused_is_said_and_waits_no_longer(phone: Phone) -> None:
    form = phone.page.locator("form[data-photo]")
    form.evaluate("form => form.insertAdjacentHTML('beforeend', '<input type=hidden name=place value=Q99>')")
    phone.pick(jpeg())
    phone.says(re.compile("Not kept: .* has no part 'Q99'"))
    expect(phone.page.locator("#status")).to_have_text("all kept")
    assert phone.photos == ()


@pytest.mark.slow
def test_a_photo_is_taken_where_its_thing_is_shown_and_seen_there(phone: Phone) -> None:
    bench, job, page = phone.bench, phone.job, phone.page
    bench.note(job, "pin 3 burnt")
    bench.mark(job, "switches", "31- 32- 33- 34- 35- 36-")
    here = page.url.removesuffix("/photos")
    page.goto(f"{here}/cell/switches/r1c3")
    phone.pick(jpeg(drawn(64, 48, 1)))
    expect(page.get_by_role("img", name=re.compile("Photo of switch 31")).first).to_be_visible()
    for seed, (path, link) in enumerate(
        (("/safety", "Photo of mains lead"), ("/notes", "Photo of the note pin 3 burnt"), ("/card/1", "Photo of Q3")), 2
    ):
        page.goto(here + path)
        if path == "/safety":
            page.locator("summary").filter(has_text="mains lead").click()
        page.get_by_role("link", name=link).first.click()
        phone.pick(jpeg(drawn(64, 48, seed)))
        phone.says(re.compile("^kept: photo of "))
        page.goto(here + path)
        if path == "/safety":
            page.locator("summary").filter(has_text="mains lead").click()
        expect(page.get_by_role("img", name=re.compile("^Photo of ")).first).to_be_visible()
    about = [(one.place, one.safety, bool(one.note)) for one in phone.photos]
    assert about == [("switches.r1c3", "", False), ("", "mains lead", False), ("", "", True), ("Q3", "", False)]


def test_the_phone_shrinks_to_what_the_computer_takes() -> None:
    script = (FILES / "shrink.js").read_text()
    assert re.findall(r"(?:LONGEST|LARGEST) = (\d+);", script) == [str(LONGEST_SIDE), str(LARGEST_PHOTO)]
