"""The suspects beside the grid: how likely each is and the one sentence that says why."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, NamedTuple

from matrixcheck.layout.places import CellKey
from matrixcheck.tui.text.spans import Row, Tone, clipped, fitted, row, shortened, wrapped
from matrixcheck.tui.text.tile import Light

if TYPE_CHECKING:
    from matrixcheck.diagnosis.result import Diagnosis, Suspect
    from matrixcheck.report.answer.model import Answer


WORKING = "working it out …"
OUTDATED = "Still looking; this is from before the last entry."
OUTDATED_IN_BRIEF = "from before the last entry …"
FAILED = "The analysis failed. Every mark is kept, and the next one tries again."


class Listed(NamedTuple):
    """A card of the answer: number, title, how sure, what it says below that, and the matrices that it takes hold of.

    `suspect` is None where no diagnosis names it: a safety check that failed.
    """

    suspect: Suspect | None
    number: int
    title: str
    sure: str
    says: tuple[str, ...]
    dangerous: bool = False
    matrices: tuple[str, ...] = ()


class Analysis(NamedTuple):
    """Hold an answer ready to be shown.

    `danger`, that the search is `unfinished`, and `headline` stand above the cards, `below` follows them; all of it is
    made of `answer`.
    """

    diagnosis: Diagnosis
    danger: str
    unfinished: str
    headline: tuple[str, ...]
    cards: tuple[Listed, ...]
    below: tuple[str, ...] = ()
    answer: Answer | None = None

    @property
    def suspects(self) -> tuple[Suspect, ...]:
        """Return the suspects of the cards, in their order."""
        return tuple(card.suspect for card in self.cards if card.suspect is not None)

    def on_screen_of(self, matrix_id: str) -> Analysis:
        """Return the analysis as a screen of one matrix lists it: dangers, then the cards of that matrix first."""
        cards = sorted(self.cards, key=lambda card: (not card.dangerous, matrix_id not in card.matrices, card.number))
        return self._replace(cards=tuple(cards))

    def card_of(self, suspect: Suspect) -> Listed | None:
        """Return the card of a suspect."""
        return next((card for card in self.cards if card.suspect == suspect), None)


class Entry(NamedTuple):
    """Hold one card as lines; `top` is the line that it begins on."""

    suspect: Suspect | None
    top: int
    rows: tuple[Row, ...]


def entries(analysis: Analysis, chosen: str | None, width: int, height: int, brief: bool) -> tuple[Entry, ...]:
    """Return the cards as lines: all of the chosen one, and of the others in their order what fits `height`.

    Each is told at least by its title and how sure it is, whole. The blank lines between them go before that does;
    `brief` has one line for each, and no blank ones; else `height` counts the blank one below the last card too.
    """
    says, least = _told(analysis, chosen, width, brief)
    apart = 0 if brief or sum(map(len, least)) + len(least) > height else 1
    left = height - sum(map(len, least)) - (apart * len(least) or (0 if brief else 1))
    found: list[Entry] = []
    top = 0
    for card, rows, fewest in zip(analysis.cards, says, least, strict=True):
        taken = min(len(rows) - len(fewest), max(left, 0))
        left -= taken
        shown = (*(shortened(rows, len(fewest) + taken) if taken > 0 else fewest), *((),) * apart)
        found.append(Entry(card.suspect, top, shown))
        top += len(shown)
    return tuple(found)


def least_height(analysis: Analysis, chosen: str | None, width: int) -> int:
    """Return how many lines the cards need at least to be told whole."""
    return sum(map(len, _told(analysis, chosen, width, brief=False)[1]))


def _told(
    analysis: Analysis, chosen: str | None, width: int, brief: bool
) -> tuple[list[tuple[Row, ...]], list[tuple[Row, ...]]]:
    """Return all lines of each card, and the fewest that it is told in."""
    is_chosen = [card.suspect is not None and card.suspect.id == chosen for card in analysis.cards]
    says = [_says(card, here, width) for card, here in zip(analysis.cards, is_chosen, strict=True)]
    least = [
        rows if here else (_in_one_line(card, width),) if brief else _in_short(card, width)
        for card, rows, here in zip(analysis.cards, says, is_chosen, strict=True)
    ]
    return says, least


def outdated(rows: Sequence[Row], width: int, height: int) -> tuple[Row, ...]:
    """Return the lines of an answer with the word that it is from before the last entry, and none of them moved.

    It stands on the first blank line or below the last; without either at the end of the first that warns of nothing.
    """
    words = OUTDATED if len(OUTDATED) <= width else OUTDATED_IN_BRIEF
    blank = next((place for place, each in enumerate(rows) if not each), len(rows))
    if blank < height:
        return (*rows[:blank], row(words, "strong"), *rows[blank + 1 :])
    place = next((place for place, each in enumerate(rows) if each[0][1] != "alert"), len(rows) - 1)
    kept = fitted(rows[place], max(width - len(OUTDATED_IN_BRIEF) - 2, 0))
    gap = max(width - len(OUTDATED_IN_BRIEF) - sum(len(text) for text, _ in kept), 0)
    return (*rows[:place], (*kept, (" " * gap, "plain"), (OUTDATED_IN_BRIEF, "strong")), *rows[place + 1 :])


def more_below(rows: Sequence[Row], height: int, width: int, count: int) -> tuple[Row, ...]:
    """Return the lines that there is room for; the last ends with how many suspects follow."""
    word = f"↓ {count} more"
    shown = rows[:height]
    kept = fitted(shown[-1], width - len(word) - 1)
    gap = width - len(word) - sum(len(text) for text, _ in kept)
    return (*shown[:-1], (*kept, (" " * gap, "plain"), (word, "key")))


def lights(suspect: Suspect | None) -> Mapping[CellKey, Light]:
    """Return the cells that a suspect lights on the grid."""
    if suspect is None:
        return {}
    lit = dict.fromkeys(suspect.untested, Light.UNTESTED)
    lit.update(dict.fromkeys(suspect.explains, Light.EXPLAINED))
    lit.update(dict.fromkeys(suspect.contradicts, Light.CONTRADICTS))
    return lit


def deciding(analysis: Analysis | None, chosen: Suspect | None) -> tuple[CellKey, ...]:
    """Return the most informative cells of one matrix.

    Those that the analyser would exercise next, else those of the chosen suspect that nobody tested.
    """
    if analysis is None:
        return ()
    next_cells = [test.cell for test in analysis.diagnosis.next if test.cell is not None and not test.held]
    wanted = next_cells or (chosen.untested if chosen else ())
    return tuple(key for key in wanted if key.matrix == wanted[0].matrix)


def proposed_holds(analysis: Analysis | None, matrix_id: str) -> tuple[tuple[CellKey, ...], ...]:
    """Return the sets of switches of a matrix that the analyser would keep closed, each once."""
    tests = analysis.diagnosis.next if analysis else ()
    return tuple(dict.fromkeys(test.held for test in tests if test.held and test.matrix == matrix_id))


def _in_one_line(card: Listed, width: int) -> Row:
    title = clipped(f" {card.number} {card.title}", width)
    tone: Tone = "alert" if card.dangerous else "strong"
    sure = f"  {card.sure}"
    return ((title, tone), (sure, "quiet")) if len(title + sure) <= width else row(title, tone)


def _in_short(card: Listed, width: int) -> tuple[Row, ...]:
    """Return the title of a card and how sure it is, the latter on the title's last line where it fits there."""
    tone: Tone = "alert" if card.dangerous else "strong"
    title = wrapped(f"{card.number} {card.title}", width, tone, indent="  ", first=" ")
    sure: Row = ((f"  {card.sure}", "quiet"),)
    if sum(len(text) for text, _ in (*title[-1], *sure)) <= width:
        return (*title[:-1], (*title[-1], *sure))
    return (*title, *wrapped(card.sure, width, "quiet", indent="   "))


def _says(card: Listed, here: bool, width: int) -> tuple[Row, ...]:
    head = f"{'▸' if here else ' '}"
    title = wrapped(
        f"{card.number} {card.title}", width, "alert" if card.dangerous else "strong", indent="  ", first=head
    )
    return (*title, *(line for text in card.says for line in wrapped(text, width, "plain", indent="   ", first="  ")))
