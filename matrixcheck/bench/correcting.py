"""The use case that puts a layout right in mid-job: in the job, and in the file that the job's layout was read from."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.bench.book import Book
from matrixcheck.bench.relaying import news_of, relayout_of
from matrixcheck.errors import InputError, MatrixCheckError, UsageError
from matrixcheck.layout.limits import LARGEST_LAYOUT
from matrixcheck.layout.model import Layout
from matrixcheck.layout.shipped import is_shipped
from matrixcheck.layout.source import LayoutSource, path_of, source_of
from matrixcheck.record.events import Relaid
from matrixcheck.record.job_state import JobState

if TYPE_CHECKING:
    from matrixcheck.layout.edit.keys import Change

THIS_JOB = "this job's layout"
MOST_COPIES = 99


class Corrected(NamedTuple):
    """What became of a correction that the job has: in words, and in which file it stands, if in any.

    `copy_of` is the layout of the program that the file is a new copy of, "" for none; `trouble` says why no file has
    it.
    """

    said: str
    file: Path | None = None
    copy_of: str = ""
    trouble: str = ""


class _Draft(NamedTuple):
    """A layout's text with a correction, the file that it is for, and what that holds before (None: it isn't there)."""

    path: Path
    text: str
    before: bytes | None
    copy_of: str = ""

    @property
    def source(self) -> LayoutSource:
        return source_of(self.path, self.text.encode())


class Correcting(Book):
    """Putting the layout of a job right."""

    def correct(self, job: str, changes: Sequence[Change], *, own_file: bool) -> Corrected:
        """Change values of a job's layout; with `own_file` in the file that it was read from as well.

        Of a layout that comes with the program a copy is made first, beside the book. No other file is opened, and one
        that says anything else than the job by now is left alone: the job has the change all the same.

        Raises InputError, with the first problem, for changes that would make it no layout.
        """
        from matrixcheck.layout.charts.writing import layout_text  # noqa: PLC0415 - writes TOML; a paint can't wait
        from matrixcheck.layout.edit.meaning import plain  # noqa: PLC0415 - likewise
        from matrixcheck.record.differences import said  # noqa: PLC0415 - likewise

        draft: _Draft | None = None
        words, trouble = "", ""

        def events(state: JobState) -> list[Relaid]:
            nonlocal draft, words, trouble
            text = layout_text(plain(state.layout))
            layout, source = _edited(text, changes), state.source
            if own_file:
                try:
                    draft = _drafted(state, changes, self.path.parent)
                    source = draft.source if draft else source
                except MatrixCheckError as error:
                    trouble = error.message
            event, found = relayout_of(state, layout, source)
            words = said(found.differences)
            return [event]

        self._keep(job, events)
        if draft is None:
            return Corrected(words, trouble=trouble)
        try:
            _write(draft)
        except MatrixCheckError as error:
            return Corrected(words, trouble=error.message)
        return Corrected(words, draft.path, draft.copy_of)


def _edited(text: str, changes: Sequence[Change]) -> Layout:
    from matrixcheck.layout.edit.editing import edit_layout  # noqa: PLC0415 - checks with pydantic; likewise

    try:
        return edit_layout(text, THIS_JOB, changes).layout
    except InputError as error:
        raise InputError(error.message.removeprefix(f"{THIS_JOB}: "), error.hint) from None


def _drafted(state: JobState, changes: Sequence[Change], folder: Path) -> _Draft | None:
    """Return the text for the file of a job's layout, None where nobody knows the file.

    Raises InputError where it can't be read, says something else than the job, or can't take the changes.
    """
    from matrixcheck.layout.edit.editing import edit_layout  # noqa: PLC0415 - likewise

    path = path_of(state.source)
    if path is None:
        return None
    news = news_of(state.source, state.layout, state.id)
    if news:
        raise InputError(news)
    data = _bytes_at(path)
    text = edit_layout(data.decode(), path.name, changes).text
    if is_shipped(path):
        return _Draft(_free(folder, path.stem), text, None, path.stem)
    return _Draft(path, text, data)


def _bytes_at(path: Path) -> bytes:
    from matrixcheck.layout.files import WHAT  # noqa: PLC0415 - likewise
    from matrixcheck.layout.toml_file import bytes_of  # noqa: PLC0415 - likewise

    return bytes_of(path, WHAT, LARGEST_LAYOUT)


def _free(folder: Path, name: str) -> Path:
    """Return a path in a folder that nothing has yet. Raises UsageError where all are taken."""
    names = (f"{name}{'' if count == 1 else f'-{count}'}.toml" for count in range(1, MOST_COPIES + 1))
    for path in (folder / one for one in names):
        if not path.exists() and not path.is_symlink():
            return path
    raise UsageError(f"{folder} has {MOST_COPIES} layouts called {name}", "take some away")


def _write(draft: _Draft) -> None:
    """Write a draft. Raises MatrixCheckError where that can't be, or the file was changed meanwhile."""
    from matrixcheck.layout.schema import lay_beside  # noqa: PLC0415 - likewise
    from matrixcheck.whole_files import write_whole  # noqa: PLC0415 - likewise

    if draft.before is not None and _bytes_at(draft.path) != draft.before:
        raise InputError(f"{draft.path.name} was changed just now")
    if draft.before is None:
        with suppress(UsageError):  # a help for editors: the layout is whole without it
            lay_beside(draft.path)
    write_whole(draft.path, draft.text)
