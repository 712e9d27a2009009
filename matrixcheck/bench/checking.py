"""Use cases that record how the checks before power came out, and the rest of the test mode."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from msgspec.structs import replace

from matrixcheck.bench.book import Book
from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown
from matrixcheck.record.events import Event, FunctionChecked, FunctionVerdict, SafetyChecked
from matrixcheck.record.folding import function_made, safety_made
from matrixcheck.record.job_state import FunctionCheckMade, JobState, SafetyCheckMade
from matrixcheck.record.safety_checks import SafetyItem, checklist, measured
from matrixcheck.record.validation import one_line

if TYPE_CHECKING:
    from matrixcheck.record.earth_limit import Limit


class Checking(Book):
    """What can be recorded of the lists of checks.

    A check before power is named as `record/checks_named.py` says. Where several are (`plugs`, `X1-X9`), those that are
    open are recorded: one that failed is passed or waived by its own name.
    """

    def safety(
        self, job: str, item: str, passed: bool, note: str = "", *, send: str = ""
    ) -> tuple[SafetyCheckMade, ...]:
        """Keep how a safety check came out, or that several passed; return what was kept.

        Raises UsageError where several are to fail, and where none of several is open.
        """
        said = one_line(note, "the note", empty=True)

        def event(one: SafetyItem) -> SafetyChecked:
            return SafetyChecked(item=one.item, passed=passed, note=said)

        return self._keep_checks(job, item, event, "" if passed else "fail", send=send)

    def waive_check(self, job: str, item: str, reason: str, *, send: str = "") -> tuple[SafetyCheckMade, ...]:
        """Keep that a safety check, or several, are let go, and why; return what was kept.

        Raises UsageError without a reason, for no known check, and where none of several is open.
        """
        said = one_line(reason, "the reason")

        def event(one: SafetyItem) -> SafetyChecked:
            if not (one.about or one.made):
                raise UsageError(f"there is no check {shown(one.item)}", "`matrixcheck safety JOB` lists them")
            return SafetyChecked(item=one.item, passed=False, note=said, waived=True)

        return self._keep_checks(job, item, event, send=send)

    def measure_check(
        self, job: str, item: str, reading: float, limit: Limit | None = None, note: str = "", *, send: str = ""
    ) -> bool:
        """Keep what a safety check measured, and return whether it passed.

        Earth continuity, in ohms, is held to `limit`; insulation, in megohms, to at least 1; a line of the layout with
        a unit to its own limits. Raises UsageError for other checks, and for a reading that no meter shows.
        """
        said = one_line(note, "the note", empty=True)
        (made,) = self._keep_checks(job, item, lambda one: measured(one, reading, limit, said), "measure", send=send)
        return made.passed

    def fuse_found(self, job: str, item: str, found: str, note: str = "", *, send: str = "") -> bool:
        """Keep what is printed on the fuse in its holder, and return whether it is the rating that the layout gives.

        Raises UsageError for what is no fuse of the layout, or has no rating there.
        """
        from matrixcheck.record.fuse_rating import judged_fuse  # noqa: PLC0415 - a paint can't wait

        printed, said = one_line(found, "what is printed on the fuse"), one_line(note, "the note", empty=True)

        def event(one: SafetyItem, state: JobState) -> SafetyChecked:
            judged = judged_fuse(one, state.layout, printed)
            return replace(judged, note=f"{judged.note}; {said}") if said else judged

        state = self.state(job)
        (made,) = self._keep_checks(job, item, lambda one: event(one, state), "fill", send=send)
        return made.passed

    def function(
        self, job: str, item: str, verdict: FunctionVerdict, note: str = "", *, send: str = ""
    ) -> tuple[FunctionCheckMade, ...]:
        """Keep what came of a line of the rest of the test mode, or of all untested lines of a list; return it.

        `record/function_lists.py` says how a line is named. Raises UsageError for what no list has.
        """
        from matrixcheck.record.function_lists import function_lists, lines_named  # noqa: PLC0415 - likewise

        name, said = one_line(item, "the line"), one_line(note, "the note", empty=True)

        def events(state: JobState) -> list[Event]:
            return [
                FunctionChecked(section=one.section, item=one.item, verdict=verdict, note=said)
                for one in lines_named(name, function_lists(state))
            ]

        recorded, *_ = self._keep(job, events, send)
        return tuple(function_made(one.event, one.at) for one in recorded if isinstance(one.event, FunctionChecked))

    def _keep_checks(
        self, job: str, item: str, event: Callable[[SafetyItem], SafetyChecked], singly: str = "", *, send: str
    ) -> tuple[SafetyCheckMade, ...]:
        """Keep an event for each check that `item` names; `singly` is what is done with one alone."""
        from matrixcheck.record.checks_named import checks_named  # noqa: PLC0415 - likewise

        name = one_line(item, "the check")

        def events(state: JobState) -> list[Event]:
            meant = checks_named(name, checklist(state))
            if meant.several and singly:
                raise UsageError(f"{shown(name)} are {len(meant.items)} checks", f"{singly} one at a time, by its name")
            fresh = [one for one in meant.items if one.outcome == "open"] if meant.several else meant.items
            if not fresh:
                raise UsageError(f"none of {shown(name)} is open", "name the one that is to be recorded again")
            return [event(one) for one in fresh]

        recorded, *_ = self._keep(job, events, send)
        return tuple(safety_made(one.event, one.at) for one in recorded if isinstance(one.event, SafetyChecked))
