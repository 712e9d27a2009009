"""Print a page as PDF with a browser that is installed, without showing it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from matrixcheck.errors import UsageError

BROWSERS = (
    "chromium", "chromium-browser", "chrome", "google-chrome", "google-chrome-stable", "msedge", "microsoft-edge",
    "microsoft-edge-stable", "brave-browser",
)  # fmt: skip
"""Programs that print a page when asked so on the command line, by their usual names."""
ELSEWHERE = (
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
LONGEST_SECONDS = 120.0
"""How long a browser may print: beyond that it hangs."""
NODE = re.compile(rb"\(node([0-9]{8})\)")
STAMP = re.compile(rb"/(CreationDate|ModDate) \(D:\d{14}")


def printed(html: str) -> bytes:
    """Return a page as PDF, the same for the same page.

    Raises UsageError where no browser is installed, or it prints nothing.
    """
    browser = the_browser()
    with tempfile.TemporaryDirectory(prefix="matrixcheck-", ignore_cleanup_errors=True) as folder:
        page, result = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(html, encoding="utf-8")
        _run([browser, *_options(Path(folder)), f"--print-to-pdf={result}", page.as_uri()], browser)
        try:
            found = result.read_bytes()
        except OSError:
            found = b""
    if not found.startswith(b"%PDF-"):
        raise _failed(browser)
    return _lasting(found)


def the_browser() -> str:
    """Return the path of a browser that prints. Raises UsageError where none is installed."""
    found = find_browser()
    if found is None:
        raise UsageError(
            "no browser that can write PDF was found", "write .html and print it from yours, or install chromium"
        )
    return found


def find_browser() -> str | None:
    """Return the path of a browser that prints, None where none is installed."""
    on_path = (shutil.which(name) for name in BROWSERS)
    return next(filter(None, on_path), next((name for name in ELSEWHERE if Path(name).is_file()), None))


def _lasting(pdf: bytes) -> bytes:
    """Return the PDF without what differs from one printing to the next: its times, and from where nodes count."""
    least = min((int(number) for number in NODE.findall(pdf)), default=0)
    counted = NODE.sub(lambda found: b"(node%08d)" % (int(found[1]) - least), pdf)
    return STAMP.sub(rb"/\1 (D:20000101000000", counted)


def _options(folder: Path) -> tuple[str, ...]:
    # A browser refuses its sandbox to the superuser; the page is ours, and runs no script.
    superuser = ("--no-sandbox",) if hasattr(os, "geteuid") and os.geteuid() == 0 else ()
    return (
        "--headless", "--disable-gpu", "--no-first-run", "--disable-extensions", "--no-pdf-header-footer",
        f"--user-data-dir={folder / 'profile'}", *superuser,
    )  # fmt: skip


def _run(command: list[str], browser: str) -> None:
    try:
        subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=LONGEST_SECONDS, check=True)
    except (OSError, subprocess.SubprocessError):
        raise _failed(browser) from None


def _failed(browser: str) -> UsageError:
    return UsageError(f"{browser!r} did not write a PDF", "write .html and print it from a browser")
