"""The shapes of an answer, and their JSON form (`answer` beside format 1)."""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

Kind = Literal["safety", "shared fault", "single cell", "repair", "no fault"]
Sure = Literal["near certain", "likely", "one of several", "recorded"]
Verdict = Literal["fits", "against", "untested"]
Stands = Literal["retest due", "open again", "closed", "nothing to retest"]

LONGEST_TITLE = 60
STILL_LOOKING = "Still looking …"
NEAR_CERTAIN, LIKELY = 0.95, 0.7
"""From these probabilities on a fault is called so."""


class _Shape(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class Count(_Shape):
    """What was seen of the devices of one matrix that a fault takes hold of.

    `seen` of the `tested` speak for the fault: they show what it would do, or work where it leaves them alone. The
    devices that nobody tested come on top.
    """

    matrix: str
    seen: int
    tested: int
    untested: int


class Place(_Shape):
    """Where a fault may sit, with its share of the card. The shares of a card have the sum 1."""

    words: str
    share: float


class FirstCheck(_Shape):
    """The check that is worth most: `code` names it to `finding`, `minutes` is the effort."""

    code: str = ""
    short: str
    power: bool = False
    minutes: float | None = None


class Evidence(_Shape):
    """One cell of a card: its place, its name, what was seen of it, and what that says of the fault."""

    cell: str
    words: str
    seen: str
    verdict: Verdict


class RepairShown(_Shape):
    """A repair: its place as findings name it, what was done, and how it stands, which `words` say.

    `due` counts the cells that wait for their retest, `passed` and `failed` those that were tested since.
    """

    place: str
    did: str = ""
    stands: Stands
    due: int
    passed: int
    failed: int
    words: str


class Card(_Shape):
    """One fault, or a repair that no fault's card shows. `number` is how people call it, the same on every face.

    `why` gives its `counts` in words; `against` are results that speak against it. `where`: likeliest place first.
    `more_checks` come after `first`. `known` is what a check said of its places, `repairs` what was done at them.
    `suspect` is its id in the diagnosis, empty for a failed safety check and a repair. `hinders_play`: it takes hold of
    switches or coils.
    """

    number: int
    kind: Kind
    title: str = Field(max_length=LONGEST_TITLE)
    probability: float
    sure: Sure
    why: str
    counts: tuple[Count, ...] = ()
    against: int = 0
    where: tuple[Place, ...] = ()
    first: FirstCheck | None = None
    more_checks: int = 0
    known: tuple[str, ...] = ()
    repairs: tuple[RepairShown, ...] = ()
    suspect: str = ""
    matrices: tuple[str, ...] = ()
    dangerous: bool = False
    hinders_play: bool = False
    evidence: tuple[Evidence, ...] = ()


class AlsoPossible(_Shape):
    """What may be there instead of some cards, or besides all of them, as one line in `words`."""

    probability: float
    instead_of: tuple[int, ...]
    words: str
    faults: tuple[str, ...]


class NextStep(_Shape):
    """The test that says most: exercise `cell` (None: look at rest) with `held` closed. `narrows`: the cards."""

    words: str
    matrix: str
    cell: str | None = None
    held: tuple[str, ...] = ()
    narrows: tuple[int, ...] = ()
    outcomes: str = ""


class Answer(_Shape):
    """All that is said of a job or of readings.

    `danger` comes before all else; with `stop` it is all that may be said. Then comes, in a line, that the search is
    `unfinished` or was cut short, then the `headline` of one or two lines: both together have two at most.
    `left_open`: what nothing above can tell. `rates`: by which rates of faults it goes, where these are learned.
    """

    danger: str = ""
    stop: bool = False
    unfinished: str = ""
    headline: tuple[str, ...] = Field((), max_length=2)
    cards: tuple[Card, ...] = ()
    also_possible: tuple[AlsoPossible, ...] = ()
    next: tuple[NextStep, ...] = ()
    left_open: tuple[str, ...] = ()
    rates: str = ""

    def card(self, number: int) -> Card | None:
        """Return the card of that number, None where there is none."""
        return next((card for card in self.cards if card.number == number), None)


def sureness(probability: float) -> Sure:
    """Return how sure a probability makes, by whole per cent as they are shown."""
    shown = round(probability, 2)
    if shown >= NEAR_CERTAIN:
        return "near certain"
    return "likely" if shown >= LIKELY else "one of several"
