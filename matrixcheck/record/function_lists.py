"""The rest of the machine's own test mode as short lists: displays, sound, lighting, relays, flippers, play test.

The usual lines are common practice without a source; a layout adds lines of its own, and so does a job. A line that
nobody judged is untested, never good.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Literal, NamedTuple, get_args

from matrixcheck.errors import UsageError
from matrixcheck.layout.check_names import same
from matrixcheck.layout.model import Section
from matrixcheck.layout.problems import shown
from matrixcheck.record.events import FunctionVerdict
from matrixcheck.record.job_state import FunctionCheckMade, JobState

SECTIONS: tuple[Section, ...] = get_args(Section)[1:]
"""The lists in the order of the work."""
USUAL: Mapping[Section, tuple[tuple[str, str], ...]] = MappingProxyType(
    {
        "displays": (
            ("segments", "in the display test every segment or dot lights, none stays on"),
            ("brightness", "even over all displays, and steady while coils fire"),
        ),
        "sound": (
            ("speakers", "each one plays, none rattles or hums"),
            ("sounds", "the sound test steps through all of them, none is missing"),
            ("volume", "it goes up and down without crackling"),
        ),
        "lighting": (
            ("strings", "every string is lit, no lamp of it is dark"),
            ("flicker", "no lamp flickers while the playfield is tapped"),
        ),
        "relays": (("each relay", "it pulls and lets go with a click as the test steps"),),
        "flippers": (
            ("strength", "each lifts at full force, left and right alike"),
            ("hold", "each stays up while its button is held, a few seconds, without hum"),
            ("return", "each drops at once; link and bush have no play"),
        ),
        "play test": (
            ("coin and start", "a coin gives a credit, a game starts"),
            ("ball feed", "one ball at a time reaches the plunger, and all are counted"),
            ("scoring", "every target, lane and bumper scores once a hit"),
            ("tilt", "a shake tilts the ball, the slam tilt ends the game"),
            ("end of ball", "the drain counts, the next player is up"),
            ("a whole game", "no reset, no hang, no ball lost"),
        ),
    }
)
Outcome = Literal["untested"] | FunctionVerdict


class FunctionLine(NamedTuple):
    """A line of a list: what is tried, what to look for, and what came of it last; None where nobody tried."""

    section: Section
    item: str
    about: str
    made: FunctionCheckMade | None = None

    @property
    def outcome(self) -> Outcome:
        """Return how the line stands."""
        return "untested" if self.made is None else self.made.verdict

    @property
    def name(self) -> str:
        """Return the line with its list, as in `sound: knocker`."""
        return f"{self.section}: {self.item}"


class FunctionCounts(NamedTuple):
    """How many lines stand so; they add up to all there are."""

    untested: int
    good: int
    faulty: int
    comes_and_goes: int
    not_fitted: int


def function_lists(state: JobState, own: Sequence[tuple[Section, str]] = ()) -> tuple[FunctionLine, ...]:
    """Return the lines of all lists: the usual ones, the layout's, then those that the job has besides.

    `own` are more lines, not judged yet.
    """
    last = {(one.section, same(one.item)): one for one in state.functions}
    layout = [(line.section, line.text, line.place) for line in state.layout.checks]
    besides = [*((one.section, one.item, "") for one in state.functions), *((*one, "") for one in own)]
    found: dict[tuple[Section, str], FunctionLine] = {}
    for section in SECTIONS:
        usual = [(section, item, about) for item, about in USUAL[section]]
        for _, item, about in (*usual, *(one for one in (*layout, *besides) if one[0] == section)):
            key = section, same(item)
            before = found.get(key)
            words = "; ".join(filter(None, [about, before.about if before else ""]))
            found[key] = FunctionLine(section, before.item if before else item, words, last.get(key))
    return tuple(found.values())


def function_counts(lines: Iterable[FunctionLine]) -> FunctionCounts:
    """Count the lines by how they stand."""
    found = [one.outcome for one in lines]
    order: tuple[Outcome, ...] = ("untested", "good", "faulty", "comes and goes", "not fitted")
    return FunctionCounts(*map(found.count, order))


def counts_by_list(lines: Sequence[FunctionLine]) -> dict[Section, FunctionCounts]:
    """Count the lines of each list."""
    return {section: function_counts(one for one in lines if one.section == section) for section in SECTIONS}


def lines_named(text: str, lines: Sequence[FunctionLine]) -> tuple[FunctionLine, ...]:
    """Return the lines that a text names: `knocker`, `sound: knocker`, or all that are untested of the list `sound`.

    `sound: TEXT` that isn't there is a line of one's own. Raises UsageError for any other text, and where two lists
    have a line of that name.
    """
    typed = same(text)
    sections = {str(section): section for section in SECTIONS}
    if typed in sections:
        fresh = tuple(one for one in lines if one.section == typed and one.outcome == "untested")
        if not fresh:
            raise UsageError(f"no line of {typed} is untested", "name the one that is to be recorded again")
        return fresh
    found = [one for one in lines if typed in (same(one.item), same(one.name))]
    if len(found) > 1:
        raise UsageError(f"{shown(text)} stands on several lists", f"type {' or '.join(one.name for one in found)}")
    head, colon, item = text.partition(":")
    if not found and colon and same(head) in sections and item.strip():
        return (FunctionLine(sections[same(head)], item.strip(), ""),)
    if not found:
        raise UsageError(f"no list has a line {shown(text)}", "add it to one, as in 'sound: knocker'")
    return tuple(found)


def changed_functions(
    now: Sequence[FunctionLine], then: Sequence[FunctionLine]
) -> tuple[tuple[FunctionLine | None, FunctionLine | None], ...]:
    """Return (then, now) of the lines that stand otherwise at another visit; None where a visit lacks the line."""
    before = {same(one.name): one for one in then}
    after = {same(one.name): one for one in now}
    pairs = [(before.get(name), after.get(name)) for name in dict.fromkeys((*after, *before))]
    return tuple((one, other) for one, other in pairs if _outcome(one) != _outcome(other))


def _outcome(line: FunctionLine | None) -> Outcome:
    return "untested" if line is None else line.outcome
