"""Photograph the page for a phone as a browser shows it, on the invented machine."""

from __future__ import annotations

import contextlib
import io
import shutil
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

from PIL import Image
from playwright.sync_api import Page, sync_playwright

SIZE = {"width": 390, "height": 664}
COLOURS = 48
"""How many colours a picture keeps: enough to read it, and small."""


def photographs(book: Path, job: str) -> dict[str, bytes]:
    """The grid of a job, a roll, a walk and the card of a fault, as PNG."""
    with _served(book) as root, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=shutil.which("chromium"), args=["--no-sandbox"])
        page = browser.new_context(viewport=SIZE, has_touch=True, is_mobile=True).new_page()
        found = {}
        page.goto(f"{root}/job/{job}")
        page.locator("a[href*='/card/']").first.wait_for()
        page.locator("nav a", has_text="Switch matrix").tap()
        found["page-job"] = _png(page)
        page.goto(f"{root}/job/{job}/card/1")
        page.get_by_role("heading", level=1).wait_for()
        found["page-card"] = _png(page)
        page.goto(f"{root}/job/{job}/switches/roll")
        _press(page, "2", "7", "works")
        page.locator("#became.-kept").wait_for()
        _press(page, "4")
        found["page-roll"] = _png(page)
        page.goto(f"{root}/job/{job}/lamps/walk")
        _press(page, "works", "works", "dead")
        page.locator("#message", has_text="kept").wait_for()
        found["page-walk"] = _png(page)
        browser.close()
        return found


def _press(page: Page, *keys: str) -> None:
    for key in keys:
        page.locator(f'[data-layer]:not([hidden]) :is([data-type="{key}"], [data-act="{key}"])').tap()


def _png(page: Page) -> bytes:
    kept = io.BytesIO()
    picture = Image.open(io.BytesIO(page.screenshot())).convert("RGB")
    picture.quantize(COLOURS).save(kept, "PNG", optimize=True)
    return kept.getvalue()


@contextlib.contextmanager
def _served(book: Path) -> Iterator[str]:
    """Serve a book on this computer, at the address that is given."""
    command = (sys.executable, "-m", "matrixcheck.cli.main", "serve", "--book", str(book), "--port", "0")
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        said = next(line for line in server.stdout if "http://" in line)
        yield next(word for word in said.split() if word.startswith("http://")).rstrip("/")
        server.terminate()
