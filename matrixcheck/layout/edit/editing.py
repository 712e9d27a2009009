"""One or more values of a layout changed in the text of its file: checked as any layout, or nothing is changed."""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from typing import NamedTuple

from msgspec import ValidationError
from tomlkit.exceptions import TOMLKitError

from matrixcheck.errors import InputError
from matrixcheck.layout.charts.writing import value_text
from matrixcheck.layout.edit.document import edited_text
from matrixcheck.layout.edit.keys import Change, key_text
from matrixcheck.layout.edit.meaning import numbers_in, same, with_changes
from matrixcheck.layout.files import flaws_in, parse_layout
from matrixcheck.layout.locate import comments
from matrixcheck.layout.model import Layout
from matrixcheck.layout.problems import Flaw, key_of, shortened, shown

BYTE_ORDER_MARK = "\ufeff"


class Edited(NamedTuple):
    """The text of a layout's file after changes, and the layout in it."""

    text: str
    layout: Layout


def edit_layout(text: str, source: str, changes: Sequence[Change]) -> Edited:
    """Return a layout's text with values changed, in the order of a person's: comments and all else stay as they were.

    A cell without a name is no longer fitted; its number leaves chains, walk and notes. A cell's new number is put in
    wherever the old one stood. `source` tells in messages where the text comes from.

    Raises InputError, with the first problem, for a text that is no layout, for changes that would make it none, and
    where they can't be made without touching more.
    """
    before = parse_layout(text, source)
    mark = BYTE_ORDER_MARK if text.startswith(BYTE_ORDER_MARK) else ""
    plain = text.removeprefix(mark)
    in_dos = "\r\n" in plain and plain.count("\n") == plain.count("\r\n")
    if in_dos:
        plain = plain.replace("\r\n", "\n")
    asked = ", ".join(key_text(change.key, before) for change in changes)
    _refuse_taken(before, changes, source)
    by_hand = InputError(f"{source}: {asked} can't be changed without touching more", "change it with an editor")
    try:
        changed = edited_text(plain, before, changes)
        content = tomllib.loads(changed)
    except (TOMLKitError, ValueError, LookupError, TypeError, AttributeError, AssertionError, RecursionError):
        # Of all the ways in which TOML can be laid out, some can't be written anew bit by bit.
        raise by_hand from None
    flaws = flaws_in(content)
    if flaws:
        raise _refused(flaws, source, changes, before)
    after = parse_layout(changed, source)
    try:
        as_meant = same(after, with_changes(before, changes))
    except ValidationError:
        as_meant = False
    if not as_meant or not _are_kept(comments(plain), comments(changed)):
        raise by_hand
    return Edited(mark + (changed.replace("\n", "\r\n") if in_dos else changed), after)


def _refuse_taken(layout: Layout, changes: Sequence[Change], source: str) -> None:
    """Raise InputError where a cell is to get the number of another one that keeps it."""
    for matrix in layout.matrices:
        numbers = numbers_in(changes, matrix)
        for key, number in numbers.items():
            other = matrix.by_number.get(number)
            shared = [each for each, given in numbers.items() if given == number and each != key]
            if shared or (other is not None and other.key not in numbers):
                has = f"{matrix.id}.{number} ({other.name})" if other else f"{matrix.id}.{shared[0].address}"
                raise InputError(
                    f"{source}: {number} would be two cells: {key.address} and {has}",
                    "give both their numbers in one call",
                )


def _refused(flaws: Sequence[Flaw], source: str, changes: Sequence[Change], layout: Layout) -> InputError:
    """Say what the check of a layout says of the changed one, by the key that was asked for where it is to blame."""
    flaw = flaws[0]
    blamed = [change for change in changes if change.key.field in flaw.loc]
    of_one = blamed[0] if len(blamed) == 1 else changes[0] if len(changes) == 1 else None
    place = key_of(flaw.loc)
    what = place
    if of_one is not None:
        value = of_one.value
        said = shortened(value_text(value)) if isinstance(value, list | dict) else shown(value or "")
        name = f"{key_text(of_one.key, layout)} = {said}"
        what = name if of_one in blamed else f"{name}: {place}"
    more = f"; and {len(flaws) - 1} more" if flaws[1:] else ""
    meant = f"did you mean '{flaw.nearest}'?" if flaw.nearest else "nothing was changed"
    return InputError(f"{source}: {what}: {flaw.reason}{more}", meant)


def _are_kept(before: Sequence[str], after: Sequence[str]) -> bool:
    """Return whether all comments are there still, in their order."""
    rest = iter(after)
    return all(comment in rest for comment in before)
