"""The checks before a machine of unknown history gets power, and how each stands: open, passed, failed or waived.

The usual ones are common practice without a source; a layout adds its fuses and its plugs, a job whatever was recorded
besides. A check that failed stays so until it is passed or waived with a reason. Local codes and licensed practice come
first.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Literal, NamedTuple

from msgspec.structs import replace

from matrixcheck.errors import UsageError
from matrixcheck.layout.check_names import EARTH, is_earth, same
from matrixcheck.layout.designators import is_ref, owner, part_class
from matrixcheck.layout.limits import MEASURED
from matrixcheck.layout.model import Check, Layout, Unit
from matrixcheck.record.earth_limit import LEAST_MEGOHMS, Limit
from matrixcheck.record.events import SafetyChecked
from matrixcheck.record.job_state import JobState, SafetyCheckMade

_ROUNDING = 1e-9
INSULATION = "insulation"
FIRST_POWER = "first power-up"
_EARTH_PART = "from the earth pin, in ohms, the lead moved meanwhile: the reading must not jump"

USUAL: tuple[tuple[str, str], ...] = (
    (
        "mains lead",
        "unplugged: run it through the hand; no tape, no bare copper, three cores; the cord grip holds",
    ),
    ("plug wiring", "the fused conductor is the live one; live, neutral and earth at their pins"),
    (
        "polarity",
        "unplugged, switch on: line pin to fuse and switch about zero, neutral pin only through the transformer; a "
        "two-core lead, or a plug that goes in both ways: a licensed person decides",
    ),
    (
        EARTH,
        "from the earth pin to each exposed metal part, in ohms, the lead moved meanwhile: door, lock bar, rails, "
        "legs, backbox, coin mech, transformer, playfield metal; each may be a check of its own, as in 'earth bond: "
        "door'",
    ),
    (
        INSULATION,
        "a trained person: line and neutral joined, to earth, switch on, 500 V DC, 250 where a filter trips it: 1 "
        "megohm or more; then leakage, to the local limit",
    ),
    (
        "mains fuse",
        "amps, T or F, volts, size and breaking capacity, ceramic stays ceramic; in the plug as well; no foil, no wire",
    ),
    ("mains voltage", "the taps of the transformer fit the mains here; the frequency where a motor is fitted"),
    ("other fuses", "by the manual or the label at the holder, not by what is in it; clips tight"),
    ("plugs", "each where the manual says; none off, askew or a pin aside; like plugs not exchanged"),
    ("loose parts", "no screw, solder or tool lies on or under a board"),
    ("batteries", "none leaks; clean before power; look under the boards"),
    ("door interlock", "it works and is not wedged"),
    ("service socket", "live with the switch off: marked so"),
    ("glass and backbox", "latched before the machine is moved"),
    (
        FIRST_POWER,
        "coil fuse out, switches and lamps first; through a residual-current device, and a series bulb where there "
        "is one",
    ),
)
Outcome = Literal["open", "passed", "failed", "waived"]


class SafetyItem(NamedTuple):
    """A check: its name, what it is about, and how it came out last; None where it was never made.

    `one_of` is "fuses", "plugs" or "earth bonds" where it is of one of the layout's, else "". `line` is the layout's
    own line of the list, if it is one, and `ref` the fuse or plug.
    """

    item: str
    about: str
    made: SafetyCheckMade | None = None
    one_of: str = ""
    line: Check | None = None
    ref: str = ""

    @property
    def outcome(self) -> Outcome:
        """Return how the check stands."""
        return "open" if self.made is None else outcome_of(self.made)


class SafetyCounts(NamedTuple):
    """How many checks stand so."""

    open: int
    failed: int
    passed: int
    waived: int


def outcome_of(made: SafetyCheckMade) -> Outcome:
    """Return how a check came out."""
    if made.waived:
        return "waived"
    return "passed" if made.passed else "failed"


def checklist(state: JobState, own: Sequence[str] = ()) -> tuple[SafetyItem, ...]:
    """Return the usual checks with those of the layout, and what the job has besides, in the order of the work.

    `own` are names of more checks, not made yet.
    """
    last = {same(one.item): one for one in state.safety}
    known: dict[str, SafetyItem] = {}
    for one in _known(state.layout):
        key = same(one.item)
        known[key] = _both(known[key], one) if key in known else one
    named = {same(name): name for name in (*(one.item for one in state.safety), *own)}
    besides = {key: SafetyItem(name, "") for key, name in named.items() if key not in known}
    bonds = [key for key in known if is_earth(key)]
    items: list[tuple[str, SafetyItem]] = []
    for key, one in known.items():
        items.append((key, one))
        if key == bonds[-1]:
            items += [(other, each) for other, each in besides.items() if is_earth(other)]
    items += [(key, one) for key, one in besides.items() if not is_earth(key)]
    return tuple(one._replace(made=last.get(key)) for key, one in items)


def counts(items: Iterable[SafetyItem]) -> SafetyCounts:
    """Count the checks by how they stand."""
    found = [one.outcome for one in items]
    return SafetyCounts(found.count("open"), found.count("failed"), found.count("passed"), found.count("waived"))


def failed_checks(made: Sequence[SafetyCheckMade]) -> tuple[SafetyCheckMade, ...]:
    """Return the checks that failed and were neither passed nor waived since, in the order they were made."""
    last = {same(one.item): one for one in made}
    return tuple(one for one in last.values() if one.failed)


def measured(one: SafetyItem, reading: float, limit: Limit | None, note: str = "") -> SafetyChecked:
    """Return the event of a check that was measured, judged by its limit; the note says what was read and held to.

    `limit` is that of an earth bond. Raises UsageError for a check that isn't measured, without its limit, and for a
    reading that no meter shows.
    """
    if not MEASURED.holds(reading):
        raise UsageError(f"a reading is {MEASURED}", "give what the meter showed")
    event = _judged(one, reading, limit)
    return replace(event, note=f"{event.note}; {note}") if note else event


def unit_of(one: SafetyItem) -> str:
    """Return in what a check is measured, "" where it isn't."""
    if is_earth(one.item):
        return "ohms"
    if one.line is not None and one.line.unit is not None:
        return one.line.unit
    return "megohms" if same(one.item) == INSULATION else ""


