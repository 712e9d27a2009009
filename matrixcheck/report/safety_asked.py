"""The checks before power as they are asked: each with its sign, how it came out, and what is to be typed."""

from __future__ import annotations

from collections.abc import Sequence

from matrixcheck.errors import UsageError
from matrixcheck.layout.check_names import is_earth
from matrixcheck.record.earth_limit import EarthLimit, Limit, earth_limit
from matrixcheck.record.job_state import SafetyCheckMade
from matrixcheck.record.safety_checks import Outcome, SafetyItem
from matrixcheck.report.safety import OUTCOME_WORDS
from matrixcheck.report.words import moment

SIGNS: dict[Outcome, str] = {"open": "∙", "failed": "✗", "passed": "✓", "waived": "w"}


TITLE = "Before power"


PLUG_FAULTS = ("off", "askew", "a pin aside", "the colours don't match", "on another's header: stop")
"""What can be wrong with a plug: common practice, no source."""


def check_name(one: SafetyItem) -> str:
    """Return the check with its sign."""
    return f"{SIGNS[one.outcome]} {one.item}"


def check_says(one: SafetyItem) -> str:
    """Return how it came out, or what to look at."""
    if one.made is None:
        return f"not checked: {one.about}" if one.about else "not checked"
    note = f": {one.made.note}" if one.made.note else ""
    return f"{OUTCOME_WORDS[one.outcome]} {moment(one.made.at)}{note}"


def what_is_wrong(one: SafetyItem) -> tuple[str, tuple[str, ...]]:
    """Return what is asked where a check fails, and what is offered for an answer."""
    if one.one_of == "fuses":
        return f"{one.item}: what is in the holder?", ()
    return f"{one.item}: what is wrong?", PLUG_FAULTS if one.one_of == "plugs" else ()


def what_is_read(one: SafetyItem, unit: str, limited: bool) -> tuple[str, str]:
    """Return what is asked of a check that is measured, and how it is typed; `limited`: its limit is known."""
    if not is_earth(one.item):
        return f"{one.item}: what does the meter show, in {unit}?", unit
    more = "" if limited else ", then the lead as 2.5x0.75 (metres x mm²) or a limit in ohms"
    return f"{one.item}: what does the meter show, in ohms?", f"ohms{more}"


def known_limit(made: Sequence[SafetyCheckMade]) -> Limit | None:
    """Return what the last earth bond was held to, None where none was measured."""
    held = [one for one in made if is_earth(one.item) and one.limit is not None]
    return Limit(held[-1].limit or 0.0, held[-1].source) if held else None


def limit_without_lead(rule: EarthLimit) -> Limit:
    """Return the limit where no lead is known. Raises UsageError where the rule needs one."""
    if rule is not EarthLimit.FLAT:
        raise UsageError(
            "the limit depends on the mains lead", "type it behind, as in 0.12 2.5x0.75, or a limit in ohms: 0.12 0.3"
        )
    return earth_limit(rule, None)


def reading_typed(text: str, unit: str) -> tuple[float, str]:
    """Return the reading that was typed, and what stands behind it. Raises UsageError for no number."""
    number, _, more = text.strip().partition(" ")
    try:
        return float(number.replace(",", ".")), more.strip()
    except ValueError:
        raise UsageError(f"'{number:.40}' is not a reading", f"type a number of {unit}") from None
