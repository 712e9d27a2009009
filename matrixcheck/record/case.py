"""Case files: what the analyser was given, so that an answer can be had again elsewhere.

JSON of format 1. `matrixcheck` names the kind of file. `versions` says what made it. `layout` has the keys of a layout
file, `readings` holds the objects of a readings file, `findings` places with their verdicts (good, faulty, replaced).
Who owns the machine, its serial number, notes and times are left out: the analyser needs none of them.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, NamedTuple

from msgspec import ValidationError, convert, to_builtins
from msgspec.structs import replace

from matrixcheck.errors import InputError, UsageError
from matrixcheck.layout.files import layout_from
from matrixcheck.layout.frozen import to_json
from matrixcheck.layout.model import Layout
from matrixcheck.layout.reading import Finding, Reading
from matrixcheck.record.readings import read_readings, reading_data
from matrixcheck.record.validation import guard_place

KIND = "case"
_KEYS = {"format", "matrixcheck", "versions", "layout", "readings", "findings"}


class Case(NamedTuple):
    """A layout with what was seen and found on that machine."""

    layout: Layout
    readings: tuple[Reading, ...]
    findings: tuple[Finding, ...] = ()


def case_data(case: Case, versions: Mapping[str, str]) -> dict[str, Any]:
    """Return a case as JSON values."""
    return {
        "format": 1,
        "matrixcheck": KIND,
        "versions": dict(versions),
        "layout": json.loads(to_json(case.layout)),
        "readings": [reading_data(replace(reading, note="", at=None)) for reading in case.readings],
        "findings": [to_builtins(finding) for finding in case.findings],
    }


def read_case(text: str, source: str) -> Case:
    """Return the case in a text; `source` names it in errors. Raises InputError for anything but a whole case."""
    try:
        body = json.loads(text)
    except (ValueError, RecursionError):
        body = None
    if not isinstance(body, dict) or body.get("matrixcheck") != KIND:
        raise InputError(f"{source} is not a case file", "name one that --case wrote")
    if body.get("format") != 1 or body.keys() != _KEYS:
        raise InputError(f"{source} is not a case file of format 1", "write it again with this version of the program")
    layout = layout_from(body["layout"], f"{source}: layout")
    return Case(layout, _readings(body["readings"], layout, source), _findings(body["findings"], layout, source))


def _readings(given: Any, layout: Layout, source: str) -> tuple[Reading, ...]:
    if not isinstance(given, list):
        raise InputError(f"{source}: `readings` is no list", "name a file that --case wrote")
    if not given:
        return ()
    return read_readings("\n".join(map(json.dumps, given)), layout, f"{source}: reading")


def _findings(given: Any, layout: Layout, source: str) -> tuple[Finding, ...]:
    try:
        found = convert(given, tuple[Finding, ...])
        for finding in found:
            guard_place(finding.place, layout)
    except (ValidationError, UsageError) as error:
        raise InputError(f"{source}: `findings`: {error}", "name a file that --case wrote") from None
    return found
