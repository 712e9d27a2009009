"""The screens in a real browser, at the size of a desktop and of a tablet: tapped where they are seen.

One page with the terminal, one pairing and the sheet are part of every run; all other journeys are left to the long
one."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from browser_client import DESKTOP, PHONE, TABLET, Client, chromium
from playwright.sync_api import Browser
from served_book import LAN, Server

from matrixcheck.bench import Bench
from matrixcheck.cli.entrypoint import run
from matrixcheck.layout.files import find_layout, read_layout
from matrixcheck.layout.reading import Mark
from tests.machines import saltmarsh_tram

DEVICES = pytest.mark.parametrize(
    "device", [pytest.param(DESKTOP, marks=pytest.mark.slow), TABLET], ids=["desktop", "tablet"]
)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "bench.book"


@pytest.fixture
def job(book: Path) -> str:
    return Bench(book).new_job(saltmarsh_tram(), "pier arcade")


@pytest.fixture
def serve(book: Path) -> Iterator[Callable[..., Server]]:
    running: list[Server] = []

    def start(*options: str) -> Server:
        running.append(Server(book, *options))
        return running[-1]

    yield start
    for server in running:
        server.end()


@pytest.fixture
def visit(browser: Browser) -> Iterator[Callable[[dict, str], Client]]:
    clients: list[Client] = []

    def open_page(device: dict, address: str) -> Client:
        clients.append(Client(browser, device, address))
        return clients[-1]

    yield open_page
    for client in clients:
        client.close()


def marks(book: Path, job: str, matrix: str = "switches") -> dict[int, Mark]:
    """What the journal holds, by the cells' numbers."""
    found = Bench(book).state(job).standings.values()
    return {each.cell.number: each.mark for each in found if each.cell.key.matrix == matrix and each.count}


@DEVICES
@pytest.mark.slow
def test_marks_tapped_on_what_is_seen_are_in_the_journal(book, job, serve, visit, device) -> None:
    server = serve(job, *LAN)
    client = visit(device, server.address)
    for number, word, mark in ((24, "dead", Mark.DEAD), (53, "stuck", Mark.STUCK), (86, "working", Mark.WORKING)):
        client.tap(client.see_cell(number))
        client.see(rf"^.*(?<!\w){number} [a-z]")
        client.tap(client.see(rf"\b{word}\b"))
        client.see_cell(number, mark)
    assert marks(book, job) == {24: Mark.DEAD, 53: Mark.STUCK, 86: Mark.WORKING}
    assert client.asked == {f"127.0.0.1:{server.port}"}
    assert client.complaints == []


@pytest.mark.slow
def test_fingers_need_no_soft_keyboard_and_a_drag_scrolls_and_marks_nothing(book, job, serve, visit) -> None:
    client = visit(TABLET, serve(job, *LAN).address)
    client.tap(client.see_cell(24))
    client.see("24 right outlane")
    assert client.columns >= 100
    assert client.rows >= 28
    assert client.page.evaluate("document.documentElement.scrollWidth") == 1024
    assert client.page.evaluate("document.documentElement.scrollHeight") <= 768
    keys = client.page.locator("textarea")
    for mode in ("text", "none"):
        client.page.get_by_role("button", name="Keyboard").tap()
        assert keys.get_attribute("inputmode") == mode
    client.typed = ""
    for to, wheel in ((200, "\x1b[<65;"), (700, "\x1b[<64;")):
        client.drag(200, 450, to)
        client.wait(lambda wheel=wheel: wheel in client.typed)
    assert "\x1b[<0;" not in client.typed
    assert marks(book, job) == {}


@pytest.mark.slow
def test_on_loopback_the_address_opens_the_job_without_a_token_in_100_by_32_characters_at_least(
    book, job, serve, visit
) -> None:
    server = serve(job, "--port", "0")
    client = visit(DESKTOP, server.address)
    client.see("pier arcade")
    assert client.columns >= 100
    assert client.rows >= 32
    client.page.keyboard.type("24-\n53*\n86\n")  # with no pause between the keys
    client.see_cell(86, Mark.WORKING)
    assert marks(book, job) == {24: Mark.DEAD, 53: Mark.STUCK, 86: Mark.WORKING}
    assert client.asked == {f"127.0.0.1:{server.port}"}


