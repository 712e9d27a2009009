"""Commands on what a person has set: show it with where it comes from, name its file, change a value of it."""

import os
from typing import TYPE_CHECKING, Annotated, Any

import typer

from matrixcheck.cli.common import AsJson, configuration_of, print_json
from matrixcheck.cli.saying import say

if TYPE_CHECKING:
    from matrixcheck.config.configuration import Configuration, Origin

config = typer.Typer(
    help="Show or change what is set.\n\n"
    "\b\n"
    "theme         dark or light\n"
    "book          the bench book to use\n"
    "initials      of who marks, at most 4 letters, kept with every entry\n"
    "mains_region  limit for earth continuity: 0.1-ohm-plus-lead (of the lead's\n"
    "              own conductor), 0.3-ohm-by-length, 1-ohm; local codes first\n"
    "bell          on or off: ring for every number kept in a roll\n"
    "rates         a file with the failure rates of your own workshop\n\n"
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
                key: {"value": _plain(getattr(holds, key)), "from": origin.source, "where": origin.name}
                for key, origin in holds.origins.items()
            }
        )
        return
    for line in _lines(holds):
        say(line)


@config.command("path")
def path() -> None:
    """Print where the configuration file is, or would be."""
    from matrixcheck.config.place import config_path

    say(str(config_path(os.environ)))


@config.command("set")
def set_setting(
    key: Annotated[str, typer.Argument(metavar="KEY", help="One that `show` lists.", show_default=False)],
    value: Annotated[str, typer.Argument(metavar="VALUE", help="What it shall be.", show_default=False)],
) -> None:
    """Set a value in the configuration file. Comments in it stay."""
    from matrixcheck.config.place import config_path
    from matrixcheck.config.toml import set_value

    path = config_path(os.environ)
    variable = set_value(path, key, value)
    say(f"{key} set in {path}")
    if os.environ.get(variable):
        say(f"{variable} is set as well, and comes first")


def _lines(holds: "Configuration") -> list[str]:
    rows = [(key, _words(getattr(holds, key)), _where(origin)) for key, origin in holds.origins.items()]
    wide = [max(len(row[column]) for row in rows) for column in range(2)]
    return [f"{key:<{wide[0]}}  {value:<{wide[1]}}  {where}" for key, value, where in rows]


def _words(value: Any) -> str:
    if isinstance(value, bool):
        return "on" if value else "off"
    return "-" if value is None or value == "" else str(value)


def _where(origin: "Origin") -> str:
    return " ".join(filter(None, (origin.source, origin.name)))


def _plain(value: Any) -> Any:
    return value if value is None or isinstance(value, bool) else str(value)


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.add_typer(config, name="config")
