"""The bench checks of an answer as a work list: grouped by the state of the machine, each caution once."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import groupby

from pydantic import BaseModel, ConfigDict

from matrixcheck.diagnosis.advice.bench_checks.cautions import LIVE, SPECIAL, caution_of
from matrixcheck.diagnosis.advice.bench_checks.work_order import State, change_minutes, in_work_order, state_of
from matrixcheck.diagnosis.result import BenchCheck, Diagnosis
from matrixcheck.record.job_state import JobState
from matrixcheck.record.summary import found_words
from matrixcheck.report.answer.model import Answer
from matrixcheck.report.answer.ranking import ranked

MEASURING = (
    "Volts first: under 0.5 V between the same two points, turn to ohms. Else wait, or bleed it through a resistor.",
    "Touch the tips together, and take the ohms of the leads off every reading.",
    "About zero is up to 1 ohm. Open is OL, or over 10 kilohms.",
    "Diode test: 0.4 to 0.8 V one way and OL the other is good, under 0.1 V both ways is shorted.",
    "Probe a plug from the wire side: a tip pushed into a contact spreads it.",
    "The neighbour is the reference: same point, next line of the same kind.",
)
"""What holds for every measurement (common practice, no source)."""


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class WorkStep(_Shape):
    """A check in its place. `do` leaves out what the step before it left pulled; `cautions` are new kinds of hazard.

    `cards`: the cards of the answer that it serves; `found` is what it found before, "" where nothing was recorded.
    """

    number: int
    check: BenchCheck
    do: str
    cautions: tuple[str, ...] = ()
    cards: tuple[int, ...] = ()
    found: str = ""


class WorkGroup(_Shape):
    """Checks of one state of the machine; `minutes` count the change to it."""

    power: bool
    setup: str
    cautions: tuple[str, ...]
    minutes: float
    steps: tuple[WorkStep, ...]


class WorkList(_Shape):
    """All that is to be checked. `danger` comes before all else; with `stop` it is all that may be said."""

    danger: str = ""
    stop: bool = False
    measuring: tuple[str, ...] = ()
    groups: tuple[WorkGroup, ...] = ()

    @property
    def count(self) -> int:
        """Return how many checks there are."""
        return sum(len(group.steps) for group in self.groups)

    @property
    def minutes(self) -> float:
        """Return the minutes of all of it."""
        return sum(group.minutes for group in self.groups)


def work_list(
    diagnosis: Diagnosis,
    answer: Answer,
    job: JobState,
    *,
    card: int | None = None,
    power_on: bool = False,
    also_possible: bool = False,
) -> WorkList:
    """Return the checks that serve the cards of an answer, or one of them, in the order of the work.

    `power_on`: the machine is on now, so that what needs the power comes first. `also_possible`: the checks of what
    may be there instead as well.
    """
    if diagnosis.stop:
        return WorkList(danger=diagnosis.danger, stop=True)
    cards = {each.suspect: each.number for each in answer.cards if each.suspect}
    checks = []
    for check in ranked(diagnosis).diagnosis.checks:
        serves = _cards(check, cards)
        if card in serves or (card is None and (serves or also_possible)):
            checks.append(check)
    found = {one.finding.code: found_words(one.finding, job.layout) for one in job.findings if one.finding.code}
    groups = tuple(work_groups(in_work_order(checks, power_on=power_on), cards, found, power_on=power_on))
    return WorkList(danger=diagnosis.danger, measuring=MEASURING if groups else (), groups=groups)


def _cards(check: BenchCheck, cards: Mapping[str, int]) -> tuple[int, ...]:
    return tuple(sorted({cards[name] for name in check.suspects if name in cards}))


def work_groups(
    checks: Sequence[BenchCheck],
    cards: Mapping[str, int],
    found: Mapping[str, str],
    *,
    power_on: bool = False,
) -> Iterator[WorkGroup]:
    """Yield checks that stand in the order of the work by the state of the machine, each caution once.

    `cards`: the number of the card by suspect; `found`: what was found by code.
    """
    now, number, said = State(power=power_on), 0, set[str]()
    for (power, setup), alike in groupby(checks, key=lambda check: (check.power, check.setup)):
        its = list(alike)
        if power is not now.power or not number:
            said = set()
        general = [one for check in its for one in _caution(check) if (one in LIVE if power else one not in SPECIAL)]
        above = tuple(dict.fromkeys(one for one in general if one not in said))
        said |= set(above)
        steps: list[WorkStep] = []
        minutes = 0.0
        for check in its:
            number += 1
            minutes += change_minutes(now, state_of(check)) + check.minutes
            before = steps[-1].check if steps else None
            special = tuple(one for one in _caution(check) if one not in said)
            said |= set(special)
            now = state_of(check)
            steps.append(
                WorkStep(
                    number=number,
                    check=check,
                    do=_do(check, before),
                    cautions=special,
                    cards=_cards(check, cards),
                    found=found.get(check.code, ""),
                )
            )
        yield WorkGroup(power=power, setup=setup, cautions=above, minutes=minutes, steps=tuple(steps))


def _caution(check: BenchCheck) -> tuple[str, ...]:
    return caution_of(check.hazard, power=check.power, setup=check.setup)


def _do(check: BenchCheck, before: BenchCheck | None) -> str:
    """Return what to do, without the sentences that set up what the check before left so."""
    if before is None or before.plugs != check.plugs or not check.plugs:
        return check.do
    done = before.prepare.split(". ")
    left = [each for each in check.prepare.split(". ") if each.rstrip(".") not in {one.rstrip(".") for one in done}]
    rest = check.do.removeprefix(check.prepare).strip()
    return f"{'. '.join(each.rstrip('.') for each in left)}. {rest}" if left else rest
