"""What all tests share.

A machine without Chromium leaves the browser tests out and says so; CI must have it. Properties are tried on the same
examples in every run, on others and twice as many in each run with HYPOTHESIS_PROFILE=random.
"""

from __future__ import annotations

import gc
import os
import shutil

import pytest
from hypothesis import settings

# A test run has a worker for each core: numpy's own threads would only take turns with them.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Where Python may leave no compiled modules (images of containers often set that), each program that a test starts
# would compile all of this one again, which takes twice as long as the start itself. Workers and programs inherit it.
os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# No deadlines: how long an example takes says more of the machine than of what is tested.
settings.register_profile("fixed", deadline=None, derandomize=True, max_examples=50)
settings.register_profile("random", deadline=None, print_blob=True)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "fixed"))

BROWSER_TESTS = [
    "web/test_page_accessible.py",
    "web/test_page_rounds.py",
    "web/test_page_scripts.py",
    "web/test_photos_browser.py",
    "web/test_report_printed.py",
    "web/test_serve_browser.py",
    "web/test_page_taps.py",
]

collect_ignore = [] if shutil.which("chromium") or os.environ.get("CI") else BROWSER_TESTS


def pytest_collection_finish() -> None:
    """Look for garbage seldom, and not in what was imported and collected: that would be a fifth of the run."""
    gc.collect()
    gc.freeze()
    gc.set_threshold(20_000, 20, 20)


def pytest_unconfigure() -> None:
    """Let all be looked through again: libraries complain at the end of the process of what they find left."""
    gc.unfreeze()


def pytest_report_header() -> str:
    """Whether the browser tests are part of this run."""
    if collect_ignore:
        return f"NOT TESTED HERE, for want of Chromium (apt-get install chromium): {', '.join(collect_ignore)}"
    return "browser tests: with Chromium"


@pytest.fixture(autouse=True)
def _own_surroundings(monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory) -> None:
    """No test touches the book of whoever runs it, or depends on what they or their terminal have set."""
    for variable in [name for name in os.environ if name.startswith("MATRIXCHECK_")]:
        monkeypatch.delenv(variable)
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path_factory.getbasetemp() / "default.book"))
    monkeypatch.setenv("MATRIXCHECK_CONFIG", str(tmp_path_factory.getbasetemp() / "no-config.toml"))
    monkeypatch.delenv("NO_COLOR", raising=False)
