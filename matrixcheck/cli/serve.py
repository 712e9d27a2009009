"""The commands that show the screens in a browser, and look after the devices that were paired."""

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer
from typer.core import TyperGroup

from matrixcheck.cli.arguments import AsJson, JobToOpen
from matrixcheck.cli.as_json import print_json, say_or_json
from matrixcheck.cli.common import bench_of, book_path, configuration_of, rates_of
from matrixcheck.cli.saying import say
from matrixcheck.errors import UsageError

if TYPE_CHECKING:
    from matrixcheck.web.devices import Device, Devices
    from matrixcheck.web.tls import Certificate


class _ServeGroup(TyperGroup):
    """`serve [JOB]`, which the names of its commands go before: a job of such a name opens by a start of its id."""

    allow_interspersed_args = True

    def parse_args(self, ctx: Any, args: list[str]) -> list[str]:
        """Read a command of this group, or else the options and the job."""
        if args and args[0] in self.commands:
            ctx.allow_interspersed_args = False
            args = ["", *args]  # no job
        return super().parse_args(ctx, args)

    def get_params(self, ctx: Any) -> list[Any]:
        """Return the options, and the job where none of the group's commands asks how it is called."""
        found = super().get_params(ctx)
        return [one for one in found if ctx.command is self or one.param_type_name != "argument"]


group = typer.Typer(cls=_ServeGroup, invoke_without_command=True, subcommand_metavar="[COMMAND]")


@group.callback()
def serve(
    context: typer.Context,
    job: JobToOpen = None,
    port: Annotated[int, typer.Option("--port", min=0, max=65535, help="The port; 0 takes any free one.")] = 8417,
    lan: Annotated[
        bool, typer.Option("--lan", help="Let paired devices in the local network in; shows a code to pair one.")
    ] = False,
    address: Annotated[
        str | None,
        typer.Option(
            "--address",
            metavar="IPV4",
            help="With --lan: which of this computer's addresses, where it has several.",
            show_default=False,
        ),
    ] = None,
    tls: Annotated[
        tuple[Path, Path] | None,
        typer.Option(
            "--tls", metavar="CERT KEY", help="Serve https with this certificate and key, in PEM.", show_default=False
        ),
    ] = None,
    tls_own: Annotated[
        bool, typer.Option("--tls-own", help="Serve https with a certificate of its own, kept beside the book.")
    ] = False,
    layouts: Annotated[
        Path | None,
        typer.Option(
            "--layouts",
            metavar="DIR",
            help="A folder whose layout files a new job can choose as well, over the network too.",
            show_default=False,
        ),
    ] = None,
) -> None:
    """Show the screens in a browser. On this computer, or with --lan in the local network."""
    if context.invoked_subcommand is not None:
        return
    if address is not None and not lan:
        raise UsageError("--address goes with --lan", "add --lan, or leave it out")
    if tls is not None and tls_own:
        raise UsageError("--tls and --tls-own don't go together", "leave one of them out")
    rates, region = rates_of(context), configuration_of(context).mains_region
    found = bench_of(context).state(job).id if job else None
    from matrixcheck.layout.folder import checked_folder
    from matrixcheck.web.network import LOOPBACK, checked_address, lan_address
    from matrixcheck.web.start import Wanted
    from matrixcheck.web.start import serve as serve_screens

    book = book_path(context)
    reached_at = (checked_address(address) if address else lan_address()) if lan else None
    folder = checked_folder(layouts) if layouts else None
    certificate = _certificate(tls, book if tls_own else None, reached_at or LOOPBACK)
    serve_screens(Wanted(book, found, port, reached_at, folder, certificate, rates, region), sys.stdout)


@group.command("devices")
def devices(context: typer.Context, as_json: AsJson = False) -> None:
    """List the paired devices, and when each was seen last."""
    found = _devices(context).listed()
    if as_json:
        print_json({"format": 1, "devices": list(map(_plain, found))})
        return
    if not found:
        say("No device is paired: start `matrixcheck serve --lan` and scan the code.")
        return
    for each in found:
        paired, seen = (f"{at.astimezone():%Y-%m-%d %H:%M}" for at in (each.paired, each.seen))
        say(f"{each.id:>3}  {each.name}\n     paired {paired}, last seen {seen}")


@group.command("forget")
def forget(
    context: typer.Context,
    device: Annotated[
        str, typer.Argument(metavar="DEVICE", help="Its number or name, as `serve devices` has it.", show_default=False)
    ],
    as_json: AsJson = False,
) -> None:
    """Shut a paired device out at once.

    A server that is running closes its open pages. The device can be paired anew.
    """
    gone = _devices(context).forget(device)
    say_or_json(f"Forgotten: {gone.name} (device {gone.id}).", {"forgotten": _plain(gone)}, as_json)


def _plain(device: "Device") -> dict[str, object]:
    return {
        "device": device.id,
        "name": device.name,
        "paired": device.paired.isoformat(),
        "seen": device.seen.isoformat(),
    }


def _devices(context: typer.Context) -> "Devices":
    from matrixcheck.web.devices import Devices, file_beside

    return Devices(file_beside(book_path(context)))


def _certificate(brought: tuple[Path, Path] | None, book: Path | None, address: str) -> "Certificate | None":
    """Return the certificate that was named, or with a book our own for an address; None for plain http."""
    if brought is not None:
        from matrixcheck.web.tls import brought as certificate_of

        return certificate_of(*brought)
    if book is not None:
        from matrixcheck.web.tls import own

        return own(book, address)
    return None


def add_to(app: typer.Typer) -> None:
    """Put these commands into the program."""
    app.add_typer(group, name="serve")
