"""Make a card of each fault of the best explanation, in the order in which a person should act on them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import NamedTuple

from matrixcheck.diagnosis.advice.bench_checks.work_order import by_worth
from matrixcheck.diagnosis.machine.fault_classes import LASTING, LIGHTING
from matrixcheck.diagnosis.result import BenchCheck, Diagnosis, Fault, FaultClass, Suspect
from matrixcheck.diagnosis.words.places import numbers_words
from matrixcheck.layout.designators import is_ref, part_class
from matrixcheck.layout.model import Kind, Layout
from matrixcheck.layout.places import CellKey
from matrixcheck.layout.reading import Mark, Reading
from matrixcheck.layout.wording import cell_words, place_words
from matrixcheck.record.job_state import FindingMade, JobState, SafetyCheckMade
from matrixcheck.record.safety_checks import failed_checks
from matrixcheck.record.summary import found_words
from matrixcheck.report.answer import model
from matrixcheck.report.answer.model import Card, Evidence, FirstCheck, Verdict, sureness
from matrixcheck.report.answer.ranking import Ranking
from matrixcheck.report.answer.repaired import place_of, repair_cards, repairs_of, told_once
from matrixcheck.report.answer.symptoms import Symptoms
from matrixcheck.report.answer.titles import shortened, titled, uncapital
from matrixcheck.report.answer.where import places_of
from matrixcheck.report.answer.why import ohms_words, why


class Seen(NamedTuple):
    """What there is to go by: the layout, the readings that still hold, what they show, and the job if there is one."""

    layout: Layout
    readings: Sequence[Reading]
    symptoms: Symptoms
    job: JobState | None = None


def cards_of(seen: Seen, ranking: Ranking) -> tuple[Card, ...]:
    """Return the cards, numbered: what is dangerous first, then what hinders play, the likelier before others.

    After the faults come repairs, and last what is none.
    """
    found = [_safety(check) for check in failed_checks(seen.job.safety if seen.job else ())]
    kinds: tuple[tuple[model.Kind, tuple[Suspect, ...]], ...] = (
        ("shared fault", ranking.shared),
        ("single cell", ranking.private),
        ("no fault", ranking.glow),
    )
    for kind, suspects in kinds:
        for suspect in suspects:
            found.append(_card(seen, suspect, kind, [card.title for card in found]))
    harmless = [card for card in found if card.kind == "no fault"]
    numbered = _numbered(sorted((card for card in found if card.kind != "no fault"), key=_order))
    numbered = told_once(numbered)
    repairs = repair_cards(seen.job, numbered) if seen.job else ()
    return _with_first_checks(_said_once(_numbered([*numbered, *repairs, *harmless])), ranking.diagnosis)


def _numbered(cards: Sequence[Card]) -> list[Card]:
    return [card.model_copy(update={"number": number}) for number, card in enumerate(cards, 1)]


def _order(card: Card) -> tuple[object, ...]:
    """Return what cards are sorted by: danger, play, shared before single, sureness, extent, probability."""
    return (
        not card.dangerous,
        card.kind != "safety",
        not card.hinders_play,
        _KINDS.index(card.kind),
        _SURE.index(card.sure),
        -sum(count.seen for count in card.counts if card.kind == "shared fault"),
        -round(card.probability, 2),
    )


_KINDS = ("safety", "shared fault", "single cell")
_SURE = ("recorded", "near certain", "likely", "one of several")


def _safety(check: SafetyCheckMade) -> Card:
    return Card(
        number=0,
        kind="safety",
        title=shortened(f"Safety check failed: {check.item}", model.LONGEST_TITLE),
        probability=1.0,
        sure="recorded",
        why=check.note or "recorded as failed",
        first=FirstCheck(short="put it right, check it again and record it"),
        dangerous=True,
    )


def _card(seen: Seen, suspect: Suspect, kind: model.Kind, taken: Collection[str]) -> Card:
    title, lead = titled(seen.layout, suspect, taken)
    reason = why(seen.layout, suspect, lead, seen.symptoms, seen.readings)
    faulty = _found_faulty(seen, suspect)
    matrices = {cell.matrix for fault in suspect.members for cell in fault.cells}
    return Card(
        number=0,
        kind=kind,
        title=title,
        probability=suspect.probability,
        sure=sureness(suspect.probability),
        why=reason.words,
        counts=reason.counts,
        against=reason.against,
        where=places_of(seen.layout, suspect, title, lead),
        first=_cure(seen.layout, faulty) if faulty else None,
        known=_known(seen, suspect),
        repairs=repairs_of(seen.job, suspect) if seen.job else (),
        suspect=suspect.id,
        matrices=tuple(one for one in seen.layout.matrix_ids if one in matrices),
        hinders_play=any(seen.layout.matrix(one).kind is not Kind.LAMP for one in matrices),
        dangerous=any(_keeps_a_coil_on(seen.layout, fault) for fault in suspect.members),
        evidence=_evidence(seen, suspect),
    )


def _said_once(cards: Sequence[Card]) -> list[Card]:
    """Point to the earlier card where two rest on the same."""
    found: list[Card] = []
    for card in cards:
        before = next((one.number for one in found if one.why == card.why and card.why), None)
        found.append(card if before is None else card.model_copy(update={"why": f"as for {before}"}))
    return found


def _with_first_checks(cards: Sequence[Card], diagnosis: Diagnosis) -> tuple[Card, ...]:
    """Give each card the check that is worth most; one that stands with an earlier card is not said again."""
    done: dict[str, int] = {}
    found: list[Card] = []
    for card in cards:
        checks = checks_of(diagnosis, card.suspect)
        first, more = card.first, len(checks)
        if first is None and checks:
            ranked = by_worth(checks)
            best = next((check for check in ranked if _named(check) not in done), ranked[0])
            before = done.setdefault(_named(best), card.number)
            first, more = _first(best), more - 1
            if before != card.number:
                first = first.model_copy(update={"short": f"done with {before}"})
        found.append(card.model_copy(update={"first": first, "more_checks": more}))
    return tuple(found)


def _named(check: BenchCheck) -> str:
    return check.short or check.do


def checks_of(diagnosis: Diagnosis, suspect_id: str) -> list[BenchCheck]:
    """Return the bench checks that serve a suspect, in their order."""
    return [check for check in diagnosis.checks if suspect_id in (check.suspects or (check.suspect,))]


def _found_faulty(seen: Seen, suspect: Suspect) -> str:
    """Return the designator or place of the suspect that a check found faulty; empty where none did."""
    places = {place_of(fault) for fault in suspect.members}
    found = [one.finding.blames for one in (seen.job.findings if seen.job else ()) if one.verdict == "faulty"]
    return next((place for place in found if place in places), "")


def _cure(layout: Layout, place: str) -> FirstCheck:
    words = place_words(layout, place)
    if is_ref(place) and part_class(place) == "fuse":
        return FirstCheck(short=f"find out why {words} blew, replace it, record it")
    return FirstCheck(short=f"repair or replace {words}, record it")


def _first(check: BenchCheck) -> FirstCheck:
    short = uncapital(_named(check).rstrip("."))
    return FirstCheck(code=check.code, short=short, power=check.power, minutes=check.minutes)


def _keeps_a_coil_on(layout: Layout, fault: Fault) -> bool:
    if fault.fault not in LASTING and fault.fault not in LIGHTING:
        return False
    return any(
        layout.matrix(cell.matrix).kind is Kind.COIL and layout.cell(cell).device == "coil" for cell in fault.cells
    )


def _known(seen: Seen, suspect: Suspect) -> tuple[str, ...]:
    """Say what checks found at the suspect's places."""
    if seen.job is None:
        return ()
    places = {place_of(fault) for fault in suspect.members}
    return tuple(
        f"{_found(seen.layout, one)}{f': {one.note}' if one.note else ''}"
        for one in seen.job.findings
        if not places.isdisjoint(one.finding.places)
    )