@pytest.mark.slow
def test_a_wrong_token_or_none_shows_no_screens_and_starts_no_program(job, serve, visit) -> None:
    server = serve(job, *LAN)
    for address in (server.address[:-1], server.root, f"{server.root}/?job={job}"):
        client = visit(PHONE, address)
        assert "scan" in client.page.inner_text("body")
        assert client.page.locator("#terminal").count() == 0
    assert server.programs() == []


@pytest.mark.slow
def test_a_name_that_was_pointed_at_this_computer_is_refused(job, serve, visit) -> None:
    """DNS rebinding: the browser takes bench.example for this computer, and so its pages for the same origin."""
    server = serve(job, "--port", "0")
    client = visit(DESKTOP, f"http://bench.example:{server.port}/?job={job}")
    assert "doesn't go by that name" in client.page.inner_text("body")
    opened = client.page.evaluate(TRY_SOCKET, f"ws://bench.example:{server.port}/screens")
    assert opened == "refused"
    assert server.programs() == []


TRY_SOCKET = """(address) => new Promise((done) => {
  const socket = new WebSocket(address);
  socket.onopen = () => done("open");
  socket.onerror = () => done("refused");
})"""


@pytest.mark.slow
def test_a_foreign_page_in_the_same_browser_gets_no_screens(job, serve, visit) -> None:
    """Another port of this computer is the same site to a cookie, so only the check of Origin stands in its way."""
    server, other = serve(job, *LAN), serve(job, "--port", "0")
    client = visit(DESKTOP, server.address)
    client.see("pier arcade")
    assert client.page.evaluate(TRY_SOCKET, f"ws://127.0.0.1:{server.port}/screens") == "open"
    client.page.goto(f"{other.root}/nowhere")
    client.wait(lambda: server.programs() == [])
    assert client.page.evaluate(TRY_SOCKET, f"ws://127.0.0.1:{server.port}/screens") == "refused"
    assert server.programs() == []


@pytest.mark.slow
def test_two_clients_on_one_job_see_each_others_marks(book, job, serve, visit) -> None:
    server = serve(job, *LAN)
    desktop, tablet = visit(DESKTOP, server.way_in()), visit(TABLET, server.way_in())
    desktop.tap(desktop.see_cell(24))
    desktop.see("24 right outlane")
    tablet.tap(tablet.see_cell(53))
    tablet.see("53 [a-z]")
    desktop.tap(desktop.see(r"\bdead\b"))
    tablet.see_cell(24, Mark.DEAD, filled=True)
    tablet.tap(tablet.see(r"\bstuck\b"))
    desktop.see_cell(53, Mark.STUCK, filled=True)
    assert len(server.programs()) == 2
    assert marks(book, job) == {24: Mark.DEAD, 53: Mark.STUCK}


@pytest.mark.slow
@DEVICES
def test_when_the_program_is_killed_a_banner_says_so_and_starts_it_anew(job, serve, visit, device) -> None:
    server = serve(job, *LAN)
    client = visit(device, server.address)
    client.tap(client.see_cell(24))
    client.see("24 right outlane")
    client.tap(client.see(r"\bdead\b"))
    client.see_cell(24, Mark.DEAD)
    assert not client.page.locator("#stopped").is_visible()
    (killed,) = server.programs()
    os.kill(killed, signal.SIGKILL)
    banner = client.page.get_by_role("alertdialog")
    banner.wait_for()
    assert "has stopped" in banner.inner_text()
    client.page.get_by_role("button", name="Start again").click()
    banner.wait_for(state="hidden")
    client.see_cell(24, Mark.DEAD)
    client.wait(lambda: len(server.programs()) == 1)
    assert server.programs() != [killed]


