"""What the models refuse in a layout's data (types, keys, spellings), said in a technician's words."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from matrixcheck.layout.designators import nearest_ref
from matrixcheck.layout.form import CellNotes, Check, KeepWarm, Layout, Line, Matrix, Part
from matrixcheck.layout.numbering import nearest_number
from matrixcheck.layout.problems import Flaw, Loc, nearest, shown
from matrixcheck.layout.wires import nearest_wire

_WANTED = {
    "string_type": "needs text in quotes",
    "int_type": "needs a whole number",
    "float_type": "needs a number",
    "bool_type": "needs true or false",
    "tuple_type": "needs a list in [ ]",
    "dict_type": "needs a table",
    "model_type": "needs a table",
}
_LIMITS = {
    "finite_number": "must be a finite number",
    "greater_than_equal": "must be at least {ge:,g}",
    "less_than_equal": "must be at most {le:,g}",
    "string_too_short": "must not be empty",
    "string_pattern_mismatch": "must start with a letter and hold only letters, digits, '-' and '_'",
}
NUMBERS = frozenset({"numbers", "chain", "walk"})
"""Keys that hold numbers of cells."""
_TABLES: tuple[tuple[str, type[BaseModel]], ...] = (
    (r"", Layout),
    (r"part #", Part),
    (r"check #", Check),
    (r"matrix #", Matrix),
    (r"matrix # (row|column) #", Line),
    (r"matrix # cell \S+", CellNotes),
    (r"matrix # cell \S+ keep_warm", KeepWarm),
)


def shape_flaws(error: ValidationError) -> Iterator[Flaw]:
    """Return each thing that the models refused, in the order of the data.

    Left out is what they say of the layout as a whole, which the rules say better, with a place.
    """
    return (_flaw(detail) for detail in error.errors(include_url=False) if detail["loc"])


def _flaw(detail: ErrorDetails) -> Flaw:
    loc, value, kind = detail["loc"], detail["input"], detail["type"]
    context = detail.get("ctx", {})
    match kind:
        case "missing":
            flaw = Flaw(loc, "is missing")
        case "extra_forbidden":
            flaw = _unknown_key(loc)
        case "literal_error" | "enum":
            flaw = _none_of(loc, value, context["expected"])
        case _ if loc[-1] == "[key]":
            flaw = Flaw(loc[:-1], "is not a cell number: write [matrix.cell.12] for cell 12, [matrix.cell.9L] for 9L")
        case "value_error":
            flaw = Flaw(loc, str(context["error"]), _meant(loc, value))
        case "float_type" if type(value) is int:
            flaw = Flaw(loc, f"has more digits than any number here, {shown(value)}")
        case _ if kind in _WANTED:
            flaw = Flaw(loc, f"{_WANTED[kind]}, not {shown(value)}")
        case _ if kind in _LIMITS:
            flaw = Flaw(loc, f"{_LIMITS[kind].format(**context)}, not {shown(value)}")
        case _:
            flaw = Flaw(loc, detail["msg"])
    return flaw


def _unknown_key(loc: Loc) -> Flaw:
    known = _keys_at(loc[:-1])
    meant = nearest(str(loc[-1]), known)
    return Flaw(loc, "is no known key" if meant else f"is no known key: use one of {', '.join(known)}", meant)


def _none_of(loc: Loc, value: Any, expected: str) -> Flaw:
    if loc == ("format",):
        return Flaw(loc, f"must be 1, the only format there is, not {shown(value)}")
    words = re.findall("'([^']*)'", expected)
    meant = nearest(value, words) if isinstance(value, str) else None
    return Flaw(loc, f"must be {expected}, not {shown(value)}", meant)


def _meant(loc: Loc, value: Any) -> str | None:
    if not isinstance(value, str):
        return None
    if loc[-1] == "wire":
        return nearest_wire(value)
    return nearest_number(value) if NUMBERS & set(loc) else nearest_ref(value)


def _keys_at(loc: Loc) -> tuple[str, ...]:
    """Return the keys that the table at a place may have."""
    path = " ".join("#" if isinstance(step, int) else step.replace(" ", "_") for step in loc)
    model = next((model for pattern, model in _TABLES if re.fullmatch(pattern, path)), None)
    return tuple(field.alias or name for name, field in model.model_fields.items()) if model else ()
