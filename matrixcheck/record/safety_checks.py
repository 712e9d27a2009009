"""The checks before a machine of unknown history gets power, and how each stands: open, passed, failed or waived.

The usual ones are common practice without a source; a layout adds its fuses and its plugs, a job whatever was recorded
besides. A check that failed stays so until it is passed or waived with a reason. Local codes and licensed practice come
first.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal, NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout.designators import is_ref, owner, part_class
from matrixcheck.layout.limits import MEASURED_OHMS
from matrixcheck.layout.model import Layout
from matrixcheck.record.earth_limit import LEAST_MEGOHMS, Limit
from matrixcheck.record.events import SafetyChecked
from matrixcheck.record.job_state import JobState, SafetyCheckMade

_ROUNDING = 1e-9
EARTH = "earth bond"
INSULATION = "insulation"

USUAL: tuple[tuple[str, str], ...] = (
    ("mains lead", "unplugged: run it through the hand; no tape, no bare copper, three cores; the grip holds"),
    ("plug wiring", "the fused conductor is the live one; live, neutral and earth at their pins"),
    (
        "polarity",
        "unplugged, switch on: fuse and single-pole switch sit in the line; if not, a licensed person decides",
    ),
    (
        "earth bond",
        "from the earth pin to each exposed metal part, in ohms, the lead moved meanwhile: door, lock bar, "
        "rails, legs, backbox, coin mech, transformer; each may be a check of its own, as in 'earth bond: door'",
    ),
    ("insulation", "a trained person: line and neutral to earth, switch on, 1 megohm or more"),
    ("mains fuse", "amps, T or F, volts, size and breaking capacity; in the plug as well; no foil, no wire"),
    ("mains voltage", "the taps of the transformer fit the mains here; the frequency where a motor is fitted"),
    ("other fuses", "by the manual or the label at the holder, not by what is in it; clips tight"),
    ("plugs", "each where the manual says; none off, askew or a pin aside; like plugs not exchanged"),
    ("loose parts", "no screw, solder or tool lies on or under a board"),
    ("batteries", "none leaks; clean before power; look under the boards"),
    ("door interlock", "it works and is not wedged"),
    ("service socket", "live with the switch off: marked so"),
    ("glass and backbox", "latched before the machine is moved"),
    ("first power-up", "coil fuse out, switches and lamps first; through a residual-current device"),
)
_ONE_BY_ONE = {"fuse": "other fuses", "plug": "plugs"}
"""The usual check that those of a layout's parts stand for, one by one."""

Outcome = Literal["open", "passed", "failed", "waived"]


class SafetyItem(NamedTuple):
    """A check: its name, what it is about, and how it came out last; None where it was never made.

    `one_of` is "fuses" or "plugs" where it is of one of the layout's, else "".
    """

    item: str
    about: str
    made: SafetyCheckMade | None
    one_of: str = ""

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
    """Return the usual checks, those of the layout's fuses and plugs, and what the job has besides, in this order.

    `own` are names of more checks, not made yet.
    """
    last = {same(one.item): one for one in state.safety}
    fitted = dict(_of_layout(state.layout))
    kinds = {name: name.partition(" ")[0] for name in fitted}
    replaced = {_ONE_BY_ONE[kind] for kind in kinds.values()}
    known = {**{item: about for item, about in USUAL if item not in replaced}, **fitted}
    names = {same(item): item for item in (*(one.item for one in state.safety), *own, *known)}
    return tuple(
        SafetyItem(name, known.get(name, ""), last.get(key), f"{kinds[name]}s" if name in kinds else "")
        for key in _ordered(names, known)
        if (name := names[key])
    )


def counts(items: Iterable[SafetyItem]) -> SafetyCounts:
    """Count the checks by how they stand."""
    found = [one.outcome for one in items]
    return SafetyCounts(found.count("open"), found.count("failed"), found.count("passed"), found.count("waived"))


def failed_checks(made: Sequence[SafetyCheckMade]) -> tuple[SafetyCheckMade, ...]:
    """Return the checks that failed and were neither passed nor waived since, in the order they were made."""
    last = {same(one.item): one for one in made}
    return tuple(one for one in last.values() if one.failed)


def item_named(item: str, state: JobState) -> str:
    """Return the name of a check as the list has it, however it is spelt with capitals; an own one as it is typed."""
    usual = same(item) if is_earth(item) else item
    return next((one.item for one in checklist(state) if same(one.item) == same(item)), usual)


def measured(item: str, reading: float, limit: Limit | None, note: str = "") -> SafetyChecked:
    """Return the event of a check that was measured, judged by its limit; the note says what was read and held to.

    Raises UsageError for a check that isn't measured, without its limit, and for a reading that no meter shows.
    """
    if not MEASURED_OHMS.holds(reading):
        raise UsageError(f"a reading is {MEASURED_OHMS}", "give what the meter showed")
    if same(item) == INSULATION:
        passed, held = reading >= LEAST_MEGOHMS, Limit(LEAST_MEGOHMS, "")
        words = f"{reading:.3g} megohms, at least {LEAST_MEGOHMS:g}"
    elif is_earth(item):
        if limit is None:
            raise UsageError("the limit is missing", "give the mains lead or a limit")
        passed, held = reading <= limit.ohms + _ROUNDING, limit
        words = f"{reading:.3g} ohms, at most {limit.ohms:.3g} ({limit.source})"
    else:
        raise UsageError(f"{item} is not measured", "type pass, fail or waive")
    return SafetyChecked(
        item=item,
        passed=passed,
        note=f"{words}; {note}" if note else words,
        reading=reading,
        limit=round(held.ohms, 6),
        unit="ohms" if is_earth(item) else "megohms",
        source=held.source,
    )


def is_earth(item: str) -> bool:
    """Return whether a check is of earth continuity: of one metal part, or of all."""
    return same(item).partition(":")[0] == EARTH


def same(item: str) -> str:
    """Return what checks are compared by: capitals and blanks at the ends make no difference."""
    return " ".join(item.casefold().split())


def _ordered(names: dict[str, str], known: dict[str, str]) -> list[str]:
    """Return the keys of all checks: the known ones first, those of single metal parts behind the one of all."""
    parts = [key for key in names if is_earth(key) and names[key] not in known]
    own = [key for key in names if names[key] not in known and key not in parts]
    found = [key for item in known for key in (same(item), *(parts if item == EARTH else ()))]
    return [*found, *own]


def _of_layout(layout: Layout) -> list[tuple[str, str]]:
    refs = {owner(ref) for ref in (*layout.lines_through, *layout.part_by_ref) if is_ref(ref)}
    kinds = {"fuse": "in its holder: ", "connector": ""}
    found = []
    for kind, before in kinds.items():
        for ref in sorted((one for one in refs if part_class(one) == kind), key=_by_count):
            part = layout.part_by_ref.get(ref)
            what = ", ".join(filter(None, [part.rating, part.name, part.place])) if part else ""
            usual = "the rating of the manual" if kind == "fuse" else "as the manual has it; colours match"
            found.append((f"{kind if kind == 'fuse' else 'plug'} {ref}", f"{before}{what or usual}"))
    return found


def _by_count(ref: str) -> tuple[str, int]:
    letters = ref.rstrip("0123456789")
    return letters, int(ref[len(letters) :])
