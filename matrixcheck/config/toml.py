"""The configuration file: how it is read, and how one value of it is changed."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from matrixcheck.config.configuration import FileSettings
from matrixcheck.config.place import VARIABLE, is_there
from matrixcheck.config.settings import SETTINGS, Setting, SettingError
from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.locate import line_of
from matrixcheck.layout.problems import Flaw, Problem, nearest
from matrixcheck.layout.toml_file import TomlFile, bytes_of, toml_in
from matrixcheck.whole_files import write_whole

WHAT = "configuration"
LARGEST_FILE = 200_000
_BY_KEY = {setting.key: setting for setting in SETTINGS}


def settings_of(path: Path) -> FileSettings:
    """Read a configuration file. Raises InputError with its first problem."""
    return _settings_in(bytes_of(path, WHAT, LARGEST_FILE), path)


def set_value(path: Path, key: str, text: str) -> str:
    """Set one value in the file, which needn't be there yet; comments and everything else in it stay.

    Give the name of the environment variable that would come before it.

    Raises UsageError for a key or value that can't be, InputError for a file with something else wrong in it, leaving
    it as it was.
    """
    # A person may keep the file elsewhere and lay a link to it.
    target = path.resolve()
    before = _toml(bytes_of(target, WHAT, LARGEST_FILE), target) if is_there(target) else TomlFile({}, "")
    name, _, entry = key.partition(".")
    setting = _setting(key, name, entry)
    try:
        data = setting.data_of(text, Path.cwd())
        setting.check({**_table(before, name), entry: data} if entry else data, path.parent)
    except SettingError as refusal:
        about = f"{name}.{refusal.within}" if refusal.within else key
        meant = f"did you mean '{refusal.meant}'?" if refusal.meant else f"give {setting.takes}"
        raise UsageError(f"{about}: {refusal.reason}", meant) from None
    changed = _changed(before.text, target, name, entry, data)
    _settings_in(changed.encode(), target)
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise UsageError(f"{str(target.parent)!r}: {error.strerror}", f"make that folder, or set {VARIABLE}") from None
    write_whole(target, changed)
    return setting.variable


def _setting(key: str, name: str, entry: str) -> Setting:
    """Return the setting that a key names; of a table one entry is named, as in `keys.undo`."""
    setting = _BY_KEY.get(name)
    if setting is None:
        raise UsageError(f"no setting {key!r}", _meant(key))
    if setting.table and not entry:
        raise UsageError(f"{key} has entries", f"name one, as in {key}.NAME; `matrixcheck config keys` lists them")
    if entry and not setting.table:
        raise UsageError(f"{name} has no entries", f"set {name} itself")
    return setting


def _table(file: TomlFile, name: str) -> dict[str, Any]:
    found = file.content.get(name, {})
    return found if isinstance(found, dict) else {}


def _changed(text: str, path: Path, name: str, entry: str, data: Any) -> str:
    """Return the text of the file with one value, or one entry of a table, changed."""
    # What only reads the configuration must not wait for it.
    import tomlkit  # noqa: PLC0415
    from tomlkit.exceptions import TOMLKitError  # noqa: PLC0415

    try:
        document = tomlkit.parse(text)
        if entry:
            document.setdefault(name, tomlkit.table())[entry] = data
        else:
            document[name] = data
        return tomlkit.dumps(document)
    except TOMLKitError as error:
        raise InputError(f"{path}: {error}", "change it with an editor") from None


def _settings_in(data: bytes, path: Path) -> FileSettings:
    file = _toml(data, path)
    values: dict[str, Any] = {}
    flaws: list[Flaw] = []
    for key, given in file.content.items():
        setting = _BY_KEY.get(key)
        if setting is None:
            flaws.append(Flaw((key,), "no such setting", nearest(key, _BY_KEY)))
            continue
        try:
            values[key] = setting.check(given, path.parent)
        except SettingError as refusal:
            flaws.append(_flaw(setting, refusal))
    if flaws:
        raise _refused(file.located(flaws, str(path)))
    lines = file.lines()
    return FileSettings(path, values, {key: line_of((key,), lines) for key in values})


def _toml(data: bytes, path: Path) -> TomlFile:
    file = toml_in(data, str(path), WHAT)
    if isinstance(file, Problem):
        raise _refused((file,))
    return file


def _flaw(setting: Setting, refusal: SettingError) -> Flaw:
    return Flaw((setting.key, *filter(None, [refusal.within])), refusal.reason, refusal.meant)


def _refused(problems: tuple[Problem, ...]) -> InputError:
    more = f"; and {len(problems) - 1} more" if problems[1:] else ""
    return InputError(f"{problems[0]}{more}", "fix that line; `matrixcheck config --help` lists the settings")


def _meant(key: str) -> str:
    near = nearest(key, _BY_KEY)
    return f"did you mean '{near}'?" if near else f"there are {', '.join(_BY_KEY)}"
