"""Use cases that learn from closed jobs how often things fail."""

from __future__ import annotations

from typing import TYPE_CHECKING

from matrixcheck.bench.jobs import Jobs

if TYPE_CHECKING:
    from matrixcheck.diagnosis.machine.learned_rates import LearnedRate
    from matrixcheck.diagnosis.machine.priors import Rates
    from matrixcheck.layout.visits import Visit


class Learning(Jobs):
    """What the closed jobs of a book say of the rates of faults."""

    def closed_visits(self) -> tuple[Visit, ...]:
        """Return what each closed job tested and cured, archived ones included."""
        from matrixcheck.record.closed_visits import visit_of  # noqa: PLC0415 - a paint can't wait

        closed = [one.id for one in self.jobs() if one.verdict is not None]
        return tuple(visit for job in sorted(closed) if (visit := visit_of(self._journal.events(job))) is not None)

    def learned(self, rates: Rates | None = None) -> tuple[tuple[Visit, ...], tuple[LearnedRate, ...]]:
        """Return the closed visits, and what they say of the rates in use, the shipped ones without any."""
        from matrixcheck.diagnosis.machine.learned_rates import learned  # noqa: PLC0415

        visits = self.closed_visits()
        return visits, learned(visits, rates)

    def learned_rates(self, rates: Rates | None = None) -> Rates:
        """Return the rates in use as the closed visits move them."""
        from matrixcheck.diagnosis.machine.learned_rates import with_learned  # noqa: PLC0415

        visits, found = self.learned(rates)
        count = f"{len(visits)} closed {'job' if len(visits) == 1 else 'jobs'} of this book"
        return with_learned(rates, found, f"learned from {count} (`matrixcheck rates` shows them)")
