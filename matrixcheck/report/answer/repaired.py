"""Say of each repair how it stands: on the card of a fault that it was meant to cure, else on a card of its own."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence

from msgspec.structs import replace

from matrixcheck.diagnosis.result import Fault, Suspect
from matrixcheck.diagnosis.words.places import count_of, part_words
from matrixcheck.layout.designators import is_ref, owner
from matrixcheck.layout.model import Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark
from matrixcheck.layout.wording import cell_words, place_words
from matrixcheck.record.cell_state import Standing
from matrixcheck.record.job_state import JobState, RepairMade
from matrixcheck.record.outdated import cells_touched
from matrixcheck.report.answer.model import Card, Evidence, RepairShown, Stands
from matrixcheck.report.answer.titles import capital, shortened

ROOM = 54
"""Characters of the title of a repair: how it stands then fits beside it in 78 columns."""
MOST_ON_A_CARD = 2
"""Repairs that the card of a fault names, the newest: a card fits ten lines."""


def place_of(fault: Fault) -> str:
    """Return the place of a fault as findings and repairs name it."""
    if fault.part:
        return fault.part
    return str(fault.lines[0] if fault.lines else fault.cells[0])


def repairs_of(job: JobState, suspect: Suspect) -> tuple[RepairShown, ...]:
    """Return the newest repairs at the suspect's places, or of what only its cells depend on; oldest first."""
    layout = job.layout
    found = [one for one in _by_place(job.repairs) if _concerns(layout, one.place, suspect)]
    return tuple(_shown(layout, one, _stands(one, suspect)) for one in found[-MOST_ON_A_CARD:])


def told_once(cards: Sequence[Card]) -> list[Card]:
    """Return the cards with each repair on one of them: the first that it leaves open again, else the first at all."""
    told: dict[str, int] = {}
    for stands in ("open again", "retest due", "closed", "nothing to retest"):
        for card in cards:
            for one in card.repairs:
                if one.stands == stands:
                    told.setdefault(one.place, card.number)
    return [
        card.model_copy(update={"repairs": tuple(one for one in card.repairs if told[one.place] == card.number)})
        for card in cards
    ]


def repair_cards(job: JobState, numbered: Sequence[Card]) -> tuple[Card, ...]:
    """Return a card for each repair that no fault's card shows: what waits for its retest first, what is closed last.

    `numbered` are the cards of the faults, with their numbers. A repair that cured nothing and was followed by another
    of the same cells has none: the later one speaks.
    """
    told = {one.place for card in numbered for one in card.repairs}
    repairs = _by_place(job.repairs)
    found = []
    for place, one in enumerate(repairs):
        again = frozenset[CellKey]().union(*(later.due for later in repairs[place + 1 :] if later.seq > one.seq))
        if one.place not in told and one.due - (one.failed & again):
            found.append(_card(job, one, one.failed - again, numbered))
    return tuple(sorted(found, key=lambda card: _ORDER.index(card.repairs[0].stands)))


_ORDER: tuple[Stands, ...] = ("retest due", "open again", "closed", "nothing to retest")


def _by_place(repairs: Iterable[RepairMade]) -> list[RepairMade]:
    """Return the last repair of each place, oldest first, with what earlier ones of it made due and is due still."""
    last: dict[str, RepairMade] = {}
    for one in repairs:
        if one.outside:
            continue
        before = last.pop(one.place, None)
        if before is not None:
            one = replace(  # noqa: PLW2901
                one,
                due=one.due | before.due,
                passed=one.passed | (before.passed - one.due),
                failed=one.failed | (before.failed - one.due),
            )
        last[one.place] = one
    return list(last.values())


def _concerns(layout: Layout, place: str, suspect: Suspect) -> bool:
    """Return whether a repair was meant for a suspect.

    It was at one of its places, or all that depends on what was repaired is what the suspect takes hold of.
    """
    places = {each for fault in suspect.members for each in (place_of(fault), owner(place_of(fault)))}
    cells = {cell for fault in suspect.members for cell in fault.cells}
    touched = cells_touched(layout, place)
    return place in places or (bool(touched) and touched <= cells)


def _waiting(repair: RepairMade) -> frozenset[CellKey]:
    return repair.due - repair.passed - repair.failed