@pytest.mark.slow
def test_a_reload_comes_back_to_the_same_job_and_matrix(book, job, serve, visit) -> None:
    Bench(book).new_job(read_layout(find_layout("switch-8x8")), "another job")
    client = visit(DESKTOP, serve(*LAN).address)
    client.tap(client.see("pier arcade"))
    client.see("number and Enter")
    client.tap(client.see("lamps 0/60"))
    client.page.wait_for_url(f"**/terminal?job={job}&matrix=lamps")
    client.page.reload()
    client.see("lamps 0/60")
    assert client.page.url.endswith(f"/terminal?job={job}&matrix=lamps")


@pytest.mark.slow
def test_a_reload_comes_back_into_a_roll(book, job, serve, visit) -> None:
    client = visit(DESKTOP, serve(job, "--port", "0").address)
    client.tap(client.see(r"\bround\b"))
    client.tap(client.see(r"\broll$|\broll  "))
    client.see("60 left")
    client.page.keyboard.type("24-\n")
    client.see("59 left")
    client.page.reload()
    client.see("59 left")
    client.see("roll . switches")
    client.see_cell(24, Mark.DEAD)
    assert marks(book, job) == {24: Mark.DEAD}
    assert client.complaints == []


@pytest.mark.slow
def test_a_reload_comes_back_into_a_round_over_a_few_cells(book, job, serve, visit) -> None:
    client = visit(DESKTOP, serve(job, "--port", "0").address)
    client.tap(client.see(r"\blist\b"))
    client.tap(client.see("door open"))
    client.see("A round through 5 cells of inputs")
    client.tap(client.see(r"\broll\b"))
    client.see("5 left to test")
    client.page.keyboard.type("92\n")
    client.see("4 left to test")
    client.page.reload()
    client.see("4 left to test")
    client.see("roll . inputs")
    assert marks(book, job, "inputs") == {92: Mark.WORKING}
    assert client.complaints == []


@pytest.mark.slow
def test_a_narrow_window_is_sent_to_the_page_with_its_job(job, serve, visit) -> None:
    server = serve(job, "--port", "0")
    phone = visit(PHONE, f"{server.root}/terminal?job={job}&matrix=lamps")
    phone.page.wait_for_url(f"**/job/{job}#lamps")
    wide = visit(DESKTOP, f"{server.root}/terminal?job={job}")
    wide.see("pier arcade")
    wide.resize(768, 1024)
    wide.page.wait_for_url(f"**/job/{job}*")
    assert phone.complaints == []


@pytest.mark.slow
def test_a_device_is_paired_by_the_button_once_and_for_all_restarts_until_it_is_forgotten(
    book, job, serve, visit
) -> None:
    server = serve(job, *LAN)
    phone = visit(PHONE, f"{server.root}/job/{job}")
    assert "pair this device" in phone.page.inner_text("body")
    phone.page.goto(server.address)
    phone.page.get_by_label("Name of this device").fill("Bench phone")
    phone.page.get_by_role("button", name="Pair this device").tap()
    phone.page.wait_for_url(f"**/job/{job}")
    phone.page.goto(server.address)
    phone.page.wait_for_url(f"**/job/{job}")
    server.end()
    again = serve(job, *LAN)
    phone.page.goto(f"{again.root}/job/{job}")
    assert "pier arcade" in phone.page.inner_text("body")
    assert run(["serve", "forget", "--book", str(book), "Bench phone"]) == 0
    phone.page.locator("#status", has_text="Scan the code again").wait_for()
    phone.page.reload()
    assert "pair this device" in phone.page.inner_text("body")


@pytest.mark.slow
def test_a_terminal_whose_device_is_forgotten_says_so_and_its_program_ends(book, job, serve, visit) -> None:
    server = serve(job, *LAN)
    tablet = visit(TABLET, server.address)
    tablet.see("pier arcade")
    assert run(["serve", "forget", "--book", str(book), "1"]) == 0
    banner = tablet.page.get_by_role("alertdialog", name="doesn't know this page")
    banner.wait_for()
    tablet.wait(lambda: server.programs() == [])


