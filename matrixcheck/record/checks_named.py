"""Which checks before power a person means: one by its name, by its fuse or plug, several as `X1-X9`, or all of a kind.

`earth bond: door` and `Mains Lead` are names; `X5` is plug X5 and `F2` fuse F2; `X1-X9, X12` are the plugs of the
layout from X1 to X9, and X12; `plugs`, `fuses` and `earth bonds` are all of that kind.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from typing import NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout.check_names import is_earth, same
from matrixcheck.layout.designators import CLASS_LETTERS
from matrixcheck.layout.problems import shown
from matrixcheck.record.safety_checks import SafetyItem

KINDS = {
    letters: kind
    for letters, part in CLASS_LETTERS.items()
    for kind, of in (("fuse", "fuse"), ("plug", "connector"))
    if part == of
}
"""What is checked before power of the parts whose designators begin so."""
MOST = 99
"""Plugs or fuses that are named together where the layout gives none."""
_RANGE = re.compile(r"(?P<letters>[A-Z]{1,2})(?P<first>[0-9]{1,4})(?:-(?P<again>[A-Z]*)(?P<last>[0-9]{1,4}))?")


class Meant(NamedTuple):
    """The checks that were named. `several` where a kind or a range was, not just the one check."""

    items: tuple[SafetyItem, ...]
    several: bool = False


def checks_named(text: str, items: Sequence[SafetyItem]) -> Meant:
    """Return the checks of a list that a text names; any other text is a check of one's own, not on the list yet.

    Where the layout gives no plugs, or no fuses, those named are checks of one's own. Raises UsageError for one that a
    layout which gives others doesn't have.
    """
    typed = same(text)
    found = next((one for one in items if same(one.item) == typed), None)
    if found is not None:
        return Meant((found,))
    of_kind = tuple(one for one in items if one.one_of == typed)
    if of_kind:
        return Meant(of_kind, several=True)
    ranges = [_RANGE.fullmatch(word) for word in text.upper().replace(" ", "").split(",")]
    if all(one and one["letters"] in KINDS and one["again"] in (None, "", one["letters"]) for one in ranges):
        several = {item.item: item for one in ranges if one for item in _of_range(one, items)}
        return Meant(tuple(several.values()), several=len(several) > 1)
    return Meant((SafetyItem(typed if is_earth(text) else text, ""),))


def _of_range(typed: re.Match[str], items: Sequence[SafetyItem]) -> list[SafetyItem]:
    letters, first = typed["letters"], int(typed["first"])
    counts = range(first, int(typed["last"] or first) + 1)
    kind = KINDS[letters]
    of_kind = [item for item in items if item.ref and item.one_of == f"{kind}s"]
    if not of_kind and 0 < len(counts) <= MOST:
        named = {same(item.item): item for item in items}
        wanted = (f"{kind} {letters}{count}" for count in counts)
        return [named.get(same(name), SafetyItem(name, "")) for name in wanted]
    found = [item for item in of_kind if _within(item.ref, letters, counts)]
    if not found:
        known = f"it has {', '.join(item.ref for item in of_kind)}" if of_kind else f"name at most {MOST} at a time"
        raise UsageError(f"the layout has no {kind} {shown(typed[0])}", known)
    return found


def _within(ref: str, letters: str, counts: range) -> bool:
    head = ref.rstrip("0123456789")
    return head == letters and int(ref[len(head) :]) in counts
