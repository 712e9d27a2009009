"""One line's value changed where the lines of a side are given together, with no more written out than must be."""

from __future__ import annotations

from typing import Any

from tomlkit.items import InlineTable, Table

from matrixcheck.layout.edit.tables import put
from matrixcheck.layout.shorthand import NOTHING, RUNS, run, with_one


def put_together(table: Table | InlineTable, count: int, place: int, field: str, value: Any) -> None:
    """Give the line at `place`, from 0, of a side of `count` lines its value; None takes it away."""
    given = table.get(field)
    old = given.unwrap() if given is not None else None
    if field in RUNS:
        new: Any = _steps(old if isinstance(old, list) else [], count, place, value)
    elif field == "chain":
        new = _entries(old, [], count)
        new[place] = value or []
    else:
        new = _texts(old, count, place, field, value or "")
    put(table, field, new if _says_something(new) else None)


def _texts(old: Any, count: int, place: int, field: str, value: Any) -> Any:
    """Return one text for each line, or a run of labels where they are given as one."""
    found = run(old) if isinstance(old, str) and field == "label" else None
    if found is not None:
        wanted = [*found]
        wanted[place] = value
        text = with_one(old, count, place, value)
        return text if isinstance(value, str) and run(text) == wanted else wanted
    new = [old] * count if isinstance(old, str) else _entries(old, "", count)
    if count and all(entry == value for entry in [*new[:place], *new[place + 1 :]]) and isinstance(old, str):
        return value
    new[place] = value
    return new


def _steps(old: list[Any], count: int, place: int, value: Any) -> list[Any]:
    """Return the steps of all paths with one line's path changed; steps that no line has any more are left out."""
    wanted = value if isinstance(value, list) else [] if value is None else [value]
    rows = [run(step) or [step] * count for step in old]
    own = [step for step, row in enumerate(rows) if row[place] != NOTHING]
    free = range(own[-1] + 1 if own else 0, len(rows) + len(wanted))
    slots = [*own, *free][: len(wanted)]
    taken = dict(zip(slots, wanted, strict=True))
    new: list[Any] = []
    for step in range(max(len(rows), *(slot + 1 for slot in slots)) if slots else len(rows)):
        text = old[step] if step < len(rows) else NOTHING
        entry = taken.get(step, NOTHING)
        same = step < len(rows) and rows[step][place] == entry
        changed = text if same else with_one(text, count, place, entry) if isinstance(entry, str) else entry
        if not isinstance(changed, str) or any(ref != NOTHING for ref in run(changed) or [changed]):
            new.append(changed)
    return new


def _entries(old: Any, nothing: Any, count: int) -> list[Any]:
    return list(old) if isinstance(old, list) else [nothing for _ in range(count)]


def _says_something(new: Any) -> bool:
    return any(entry not in ("", NOTHING, []) for entry in new) if isinstance(new, list) else new not in ("", NOTHING)
