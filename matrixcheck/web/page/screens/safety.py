"""The checks before power: each with its sign, how it came out, and what may be recorded of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from matrixcheck.layout.check_names import is_earth
from matrixcheck.record.earth_limit import EarthLimit
from matrixcheck.record.fuse_rating import rating_of
from matrixcheck.record.job_state import JobState
from matrixcheck.record.safety_checks import SafetyItem, checklist, counts, unit_of
from matrixcheck.report.cautions import DEFER, INSIDE
from matrixcheck.report.safety import counted
from matrixcheck.report.safety_asked import SIGNS, TITLE, check_says, known_limit, what_is_read, what_is_wrong
from matrixcheck.web.page.screens.head import JobHead, head_of
from matrixcheck.web.page.screens.photos import PhotoArea, photo_area


@dataclass(frozen=True)
class Check:
    """One check. `unit`: in what it is measured, "" where it isn't; `earth`: held to a limit by the mains lead.

    `offered` are usual answers to `wrong`, what is asked where it fails. `due` is the rating of its fuse, "" for none.
    """

    id: str
    item: str
    sign: str
    outcome: str
    says: str
    about: str
    unit: str
    earth: bool
    asked: str
    hint: str
    wrong: str
    offered: Sequence[str]
    due: str
    photos: PhotoArea


@dataclass(frozen=True)
class SafetyScreen:
    """All checks of a job, with how many stand how."""

    head: JobHead
    title: str
    counted: str
    checks: Sequence[Check]
    cautions: Sequence[str]
    limit: str


def safety_screen(state: JobState, rule: EarthLimit) -> SafetyScreen:
    """Return what the page of the checks shows; `rule` is what an earth bond is held to here."""
    items, limit = checklist(state), known_limit(state.safety)
    limited = limit is not None or rule is EarthLimit.FLAT
    held = f"held to {limit.ohms:.3g} ohms: {limit.source}" if limit is not None else ""
    checks = [_check(place, one, state, limited) for place, one in enumerate(items, 1)]
    return SafetyScreen(head_of(state), TITLE, counted(counts(items)), checks, (INSIDE, DEFER), held)


def _check(place: int, one: SafetyItem, state: JobState, limited: bool) -> Check:
    unit, (wrong, offered) = unit_of(one), what_is_wrong(one)
    asked, hint = what_is_read(one, unit, limited) if unit else ("", "")
    part = state.layout.part_by_ref.get(one.ref)
    due = part.rating if part and one.one_of == "fuses" and rating_of(part.rating) else ""
    return Check(
        f"check-{place}",
        one.item,
        SIGNS[one.outcome],
        one.outcome,
        check_says(one) if one.made else "not checked",
        one.about,
        unit,
        is_earth(one.item),
        asked,
        hint,
        wrong,
        offered,
        due,
        photo_area(state, one.item, check=one.item),
    )
