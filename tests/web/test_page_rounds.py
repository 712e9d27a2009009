"""The rounds on a phone, in a real browser, by taps on what is seen; what is spoken is what is handed to speech.

Sizes and paths that repeat what another shows are left to the long run."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser_client import chromium
from phone_browser import SIZES, Phone
from playwright.sync_api import Browser, Route, expect
from served_book import Server

from matrixcheck.bench import Bench
from matrixcheck.layout.edit.keys import Change, key_named
from matrixcheck.layout.reading import Mark
from tests import signal_box
from tests.machines import saltmarsh_tram

QUICK = {"320x568"}
EACH_SIZE = pytest.mark.parametrize(
    "size",
    [pytest.param(size, id=name, marks=() if name in QUICK else pytest.mark.slow) for name, size in SIZES.items()],
)
SMALL, PLAIN, WIDE = SIZES["320x568"], SIZES["390x664"], SIZES["844x390"]


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("book") / "bench.book"


@pytest.fixture(scope="module")
def server(book: Path) -> Iterator[Server]:
    Bench(book).new_job(saltmarsh_tram(), "first of the book")
    running = Server(book, "--port", "0")
    yield running
    running.end()


@pytest.fixture
def bench(book: Path, server: Server) -> Iterator[Bench]:
    del server
    opened = Bench(book)
    yield opened
    opened.close()


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(saltmarsh_tram(), "pier arcade")


@pytest.fixture
def phone(browser: Browser, server: Server) -> Iterator[Callable[..., Phone]]:
    phones: list[Phone] = []

    def at(path: str, size: tuple[int, int] = PLAIN, **options: object) -> Phone:
        phones.append(Phone(browser, server.root, size, **options))
        phones[-1].open(path)
        return phones[-1]

    yield at
    for one in phones:
        one.close()


def marks(bench: Bench, job: str, matrix: str = "switches") -> dict[object, Mark]:
    found = bench.state(job).standings.values()
    return {one.cell.number: one.mark for one in found if one.cell.key.matrix == matrix and one.count}


def readings(bench: Bench, job: str) -> int:
    return sum(one.event.kind == "reading" for one in bench.state(job).history)


@EACH_SIZE
@pytest.mark.slow
def test_a_roll_of_60_is_typed_by_thumb_and_every_mark_called_back_and_kept_once(bench, job, phone, size) -> None:
    roll = phone(f"/job/{job}/switches/roll", size)
    numbers = [cell.number for cell in saltmarsh_tram().matrix("switches").fitted]
    verdicts = {numbers[7]: "dead", numbers[31]: "stuck"}
    for number in numbers:
        roll.mark(number, verdicts.get(number, "works"))
        assert roll.text("#number") == str(number)
    roll.all_kept()
    expected = {"works": Mark.WORKING, "dead": Mark.DEAD, "stuck": Mark.STUCK}
    assert marks(bench, job) == {number: expected[verdicts.get(number, "works")] for number in numbers}
    assert readings(bench, job) == len(numbers)
    assert "None left to test" in roll.text("#more")
    roll.press("layer-more", "end")
    roll.page.wait_for_url(f"**/job/{job}")
    assert roll.complaints == []


@EACH_SIZE
def test_a_walk_judges_each_device_with_one_tap(bench, job, phone, size) -> None:
    walk = phone(f"/job/{job}/lamps/walk", size)
    order = saltmarsh_tram().matrix("lamps").in_walk_order
    for place, verdict in enumerate(["works", "dead", "skip", "stuck", "later", "flickers", "works"]):
        assert walk.text("#number") == str(order[place].number)
        assert order[place].name in walk.text("#name")
        walk.press(verdict)
    walk.all_kept()
    assert walk.text("#number") == str(order[7].number)
    walk.press("undo")
    walk.wait(lambda: walk.text("#number") == str(order[6].number))
    walk.press("before")
    assert walk.text("#number") == str(order[5].number)
    found, state = marks(bench, job, "lamps"), bench.state(job)
    assert found == {
        order[0].number: Mark.WORKING, order[1].number: Mark.DEAD, order[3].number: Mark.STUCK,
        order[5].number: state.standings[order[5].key].mark,
    }  # fmt: skip
    assert state.standings[order[4].key].deferred is not None
    assert state.standings[order[5].key].intermittent
    assert walk.complaints == []


@EACH_SIZE
def test_a_timed_walk_marks_what_is_pressed_and_asks_about_the_rest(bench, job, phone, size) -> None:
    cells = saltmarsh_tram().matrix("lamps").in_walk_order[:6]
    query = "+".join(cell.key.address for cell in cells)
    timed = phone(f"/job/{job}/lamps/timed?cells={query}", size)
    timed.page.clock.install(time="2026-01-01T00:00:00")
    timed.page.reload()
    timed.all_kept()
    timed.page.clock.pause_at("2026-01-01T00:01:00")
    timed.tap(timed.page.locator("#voice"))
    timed.press("step")
    timed.page.clock.run_for(2000)
    timed.press("step")
    assert "every 2.0 s" in timed.text("#became")
    assert timed.text("#number") == str(cells[1].number)
    timed.page.clock.run_for(2300)
    assert timed.text("#number") == str(cells[2].number)
    assert timed.said()[-1] == f"{cells[2].number}. Next: {cells[3].number}, {cells[3].name}"
    timed.press("dead")  # within half a second of the step: the device before
    timed.page.clock.run_for(700)
    timed.press("stuck")
    timed.page.clock.run_for(2000)
    timed.press("pause")
    timed.page.clock.run_for(60_000)
    assert timed.text("#number") == str(cells[3].number)
    assert "paused" in timed.text("#became")
    timed.press("pause")
    timed.press("dead", "earlier")  # meant for the one before, which was stuck: the newer word holds
    timed.all_kept()
    timed.page.clock.run_for(9000)
    timed.see(".question", "4 not judged. Mark them as working?")
    timed.tap(timed.page.get_by_role("button", name="Yes, all work"))
    timed.page.clock.run_for(1000)
    timed.page.wait_for_url(f"**/job/{job}")
    dead = {cells[1].number: Mark.DEAD, cells[2].number: Mark.DEAD}
    assert marks(bench, job, "lamps") == dead | {cells[place].number: Mark.WORKING for place in (0, 3, 4, 5)}
    assert timed.complaints == []


def loaded_again_while_its_beginning_waits(phone: Phone, path: str) -> None:
    """The page that is there when a round's beginning is kept is not the one that sent it."""
    phone.page.route("**/begin", lambda route: route.abort())
    phone.open(path)
    phone.see("#status", "sending 1")
    phone.page.reload()
    phone.see("#status", "sending 1")
    phone.page.unroute("**/begin")
    phone.all_kept()
    phone.complaints.clear()  # of what was kept from the computer here


