"""The answer on the page: in short beside a job, and one card of it with all that is behind it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from matrixcheck.layout.places import CellKey, parse_cell
from matrixcheck.record.job_state import JobState
from matrixcheck.report.answer.model import STILL_LOOKING, Card, Verdict
from matrixcheck.report.answer.text import first_words, repairs_words, step_words, sure_words, where_words
from matrixcheck.report.spots import likely_places
from matrixcheck.web.page.answers import Found
from matrixcheck.web.page.screens.grid import Grid, grid_of
from matrixcheck.web.page.screens.head import JobHead, head_of
from matrixcheck.web.page.screens.known import Known, known_at
from matrixcheck.web.page.screens.photos import PhotoArea, photo_area

if TYPE_CHECKING:
    from matrixcheck.report.work_list import WorkStep

FAILED = "The analysis failed. Every mark is kept, and the next one tries again."
FIRST_CARDS = 4
"""Cards that a job's page shows before it folds the others away."""
AT_HAND = 6
"""Places that are offered where a repair is kept."""
PLACES = 12
"""Places that a card names before it only counts the rest."""
VERDICT_WORDS: Mapping[Verdict, str] = {"fits": "Fits", "against": "Against", "untested": "Not tested"}


@dataclass(frozen=True)
class CardLine:
    """A card in two lines: its number, its title, how sure it is, and what is to be done first."""

    number: int
    title: str
    sure: str
    first: str
    dangerous: bool


@dataclass(frozen=True)
class Brief:
    """The answer in short; `says` stands above the cards, `looking` while a better one may come.

    `version` is the number of the answer, `first` how many cards are shown before the others are folded away.
    """

    says: Sequence[str]
    cards: Sequence[CardLine]
    next_test: str
    looking: bool
    version: int
    first: int = FIRST_CARDS


@dataclass(frozen=True)
class Step:
    """A bench check as it is done: its code, the effort, what to do, between which points, and what may be seen.

    `unit` is what its value is given in, "" where it is judged by eye alone; `both_ways`: two readings belong to it.
    """

    number: int
    code: str
    minutes: str
    do: str
    cautions: Sequence[str]
    between: str
    outcomes: Sequence[tuple[str, str]]
    found: str
    unit: str
    both_ways: bool
    photos: PhotoArea


@dataclass(frozen=True)
class Group:
    """Checks of one state of the machine, under its cautions."""

    power: bool
    setup: str
    cautions: Sequence[str]
    steps: Sequence[Step]


@dataclass(frozen=True)
class CardScreen:
    """One card of the answer. `card` is None where there is none of that number, or not yet."""

    head: JobHead
    number: int
    looking: bool
    version: int
    says: str
    card: Card | None = None
    sure: str = ""
    facts: Sequence[tuple[str, str]] = ()
    evidence: Sequence[tuple[str, Sequence[str]]] = ()
    rivals: Sequence[str] = ()
    groups: Sequence[Group] = ()
    measuring: Sequence[str] = ()
    places: Sequence[Known] = ()
    grids: Sequence[Grid] = ()


def brief_of(found: Found) -> Brief:
    """Return the answer in short."""
    answer = found.answer
    if found.failed or answer is None:
        return Brief((FAILED if found.failed else STILL_LOOKING,), (), "", not found.ended, found.version)
    says = tuple(filter(None, [answer.unfinished, *answer.headline]))
    cards = [
        CardLine(one.number, one.title, sure_words(one), first_words(one.first, one.more_checks), one.dangerous)
        for one in answer.cards
    ]
    steps = [step_words(one.words, one.narrows) for one in answer.next[:1]]
    return Brief(says, cards, "".join(steps), not found.ended, found.version)


def card_screen(state: JobState, number: int, found: Found) -> CardScreen:
    """Return one card of the answer with its checks and its places."""
    head, answer, diagnosis = head_of(state), found.answer, found.diagnosis
    if found.failed or answer is None or diagnosis is None:
        return CardScreen(head, number, not found.ended, found.version, FAILED if found.failed else STILL_LOOKING)
    card = None if answer.stop else answer.card(number)
    if card is None:
        gone = "" if answer.stop else f"The answer has no card {number} now."
        return CardScreen(head, number, not found.ended, found.version, gone if found.ended else answer.unfinished)
    # Here and not above: the checks need shapes that are slow to import, and only a diagnosis brings them.
    from matrixcheck.report.answer.ranking import ranked  # noqa: PLC0415
    from matrixcheck.report.work_list import work_list  # noqa: PLC0415

    work = work_list(diagnosis, answer, state, card=number)
    suspect = next((one for one in ranked(diagnosis).diagnosis.suspects if one.id == card.suspect), None)
    places = likely_places(suspect)[:PLACES] if suspect else tuple(one.place for one in card.repairs)
    return CardScreen(
        head,
        number,
        not found.ended,
        found.version,
        answer.unfinished,
        card,
        sure_words(card),
        _facts(card),
        _evidence(card),
        [one.words for one in answer.also_possible if number in one.instead_of],
        [Group(one.power, one.setup, one.cautions, [_step(step, state) for step in one.steps]) for one in work.groups],
        work.measuring,
        [known_at(place, state) for place in places],
        [grid_of(state.id, state.layout.matrix(name), state.standings, _lit(card)) for name in card.matrices],
    )


def places_at_hand(state: JobState, found: Found) -> tuple[Known, ...]:
    """Return where the faults of the answer may sit, the likeliest of each first: what may have been repaired."""
    if found.diagnosis is None or found.answer is None or found.answer.stop:
        return ()
    from matrixcheck.report.answer.ranking import ranked  # noqa: PLC0415

    known = {one.id: one for one in ranked(found.diagnosis).diagnosis.suspects}
    suspects = [known[card.suspect] for card in found.answer.cards if card.suspect in known]
    ranks = [likely_places(one)[:PLACES] for one in suspects]
    places = [places[rank] for rank in range(AT_HAND) for places in ranks if rank < len(places)]
    return tuple(known_at(place, state) for place in list(dict.fromkeys(places))[:AT_HAND])


def _facts(card: Card) -> tuple[tuple[str, str], ...]:
    facts = (
        ("why", card.why),
        ("where", where_words(card.where, PLACES)),
        *(("known", words) for words in card.known),
        *(("repair", words) for words in repairs_words(card)),
        ("first", first_words(card.first, card.more_checks)),
    )
    return tuple((name, says) for name, says in facts if says)


def _evidence(card: Card) -> tuple[tuple[str, Sequence[str]], ...]:
    found = []
    for verdict, heading in VERDICT_WORDS.items():
        cells = [one for one in card.evidence if one.verdict == verdict]
        said = [one.words if verdict == "untested" else f"{one.words}: {one.seen}" for one in cells]
        found += [(heading, said)] if said else []
    return tuple(found)


def _lit(card: Card) -> Mapping[CellKey, Verdict]:
    keys = ((parse_cell(one.cell, ""), one.verdict) for one in card.evidence)
    return {key: verdict for key, verdict in keys if key is not None}


def _step(step: WorkStep, state: JobState) -> Step:
    from matrixcheck.report.outcomes import outcomes_of  # noqa: PLC0415

    check = step.check
    seen = (*outcomes_of(check), ("In between", check.between), ("Then", check.then))
    limits = check.limits
    return Step(
        step.number,
        check.code,
        f"{check.minutes:g} min",
        step.do,
        step.cautions,
        " and ".join(filter(None, check.points)),
        [(name, says) for name, says in seen if says],
        step.found,
        limits.unit if limits else "",
        bool(limits and limits.both_ways),
        photo_area(state, check.code, check=check.code),
    )
