"""What a view is asked, and what it gives back: none of it knows the web server."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from matrixcheck.bench import Bench
from matrixcheck.errors import UsageError


@dataclass(frozen=True)
class Asked:
    """One request: the named `parts` of its address, its `query`, and the `body` of what is to be recorded.

    `client` is the name that the phone made for itself.
    """

    client: str
    parts: Mapping[str, str] = field(default_factory=dict)
    query: Mapping[str, str] = field(default_factory=dict)
    body: Mapping[str, Any] = field(default_factory=dict)

    @property
    def job(self) -> str:
        """Return the job that the address names."""
        return self.parts["job"]

    @property
    def matrix(self) -> str:
        """Return the matrix that the address names."""
        return self.parts["matrix"]

    @property
    def send(self) -> str:
        """Return the phone's name for this entry. Raises UsageError where it has none."""
        found = self.text("send")
        if not found:
            raise _unlike("send", "a text")
        return found

    def text(self, name: str) -> str:
        """Return a text of the body, "" where there is none. Raises UsageError for anything else."""
        value = self.body.get(name, "")
        if not isinstance(value, str):
            raise _unlike(name, "a text")
        return value

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts of the body, none where there is none. Raises UsageError for anything else."""
        value = self.body.get(name, [])
        if not isinstance(value, list) or not all(isinstance(one, str) for one in value):
            raise _unlike(name, "a list of texts")
        return tuple(value)

    def number(self, name: str) -> float:
        """Return a number of the body. Raises UsageError for anything else."""
        value = self.body.get(name)
        if isinstance(value, bool) or not isinstance(value, int | float):
            raise _unlike(name, "a number")
        return value

    def yes(self, name: str) -> bool:
        """Return whether the body says yes to this; False where it doesn't say. Raises UsageError for anything else."""
        value = self.body.get(name, False)
        if not isinstance(value, bool):
            raise _unlike(name, "true or false")
        return value


class Shown(NamedTuple):
    """A page to show: its template, and the `screen` that this draws."""

    template: str
    screen: object


class Taken(NamedTuple):
    """What became of an entry that is on the disk now: in words, and the cells that it concerns as they stand.

    `kept` goes to the phone as JSON. `seq` is the last event of the job that these words know of, `round` where this
    phone's open round began.
    """

    seq: int
    words: str
    kept: tuple[Mapping[str, Any], ...] = ()
    round: int | None = None


class Get(NamedTuple):
    """An address that is read. Its view runs in a worker thread and raises MatrixCheckError where there is nothing."""

    path: str
    view: Callable[[Bench, Asked], Shown]


class Post(NamedTuple):
    """An address that takes an entry as JSON. Its view runs in a worker thread.

    BookError: the phone keeps the entry and sends it again. Any other MatrixCheckError: it is refused, and the phone
    shows it until it is fixed or dropped.
    """

    path: str
    view: Callable[[Bench, Asked], Taken]


class File(NamedTuple):
    """An address whose answer is a file that never changes: the browser keeps it."""

    path: str
    media_type: str
    view: Callable[[Bench, Asked], bytes]


class Upload(NamedTuple):
    """An address that takes a file of that type, of at most `largest` bytes; what belongs to it stands in its query.

    Its view and what that raises are as those of a Post.
    """

    path: str
    media_type: str
    largest: int
    view: Callable[[Bench, Asked, bytes], Taken]


Route = Get | Post | File | Upload


def _unlike(name: str, what: str) -> UsageError:
    return UsageError(f"what the page sent has no {name} that is {what}", "load the page again")
