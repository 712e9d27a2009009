"""A job's pages used by taps on what is seen, in a real browser; the journal is compared after.

What the tests without a browser show as well (`test_page_places.py`) is left to the long run."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from itertools import pairwise
from pathlib import Path

import pytest
from browser_client import chromium, eventually
from playwright.sync_api import Browser, Locator, Page, Route, expect
from served_book import Server

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from matrixcheck.record.job_state import JobState
from tests.machines import saltmarsh_tram

SMALL, WIDE = (320, 568), (844, 390)
COLUMN = "11 12 13 31- 32- 33- 34- 35- 36- 38- 41 42 43 51 61."
FEW = ("", "/cell/switches/r1c3", "/safety", "/repair?what=Q3")
"""The pages that are measured in every run; the long one has them all."""
PLACES = (
    *FEW, "/cell/lamps/r4c3", "/cell/coils/r6c1", "/card/1", "/functions", "/later", "/notes", "/history", "/history/2",
)  # fmt: skip
LOOKING = "Still looking"
REFUSED = "status of 422"
"""What the browser itself says of an entry that was refused."""


class Bookful:
    """A book that is served, and the benches that look into it."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self.server = Server(path, "--port", "0")

    def job(self, name: str = "pier arcade") -> str:
        bench = Bench(self.path)
        opened = bench.new_job(saltmarsh_tram(), name, "1187", "F. Quay")
        bench.mark(opened, "switches", COLUMN)
        return opened

    def state(self, job: str) -> JobState:
        return Bench(self.path).state(job)

    def address(self, job: str, path: str = "") -> str:
        return f"{self.server.root}/job/{job}{path}"


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as found:
        yield found


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bookful]:
    path = tmp_path_factory.mktemp("served") / "bench.book"
    Bench(path).new_job(saltmarsh_tram(), "the first")
    found = Bookful(path)
    yield found
    found.server.end()


@pytest.fixture
def job(book: Bookful) -> str:
    return book.job()


def phone_of(browser: Browser, size: tuple[int, int] = (390, 844), **more: object) -> Page:
    """A phone with nothing kept in it."""
    viewport = {"width": size[0], "height": size[1]}
    context = browser.new_context(viewport=viewport, device_scale_factor=1, has_touch=True, is_mobile=True, **more)
    context.set_default_timeout(20_000)
    return context.new_page()


@pytest.fixture
def phone(browser: Browser) -> Iterator[Page]:
    page = phone_of(browser)
    wrong: list[str] = []
    page.on("pageerror", lambda error: wrong.append(str(error)))
    page.on(
        "console", lambda said: wrong.append(said.text) if said.type == "error" and REFUSED not in said.text else None
    )
    yield page
    page.context.close()
    assert wrong == []


def key(page: Page, name: str) -> Locator:
    return page.get_by_role("button", name=name, exact=True)


def said(page: Page, words: str) -> None:
    expect(page.locator("#said")).to_contain_text(words, timeout=20_000)


def test_a_cell_is_reached_from_its_grid_and_judged_there(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job))
    phone.get_by_role("link", name="21 left outlane: untested").tap()
    expect(phone.get_by_role("heading", level=1)).to_have_text("21 left outlane")
    key(phone, "dead").tap()
    said(phone, "kept: 21 left outlane ✗ dead")
    expect(phone.locator("#standing")).to_contain_text("✗ dead")
    state = book.state(job)
    assert state.standings[state.layout.matrix("switches").by_number[21].key].mark is Mark.DEAD
    key(phone, "Undo").tap()
    said(phone, "undone: switch 21 (left outlane) dead")
    expect(phone.locator("#standing")).to_contain_text("untested")
    phone.go_back()
    expect(phone.get_by_role("link", name="21 left outlane: untested")).to_be_in_viewport()


@pytest.mark.slow
def test_checks_of_a_card_are_kept_as_good_faulty_or_a_value(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job))
    phone.get_by_role("link", name=re.compile("^1 Switch column 3")).tap()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("Switch column 3", timeout=20_000)
    key(phone, "Good: tug.X1").tap()
    said(phone, "kept: tug.X1 found good.")
    phone.locator("[id='value-wire.switches.c3']").fill("OL")
    phone.locator("form:has([id='value-wire.switches.c3'])").get_by_role("button").tap()
    said(phone, "kept: wire.switches.c3 found faulty (OL).")
    found = {one.finding.code: (one.verdict, one.finding.value) for one in book.state(job).findings}
    assert found == {"tug.X1": ("good", ""), "wire.switches.c3": ("faulty", "OL")}
    phone.locator("#card .check").first.wait_for()


