"""A phone amid faults: a network that falls silent, a server that is killed, sleep, double sends, two phones at once.

Of each fault it must hold: what was acknowledged is in the journal once, what waited arrives in order, and the page
never showed "kept" before the computer had answered so.
"""

from __future__ import annotations

import json
import time
from collections import Counter
from collections.abc import Callable, Iterator
from itertools import cycle
from pathlib import Path

import pytest
from browser_client import chromium
from phone_browser import EARS, SIZES, Phone
from playwright.sync_api import Browser, Request, Route
from served_book import Server
from swallowing_proxy import SwallowingProxy

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Mark
from tests.machines import saltmarsh_tram

SILENT_SECONDS = {"delivered late": 20, "gone for good": 60}
"""By what becomes of what was sent. The kernel ends a line silent for 15 s (`matrixcheck/web/answering.py`)."""
TOGETHER = 40
"""Marks of each that marks together with others."""
NUMBERS = [cell.number for cell in saltmarsh_tram().matrix("switches").fitted]

# Notes every answer to a mark, and what stands there as kept, in the order in which they came.
AUDIT = """
const fetching = window.fetch.bind(window);
window.fetch = async (path, options) => {
  const answer = await fetching(path, options);
  if (String(path).endsWith("/mark") && answer.status === 200) {
    const reading = answer.text.bind(answer);
    // The page knows of an answer only once it has read it.
    answer.text = async () => {
      const words = await reading();
      for (const one of JSON.parse(words).kept) window.audit(["answered", one.number]);
      return words;
    };
  }
  return answer;
};
document.addEventListener("DOMContentLoaded", () => {
  const became = document.getElementById("became");
  if (!became) return;
  const look = () => became.textContent === "kept" &&
    window.audit(["kept", document.getElementById("number").textContent]);
  new MutationObserver(look).observe(became, { childList: true, characterData: true, subtree: true });
});
"""


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    with chromium() as running:
        yield running


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return tmp_path / "bench.book"


@pytest.fixture
def bench(book: Path) -> Iterator[Bench]:
    opened = Bench(book)
    yield opened
    opened.close()


@pytest.fixture
def job(bench: Bench) -> str:
    return bench.new_job(saltmarsh_tram(), "pier arcade")


class Hall:
    """A served book that can be killed and started again at its address."""

    def __init__(self, book: Path) -> None:
        self._book = book
        self.server = Server(book, "--port", "0")

    def kill(self) -> None:
        self.server.process.kill()
        self.server.process.wait()
        self.server.process.stdout.close()

    def start_again(self) -> None:
        self.server = Server(self._book, "--port", str(self.server.port))


@pytest.fixture
def hall(book: Path, job: str) -> Iterator[Hall]:
    del job
    served = Hall(book)
    yield served
    served.server.end()


class AuditedPhone(Phone):
    """A phone whose page tells what it was answered and what it showed as kept."""

    def __init__(self, browser: Browser, root: str, **options: object) -> None:
        super().__init__(browser, root, SIZES["390x664"], ears=EARS + AUDIT, **options)
        self.audit: list[tuple[str, str]] = []
        self.page.expose_function("audit", lambda note: self.audit.append((note[0], str(note[1]))))

    def never_said_kept_too_soon(self) -> None:
        """Whatever stood there as kept had been answered before."""
        answered: set[str] = set()
        assert self.audit, "nothing was answered"
        for what, number in self.audit:
            if what == "answered":
                answered.add(number)
            else:
                assert number in answered, f"{number} was shown as kept before the answer came: {self.audit}"


@pytest.fixture
def phone(browser: Browser, hall: Hall, job: str) -> Iterator[Callable[..., AuditedPhone]]:
    phones: list[AuditedPhone] = []

    def rolling(matrix: str = "switches", **options: object) -> AuditedPhone:
        phones.append(AuditedPhone(browser, hall.server.root, **options))
        phones[-1].open(f"/job/{job}/{matrix}/roll")
        phones[-1].all_kept()
        return phones[-1]

    yield rolling
    for one in phones:
        one.close()


@pytest.fixture
def proxy() -> Iterator[SwallowingProxy]:
    running = SwallowingProxy()
    yield running
    running.end()


def through(proxy: SwallowingProxy) -> dict[str, str]:
    # Else a browser goes round its proxy for this machine's own address.
    return {"server": proxy.address, "bypass": "<-loopback>"}


def numbers_read(bench: Bench, job: str) -> list[object]:
    """The numbers of all readings in the journal, in its order."""
    state = bench.state(job)
    read = (one.event.reading.cell for one in state.history if one.event.kind == "reading")
    return [state.layout.cell(key).number for key in read]