def test_a_walk_comes_back_where_it_was_though_it_was_loaded_again_as_it_began(job, phone) -> None:
    order = saltmarsh_tram().matrix("lamps").in_walk_order
    walk = phone(f"/job/{job}")
    loaded_again_while_its_beginning_waits(walk, f"/job/{job}/lamps/walk")
    walk.press("skip", "skip")
    walk.page.reload()
    walk.all_kept()
    assert walk.text("#number") == str(order[2].number)
    assert walk.complaints == []


@pytest.mark.slow
def test_a_timed_walk_comes_back_from_a_reload_paused_where_it_was_and_says_so(bench, job, phone) -> None:
    order = saltmarsh_tram().matrix("lamps").in_walk_order
    timed = phone(f"/job/{job}")
    timed.page.clock.install(time="2026-01-01T00:00:00")
    loaded_again_while_its_beginning_waits(timed, f"/job/{job}/lamps/timed")
    timed.page.clock.pause_at("2026-01-01T00:01:00")
    timed.press("step")
    timed.page.clock.run_for(2000)
    timed.press("step")
    timed.page.clock.run_for(3900)
    assert timed.text("#number") == str(order[2].number)
    timed.page.reload()
    timed.all_kept()
    timed.page.clock.run_for(20_000)
    assert timed.text("#number") == str(order[2].number)
    assert "paused" in timed.text("#became")
    assert timed.text("#more").startswith("Walk resumed, and paused. Bring the page to the device")
    timed.press("skip", "skip")
    timed.press("step")  # the machine goes on to the device after that
    timed.page.clock.run_for(100)
    assert timed.text("#number") == str(order[5].number)
    assert "every 2.0 s" in timed.text("#became")
    timed.page.clock.run_for(2000)
    assert timed.text("#number") == str(order[6].number)
    assert marks(bench, job, "lamps") == {}
    assert timed.complaints == []


