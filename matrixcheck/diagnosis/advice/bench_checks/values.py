"""Read what a person found at a bench check: good, faulty, or what the meter showed, judged by the check's limits."""

from __future__ import annotations

import re
from collections.abc import Sequence
from math import inf
from typing import NamedTuple

from matrixcheck.diagnosis.result import BenchCheck, Limits
from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import shown
from matrixcheck.layout.reading import Verdict

_OPEN = frozenset({"ol", "open", "inf"})
_VALUE = re.compile(r"(?P<number>\d+(?:\.\d*)?|\.\d+)\s*(?P<unit>[a-zµΩ]*)", re.IGNORECASE)
_UNITS = {
    "ohms": {"": 1, "ohm": 1, "ohms": 1, "r": 1, "ω": 1, "k": 1e3, "kohm": 1e3, "kohms": 1e3, "kilohms": 1e3, "m": 1e6},
    "volts": {"": 1, "v": 1, "volt": 1, "volts": 1, "mv": 1e-3},
}
_OPEN_VOLTS = 2.0
"""A diode test that shows so much shows no diode (common practice, no source)."""


class Found(NamedTuple):
    """Hold a verdict, and the value that it rests on; "" where the person judged."""

    verdict: Verdict
    value: str = ""


def judged(check: BenchCheck, said: str) -> Found:
    """Return the verdict of a word or a value (`0.4`, `OL`, `2.2k`, `0.55/OL` for both ways).

    Raises UsageError for what is neither, and for a value where the check has no limits.
    """
    word = said.strip().casefold()
    if word in ("good", "faulty"):
        return Found("good" if word == "good" else "faulty")
    limits = check.limits
    if limits is None:
        raise UsageError(f"{check.code} is not judged by a value", f"say good if {check.good}; else faulty")
    readings = [_value(each, limits) for each in said.split("/")]
    if limits.both_ways is not (len(readings) == 2) or len(readings) > 2:
        wanted = "two readings, leads exchanged, as in 0.55/OL" if limits.both_ways else "one reading, as in 0.4 or OL"
        raise UsageError(f"{check.code} takes {wanted}, not {shown(said)}", "or say good or faulty")
    verdict = _of_two(readings, limits) if limits.both_ways else _of_one(readings[0], limits)
    return Found(verdict, _written(said, limits))


def _value(text: str, limits: Limits) -> float:
    word = text.strip()
    if word.casefold() in _OPEN:
        return inf
    found = _VALUE.fullmatch(word)
    factor = _UNITS[limits.unit].get(found["unit"].casefold()) if found else None
    if found is None or factor is None:
        raise UsageError(f"can't read {shown(text)} as {limits.unit}", f"say good, faulty, or the {limits.unit} read")
    return float(found["number"]) * factor


def _written(said: str, limits: Limits) -> str:
    text = "/".join(each.strip() for each in said.split("/"))
    plain = all(each.strip().casefold() in _OPEN or each.strip()[-1:].isdigit() for each in said.split("/"))
    return f"{text} {limits.unit}" if plain and any(sign.isdigit() for sign in text) else text


def _within(reading: float, span: tuple[float, float | None]) -> bool:
    least, most = span
    return least <= reading and (most is None or reading <= most)


def _of_one(reading: float, limits: Limits) -> Verdict:
    if limits.good is not None and _within(reading, limits.good):
        return "good"
    return "faulty" if any(_within(reading, span) for span in limits.faulty) else "between"


def _of_two(readings: Sequence[float], limits: Limits) -> Verdict:
    """Judge a diode test: the same fault both ways is one; a junction one way and nothing the other is none."""
    if any(all(_within(each, span) for each in readings) for span in limits.faulty):
        return "faulty"
    low, high = min(readings), max(readings)
    good = limits.good is not None and _within(low, limits.good) and high >= _OPEN_VOLTS
    return "good" if good else "between"