@pytest.mark.slow
@pytest.mark.parametrize("sent", SILENT_SECONDS)
def test_a_network_that_is_silent_amid_forty_marks_costs_none(bench, job, phone, proxy, sent) -> None:
    roll = phone(proxy=through(proxy))
    for number in NUMBERS[:12]:
        roll.mark(number)
    proxy.fall_silent()
    began = time.monotonic()
    for number in NUMBERS[12:28]:
        roll.mark(number, "dead" if number == NUMBERS[20] else "works")
    roll.see("#status", "No answer")
    roll.page.wait_for_timeout(max(SILENT_SECONDS[sent] - (time.monotonic() - began), 0) * 1000)
    assert proxy.swallowed
    # An answer may be lost on its way: then the mark waits, though it is in the journal.
    answered = {number for what, number in roll.audit if what == "answered"}
    assert roll.text("#status") == f"No answer, {28 - len(answered)} wait"
    assert len(answered) <= len(numbers_read(bench, job)) < 28
    proxy.come_back(late=sent == "delivered late")
    for number in NUMBERS[28:40]:
        roll.mark(number)
    roll.all_kept()
    assert numbers_read(bench, job) == NUMBERS[:40]
    dead = [one.cell.number for one in bench.state(job).standings.values() if one.mark is Mark.DEAD]
    assert dead == [NUMBERS[20]]
    roll.never_said_kept_too_soon()


@pytest.mark.slow
def test_a_server_that_is_killed_and_started_again_costs_no_mark(bench, job, phone, hall) -> None:
    roll = phone()
    for place, number in enumerate(NUMBERS[:40]):
        if place in (9, 25):
            hall.kill()
        if place in (17, 33):
            hall.start_again()
        roll.mark(number)
    roll.all_kept()
    assert numbers_read(bench, job) == NUMBERS[:40]
    rounds = [one for one in bench.state(job).history if one.event.kind == "round-started"]
    assert len(rounds) == 1
    roll.never_said_kept_too_soon()


@pytest.mark.slow
def test_a_phone_that_slept_while_the_server_was_started_again_goes_on_in_its_round(bench, job, phone, hall) -> None:
    roll = phone()
    roll.mark(NUMBERS[0])
    roll.all_kept()
    hall.kill()
    roll.mark(NUMBERS[1])
    roll.type("2")
    asleep = roll.context.new_cdp_session(roll.page)
    asleep.send("Page.setWebLifecycleState", {"state": "frozen"})
    hall.start_again()
    bench.mark(job, "switches", f"{NUMBERS[5]}-")
    asleep.send("Page.setWebLifecycleState", {"state": "active"})
    roll.all_kept()
    assert roll.text("#typed") == "2"
    assert Counter(numbers_read(bench, job)) == Counter([NUMBERS[0], NUMBERS[1], NUMBERS[5]])
    left = len(NUMBERS) - 3
    roll.see("#more", f"{left} left to test")
    roll.never_said_kept_too_soon()


@pytest.mark.slow
def test_what_is_sent_twice_is_kept_once(bench, job, phone) -> None:
    roll = phone()

    def twice(route: Route) -> None:
        route.fetch()
        route.fulfill(response=route.fetch())

    roll.page.route("**/mark", twice)
    for number in NUMBERS[:8]:
        roll.mark(number)
    roll.all_kept()
    assert numbers_read(bench, job) == NUMBERS[:8]
    roll.never_said_kept_too_soon()


@pytest.mark.slow
def test_two_phones_and_the_bench_at_once_lose_nothing_and_double_nothing(bench, job, phone) -> None:
    """Each marks a matrix of its own."""
    phones = {"switches": phone("switches"), "lamps": phone("lamps")}
    order = {name: cycle(saltmarsh_tram().matrix(name).fitted) for name in (*phones, "coils")}
    sent: dict[str, list[str]] = {name: [] for name in order}
    verdicts = cycle(["dead", "works", "stuck", "works", "dead", "stuck", "dead"])
    for _ in range(TOGETHER):
        verdict = next(verdicts)
        for name, roll in phones.items():
            cell = next(order[name])
            sent[name].append(str(cell.key))
            roll.mark(cell.number, verdict)
        cell = next(order["coils"])
        sent["coils"].append(str(cell.key))
        bench.mark(job, "coils", cell.key.address + "-")
    for roll in phones.values():
        roll.all_kept()
    keys = [one.event.reading.cell for one in bench.state(job).history if one.event.kind == "reading"]
    found = {name: [str(key) for key in keys if key.matrix == name] for name in order}
    assert found == sent
    for roll in phones.values():
        roll.never_said_kept_too_soon()
    assert bench.verify() == len(bench.state(job).history)


@pytest.mark.slow
def test_each_mark_is_sent_under_a_name_of_its_own(bench, job, phone) -> None:
    roll = phone()
    names: list[str] = []

    def note(asked: Request) -> None:
        if asked.url.endswith("/mark"):
            names.append(json.loads(asked.post_data)["send"])

    roll.page.on("request", note)
    for number in NUMBERS[:3]:
        roll.mark(number)
    roll.all_kept()
    assert len(set(names)) == 3
    assert numbers_read(bench, job) == NUMBERS[:3]