@pytest.mark.parametrize("size", [SMALL, WIDE])
@pytest.mark.slow
def test_no_key_moves_when_a_call_back_a_message_or_the_count_of_what_waits_comes_and_goes(job, phone, size) -> None:
    roll = phone(f"/job/{job}/switches/roll", size)
    seen = [roll.pad()]
    roll.mark(24, "dead")
    seen.append(roll.pad())
    roll.see("#became", "kept")
    seen.append(roll.pad())
    roll.mark(99)
    seen.append(roll.pad())
    roll.page.route("**/mark", lambda route: route.abort())
    roll.mark(53)
    roll.see("#became", "waits")
    seen.append(roll.pad())
    roll.mark(54)
    seen.append(roll.pad())
    roll.page.unroute("**/mark")
    roll.all_kept()
    seen.append(roll.pad())
    assert all(one == seen[0] for one in seen)


@pytest.mark.parametrize(
    ("sort", "size"),
    [
        ("roll", SMALL),
        ("walk", WIDE),
        ("rest", SMALL),
        *(pytest.param(*each, marks=pytest.mark.slow) for each in (("roll", WIDE), ("walk", SMALL), ("rest", WIDE))),
        *(pytest.param(sort, SIZES["768x1024"], marks=pytest.mark.slow) for sort in ("roll", "walk", "rest")),
    ],
)
def test_the_keys_leave_no_gap_and_none_is_smaller_than_a_thumb(job, phone, sort, size) -> None:
    round_ = phone(f"/job/{job}/switches/{sort}", size)
    page = round_.page
    assert page.evaluate("document.documentElement.scrollWidth") == size[0]
    assert page.evaluate("document.documentElement.scrollHeight") <= size[1]
    keys = round_.pad()
    assert min(height for *_, height in keys) >= 56
    covered = sum(width * height for _, _, _, width, height in keys)
    left, top = min(key[1] for key in keys), min(key[2] for key in keys)
    right, bottom = max(key[1] + key[3] for key in keys), max(key[2] + key[4] for key in keys)
    assert covered == pytest.approx((right - left) * (bottom - top), rel=1e-3)
    targets = page.locator("a, button:visible, input:visible").evaluate_all(
        """(all) => all.map((one) => {
            const { width, height } = one.getBoundingClientRect();
            return [one.textContent, width, height];
        })"""
    )
    assert [one for one in targets if min(one[1:]) < 44] == []
    letters = page.locator("body *:visible").evaluate_all(
        "(all) => all.map((one) => parseFloat(getComputedStyle(one).fontSize))"
    )
    assert min(letters) >= 16
    assert page.locator("#number").evaluate("(one) => parseFloat(getComputedStyle(one).fontSize)") >= 64


