"""Use cases on photos: one that is taken is kept with what it shows, and can be looked at again."""

from __future__ import annotations

from msgspec.structs import replace

from matrixcheck.bench.book import Book
from matrixcheck.errors import UsageError
from matrixcheck.layout.limits import MOST_PHOTOS
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import shown
from matrixcheck.record.events import Event, Noted, PhotoTaken
from matrixcheck.record.folding import photo_made
from matrixcheck.record.job_state import JobState, PhotoMade
from matrixcheck.record.safety_checks import checklist
from matrixcheck.record.validation import event_numbered, one_line


class Photographing(Book):
    """What can be done with photos."""

    def attach(
        self,
        job: str,
        picture: bytes,
        source: str,
        *,
        place: str = "",
        check: str = "",
        note: int = 0,
        caption: str = "",
        shrink: bool = True,
        send: str = "",
    ) -> PhotoMade:
        """Keep a photo: a JPEG of any camera, without what it wrote about time and place; `source` names it in errors.

        It shows a `place` (a part, a line or a cell by any name), a `check` (one before power, or the code of a bench
        check) or what the `note` of that number in the job's history says; without them the machine as a whole. It is
        made smaller where it is too large, or without `shrink` refused. Raises InputError for no such picture,
        UsageError for what isn't there and where the job has all the photos that it may have.
        """
        from matrixcheck.record.photos import photo_of  # noqa: PLC0415 - a paint can't wait

        said = one_line(caption, "the caption", empty=True)
        if sum(map(bool, (place, check, note))) > 1:
            raise UsageError("a photo shows one thing", "name a place, a check or a note")
        photo = photo_of(picture, source, shrink=shrink)
        size = len(photo.jpeg)
        taken = PhotoTaken(photo=photo.name, width=photo.width, height=photo.height, size=size, caption=said)

        def events(state: JobState) -> list[Event]:
            if sum(isinstance(one.event, PhotoTaken) for one in state.everything) >= MOST_PHOTOS:
                raise UsageError(f"job {state.id} has {MOST_PHOTOS} photos", "open another job for more")
            return [_showing(taken, state, place, check, note)]

        ((one,), _, _) = self._keep(job, events, send, {photo.name: photo.jpeg})
        assert isinstance(one.event, PhotoTaken)
        return photo_made(one.event, one.at, one.seq)

    def photo(self, name: str) -> bytes:
        """Return the JPEG file of a photo. Raises UsageError where the book has none of that name, or has lost it."""
        found = self._journal.photos([name])
        if name not in found:
            raise UsageError(f"there is no photo {shown(name)}", "`matrixcheck photos JOB` lists them")
        jpeg = found[name]
        if jpeg is None:
            raise UsageError(f"photo {name[:12]} was lost with an earlier book", "import the job from an older export")
        return jpeg

    def photo_files(self, job: str, longest: int | None = None) -> dict[str, bytes]:
        """Return the files of a job's photos by name, without those that were lost.

        With `longest`, as copies of at most so many dots a side.
        """
        from matrixcheck.record.photos import smaller  # noqa: PLC0415 - likewise

        names = [one.name for one in self.state(job).photos]
        files = {name: jpeg for name, jpeg in self._journal.photos(names).items() if jpeg is not None}
        return files if longest is None else {name: smaller(jpeg, longest) for name, jpeg in files.items()}

    def count_photos(self) -> int:
        """Return how many photos the book has."""
        return self._journal.count_photos()


def _showing(taken: PhotoTaken, state: JobState, place: str, check: str, note: int) -> PhotoTaken:
    """Return a photo with what it shows. Raises UsageError for what isn't there."""
    if place:
        from matrixcheck.layout.naming import place_named  # noqa: PLC0415 - likewise

        return replace(taken, place=place_named(place, state.layout))
    if check:
        is_code = "." in check and " " not in check.strip()
        return (
            replace(taken, check=_code(check, state.layout)) if is_code else replace(taken, safety=_item(check, state))
        )
    if not note:
        return taken
    noted = event_numbered(state, note)
    if not (isinstance(noted.event, Noted) and noted in state.counting):
        raise UsageError(f"event {note} is no note that counts", f"`matrixcheck log {state.id}` lists them")
    return replace(taken, note=noted.seq)


def _item(check: str, state: JobState) -> str:
    """Return the item of the check before power that is meant. Raises UsageError for none, and for several."""
    from matrixcheck.record.checks_named import checks_named  # noqa: PLC0415 - likewise

    meant = checks_named(one_line(check, "the check"), checklist(state))
    if meant.several:
        raise UsageError(f"{shown(check)} are {len(meant.items)} checks", "name one of them")
    (item,) = meant.items
    if not (item.about or item.made):
        raise UsageError(f"there is no check {shown(check)}", f"`matrixcheck safety {state.id}` lists them")
    return item.item


def _code(check: str, layout: Layout) -> str:
    from matrixcheck.diagnosis.advice.bench_checks.by_code import check_named  # noqa: PLC0415 - a mark can't wait

    return check_named(layout, check.strip()).check.code