def _found(layout: Layout, made: FindingMade) -> str:
    if made.finding.code:
        return f"check {found_words(made.finding, layout)}"
    return f"{place_words(layout, made.place)} found {made.verdict}"


def _evidence(seen: Seen, suspect: Suspect) -> tuple[Evidence, ...]:
    """List what was seen of each cell that the suspect concerns."""
    found: dict[CellKey, Verdict] = dict.fromkeys(suspect.explains, "fits")
    found |= dict.fromkeys(suspect.contradicts, "against")
    found |= dict.fromkeys((cell for cell in suspect.untested if cell not in found), "untested")
    ohms = suspect.members[0].fault is FaultClass.WRONG_DEVICE
    last = {reading.cell: reading for reading in seen.readings if reading.answered is not None}
    return tuple(
        Evidence(
            cell=str(cell),
            words=cell_words(seen.layout, cell),
            seen=(ohms and ohms_words(seen.layout, cell, seen.readings)) or _seen(seen, cell, last.get(cell)),
            verdict=verdict,
        )
        for cell, verdict in found.items()
        if cell in seen.layout.matrix(cell.matrix).by_key
    )


def _seen(seen: Seen, cell: CellKey, reading: Reading | None) -> str:
    symptoms = seen.symptoms
    mark = symptoms.marks.get(cell, Mark.UNTESTED)
    said = [str(mark)]
    if reading is not None and reading.answered:
        passed_over = {cell, *reading.held, *symptoms.at_rest}
        others = [one for one in reading.answered if one in symptoms.uncalled and one not in passed_over]
        if others:
            how = "too" if cell in reading.answered else "instead"
            said.append(f"{numbers_words(seen.layout, others, 'and')} {how}")
    if cell in symptoms.uncalled:
        said.append("shows though not called")
    if cell in symptoms.unsteady:
        said.append("comes and goes")
    return ", ".join(said)