@pytest.mark.slow
def test_letters_twice_as_large_leave_every_key_whole(job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll", PLAIN)
    roll.page.evaluate("document.documentElement.style.fontSize = '200%'")
    assert roll.page.evaluate("document.documentElement.scrollWidth") == PLAIN[0]
    cut = roll.page.locator("#pad [data-layer]:not([hidden]) button").evaluate_all(
        "(keys) => keys.filter((key) => key.scrollHeight > key.clientHeight + 1).map((key) => key.textContent)"
    )
    assert cut == []
    for key in roll.page.locator("#pad [data-layer]:not([hidden]) button").all():
        key.scroll_into_view_if_needed()
        assert key.is_visible()


def test_what_works_already_and_what_there_isnt_are_called_back_and_record_nothing(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.tap(roll.page.locator("#voice"))
    roll.mark(24)
    roll.see("#became", "kept")
    roll.mark(24)
    assert roll.text("#became") == "works already"
    roll.mark(99)
    assert roll.text("#number") == "99"
    assert "not in switches" in roll.text("#call")
    assert roll.said() == [
        "Voice on.", "24, right outlane, works", "24, right outlane, works already", "no 99 here",
    ]  # fmt: skip
    assert roll.page.evaluate("window.buzzes.length") == 2
    assert readings(bench, job) == 1


@pytest.mark.slow
def test_a_page_asks_for_every_module_that_it_needs_at_once(job, phone) -> None:
    visitor = phone(f"/job/{job}")
    for path in ("", "/switches/roll", "/lamps/timed", "/lamps/all"):
        visitor.open(f"/job/{job}{path}")
        page = visitor.page
        named = page.locator("link[rel=modulepreload]").evaluate_all("(links) => links.map((one) => one.href)")
        fetched = page.evaluate("performance.getEntriesByType('resource').map((one) => one.name)")
        modules = {one for one in fetched if one.endswith(".js") and not one.endswith("early.js")}
        assert set(named) == modules, path
        assert len(named) == len(set(named)), path


@pytest.mark.slow
def test_a_roll_and_a_walk_can_be_done_by_ear(job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.tap(roll.page.locator("#voice"))
    roll.mark(53, "dead")
    roll.all_kept()
    roll.mark(53)
    roll.all_kept()
    roll.press("undo")
    roll.all_kept()
    assert roll.said()[1:] == [
        "53, lighthouse step 2, dead", "53, lighthouse step 2, works",
        *[words for words in roll.said() if words.startswith("undone")],
    ]  # fmt: skip
    assert len(roll.said()) == 4
    roll.open(f"/job/{job}/lamps/walk")  # the voice stays on
    roll.press("works")
    roll.all_kept()
    roll.press("skip", "before")
    assert roll.said() == [
        "1, tram letter T, works. Next: 2, tram letter R", "3, tram letter A", "2, tram letter R",
    ]  # fmt: skip


@pytest.mark.slow
def test_without_a_voice_tones_say_number_and_verdict(job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.page.evaluate("window.dumb = true")
    roll.tap(roll.page.locator("#voice"))
    roll.mark(24, "dead")
    roll.all_kept()
    two, four, high, low = roll.page.evaluate("window.tones")
    assert two < four
    assert low < high
    assert roll.said() == []


@pytest.mark.slow
def test_both_outcomes_count_where_it_did_both(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.mark(24, "dead")
    roll.all_kept()
    roll.press("works")  # nothing typed: the one that was called back last
    roll.see("#message", "corrected from dead; press Did both if it did both")
    roll.press("both")
    roll.see("#message", "both count")
    (standing,) = (one for one in bench.state(job).standings.values() if one.intermittent)
    assert standing.cell.number == 24


@pytest.mark.slow
def test_later_takes_one_tap_and_a_reason_of_ones_own_a_second(bench, job, phone) -> None:
    walk = phone(f"/job/{job}/switches/walk", SMALL)
    first, second, *_ = saltmarsh_tram().matrix("switches").in_walk_order
    walk.press("later")
    walk.all_kept()
    assert bench.state(job).standings[first.key].deferred == first.notes.reach != ""
    assert walk.text("#number") == str(second.number)
    walk.tap(walk.page.locator("#offer"))
    walk.see(".choosing", f"{first.number} {first.name}: why later?")
    offered = walk.page.locator(".offered button").all_inner_texts()
    assert offered[0] == first.notes.reach
    assert len(set(offered)) == len(offered) > 1
    walk.page.get_by_label("Or a reason of your own").fill("hatch is rusted shut")
    walk.tap(walk.page.get_by_role("button", name="Keep this reason"))
    walk.wait(lambda: bench.state(job).standings[first.key].deferred == "hatch is rusted shut")
    walk.all_kept()
    assert walk.text("#number") == str(second.number)
    walk.press("later")
    walk.all_kept()
    walk.tap(walk.page.locator("#offer"))
    walk.tap(walk.page.get_by_role("button", name=offered[1], exact=True))
    walk.wait(lambda: bench.state(job).standings[second.key].deferred == offered[1])
    walk.press("works")
    assert walk.page.locator("#offer").is_hidden()
    assert walk.complaints == []


@pytest.mark.slow
def test_what_was_undone_counts_again_after_redo_as_often_as_it_was_undone(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll", SMALL)
    roll.mark(24, "dead")
    roll.mark(53)
    roll.all_kept()
    for left in ({24: Mark.DEAD}, {}):
        roll.press("undo")
        roll.wait(lambda left=left: marks(bench, job) == left)
        roll.see("#message", "undone")
    for expected in ({24: Mark.DEAD}, {24: Mark.DEAD, 53: Mark.WORKING}):
        roll.tap(roll.page.get_by_role("button", name="Redo"))
        roll.wait(lambda expected=expected: marks(bench, job) == expected)
        roll.see("#message", "counts again")
        roll.all_kept()
    roll.wait(roll.page.locator("#offer").is_hidden)
    roll.press("undo")
    roll.see("#offer", "Redo")
    roll.mark(54)
    assert roll.page.locator("#offer").is_hidden()
    roll.press("layer-more", "redo")
    roll.see("#message", "nothing to redo")
    roll.all_kept()
    assert marks(bench, job) == {24: Mark.DEAD, 54: Mark.WORKING}


@pytest.mark.slow
def test_a_walk_goes_back_with_undo_and_on_again_with_redo(job, phone) -> None:
    walk = phone(f"/job/{job}/lamps/walk")
    first, second, *_ = saltmarsh_tram().matrix("lamps").in_walk_order
    walk.press("works")
    walk.all_kept()
    walk.press("undo")
    walk.wait(lambda: walk.text("#number") == str(first.number))
    walk.press("layer-more", "redo")
    walk.wait(lambda: walk.text("#number") == str(second.number))


@pytest.mark.slow
def test_what_glows_faintly_is_said_of_the_device_at_hand(bench, job, phone) -> None:
    walk = phone(f"/job/{job}/lamps/walk", SMALL)
    first, second, third, *_ = saltmarsh_tram().matrix("lamps").in_walk_order
    walk.press("layer-more", "faint")
    assert walk.text("#typed") == "~"
    assert f"While {first.number} {first.name} is lit these glow faintly" in walk.text("#message")
    walk.type(str(third.number))
    walk.press("works")
    walk.all_kept()
    standing = bench.state(job).standings[first.key]
    assert (standing.mark, standing.faint, standing.intermittent) == (Mark.WORKING, (third.key,), False)
    assert walk.text("#number") == str(second.number)
    roll = phone(f"/job/{job}/switches/roll")
    roll.press("layer-more", "faint")
    assert "First mark the device that is lit" in roll.text("#message")
    assert roll.text("#typed") == ""


@pytest.mark.slow
def test_a_device_is_found_by_a_few_letters_of_its_name(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll", SMALL)
    roll.press("layer-more", "find")
    roll.page.get_by_label("A few letters of its name").fill("out ri")
    assert roll.page.locator(".offered button").all_inner_texts() == ["24 right outlane"]
    roll.page.keyboard.press("Enter")
    roll.wait(lambda: roll.text("#typed") == "24")
    assert roll.text("#message") == "right outlane"
    roll.press("dead")
    roll.all_kept()
    assert marks(bench, job) == {24: Mark.DEAD}
    walk = phone(f"/job/{job}/switches/walk")
    walk.press("layer-more", "find")
    walk.page.get_by_label("A few letters of its name").fill("lighthouse step")
    walk.tap(walk.page.get_by_role("button", name="53 lighthouse step 2"))
    walk.wait(lambda: walk.text("#number") == "53")
    walk.press("works")
    walk.all_kept()
    assert marks(bench, job) == {24: Mark.DEAD, 53: Mark.WORKING}
    assert walk.complaints == []


@pytest.mark.slow
def test_half_a_number_and_the_round_come_back_after_a_reload_and_the_back_button(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.mark(24)
    roll.all_kept()
    roll.type("5")
    roll.page.reload()
    assert roll.text("#typed") == "5"
    roll.open(f"/job/{job}")
    roll.page.go_back()
    roll.wait(lambda: roll.text("#typed") == "5")
    roll.type("3")
    roll.press("works")
    roll.all_kept()
    assert marks(bench, job) == {24: Mark.WORKING, 53: Mark.WORKING}
    assert sum(one.event.kind == "round-started" for one in bench.state(job).history) == 1


def test_marks_without_an_answer_wait_in_order_through_a_reload_and_are_kept_once(bench, job, phone) -> None:
    """Of the first the commit is made and the answer lost: it comes again under its id."""
    roll = phone(f"/job/{job}/switches/roll")
    roll.all_kept()

    def lose(route: Route) -> None:
        route.fetch()
        route.abort()

    roll.page.route("**/mark", lose)
    roll.mark(24, "dead")
    roll.see("#became", "waits")
    roll.page.unroute("**/mark")
    roll.page.route("**/mark", lambda route: route.abort())
    roll.mark(53)
    roll.mark(54, "stuck")
    roll.wait(lambda: "sending 3" in roll.text("#status") or "3 wait" in roll.text("#status"))
    roll.page.reload()
    roll.wait(lambda: "3" in roll.text("#status"))
    assert "kept" not in roll.text("#became")
    roll.page.unroute("**/mark")
    roll.all_kept()
    assert marks(bench, job) == {24: Mark.DEAD, 53: Mark.WORKING, 54: Mark.STUCK}
    order = [str(one.event.reading.cell) for one in bench.state(job).history if one.event.kind == "reading"]
    assert order == ["switches.r4c2", "switches.r3c5", "switches.r4c5"]


def test_a_refused_entry_stays_in_sight_until_it_is_put_right_and_holds_up_none_behind_it(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.type("24+99")
    roll.press("works")
    roll.see("#status", "1 refused")
    roll.mark(53)
    roll.see("#became", "kept")
    roll.page.reload()
    roll.see("#status", "1 refused")
    roll.tap(roll.page.locator("#about"))
    assert "24+99" in roll.text("#sheet-entries")
    assert roll.page.evaluate("document.activeElement.textContent") == "Close"  # no soft keyboard comes up by itself
    roll.page.get_by_label("Put right: 24+99").fill("24+31")
    roll.tap(roll.page.get_by_role("button", name="Send it so"))
    roll.all_kept()
    assert "Everything is in the bench book" in roll.text("#sheet")
    assert set(marks(bench, job)) == {24, 53}


@pytest.mark.slow
def test_a_refused_entry_that_one_tab_drops_is_gone_from_the_other(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.type("24+99")
    roll.press("works")
    roll.see("#status", "1 refused")
    other = roll.context.new_page()
    other.goto(f"{roll.root}/job/{job}")
    expect(other.locator("#status")).to_have_text("1 refused")
    other.locator("#about").tap()
    other.get_by_role("button", name="Drop 24+99").tap()
    expect(other.locator("#status")).to_have_text("all kept")
    roll.all_kept()
    roll.page.reload()
    roll.all_kept()
    assert readings(bench, job) == 0


@pytest.mark.slow
def test_silence_is_noticed_within_three_seconds_and_said_in_words(job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.page.clock.install()
    roll.page.reload()
    roll.all_kept()
    roll.tap(roll.page.locator("#voice"))
    roll.page.route("**/live*", lambda _route: None)
    roll.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")  # it asks anew, and hears nothing
    roll.page.clock.run_for(3000)
    assert roll.text("#status") == "No answer"
    assert roll.said()[-1] == "No answer from the computer."
    roll.page.unroute("**/live*")
    roll.page.clock.run_for(2500)
    roll.wait(lambda: roll.text("#status") == "all kept")
    assert roll.said()[-1] == "Connected again."


FULL = {"error": {"what": "too many pages are busy", "hint": "close one of them", "full": True}}


@pytest.mark.slow
def test_a_computer_without_room_says_so_and_what_was_pressed_is_kept_once_there_is_room(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.all_kept()
    roll.page.route("**/mark", lambda route: route.fulfill(status=503, json=FULL))
    roll.mark(24)
    roll.see("#status", "Computer is busy, 1 waits")
    roll.tap(roll.page.locator("#about"))
    assert "too many pages are busy. To make room, close one of them." in roll.text("#sheet-line")
    roll.tap(roll.page.get_by_role("button", name="Close"))
    roll.page.unroute("**/mark")
    roll.all_kept()
    assert marks(bench, job) == {24: Mark.WORKING}


@pytest.mark.slow
def test_a_line_that_a_computer_without_room_does_not_open_is_no_silence(job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.page.clock.install()
    roll.page.reload()
    roll.all_kept()
    for path in ("**/live*", "**/alive"):
        roll.page.route(path, lambda route: route.fulfill(status=503, json=FULL))
    roll.page.evaluate("document.dispatchEvent(new Event('visibilitychange'))")
    roll.page.clock.run_for(3000)
    roll.see("#status", "Computer is busy")
    for path in ("**/live*", "**/alive"):
        roll.page.unroute(path)
    roll.page.clock.run_for(2500)
    roll.all_kept()


@pytest.mark.slow
def test_two_phones_and_the_bench_see_each_others_marks(bench, job, phone) -> None:
    one, other = phone(f"/job/{job}/switches/roll"), phone(f"/job/{job}/switches/roll")
    one.mark(24, "dead")
    other.see("#more", "59 left to test")
    bench.mark(job, "switches", "53")
    for each in (one, other):
        each.see("#more", "58 left to test")
    other.mark(24)
    other.all_kept()
    assert other.text("#became") == "kept"
    assert len(bench.state(job).rounds) == 2


def test_all_at_once_marks_what_is_tapped_and_settles_the_rest_with_one_question(bench, job, phone) -> None:
    lit = phone(f"/job/{job}/lamps/all", SMALL)
    before = lit.pad()
    lit.tap(lit.page.locator(".choice", has_text="tram letter A"))
    lit.see("#became", "kept")
    lit.tap(lit.page.locator(".choice", has_text="tram letter M"))
    lit.tap(lit.page.locator(".choice", has_text="tram letter M"))
    lit.all_kept()
    assert lit.pad() == before
    lit.press("rest")
    lit.see(".question", "58 have no mark. Are they all lit?")
    lit.tap(lit.page.get_by_role("button", name="Yes, all lit"))
    lit.page.wait_for_url(f"**/job/{job}")
    found = marks(bench, job, "lamps")
    assert [number for number, mark in found.items() if mark is Mark.DEAD] == [3]
    assert len(found) == 60


def test_a_hold_round_asks_what_to_hold_scans_at_rest_and_then_takes_presses(bench, job, phone) -> None:
    hold = phone(f"/job/{job}/switches/hold", SMALL)
    hold.page.locator("#held").fill("24 25")
    hold.tap(hold.page.locator("#hold-these"))
    hold.see(".danger", "24 and 25 are both in column 2")
    hold.page.locator("#held").fill("24 33")
    hold.tap(hold.page.locator("#hold-these"))
    hold.see("#more", "with only the held switches closed")
    hold.press("keep")
    hold.see("#message", "Nothing is ticked")
    hold.mark(24, "tick")
    hold.mark(33, "tick")
    hold.press("keep")
    hold.see("#more", "left to press")
    hold.type("25+31")
    hold.press("works")
    hold.all_kept()
    hold.page.reload()
    hold.see("#more", "left to press")
    held = {cell.number for cell in saltmarsh_tram().matrix("switches").fitted if cell.number in (24, 33)}
    state = bench.state(job)
    (round_,) = state.rounds.values()
    assert {state.standings[key].cell.number for key in round_.held} == held
    assert [one.event.kind for one in state.history].count("reading") == 2
    assert hold.complaints == []


@pytest.mark.slow
def test_numbers_with_letters_are_typed(bench, phone) -> None:
    job = bench.new_job(signal_box.LAYOUT, "letters")
    roll = phone(f"/job/{job}/switches/roll", SMALL)
    roll.type("9")
    roll.press("layer-more")
    roll.type("L")
    assert roll.text("#message") == "left rail"
    roll.press("works")
    roll.see("#became", "kept")
    roll.press("layer-more")
    roll.type("D")
    roll.press("layer-digits")
    roll.mark(1, "dead")
    roll.all_kept()
    assert marks(bench, job) == {"9L": Mark.WORKING, "D1": Mark.DEAD}
    assert roll.text("#number") == "D1"


@pytest.mark.slow
def test_a_coil_that_comes_on_stops_the_round_on_every_phone(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    coil = saltmarsh_tram().matrix("coils").fitted[0]
    bench.mark(job, "coils", f"{coil.number}*")
    roll.see("h1", "Switch off now")
    roll.tap(roll.page.locator("#fuse-out"))
    roll.wait(lambda: roll.page.locator("#pad").count())
    assert not bench.state(job).coils.stop


@pytest.mark.slow
def test_a_retest_asks_for_its_passes_and_says_what_became_of_the_repair(bench, job, phone) -> None:
    bench.mark(job, "switches", "24+-")
    made = bench.repair(job, "switches.24", did="adjusted")
    assert [key.address for key in made.due] == ["r4c2"]
    walk = phone(f"/job/{job}/switches/walk?cells=r4c2")
    walk.tap(walk.page.locator("#voice"))
    for words in ("2 more passes needed", "one more pass needed"):
        walk.press("works")
        walk.see("#message", words)
        walk.press("before")
    walk.press("works")
    walk.see("#more", "1 cell tested again, all pass. Closed by that repair.")
    assert walk.said()[1] == "24, right outlane, works, needs another pass. The walk is through."


@pytest.mark.slow
def test_a_layout_that_is_put_right_meanwhile_is_drawn_anew(bench, job, phone) -> None:
    roll = phone(f"/job/{job}/switches/roll")
    roll.all_kept()
    roll.type("9")
    with roll.page.expect_navigation():
        number = key_named("switches.r4c2.number", saltmarsh_tram())
        bench.correct(job, [Change(number, 99)], own_file=False)
    roll.see("#typed", "9")
    roll.mark(9)
    roll.see("#became", "kept")
    assert roll.text("#number") == "99"
    assert marks(bench, job) == {99: Mark.WORKING}