@pytest.mark.slow
def test_what_is_tapped_before_the_scripts_are_there_is_kept_once_they_are(
    book: Bookful, job: str, phone: Page
) -> None:
    waiting: list[Route] = []

    def hold_back(route: Route) -> None:
        waiting.append(route)

    phone.route("**/files/places.js", hold_back)
    phone.goto(book.address(job, "/cell/switches/r1c2"), wait_until="commit")
    key(phone, "dead").tap()
    phone.wait_for_function("window.sentEarly.length === 1")
    assert book.state(job).standings[book.state(job).layout.matrix("switches").by_number[21].key].mark is Mark.UNTESTED
    for one in waiting:
        one.continue_()
    said(phone, "kept: 21 left outlane ✗ dead")


@pytest.mark.slow
def test_a_value_that_cannot_be_read_is_said_and_stays_to_be_put_right(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/safety"))
    phone.get_by_text("insulation", exact=True).tap()
    field = phone.get_by_label("insulation: what does the meter show, in megohms?")
    field.fill("much")
    phone.locator("form", has=field).get_by_role("button").tap()
    said(phone, "! 'much' is not a reading")
    assert field.input_value() == "much"
    expect(phone.locator("#status")).to_have_text("all kept")
    field.fill("5")
    phone.locator("form", has=field).get_by_role("button").tap()
    said(phone, "kept: insulation passed")
    assert [(one.item, one.reading) for one in book.state(job).safety] == [("insulation", 5.0)]


@pytest.mark.slow
def test_checks_before_power_go_on_by_themselves_and_are_waived_with_a_reason(
    book: Bookful, job: str, phone: Page
) -> None:
    phone.goto(book.address(job, "/safety"))
    phone.get_by_text("mains lead", exact=True).tap()
    key(phone, "Passed: mains lead").tap()
    said(phone, "kept: mains lead passed")
    key(phone, "Failed: plug wiring").tap()
    said(phone, "kept: plug wiring FAILED")
    expect(phone.locator("#dangers")).to_contain_text("safety check FAILED: plug wiring")
    phone.get_by_label("plug wiring: why is it waived?").fill("rewired tomorrow")
    key(phone, "Waive: plug wiring").tap()
    said(phone, "kept: plug wiring waived")
    expect(phone.locator("#dangers")).to_be_empty()
    made = [(one.item, one.passed, one.waived, one.note) for one in book.state(job).safety]
    assert made == [
        ("mains lead", True, False, ""),
        ("plug wiring", False, False, ""),
        ("plug wiring", False, True, "rewired tomorrow"),
    ]


@pytest.mark.slow
def test_a_repair_makes_cells_due_and_a_tap_leads_into_their_retest(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/repair"))
    phone.get_by_label("What was repaired?").fill("Q3")
    expect(phone.locator("#meant")).to_have_text("Q3. Cells behind it: 8 of switches.")
    expect(phone.get_by_label("What was done?")).to_have_value("replaced")
    phone.get_by_label("What was wrong, or a note").fill("open")
    key(phone, "Keep the repair").tap()
    said(phone, "kept: Q3 repaired; 7 cells are to be tested again")
    expect(phone.get_by_label("What was repaired?")).to_have_value("")
    phone.locator("#due").get_by_role("link", name="Test again: 7 cells of switches").tap()
    expect(phone.get_by_role("heading", level=1)).to_have_text("A round through 7 cells of switches")
    phone.get_by_role("link", name=re.compile("^Walk")).tap()
    expect(phone.locator("#number")).to_have_text("31")
    (repair,) = book.state(job).repairs
    assert (repair.place, repair.did, repair.note, len(repair.due)) == ("Q3", "replaced", "open", 7)


@pytest.mark.slow
def test_an_entry_is_struck_out_and_counts_again(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/history"))
    for button, words, mark in (
        ("Strike it out", "undone since", Mark.UNTESTED),
        ("Count it again", "", Mark.DEAD),
    ):
        phone.get_by_role("link", name=re.compile(r"switch 31 \(tram stop 1\) dead")).last.tap()
        key(phone, button).tap()
        phone.wait_for_url("**/history")
        struck = phone.locator("s", has_text="switch 31 (tram stop 1) dead")
        expect(struck).to_have_count(1 if words else 0)
        state = book.state(job)
        assert state.standings[state.layout.matrix("switches").by_number[31].key].mark is mark


@pytest.mark.slow
def test_a_cell_is_put_off_and_a_round_begins_from_the_later_list(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/cell/switches/r4c1"))
    phone.get_by_text("Put off", exact=True).tap()
    phone.get_by_label("Why?").fill("ball stuck")
    key(phone, "Put it on the later list").tap()
    said(phone, "kept: 14 ball trough 4 later")
    state = book.state(job)
    assert state.standings[state.layout.matrix("switches").by_number[14].key].deferred == "ball stuck"
    phone.goto(book.address(job, "/later"))
    group = phone.get_by_role("listitem").filter(has_text="14 ball trough 4")
    group.get_by_role("link").tap()
    expect(phone.get_by_role("heading", level=1)).to_contain_text("A round through")
    assert "r4c1" in phone.url


@pytest.mark.slow
def test_a_machine_is_put_on_the_bench_and_a_note_is_kept_of_it(book: Bookful, phone: Page) -> None:
    phone.goto(f"{book.server.root}/?page=1")
    phone.get_by_role("link", name="A machine for the bench").tap()
    phone.get_by_label("saltmarsh-tram").check()
    phone.get_by_label("What is this job called?").fill("by phone")
    key(phone, "Start the job").tap()
    expect(phone.get_by_role("heading", level=1)).to_have_text("by phone")
    phone.get_by_role("link", name=re.compile("^Notes")).tap()
    phone.get_by_label("A note on this job").fill("glass cracked")
    key(phone, "Keep the note").tap()
    expect(phone.locator("#notes")).to_contain_text("glass cracked")
    (job,) = [one.id for one in Bench(book.path).jobs() if one.name == "by phone"]
    assert [one.text for one in book.state(job).notes] == ["glass cracked"]


@pytest.mark.slow
def test_what_is_recorded_goes_under_the_initials_of_the_phone(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/notes"))
    phone.locator("#about").tap()
    phone.get_by_label("Your initials, in the history").fill("AB")
    key(phone, "Close").tap()
    phone.get_by_label("A note on this job").fill("signed")
    key(phone, "Keep the note").tap()
    expect(phone.locator("#notes")).to_contain_text("signed")
    assert Bench(book.path).log(job)[-1].initials == "AB"
    phone.goto(book.address(job, "/history"))
    expect(phone.locator("#history li").first).to_contain_text("· AB")


@pytest.mark.slow
def test_reload_and_back_come_to_the_same_place(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/safety"))
    expect(phone.locator("#status")).to_have_text("all kept")
    line = phone.get_by_text("plug X9", exact=True)
    line.tap()
    line.scroll_into_view_if_needed()
    place = phone.evaluate("scrollY")
    assert place > 500
    phone.reload()
    expect(key(phone, "Passed: plug X9")).to_be_visible()
    phone.wait_for_function(f"Math.abs(scrollY - {place}) < 2")
    phone.goto(book.address(job, "/notes"))
    phone.go_back()
    expect(key(phone, "Passed: plug X9")).to_be_visible()
    phone.wait_for_function(f"Math.abs(scrollY - {place}) < 2")


def test_what_another_client_keeps_is_shown_and_what_is_being_typed_stays(book: Bookful, job: str, phone: Page) -> None:
    phone.goto(book.address(job, "/safety"))
    phone.get_by_text("insulation", exact=True).tap()
    field = phone.get_by_label("insulation: what does the meter show, in megohms?")
    field.fill("7")
    Bench(book.path).safety(job, "mains lead", passed=False, note="cut")
    expect(phone.locator("#dangers")).to_contain_text("mains lead (cut)")
    expect(phone.locator("#counted")).to_contain_text("1 FAILED")
    expect(field).to_have_value("7")
    expect(field).to_be_focused()
    expect(field).to_be_visible()


def test_what_is_kept_while_a_finger_holds_the_page_is_shown_once_it_lifts(
    book: Bookful, job: str, phone: Page
) -> None:
    other = Bench(book.path)
    phone.goto(book.address(job, "/safety"))
    phone.evaluate("""async () => {
      const { on } = await import("/files/page.js");
      window.heard = 0;
      on("news", () => (window.heard += 1));
    }""")
    phone.locator("h1").dispatch_event("pointerdown")
    with phone.expect_response(book.address(job, "/safety")) as drawn:
        other.safety(job, "mains lead", passed=False, note="cut")
    drawn.value.finished()
    other.safety(job, "mains lead", passed=True)
    eventually(lambda: phone.evaluate("window.heard") > 1, lambda: phone.wait_for_timeout(20), lambda: "no news")
    expect(phone.locator("#counted")).not_to_contain_text("FAILED")
    phone.locator("h1").dispatch_event("pointerup")
    expect(phone.locator("#counted")).to_contain_text("1 passed")


@pytest.mark.slow
def test_a_grid_grows_under_two_fingers_and_by_its_buttons_within_its_own_frame(
    book: Bookful, job: str, browser: Browser
) -> None:
    page = phone_of(browser, SMALL)
    page.goto(book.address(job, "#switches"))
    scroller = page.locator("#scroller-switches")
    scroller.scroll_into_view_if_needed()
    box = scroller.bounding_box()
    middle_x, middle_y = box["x"] + box["width"] / 2, box["y"] + min(box["height"], 200) / 2
    touch = page.context.new_cdp_session(page)
    for kind, apart in (("touchStart", 30), ("touchMove", 45), ("touchMove", 75), ("touchEnd", 0)):
        points = [{"x": middle_x - apart, "y": middle_y, "id": 0}, {"x": middle_x + apart, "y": middle_y, "id": 1}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points if apart else []})
    width = "document.querySelector('#scroller-switches .cell').offsetWidth"
    page.wait_for_function(f"{width} > 70")
    assert page.evaluate("document.querySelector('#scroller-switches .called').offsetHeight") > 0
    assert page.evaluate("visualViewport.scale") == 1
    assert page.evaluate("document.scrollingElement.scrollWidth") == SMALL[0]
    for _ in range(3):
        key(page, "Smaller: switch matrix").tap()
    page.wait_for_function(f"{width} < 40")
    page.reload()
    key(page, "Larger: switch matrix").tap()
    page.wait_for_function(f"{width} > 40")
    page.context.close()


@pytest.fixture(scope="module")
def rich(book: Bookful) -> str:
    """A job that has something of everything."""
    job, bench = book.job("rich"), Bench(book.path)
    bench.mark(job, "lamps", "20* 49- 50- 51- 52-")
    bench.safety(job, "mains lead", passed=False, note="cut")
    bench.repair(job, "Q5", did="replaced")
    bench.note(job, "glass cracked")
    bench.function(job, "sound: speakers", "faulty")
    list(bench.refine(job))
    return job


SMALL_TARGETS = """[...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter((one) => one.type !== "hidden" && one.getClientRects().length && !one.closest(".unseen"))
  .map((one) => [one, (one.closest("label") ?? one).getBoundingClientRect()])
  .filter(([one, { width, height }]) => Math.min(width, height) < (one.matches(".cell") ? 24 : 44))
  .map(([one, { width, height }]) => `${one.tagName} ${one.textContent.trim()} ${width}x${height}`)"""
SMALL_LETTERS = """[...document.querySelectorAll("body *")]
  .filter((one) => one.getClientRects().length)
  .filter((one) => [...one.childNodes].some((each) => each.nodeType === 3 && each.data.trim()))
  .filter((one) => parseFloat(getComputedStyle(one).fontSize) < 16)
  .map((one) => `${one.tagName} ${one.textContent.trim()}`)"""
LEVELS = "[...document.querySelectorAll('h1, h2, h3, h4')].map((one) => Number(one.tagName[1]))"


def measure(page: Page, addresses: Iterable[str], width: int) -> None:
    """See that pages fit a screen, with targets for a thumb and letters to read."""
    for address in addresses:
        page.goto(address)
        expect(page.locator("body")).not_to_contain_text(LOOKING, timeout=20_000)
        page.evaluate("for (const one of document.querySelectorAll('details:not([name])')) one.open = true")
        page.evaluate("document.querySelector('details[name]')?.setAttribute('open', '')")
        assert page.evaluate(SMALL_TARGETS) == [], address
        assert page.evaluate(SMALL_LETTERS) == [], address
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width, address
        levels = page.evaluate(LEVELS)
        assert levels.count(1) == 1, address
        assert all(after - before <= 1 for before, after in pairwise(levels[levels.index(1) :])), address


@pytest.mark.parametrize(
    ("size", "places"),
    [(SMALL, FEW), *(pytest.param(size, PLACES, marks=pytest.mark.slow) for size in (SMALL, WIDE))],
    ids=["few", "small", "wide"],
)
def test_every_page_fits_its_screen_with_targets_for_a_thumb_and_letters_to_read(
    book: Bookful, rich: str, browser: Browser, size: tuple[int, int], places: tuple[str, ...]
) -> None:
    page = phone_of(browser, size)
    measure(page, (book.address(rich, one) for one in places), size[0])
    measure(page, (f"{book.server.root}/", f"{book.server.root}/new"), size[0])
    page.context.close()


@pytest.mark.slow
def test_every_page_reads_with_scripts_off(book: Bookful, rich: str, browser: Browser) -> None:
    page = phone_of(browser, SMALL, java_script_enabled=False)
    for path in PLACES:
        page.goto(book.address(rich, path))
        expect(page.locator("main")).not_to_contain_text(LOOKING, timeout=20_000)
        assert page.locator("main").inner_text().count("\n") > 4, path
        assert "switch JavaScript on" in page.locator("noscript").last.inner_text(), path
        assert "mains lead (cut)" in page.locator("#dangers").inner_text(), path
    page.context.close()
