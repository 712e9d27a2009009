"""The page for a phone against the terminal in the browser, in one run: opening, a mark until it is kept, memory.

Opening is measured in Chromium, until the page can be used. A mark is measured on the page from the press to the word
"kept" on the screen, and in the terminal from the key sent to that word received, without its drawing. `seen` is the
time until another phone has drawn the mark. Memory is what the server and its programs hold with seven clients.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import shutil
import statistics
import tempfile
import time
from collections.abc import Awaitable, Callable
from contextlib import AsyncExitStack
from pathlib import Path

from aiohttp import ClientSession
from playwright.async_api import Browser, Page, async_playwright

from matrixcheck.bench import Bench
from tests.bench.clients import SIZE, read_until, served
from tests.bench.screens import new_book

CLIENTS = 7
OPEN_SECONDS, KEPT_SECONDS, SEEN_SECONDS, MEMORY_MIB = 0.3, 0.04, 0.2, 60
# The measuring itself asks the browser for what the page's own rules forbid.
PHONE = {"viewport": {"width": 390, "height": 664}, "has_touch": True, "is_mobile": True, "bypass_csp": True}
DESKTOP = {"viewport": {"width": 1280, "height": 800}, "bypass_csp": True}

# Type a number, press Works, and give the milliseconds until the screen says that it is kept.
KEPT = """async (number) => {
  const press = (key) => key.dispatchEvent(new PointerEvent("pointerdown", { bubbles: true, button: 0 }));
  const became = document.getElementById("became");
  for (const sign of String(number)) press(document.querySelector(`[data-layer=digits] [data-type="${sign}"]`));
  const began = performance.now();
  press(document.querySelector("[data-layer=digits] [data-act=works]"));
  return new Promise((done) => {
    new MutationObserver((_, watching) => {
      if (became.textContent !== "kept") return;
      watching.disconnect();
      done(performance.now() - began);
    }).observe(became, { childList: true, characterData: true, subtree: true });
  });
}"""
# Wait until so many are left to test, and give the time of day in milliseconds.
SEEN = """async (left) => {
  const more = document.getElementById("more");
  const shown = () => more.textContent.startsWith(`${left} left`);
  return new Promise((done) => {
    new MutationObserver((_, watching) => {
      if (!shown()) return;
      watching.disconnect();
      done(Date.now());
    }).observe(more, { childList: true, characterData: true, subtree: true });
    if (shown()) done(Date.now());
  });
}"""


async def opened(browser: Browser, address: str, device: dict, ready: str) -> float:
    """Seconds from asking for a page to when it can be used, in a browser that has nothing of it yet."""
    context = await browser.new_context(**device)
    page = await context.new_page()
    began = time.perf_counter()
    await page.goto(address)
    await page.wait_for_function(ready)
    took = time.perf_counter() - began
    await context.close()
    return took


async def phone_at(browser: Browser, address: str) -> Page:
    """A phone in a round."""
    page = await (await browser.new_context(**PHONE)).new_page()
    await page.goto(address)
    await page.wait_for_function("document.getElementById('status').textContent === 'all kept'")
    return page


async def marks_on_page(browser: Browser, root: str, job: str, numbers: list[int]) -> tuple[list[float], list[float]]:
    """Seconds until each mark is kept, and until another phone has drawn it."""
    one, other = [await phone_at(browser, f"{root}/job/{job}/switches/roll") for _ in range(2)]
    left = int(await one.evaluate("document.getElementById('round-data').textContent.match(/untested/g).length")) - 1
    kept, seen = [], []
    for number in numbers:
        left -= 1
        sight = asyncio.ensure_future(other.evaluate(SEEN, left))
        began = await one.evaluate("Date.now()")
        kept.append(await one.evaluate(KEPT, number) / 1000)
        seen.append((await sight - began) / 1000)
    return kept, seen


async def marks_in_terminal(root: str, job: str, numbers: list[int]) -> list[float]:
    """Seconds until the screens say of each mark that it is kept."""
    found = []
    async with ClientSession(headers={"Origin": root}) as session:
        page = await session.ws_connect(f"{root}/screens?job={job}&matrix=switches&{SIZE}", max_msg_size=0)
        await read_until(page, "number and Enter")
        for number in numbers:
            began = time.perf_counter()
            await page.send_json(["stdin", f"{number}-\r"])
            found.append(await read_until(page, rf"kept: {number} ") - began)
    return found


def memory(server: int) -> float:
    """MiB that a server and its programs hold: what is shared among them counts once (PSS)."""
    total = 0
    for process in family(server):
        rows = Path(f"/proc/{process}/smaps_rollup").read_text().splitlines()
        total += next(int(row.split()[1]) for row in rows if row.startswith("Pss:"))
    return total / 1024


def family(process: int) -> list[int]:
    """A process and all that it started, whichever of its threads did."""
    found = [process]
    for thread in Path(f"/proc/{process}/task").iterdir():
        for child in (thread / "children").read_text().split():
            found += family(int(child))
    return found


async def phones(stack: AsyncExitStack, root: str, job: str) -> None:
    """Seven phones: each with its round begun, a mark kept, and its stream open."""
    for count in range(CLIENTS):
        client = f"{count:016x}"
        session = await stack.enter_async_context(
            ClientSession(headers={"Origin": root, "Cookie": f"matrixcheck-client={client}"})
        )
        base = f"{root}/job/{job}/switches"
        for path, body in (("begin", {"sort": "roll"}), ("mark", {"text": f"{11 + count}"})):
            sent = json.dumps({"client": client, "send": f"{client}{path}", **body})
            as_json = {"Content-Type": "application/json"}
            async with session.post(f"{base}/{path}", data=sent, headers=as_json) as answer:
                assert answer.status == 200, await answer.text()
        async with session.get(f"{base}/roll") as page:
            assert page.status == 200
        stream = await stack.enter_async_context(session.get(f"{root}/live?job={job}"))
        await stream.content.readline()


async def terminals(stack: AsyncExitStack, root: str, job: str) -> None:
    """Seven terminals in a browser, each with its program."""
    session = await stack.enter_async_context(ClientSession(headers={"Origin": root}))
    for _ in range(CLIENTS):
        address = f"{root}/screens?job={job}&matrix=switches&{SIZE}"
        page = await stack.enter_async_context(session.ws_connect(address, max_msg_size=0))
        await read_until(page, "number and Enter")


async def held_by(book: str, job: str, clients: Callable[[AsyncExitStack, str, str], Awaitable[None]]) -> float:
    """MiB that a fresh server holds with seven clients of a kind."""
    server, root = await served(book)
    try:
        async with AsyncExitStack() as stack:
            await clients(stack, root, job)
            return memory(server.pid)
    finally:
        server.terminate()
        await server.wait()


async def measure(book: str, job: str, repeats: int) -> bool:
    """Measure all, print it, and return whether every figure of the page is reached."""
    numbers = [cell.number for cell in Bench(Path(book)).state(job).layout.matrix("switches").fitted]
    server, root = await served(book)
    try:
        async with async_playwright() as playwright:
            browser = await playwright.chromium.launch(
                executable_path=shutil.which("chromium"), args=["--no-sandbox", "--disable-gpu"]
            )
            page, screens = f"{root}/job/{job}/switches/roll", f"{root}/terminal?job={job}"
            used = "document.getElementById('status')?.textContent === 'all kept'"
            drawn = "document.body?.classList.contains('-first-byte')"
            opening = [await opened(browser, page, PHONE, used) for _ in range(repeats)]
            opening_screens = [await opened(browser, screens, DESKTOP, drawn) for _ in range(repeats)]
            kept, seen = await marks_on_page(browser, root, job, numbers[-20:])
            kept_screens = await marks_in_terminal(root, job, numbers[20:40])
            await browser.close()
    finally:
        server.terminate()
        await server.wait()
    held, held_screens = await held_by(book, job, phones), await held_by(book, job, terminals)
    rows = (
        ("opening, s", statistics.median(opening), statistics.median(opening_screens), OPEN_SECONDS),
        ("mark to kept, s", statistics.median(kept), statistics.median(kept_screens), KEPT_SECONDS),
        ("seen by another phone, s", statistics.median(seen), None, SEEN_SECONDS),
        (f"memory with {CLIENTS} clients, MiB", held, held_screens, MEMORY_MIB),
    )
    print("                              page   terminal   at most")
    for what, ours, theirs, most in rows:
        other = f"{theirs:9.3f}" if theirs is not None else "        -"
        print(f"{what:28} {ours:7.3f} {other} {most:9}")
    return all(ours <= most for _, ours, _, most in rows)


def main(argv: list[str]) -> int:
    """Measure and print; 1 when a figure is missed."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench phone", description=__doc__)
    parser.add_argument("--repeats", type=int, default=7, help="how often each is opened")
    repeats = parser.parse_args(argv).repeats
    with tempfile.TemporaryDirectory() as folder:
        book, job = new_book(Path(folder))
        return int(not asyncio.run(measure(book, job, repeats)))