def _judged(one: SafetyItem, reading: float, limit: Limit | None) -> SafetyChecked:
    line = one.line
    if is_earth(one.item):
        if limit is None:
            raise UsageError("the limit is missing", "give the mains lead or a limit")
        return _within(one, reading, _Held("ohms", None, limit.ohms, limit.source))
    if line is not None and line.unit is not None:
        return _within(one, reading, _Held(line.unit, line.least, line.most, "the layout"))
    if same(one.item) == INSULATION:
        return _within(one, reading, _Held("megohms", LEAST_MEGOHMS, None, ""))
    raise UsageError(f"{one.item} is not measured", "type pass, fail or waive")


class _Held(NamedTuple):
    """What a reading is held to."""

    unit: Unit
    least: float | None
    most: float | None
    source: str


def _within(one: SafetyItem, reading: float, held: _Held) -> SafetyChecked:
    """Return the event of a reading. It keeps the limit that was broken, else the most, else the least."""
    unit, least, most, source = held
    low = least is not None and reading < least - _ROUNDING
    high = most is not None and reading > most + _ROUNDING
    kept = least if low or most is None else most
    words = f"{reading:.3g} {unit}, {limits_words(least, most)}"
    return SafetyChecked(
        item=one.item,
        passed=not (low or high),
        note=f"{words} ({source})" if source else words,
        reading=reading,
        limit=None if kept is None else round(kept, 6),
        unit=unit,
        source=source,
    )


def limits_words(least: float | None, most: float | None) -> str:
    """Return from where to where a reading passes."""
    if least is None:
        return f"at most {most:.3g}"
    return f"at least {least:.3g}" if most is None else f"{least:.3g} to {most:.3g}"


def _known(layout: Layout) -> Iterator[SafetyItem]:
    """Yield the usual checks, those of the layout in their place; one by one they replace the check of them all."""
    refs = {owner(ref) for ref in (*layout.lines_through, *layout.part_by_ref) if is_ref(ref)}
    lines = [_own(line) for line in layout.checks if line.section == "before power"]
    bonds = [one for one in lines if is_earth(one.item)]
    instead = {EARTH: bonds, "other fuses": _of_parts(layout, refs, "fuse"), "plugs": _of_parts(layout, refs, "plug")}
    for item, about in USUAL:
        if item == FIRST_POWER:
            yield from (one for one in lines if one not in bonds)
        yield from instead.get(item) or [SafetyItem(item, about)]


def _both(one: SafetyItem, own: SafetyItem) -> SafetyItem:
    """Return a check that the layout has a line of its own for."""
    return one._replace(about="; ".join(filter(None, [own.about, one.about])), line=own.line)


def _own(line: Check) -> SafetyItem:
    earth = is_earth(line.text)
    limits = f"{limits_words(line.least, line.most)} {line.unit}" if line.unit else ""
    about = ", ".join(filter(None, [line.place, limits, _EARTH_PART if earth else ""]))
    return SafetyItem(line.text, about, one_of="earth bonds" if earth else "", line=line)


def _of_parts(layout: Layout, refs: Iterable[str], kind: Literal["fuse", "plug"]) -> list[SafetyItem]:
    part_kind = "fuse" if kind == "fuse" else "connector"
    found = []
    for ref in sorted((one for one in refs if part_class(one) == part_kind), key=_by_count):
        part = layout.part_by_ref.get(ref)
        what = ", ".join(filter(None, [part.rating, part.name, part.place])) if part else ""
        usual = "the rating of the manual" if kind == "fuse" else "as the manual has it; colours match"
        about = f"in its holder: {what or usual}" if kind == "fuse" else what or usual
        found.append(SafetyItem(f"{kind} {ref}", about, one_of=f"{kind}s", ref=ref))
    return found


def _by_count(ref: str) -> tuple[str, int]:
    letters = ref.rstrip("0123456789")
    return letters, int(ref[len(letters) :])
