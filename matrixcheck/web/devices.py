"""The paired devices of a bench book: each has a secret of its own, which only its browser keeps.

They stand in a file beside the book. The server looks at it again whenever it has changed, so what a command forgets is
shut out of a running server as well.
"""

from __future__ import annotations

import fcntl
import hashlib
import os
import secrets
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import msgspec

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.toml_file import bytes_of
from matrixcheck.whole_files import write_private

MOST = 32
LONGEST_NAME = 40
_WHAT = "list of paired devices"
_LARGEST = 100_000


class Device(msgspec.Struct, frozen=True):
    """One paired device; `key` is the SHA-256 of its secret, in hexadecimal."""

    id: int
    name: str
    key: str
    paired: datetime
    seen: datetime


class _Stored(msgspec.Struct, frozen=True):
    format: int
    devices: tuple[Device, ...]


def file_beside(book: Path) -> Path:
    """Return the file for the paired devices of a book."""
    return book.with_name(f"{book.name}.devices")


def now() -> datetime:
    """Return the time in whole seconds."""
    return datetime.now(UTC).replace(microsecond=0)


class Devices:
    """The paired devices in one file. Every method raises InputError where that holds no such list."""

    def __init__(self, file: Path, clock: Callable[[], datetime] = now) -> None:
        self._file = file
        self._clock = clock
        self._read: tuple[object, tuple[Device, ...]] | None = None
        self._seen: dict[int, datetime] = {}

    def listed(self) -> tuple[Device, ...]:
        """Return all of them, in the order in which they were paired."""
        which = _which(self._file)
        if self._read is None or self._read[0] != which:
            self._read = which, _loaded(self._file) if which else ()
        return self._read[1]

    def holder_of(self, secret: str) -> Device | None:
        """Return the device with this secret, and note that it was seen."""
        key = _hashed(secret)
        found = next((each for each in self.listed() if each.key == key), None)
        if found is not None:
            self.note((found.id,))
        return found

    def note(self, seen: Iterable[int]) -> None:
        """Note that devices are seen now; `keep_seen` keeps that."""
        self._seen |= dict.fromkeys(seen, self._clock())

    def add(self, name: str) -> tuple[Device, str]:
        """Pair a device and return it with its secret. Raises UsageError when there are too many, or it can't be kept.

        The secret is 256 random bits.
        """
        secret, at = secrets.token_urlsafe(32), self._clock()
        with self._changing() as devices:
            if len(devices) >= MOST:
                raise UsageError(f"{MOST} devices are paired already", "forget one with `matrixcheck serve forget`")
            number = max((each.id for each in devices), default=0) + 1
            device = Device(number, name_from(name) or f"device {number}", _hashed(secret), at, at)
            devices.append(device)
        return device, secret

    def forget(self, word: str) -> Device:
        """Shut out the device with this number or name. Raises UsageError where there isn't exactly one."""
        with self._changing() as devices:
            found = [each for each in devices if word == str(each.id)]
            found = found or [each for each in devices if word.casefold() == each.name.casefold()]
            if not found:
                raise UsageError(f"no paired device {word!r}", "see `matrixcheck serve devices`")
            if len(found) > 1:
                numbers = " and ".join(str(each.id) for each in found)
                raise UsageError(f"{word!r} is the name of devices {numbers}", "give the number")
            devices.remove(found[0])
        return found[0]

    def keep_seen(self) -> None:
        """Keep when devices were seen last; those that are forgotten stay so. UsageError where it can't be kept."""
        seen, self._seen = self._seen, {}
        if not seen:
            return
        with self._changing() as devices:
            devices[:] = [
                msgspec.structs.replace(each, seen=max(each.seen, seen.get(each.id, each.seen))) for each in devices
            ]

    @contextmanager
    def _changing(self) -> Iterator[list[Device]]:
        """Give the list to change, which is then written whole; commands and servers wait for each other."""
        with _locked(self._file.parent):
            before = self.listed()
            yield (devices := list(before))
            if tuple(devices) != before:
                stored = msgspec.json.encode(_Stored(1, tuple(devices)))
                write_private(self._file, msgspec.json.format(stored).decode() + "\n")


def name_from(text: str) -> str:
    """Return a name for a device in one short line without anything that a terminal takes for orders."""
    plain = "".join(sign if sign.isprintable() else " " for sign in text)
    return " ".join(plain.split())[:LONGEST_NAME].strip()


def name_from_agent(agent: str) -> str:
    """Return what a browser's User-Agent says about its device: the first words in brackets."""
    return name_from(agent.partition("(")[2].partition(")")[0])


def _hashed(secret: str) -> str:
    """Hash a secret once. 256 random bits can't be tried out, so a slow hash would only slow down each request."""
    return hashlib.sha256(secret.encode(errors="replace")).hexdigest()


def _which(file: Path) -> object:
    """Tell one state of the file from another, as it is written whole; None where there is none."""
    try:
        found = file.lstat()
    except (FileNotFoundError, NotADirectoryError):
        return None
    except OSError as error:
        raise _unreadable(file, str(error.strerror)) from error
    return found.st_dev, found.st_ino, found.st_mtime_ns, found.st_size


def _loaded(file: Path) -> tuple[Device, ...]:
    data = bytes_of(file, _WHAT, _LARGEST)
    try:
        stored = msgspec.json.decode(data, type=_Stored)
    except (msgspec.DecodeError, UnicodeDecodeError) as error:
        raise _unreadable(file, "it is damaged") from error
    if stored.format != 1:
        raise _unreadable(file, "a newer version of the program wrote it")
    return stored.devices


def _unreadable(file: Path, why: str) -> InputError:
    return InputError(f"{file} can't be read: {why}", "remove it, then pair every device again")


@contextmanager
def _locked(folder: Path) -> Iterator[None]:
    """Hold a lock on the folder itself, which leaves no file behind."""
    try:
        held = os.open(folder, os.O_RDONLY)
    except OSError as error:
        raise UsageError(f"{folder}: {error.strerror}", "the paired devices are kept there") from None
    try:
        fcntl.flock(held, fcntl.LOCK_EX)
        yield
    finally:
        os.close(held)
