"""The settings there are: which values each takes, and what holds where nobody set it.

A value comes as data (as TOML has it: text, true or false) or as a text that was typed, which stands for such data.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, NamedTuple

import platformdirs

from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import nearest, shown
from matrixcheck.record.clients import LONGEST_INITIALS, initials_of
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.tui.keymap import NO_KEYMAP, Keymap, KeyRefusedError, checked
from matrixcheck.tui.look import THEME_NAMES, Look

LONGEST_PATH = 4096
ON_OFF = ("on", "off")
SWITCHED = {"on": True, "true": True, "off": False, "false": False}


class SettingError(Exception):
    """A value that a setting can't take: why not, and what was probably meant."""

    def __init__(self, reason: str, meant: str | None = None, within: str = "") -> None:
        """Say which value is wrong; `within` is the entry of a table that is to blame."""
        super().__init__(reason)
        self.reason = reason
        self.meant = meant
        self.within = within


class Setting(NamedTuple):
    """One setting. `takes` says which values it takes, `default` gives what holds where nobody set it.

    `check` makes a value of data, for files named in `folder`; it raises SettingError. `data_of` gives the data that a
    typed text stands for, where `folder` is the one that was typed in. `words` are all that it takes, where these are
    few. The data of a `table` are entries by name, which are typed one by one.
    """

    key: str
    takes: str
    default: Callable[[], Any]
    check: Callable[[Any, Path], Any]
    data_of: Callable[[str, Path], Any] = lambda text, _: text
    words: tuple[str, ...] = ()
    table: bool = False

    @property
    def variable(self) -> str:
        """Return the environment variable that sets it, empty where none does."""
        return f"MATRIXCHECK_{self.key.upper()}" if not self.table else ""


def default_book() -> Path:
    """Return where the bench book is when nobody says otherwise: in the user's data folder."""
    return platformdirs.user_data_path("matrixcheck", appauthor=False) / "bench.book"


def _one_of(names: Sequence[str]) -> Callable[[Any, Path], str]:
    def check(data: Any, _: Path) -> str:
        text = _text(data)
        if text not in names:
            raise SettingError(f"{shown(text)} is not one of {', '.join(names)}", nearest(text, names))
        return text

    return check


def _earth_limit(data: Any, folder: Path) -> EarthLimit:
    return EarthLimit(_one_of(tuple(EarthLimit))(data, folder))


def _initials(data: Any, _: Path) -> str:
    try:
        return initials_of(_text(data))
    except UsageError as refused:
        raise SettingError(refused.message) from None


def _switched(data: Any, _: Path) -> bool:
    if not isinstance(data, bool):
        raise SettingError(f"{shown(data)} is neither true nor false")
    return data


def _typed_switch(text: str, _: Path) -> bool:
    try:
        return SWITCHED[text.strip().casefold()]
    except KeyError:
        raise SettingError(f"{shown(text)} is neither on nor off") from None


def _file(data: Any, folder: Path) -> Path:
    text = _text(data)
    if not text.strip() or len(text) > LONGEST_PATH or not text.isprintable():
        raise SettingError(f"{shown(text)} names no file")
    try:
        return folder / Path(text).expanduser()
    except RuntimeError:
        raise SettingError(f"{shown(text)} starts with the home folder of an unknown user") from None


def _typed_file(text: str, folder: Path) -> str:
    """Return a path that means the same file wherever it is read; one that begins at home stays as it was typed."""
    return text if text.startswith("~") or not text.strip() else str(folder / text)


def _keys(data: Any, _: Path) -> Keymap:
    if not isinstance(data, dict):
        raise SettingError(f"{shown(data)} is not a table: give it as `[keys]`, an action and its key on each line")
    try:
        return checked(data)
    except KeyRefusedError as refused:
        raise SettingError(refused.reason, refused.meant, within=refused.name) from None


def _text(data: Any) -> str:
    if not isinstance(data, str):
        raise SettingError(f"{shown(data)} is not text: put it in quotes")
    return data


SETTINGS = (
    Setting("theme", ", ".join(THEME_NAMES), lambda: Look().theme, _one_of(THEME_NAMES), words=THEME_NAMES),
    Setting("book", "a file name", default_book, _file, _typed_file),
    Setting("initials", f"at most {LONGEST_INITIALS} letters", lambda: "", _initials),
    Setting(
        "mains_region",
        ", ".join(EarthLimit),
        lambda: EarthLimit.PLUS_LEAD,
        _earth_limit,
        words=tuple(EarthLimit),
    ),
    Setting("bell", "on or off", lambda: Look().bell, _switched, _typed_switch, words=ON_OFF),
    Setting("rates", "a file name", lambda: None, _file, _typed_file),
    Setting("learned", "on or off", lambda: False, _switched, _typed_switch, words=ON_OFF),
    Setting("browser", "a file name", lambda: None, _file, _typed_file),
    Setting("keys", "a letter, a sign, Tab, Space, Bksp or F1 to F12", lambda: NO_KEYMAP, _keys, table=True),
)
