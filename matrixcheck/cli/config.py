"""Commands on what a person has set: show it with where it comes from, name its file, change a value of it."""

import os
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from matrixcheck.cli import completing
from matrixcheck.cli.arguments import AsJson
from matrixcheck.cli.as_json import print_json, say_or_json
from matrixcheck.cli.common import configuration_of
from matrixcheck.cli.saying import say

if TYPE_CHECKING:
    from matrixcheck.config.configuration import Origin

config = typer.Typer(
    help="Show or change what is set.\n\n"
    "\b\n"
    "theme         dark, light, high-contrast or high-contrast-light\n"
    "book          the bench book to use\n"
    "initials      of who marks, at most 4 letters, kept with every entry\n"
    "mains_region  limit for earth continuity: 0.1-ohm-plus-lead (of the lead's\n"
    "              own conductor), 0.3-ohm-by-length, 1-ohm; local codes first\n"
    "bell          on or off: ring for every number kept in a roll\n"
    "rates         a file with the failure rates of your own workshop\n"
    "learned       on or off: let the closed repairs of the book move the rates\n"
    "browser       the program that writes PDFs, where chromium is not on the path\n"
    "keys.ACTION   the key of an action; `config keys` lists them\n\n"
    "An option comes before an environment variable (MATRIXCHECK_THEME and so on), that before the configuration file, "
    "that before the default. MATRIXCHECK_CONFIG names another file.",
)


@config.command("show")
def show_settings(context: typer.Context, as_json: AsJson = False) -> None:
    """List every setting with its value and where that comes from."""
    holds = configuration_of(context)
    if as_json:
        print_json(
            {
                "format": 1,
                "settings": {
                    key: {"value": _plain(getattr(holds, key)), "from": origin.source, "where": origin.name}
                    for key, origin in holds.origins.items()
                },
            }
        )
        return
    rows = [
        (key, _words(value), _where(origin))
        for whole, origin in holds.origins.items()
        for key, value in _entries(whole, getattr(holds, whole))
    ]
    _say_table(rows)


@config.command("path")
def path(as_json: AsJson = False) -> None:
    """Print where the configuration file is, or would be."""
    from matrixcheck.config.place import config_path

    found = str(config_path(os.environ))
    say_or_json(found, {"path": found}, as_json)


@config.command("set")
def set_setting(
    key: Annotated[
        str,
        typer.Argument(
            metavar="KEY",
            help="A setting that `show` lists.",
            show_default=False,
            autocompletion=completing.settings,
        ),
    ],
    value: Annotated[
        str,
        typer.Argument(metavar="VALUE", help="The new value.", show_default=False, autocompletion=completing.values),
    ],
    as_json: AsJson = False,
) -> None:
    """Set a value in the configuration file. Comments in it stay."""
    from matrixcheck.config.place import config_path
    from matrixcheck.config.toml import set_value

    file = config_path(os.environ)
    variable = set_value(file, key, value)
    first = variable if os.environ.get(variable) else ""
    more = f"\n{first} is set as well, and comes first" if first else ""
    say_or_json(f"{key} set in {file}{more}", {"path": str(file), "key": key, "comes_first": first}, as_json)


@config.command("keys")
def show_keys(context: typer.Context, as_json: AsJson = False) -> None:
    """List the actions whose keys can be changed, each with its key.

    Set one with `config set keys.ACTION KEY`. Enter, Esc, arrows and digits stay what they are.
    """
    from matrixcheck.tui.keymap import key_of, remappable

    keymap = configuration_of(context).keys
    if as_json:
        listed = [
            {"action": name, "key": key_of(action, keymap), "meaning": action.meaning, "places": list(places)}
            for name, (action, places) in remappable().items()
        ]
        print_json({"format": 1, "keys": listed})
        return
    _say_table(
        [
            (name, key_of(action, keymap), f"{action.meaning} ({', '.join(places)})")
            for name, (action, places) in remappable().items()
        ]
    )


def _entries(key: str, value: Any) -> list[tuple[str, Any]]:
    """Return a setting as the lines that show it: a table has one for each entry."""
    return (
        [(f"{key}.{name}", one) for name, one in value.items()]
        if isinstance(value, Mapping) and value
        else [(key, value)]
    )


def _say_table(rows: Sequence[tuple[str, str, str]]) -> None:
    first, second = (max(len(row[column]) for row in rows) for column in range(2))
    for key, value, more in rows:
        say(f"{key:<{first}}  {value:<{second}}  {more}")


def _words(value: Any) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return str(value) if value or isinstance(value, Path) else "-"


def _where(origin: "Origin") -> str:
    return " ".join(filter(None, (origin.source, origin.name)))


def _plain(value: Any) -> Any:
    if isinstance(value, Mapping):
        return dict(value)
    return value if value is None or isinstance(value, bool) else str(value)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.add_typer(config, name="config")
