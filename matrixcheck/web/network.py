"""Where to listen: an address of this computer in the local network, and the socket."""

from __future__ import annotations

import errno
import ipaddress
import socket

from matrixcheck.errors import UsageError

LOOPBACK = "127.0.0.1"

# A documentation address (RFC 5737), so nobody's. Choosing the route to it sends no packet.
_ANYWHERE = ("198.51.100.1", 9)


def lan_address() -> str:
    """Return the IPv4 address by which the local network reaches this computer. Raises UsageError without one."""
    for found in (_address_of_default_route(), *_addresses_of_own_name()):
        if found is not None and not ipaddress.ip_address(found).is_loopback:
            return found
    raise UsageError("this computer has no address in a local network", "join one, or name it with --address")


def checked_address(text: str) -> str:
    """Return an IPv4 address as typed. Raises UsageError when it is none, or stands for every network at once."""
    try:
        address = ipaddress.IPv4Address(text)
    except ValueError:
        raise UsageError(f"{text!r} is no IPv4 address", "give one of this computer's, like 192.168.1.20") from None
    if address.is_unspecified or address.is_multicast:
        raise UsageError(f"{text} stands for many networks", "give the one address that the phone should reach")
    return str(address)


def listening_socket(address: str, port: int) -> socket.socket:
    """Listen at `address` and return the socket; port 0 takes any free one. Raises UsageError when it can't be had."""
    listener = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    try:
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind((address, port))
        listener.listen(16)
    except OSError as error:
        listener.close()
        raise _refused(address, port, error) from error
    return listener


def _refused(address: str, port: int, error: OSError) -> UsageError:
    if error.errno == errno.EADDRINUSE:
        return UsageError(f"port {port} of {address} is in use by another program", "give another with --port")
    if error.errno == errno.EACCES:
        return UsageError(f"port {port} may not be opened by this user", "give one above 1023 with --port")
    if error.errno == errno.EADDRNOTAVAIL:
        return UsageError(f"{address} is not an address of this computer", "give one that is with --address")
    return UsageError(f"can't listen at {address} port {port}", error.strerror or str(error))


def _address_of_default_route() -> str | None:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_ANYWHERE)
        except OSError:
            return None
        return str(probe.getsockname()[0])


def _addresses_of_own_name() -> list[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET, socket.SOCK_STREAM)
    except OSError:
        return []
    return [str(entry[4][0]) for entry in found]
