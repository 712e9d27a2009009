"""Use cases on the layout of a job that is under way: it goes on with another one, and what became of its file."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

from msgspec.structs import replace

from matrixcheck.bench.book import Book
from matrixcheck.errors import InputError, MatrixCheckError, UsageError
from matrixcheck.layout.limits import LARGEST_LAYOUT
from matrixcheck.layout.model import Layout
from matrixcheck.layout.source import UNKNOWN, LayoutSource, digest_of, path_of
from matrixcheck.record.events import Recorded, Relaid
from matrixcheck.record.job_state import JobState
from matrixcheck.record.replay import advance

if TYPE_CHECKING:
    from matrixcheck.record.differences import Difference


class Relayout(NamedTuple):
    """What a relayout changes, and the job's state with it."""

    differences: tuple[Difference, ...]
    state: JobState


class Relaying(Book):
    """What can be done with the layout of a job."""

    def relayout_would(self, job: str, layout: Layout, source: LayoutSource = UNKNOWN) -> Relayout:
        """Return what `relayout` would change; nothing is recorded. Raises UsageError as that does."""
        return relayout_of(self.state(job), layout, source)[1]

    def relayout(self, job: str, layout: Layout, source: LayoutSource = UNKNOWN, *, send: str = "") -> Relayout:
        """Go on with another layout of the machine; all that was recorded stays.

        A walk that would visit other cells, or in another order, and a hold round without its held switches end. Raises
        UsageError for the layout that the job has already.
        """
        from matrixcheck.record.differences import differences  # noqa: PLC0415 - a paint can't wait

        *_, before, after = self._keep(job, lambda state: [relayout_of(state, layout, source)[0]], send)
        return Relayout(differences(before, after), after)

    def has_layout(self, job: str, layout: Layout, source: LayoutSource = UNKNOWN) -> bool:
        """Return whether a job has a layout already, from that file."""
        return _has(self.state(job), layout, source)

    def layout_news(self, job: str) -> str:
        """Return in one line what became of the file that the job's layout was read from; "" where it says the same."""
        state = self.state(job)
        return news_of(state.source, state.layout, state.id)


def news_of(source: LayoutSource, layout: Layout, job: str) -> str:
    """Return in one line what became of the file of a job's layout; "" where it says the same, or nobody knows it."""
    path = path_of(source)
    if path is None:
        return ""
    # What reads files of TOML, and checks them as layouts, must not hold up the first paint.
    from matrixcheck.layout.toml_file import bytes_of  # noqa: PLC0415

    try:
        data = bytes_of(path, "layout", LARGEST_LAYOUT)
    except InputError:
        return f"the layout file is not there: {source.file}"
    if digest_of(data) == source.digest:
        return ""
    from matrixcheck.layout.files import read_layout  # noqa: PLC0415

    try:
        changed = read_layout(path) != layout
    except MatrixCheckError:
        return f"the layout file changed and has problems: `layout check {source.file}`"
    return f"the layout file changed: `job relayout {job} {source.file}`" if changed else ""


def relayout_of(state: JobState, layout: Layout, source: LayoutSource) -> tuple[Relaid, Relayout]:
    """Return the event with which a job goes on with another layout, and what that changes.

    Raises UsageError for the layout that the job has already.
    """
    from matrixcheck.record.differences import differences, said  # noqa: PLC0415 - likewise
    from matrixcheck.record.versions import relaid  # noqa: PLC0415 - likewise

    if _has(state, layout, source):
        raise UsageError(f"job {state.id} has this layout already", "nothing differs")
    event = relaid(state.everything, layout, source)
    trial = Recorded(state.seq + 1, state.id, state.seq + 1, state.last_at, event)
    after = advance(state, [trial])
    found = differences(state, after)
    return replace(event, said=said(found)), Relayout(found, after)


def _has(state: JobState, layout: Layout, source: LayoutSource) -> bool:
    return layout == state.layout and source.file == state.source.file
