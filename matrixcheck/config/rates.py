"""The rates of faults that hold by what a person has set: shipped, a workshop's own, or moved by its book's repairs."""

from __future__ import annotations

from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from matrixcheck.config.configuration import Configuration
from matrixcheck.config.place import read_rates_at

if TYPE_CHECKING:
    from matrixcheck.analyses import GivenRates
    from matrixcheck.diagnosis.machine.priors import Rates


def rates_in_use(holds: Configuration, file: Path | None = None, *, learned: bool = False) -> Rates | None:
    """Return the rates of the file that is named, else of the one that is set; None for the shipped ones.

    `learned`: moved by the closed repairs of the book, as they are where the setting says so. Raises InputError,
    BookError.
    """
    own = read_rates_at(file or holds.rates)
    if not (learned or holds.learned):
        return own
    return _learned(holds.book, own)


def rates_for_screens(holds: Configuration) -> GivenRates:
    """Return the rates that hold for screens. What the book's repairs say is worked out by the first analysis.

    Raises InputError where the file that is set can't be taken.
    """
    own = read_rates_at(holds.rates)
    return partial(_learned, holds.book, own) if holds.learned else own


def _learned(book: Path, own: Rates | None) -> Rates:
    # Few ask for it, and the analyser's tables take their time.
    from matrixcheck.bench import Bench  # noqa: PLC0415

    bench = Bench(book)
    try:
        return bench.learned_rates(own)
    finally:
        bench.close()