def _stands(repair: RepairMade, suspect: Suspect) -> Stands:
    """Return how a repair at a suspect's places stands: a retest that failed opens what it would explain again."""
    if not repair.failed.isdisjoint(suspect.explains):
        return "open again"
    if _waiting(repair):
        return "retest due"
    return "closed" if repair.due else "nothing to retest"


def _named(layout: Layout, place: str) -> str:
    return part_words(place) if is_ref(place) else place_words(layout, place)


def _shown(layout: Layout, repair: RepairMade, stands: Stands) -> RepairShown:
    what = _named(layout, repair.place)
    did = f" ({repair.said})" if repair.said else ""
    waiting = len(_waiting(repair))
    words = {
        "retest due": f"{what} repaired{did}, retest due: {count_of(waiting, 'cell')}",
        "open again": f"open again: the retest failed after {what} was repaired{did}",
        "closed": f"{what} repaired{did}, the retest passed",
        "nothing to retest": f"{what} repaired{did}",
    }
    return RepairShown(
        place=repair.place,
        did=repair.said,
        stands=stands,
        due=waiting,
        passed=len(repair.passed),
        failed=len(repair.failed),
        words=words[stands],
    )


def _card(job: JobState, repair: RepairMade, failing: Collection[CellKey], numbered: Sequence[Card]) -> Card:
    layout, waiting = job.layout, _waiting(repair)
    stands: Stands = "retest due" if waiting else "open again" if failing else "closed"
    said = f": {repair.said}" if repair.said else ""
    return Card(
        number=0,
        kind="repair",
        title=shortened(f"{capital(_named(layout, repair.place))} repaired{said}", ROOM),
        probability=1.0,
        sure="recorded",
        why=_why(job, repair, failing, numbered, closed=stands == "closed"),
        repairs=(_shown(layout, repair, stands),),
        matrices=tuple(one for one in layout.matrix_ids if any(cell.matrix == one for cell in waiting)),
        evidence=tuple(_evidence(job, repair)),
    )


def _why(
    job: JobState, repair: RepairMade, failing: Collection[CellKey], numbered: Sequence[Card], *, closed: bool
) -> str:
    """Count what passes, what does not and on which cards that is, and what is to be tested again."""
    waiting = len(_waiting(repair))
    if waiting == len(repair.due):
        return f"{count_of(waiting, 'cell')} to test again"
    counts = [f"{len(repair.passed)} of {count_of(len(repair.due), 'cell')} pass"]
    echoing = {cell for cell in failing if job.standings[cell].mark is Mark.WORKING and job.standings[cell].echoed}
    dead = set(failing) - echoing
    if dead:
        counts.append(f"{len(dead)} {'fails' if len(dead) == 1 else 'fail'}{_see(job, dead, numbered)}")
    if echoing:
        counts.append(f"{len(echoing)} {'echoes' if len(echoing) == 1 else 'echo'}{_see(job, echoing, numbered)}")
    if repair.failed and not failing:
        counts.append(f"{len(repair.failed)} did not and {'was' if len(repair.failed) == 1 else 'were'} repaired again")
    if waiting:
        counts.append(f"{waiting} to test again")
    return f"{', '.join(counts)}{': closed by that repair' if closed else ''}"


def _see(job: JobState, cells: Collection[CellKey], numbered: Sequence[Card]) -> str:
    """Return in brackets the cards that explain what cells showed; empty where none does."""
    shown = {str(each) for cell in cells for each in _shows(job.standings[cell])}
    cards = [str(card.number) for card in numbered if any(one.cell in shown for one in card.evidence)]
    return f" (see {', '.join(cards)})" if cards else ""


def _shows(standing: Standing) -> Iterable[CellKey]:
    """Return a cell and those that answered with it or in its place: one of these is what a card explains."""
    return (standing.cell.key, *standing.echoed, *standing.answered_instead)


def _evidence(job: JobState, repair: RepairMade) -> Iterable[Evidence]:
    verdicts = (("against", repair.failed), ("untested", _waiting(repair)), ("fits", repair.passed))
    for verdict, cells in verdicts:
        for cell in sorted(cells):
            mark = str(job.standings[cell].mark)
            yield Evidence(cell=str(cell), words=cell_words(job.layout, cell), seen=mark, verdict=verdict)
