"""What items do to cells, entry by entry: the same as in the whole table of items and cells."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from matrixcheck.diagnosis.inference.exact.bounds import ranked
from matrixcheck.diagnosis.inference.exact.incidence import entries_of

tables = st.integers(1, 7).flatmap(
    lambda width: st.lists(
        st.lists(st.integers(0, 3), min_size=width, max_size=width).filter(any), min_size=1, max_size=8
    )
)


@settings(max_examples=60)
@given(tables, st.data())
def test_entries_of_some_items_say_what_their_rows_of_the_table_do(rows: list[list[int]], data: st.DataObject) -> None:
    codes = np.array(rows, dtype=np.int64)
    chosen = np.flatnonzero(data.draw(st.lists(st.booleans(), min_size=len(codes), max_size=len(codes))))
    entries = entries_of(codes).of(chosen)
    values = np.arange(1.0, codes.shape[1] + 1)
    expected = (codes[chosen] > 0) @ values
    np.testing.assert_allclose(entries.sums(values[entries.place]), expected, rtol=0, atol=1e-12)
    assert entries.any(entries.bits == 3).tolist() == (codes[chosen] == 3).any(axis=1).tolist()
    assert entries.lengths.tolist() == (codes[chosen] > 0).sum(axis=1).tolist()
    table = np.zeros((len(chosen), codes.shape[1]), dtype=np.int64)
    table[entries.row, entries.place] = entries.bits
    assert table.tolist() == codes[chosen].tolist()


@settings(max_examples=40)
@given(st.lists(st.integers(0, 4), min_size=1, max_size=12))
def test_ranks_number_the_items_of_each_group_in_order(group: list[int]) -> None:
    found = ranked(np.array(group))
    for number in set(group):
        ranks = [int(rank) for rank, one in zip(found.rank, group, strict=True) if one == number]
        assert ranks == list(range(len(ranks)))
    assert found.largest == max(group.count(number) for number in group)
