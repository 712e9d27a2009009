"""What holds of everything that can be set, and where it comes from: option, environment, file, default."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, NamedTuple

from matrixcheck.config.settings import SETTINGS, Setting, SettingError
from matrixcheck.errors import UsageError
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.tui.keymap import Keymap
from matrixcheck.tui.look import Look

Source = Literal["option", "environment", "file", "default"]


class Origin(NamedTuple):
    """Where a value comes from, and what it is called there: an option, a variable, a file with its line."""

    source: Source
    name: str = ""


class FileSettings(NamedTuple):
    """The settings that a configuration file gives, as values, with the line of each."""

    path: Path
    values: Mapping[str, Any]
    lines: Mapping[str, int]


@dataclass(frozen=True, slots=True)
class Configuration:
    """All settings (see `settings.py`), and by key where each comes from."""

    theme: str
    book: Path
    initials: str
    mains_region: EarthLimit
    bell: bool
    rates: Path | None
    learned: bool
    browser: Path | None
    keys: Keymap
    origins: Mapping[str, Origin]

    @property
    def look(self) -> Look:
        """Return what of it the screens start with."""
        return Look(self.theme, self.bell, self.keys, self.mains_region)


def resolved(
    file: FileSettings, environment: Mapping[str, str], options: Mapping[str, Any], folder: Path
) -> Configuration:
    """Take each setting from where it comes first. Files that the environment names lie in `folder`.

    `options` are the values given on the command line, by key. Raises UsageError where the environment gives something
    impossible.
    """
    found = {setting.key: _found(setting, file, environment, options, folder) for setting in SETTINGS}
    values = {key: value for key, (value, _) in found.items()}
    return Configuration(**values, origins={key: origin for key, (_, origin) in found.items()})


def _found(
    setting: Setting, file: FileSettings, environment: Mapping[str, str], options: Mapping[str, Any], folder: Path
) -> tuple[Any, Origin]:
    if setting.key in options:
        return options[setting.key], Origin("option", f"--{setting.key}")
    given = environment.get(setting.variable, "")
    if given:
        return _typed(setting, given, folder), Origin("environment", setting.variable)
    if setting.key in file.values:
        return file.values[setting.key], Origin("file", f"{file.path}:{file.lines[setting.key]}")
    return setting.default(), Origin("default")


def _typed(setting: Setting, text: str, folder: Path) -> Any:
    try:
        return setting.check(setting.data_of(text, folder), folder)
    except SettingError as refusal:
        raise UsageError(
            f"{setting.variable}: {refusal.reason}", f"set it to {setting.takes}, or leave it unset"
        ) from None
