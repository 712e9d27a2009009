"""Who records: a name for each program and page that works on a book, the same as long as it is the same one.

Rounds and undo belong to a client. So one that comes back, a page after a reload, a terminal after a crash, finds the
round that it left.
"""

from __future__ import annotations

import getpass
import os
import platform
import re
from contextlib import suppress

from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown

LONGEST_INITIALS = 4
_PAGE = re.compile(r"[0-9a-z]{8,32}")


def initials_of(text: str) -> str:
    """Return initials as they are recorded; none is "". Raises UsageError for what is too long or no letters."""
    typed = text.strip()
    if len(typed) > LONGEST_INITIALS or not (typed == "" or typed.isalpha()):
        raise UsageError(f"{shown(typed)} is too long, or has more than letters", f"at most {LONGEST_INITIALS} letters")
    return typed


def command_line() -> str:
    """Return the command line of this user on this computer."""
    return f"command line of {_user()}"


def terminal() -> str:
    """Return the screens in this terminal; where it has no name, those of this process alone."""
    for stream in (0, 1, 2):
        with suppress(OSError, AttributeError):
            return f"terminal {os.ttyname(stream).removeprefix('/dev/')} of {_user()}"
    return f"terminal {fresh_page()} of {_user()}"


def page(key: str) -> str:
    """Return the page in a browser that gave this key."""
    return f"page {key}"


def page_key(given: str) -> str:
    """Return the key that a page gave, or a fresh one where it is none."""
    return given if _PAGE.fullmatch(given) else fresh_page()


def fresh_page() -> str:
    """Return a key that no page has yet."""
    return os.urandom(8).hex()


def _user() -> str:
    # A user without a name, as in some containers, is known by the number alone.
    try:
        name = getpass.getuser()
    except (OSError, KeyError):
        name = str(os.getuid())
    return f"{name}@{platform.node()}"
