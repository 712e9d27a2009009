"""The one place where the command line's output gets its colours.

Only a terminal has them, and only where NO_COLOR is not set. They are the terminal's own sixteen, so that its theme
keeps them readable, and they say nothing that a sign or a word beside them doesn't say.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from types import MappingProxyType

from rich.console import Console
from rich.text import Text
from rich.theme import Theme

STYLES: Mapping[str, str] = MappingProxyType(
    {
        "working": "cyan",
        "dead": "bold red",
        "stuck": "bold magenta",
        "wavering": "yellow",
        "untested": "dim",
        "danger": "bold red",
        "warning": "yellow",
        "done": "green",
        "undone": "dim",
    }
)
"""What is coloured, and how."""
THEME = Theme({f"state.{name}": style for name, style in STYLES.items()})

_STATES = re.compile(
    r"(?P<working>\b(?:working|passed|good|no problems found)\b)"
    r"|(?P<dead>\b(?:dead|faulty)\b)"
    r"|(?P<stuck>\bstuck\b)"
    r"|(?P<wavering>\b(?:comes and goes|flickers|retest due)\b)"
    r"|(?P<untested>\b(?:untested|not tested yet)\b)"
    r"|(?P<warning>\bwarning:)"
    r"|(?P<danger>\berror:|\b(?:FAILED|NOT FOUND|NOT SAID|SAID STILL|DANGER)\b|\bswitch off(?: now| at once)?\b)"
)
_FIRST = re.compile(r"(?P<done>(?:kept|redone|counts again)(?=  )|Written:)|(?P<undone>undone)(?=  )")


def coloured(line: str, style: str = "") -> Text:
    """Return a line with its states, and the word that says what was done, in their colours."""
    text = Text(line, style)
    first = _FIRST.match(line)
    for found in (*([first] if first else []), *_STATES.finditer(line)):
        text.stylize(f"state.{found.lastgroup}", *found.span())
    return text


def in_colour(line: str) -> str:
    """Return a line as standard output shows it: with its colours where that takes any, however long it is."""
    out = Console(theme=THEME, highlight=False, markup=False, emoji=False)
    with out.capture() as captured:
        out.print(coloured(line), end="", soft_wrap=True)
    return captured.get()