@pytest.mark.slow
def test_a_reload_comes_back_into_a_timed_walk_stopped_where_it_was(book, job, serve, visit) -> None:
    client = visit(DESKTOP, f"{serve(job, '--port', '0').root}/terminal?job={job}&matrix=lamps")
    client.see("lamps 0/60")
    client.page.keyboard.type("g2")
    client.see("shows the first device")
    client.page.keyboard.type("60\n-")
    client.see_cell(1, Mark.DEAD)
    client.page.keyboard.press("ArrowRight")
    client.see("2 of 60")
    client.page.reload()
    client.see("Walk resumed")
    client.see("timed walk . lamps")
    client.page.keyboard.press(" ")
    client.see(r"2 of 60 +every 60.0 s")
    assert marks(book, job, "lamps") == {1: Mark.DEAD}
    assert client.complaints == []


@pytest.mark.slow
def test_when_the_server_ends_its_programs_end_and_the_page_waits_for_it(job, serve, visit) -> None:
    server = serve(job, "--port", "0")
    client = visit(DESKTOP, server.address)
    client.see("pier arcade")
    (program,) = server.programs()
    server.end()
    assert server.process.returncode == 0
    assert not Path(f"/proc/{program}").exists()
    banner = client.page.get_by_role("alertdialog")
    banner.wait_for()
    assert "ended" in banner.inner_text()
    serve(job, "--port", str(server.port))
    banner.wait_for(state="hidden")
    client.see("pier arcade")


@pytest.mark.slow
def test_screens_fit_the_page_again_when_its_size_changes(job, serve, visit) -> None:
    client = visit(DESKTOP, serve(job, "--port", "0").address)
    client.see("pier arcade")
    rows = client.rows
    client.resize(1280, 600)
    client.wait(lambda: client.rows < rows)
    client.see("pier arcade")
    size = client.page.get_attribute("#terminal", "data-font-size")
    client.resize(1020, 800)
    client.wait(lambda: client.page.get_attribute("#terminal", "data-font-size") not in (None, size))
    client.see("pier arcade")
    assert client.columns >= 100
    assert client.rows >= 28


@pytest.mark.slow
def test_a_server_that_falls_silent_is_noticed_and_come_back_to(job, serve, visit) -> None:
    server = serve(job, "--port", "0")
    client = visit(DESKTOP, server.address)
    client.see("pier arcade")
    server.process.send_signal(signal.SIGSTOP)
    banner = client.page.get_by_role("alertdialog")
    banner.wait_for()
    assert "connection to the computer is lost" in banner.inner_text()
    server.process.send_signal(signal.SIGCONT)
    banner.wait_for(state="hidden")
    client.see("pier arcade")


@pytest.mark.slow
def test_when_the_server_is_killed_no_program_stays_behind(job, serve, visit) -> None:
    server = serve(job, "--port", "0")
    client = visit(DESKTOP, server.address)
    client.see("pier arcade")
    (program,) = server.programs()
    server.process.kill()
    client.wait(lambda: not Path(f"/proc/{program}").exists())


def test_the_sheet_can_be_read_on_a_phone_and_only_its_grids_are_wider(book, job, tmp_path, browser) -> None:
    bench = Bench(book)
    bench.mark(job, "switches", "c3- 24/31 21 22")
    bench.safety(job, "mains lead", False, "sheath cut")
    bench.repair(job, "Q3", "new transistor")
    sheet = tmp_path / "sheet.html"
    assert run(["report", "--book", str(book), job, "--to", str(sheet)]) == 0
    context = browser.new_context(**PHONE)
    page = context.new_page()
    page.goto(sheet.as_uri())
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    broken = page.evaluate(
        """() => [...document.querySelectorAll("th, td")].filter(cell => {
            const longest = Math.max(0, ...cell.textContent.split(/\\s+/).map(word => word.length));
            return cell.offsetParent && cell.clientWidth < longest * 4;
        }).map(cell => cell.textContent)"""
    )
    assert broken == []
    context.close()
