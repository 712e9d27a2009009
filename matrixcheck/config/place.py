"""Where the configuration file lies, and what holds by it and all else that sets something."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

import platformdirs

from matrixcheck.config.configuration import Configuration, FileSettings, resolved

if TYPE_CHECKING:
    from matrixcheck.diagnosis.machine.priors import Rates

VARIABLE = "MATRIXCHECK_CONFIG"


def config_path(environment: Mapping[str, str]) -> Path:
    """Say where the configuration file is, whether it is there or not."""
    named = environment.get(VARIABLE, "")
    if named:
        return Path(named).absolute()
    return platformdirs.user_config_path("matrixcheck", appauthor=False) / "config.toml"


def load(environment: Mapping[str, str], options: Mapping[str, Any] | None = None) -> Configuration:
    """Give what holds. Raises InputError for a file that can't be taken as it stands, UsageError for a variable."""
    path = config_path(environment)
    return resolved(_file_at(path), environment, options or {}, Path.cwd())


def keep_theme(environment: Mapping[str, str], name: str) -> None:
    """Let the theme that was chosen stay chosen. Raises UsageError, InputError where the file can't keep it."""
    # Few change it.
    from matrixcheck.config.toml import set_value  # noqa: PLC0415

    set_value(config_path(environment), "theme", name)


def read_rates_at(path: Path | None) -> Rates | None:
    """Read a workshop's own rates, where it has any. Raises InputError."""
    if path is None:
        return None
    # Few have any.
    from matrixcheck.diagnosis.machine.rates_file import read_rates  # noqa: PLC0415

    return read_rates(path)


def is_there(path: Path) -> bool:
    """Return whether there is anything at a path. What can't be looked at is said by whoever reads it."""
    try:
        path.stat()
    except (FileNotFoundError, NotADirectoryError):
        return False
    except OSError:
        return True
    return True


def _file_at(path: Path) -> FileSettings:
    if not is_there(path):
        return FileSettings(path, {}, {})
    # Most start without such a file, and the first paint must not wait for what reads TOML.
    from matrixcheck.config.toml import settings_of  # noqa: PLC0415

    return settings_of(path)
