"""The suspects use the room that there is: no whole card that would fit is left out, and none is cut unsaid."""

from __future__ import annotations

import re

import pytest
from pilots import NARROW, PHONE, WIDE, CannedBench, Run, at_sizes, column_three

from matrixcheck.diagnosis.result import Diagnosis, Explanation
from matrixcheck.layout.places import CellKey
from matrixcheck.tui.widgets.suspect_list import SuspectList

ROOMY = (160, 50)
MANY = 12


def many() -> Diagnosis:
    """A dozen dead switches, each a suspect."""
    found = column_three()
    one = found.suspects[1]
    each = tuple(
        one.model_copy(
            update={
                "id": f"s{place}",
                "members": (one.members[0].model_copy(update={"cells": (cell,)}),),
                "explains": (cell,),
            }
        )
        for place, cell in enumerate([CellKey("switches", row, 3 + row % 2) for row in range(1, 8)] * 2)
        if place < MANY
    )
    return found.model_copy(
        update={"suspects": each, "explanations": (Explanation(probability=0.9, suspects=tuple(s.id for s in each)),)}
    )


@at_sizes(PHONE, ROOMY, slow=[WIDE, NARROW])
async def test_no_card_is_left_out_that_would_fit(
    run: Run, size: tuple[int, int], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(CannedBench, "answer", staticmethod(many))
    async with run(size) as machine:
        shown = machine.app.screen.query_one(SuspectList)
        analysis = shown.analysis
        assert analysis is not None
        lines = machine.text().split("\n")[shown.region.y : shown.region.bottom]
        text = " ".join(" ".join(line[shown.region.x :] for line in lines).split())
        whole = [card for card in analysis.cards if f"{card.number} {card.title}" in text]
        more = re.search(r"↓ (\d+) more", text)
        if more is None:
            assert len(whole) == len(analysis.cards)
        else:
            assert len(whole) >= len(analysis.cards) - int(more[1])
            assert all(line[shown.region.x :].strip() for line in lines), "no line is blank while a card waits for room"
