"""Put a report together from a sheet: what each reader needs, in one model that every form of the report draws."""

from __future__ import annotations

from matrixcheck.report.document import MachineCard, Report
from matrixcheck.report.drawing.paper import Paper
from matrixcheck.report.job_facts import facts_of
from matrixcheck.report.machine_card import machine_card
from matrixcheck.report.owner_page import owner_page
from matrixcheck.report.sheet import Sheet
from matrixcheck.report.stop import notice
from matrixcheck.report.technician_pages import technician_pages


def report_of(sheet: Sheet, paper: Paper) -> Report:
    """Return the report of a job, its first page cut to what fits on that paper."""
    facts = facts_of(sheet)
    return Report(facts.head, notice(facts.state.coils), owner_page(facts, paper), technician_pages(facts))


def card_of(sheet: Sheet) -> MachineCard:
    """Return the card of the machine, as the job left it."""
    facts = facts_of(sheet)
    return machine_card(facts, [one.card.title for one in facts.faults])
