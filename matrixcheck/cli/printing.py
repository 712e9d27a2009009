"""Print a page as PDF with a browser that is installed, without showing it."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import tempfile
from pathlib import Path

from matrixcheck.errors import UsageError

BROWSERS = ("chromium", "chromium-browser")
"""Programs that print a page when asked so on the command line, by the names that free systems give them."""
LONGEST_SECONDS = 120.0
"""How long a browser may print: beyond that it hangs."""
NODE = re.compile(rb"\(node([0-9]{8})\)")
STAMP = re.compile(rb"/(CreationDate|ModDate) \(D:\d{14}")


def printed(html: str, browser: Path) -> bytes:
    """Return a page as PDF, the same for the same page. Raises UsageError where the browser prints nothing."""
    with tempfile.TemporaryDirectory(prefix="matrixcheck-", ignore_cleanup_errors=True) as folder:
        page, result = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(html, encoding="utf-8")
        _run([str(browser), *_options(Path(folder)), f"--print-to-pdf={result}", page.as_uri()], browser)
        try:
            found = result.read_bytes()
        except OSError:
            found = b""
    if not found.startswith(b"%PDF-"):
        raise _failed(browser)
    return _lasting(found)


def the_browser(own: Path | None) -> Path:
    """Return the browser that prints: the one that is set, else one on the path. Raises UsageError without any."""
    if own is not None:
        if not own.is_file():
            raise UsageError(f"there is no browser {own}", "`config set browser FILE` names another")
        return own
    found = find_browser()
    if found is None:
        raise UsageError(
            "no browser that can write PDF was found",
            "write .html and print it from yours, install chromium, or `config set browser FILE`",
        )
    return found


def find_browser() -> Path | None:
    """Return the path of a browser that prints, None where none is on the path."""
    return next((Path(found) for name in BROWSERS if (found := shutil.which(name))), None)


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


def _run(command: list[str], browser: Path) -> None:
    try:
        subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, timeout=LONGEST_SECONDS, check=True)
    except (OSError, subprocess.SubprocessError):
        raise _failed(browser) from None


def _failed(browser: Path) -> UsageError:
    return UsageError(f"{str(browser)!r} did not write a PDF", "write .html and print it from a browser")
