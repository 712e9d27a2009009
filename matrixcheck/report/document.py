"""What a report holds, whatever it is written as: sections of sentences, tables, cards and grids."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass
from typing import Literal, NamedTuple

from matrixcheck.layout.model import Matrix
from matrixcheck.report.drawing.cell_texts import TextOf
from matrixcheck.report.drawing.grid_blocks import Caption
from matrixcheck.report.drawing.lettering import cut, width_of, wrapped

TITLE_ROOM, TITLE_SIZE = 1800, 60
FACT_ROOM, FACT_SIZE, FACT_GAP = 800, 37, 60
"""Widths and sizes of letters in the head of a page, in tenths of a millimetre."""


class Head(NamedTuple):
    """Which machine it is, and when it was last worked on; `serial` and `owner` may be empty."""

    name: str
    machine: str
    serial: str
    owner: str
    job: str
    visit: str

    @property
    def facts(self) -> tuple[tuple[str, str], ...]:
        """Return what is known of the machine, each with its heading."""
        found = (
            ("Machine", self.machine),
            ("Serial number", self.serial),
            ("Owner", self.owner),
            ("Last worked on", self.visit),
            ("Job", self.job),
        )
        return tuple((name, cut(value, FACT_ROOM, FACT_SIZE, bold=True)) for name, value in found if value)

    @property
    def title(self) -> str:
        """Return the name, shortened to two lines of a heading."""
        return " ".join(wrapped(self.name, TITLE_ROOM, TITLE_SIZE, 2, bold=True))

    def height(self, width: int) -> float:
        """Return what the head of a page of that width takes, in tenths of a millimetre, reckoned amply."""
        titles = len(wrapped(self.title, width, TITLE_SIZE, 3, bold=True))
        needs = sum(width_of(f"{name}: {value}", FACT_SIZE, bold=True) + FACT_GAP for name, value in self.facts)
        return titles * TITLE_SIZE * 1.25 + (needs // (width - FACT_ROOM / 2) + 1) * FACT_SIZE * 1.35 + FACT_GAP / 2


@dataclass(frozen=True, slots=True)
class Sentence:
    """A paragraph; `loud` for what may hurt or must not be overlooked, `quiet` for what explains."""

    text: str
    tone: Literal["", "loud", "quiet"] = ""


@dataclass(frozen=True, slots=True)
class Points:
    """A list, a point each; `lead` says what it lists, "" where the heading does."""

    items: tuple[str, ...]
    loud: bool = False
    lead: str = ""


@dataclass(frozen=True, slots=True)
class Table:
    """Rows under heads; `figures` and `whole` are columns from 0: those that hold numbers, those that never break."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    figures: frozenset[int] = frozenset()
    whole: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class CardBlock:
    """One fault: number and title, how sure, and its facts, each with its heading."""

    title: str
    sure: str
    facts: tuple[tuple[str, str], ...]
    loud: bool = False


class Grid(NamedTuple):
    """A matrix with what stands in its cells."""

    matrix: Matrix
    text_of: TextOf
    caption: Caption


@dataclass(frozen=True, slots=True)
class Grids:
    """The grids of a machine, in the layout's order."""

    grids: tuple[Grid, ...]


class Picture(NamedTuple):
    """A photo: its title, what it shows, when it was taken, its name in the book, its JPEG file where it is to hand."""

    title: str
    says: str
    at: str
    name: str
    jpeg: bytes | None

    @property
    def caption(self) -> str:
        """Return what stands below it."""
        return f"{self.title}: {self.says} ({self.at})"

    @property
    def address(self) -> str:
        """Return its file as the address of a page (RFC 2397), "" where it isn't to hand."""
        return "" if self.jpeg is None else f"data:image/jpeg;base64,{b64encode(self.jpeg).decode()}"


@dataclass(frozen=True, slots=True)
class Pictures:
    """Photos, in the order in which they were taken."""

    pictures: tuple[Picture, ...]


Block = Sentence | Points | Table | CardBlock | Grids | Pictures


@dataclass(frozen=True, slots=True)
class Section:
    """A heading and what stands under it."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A page for the owner, then pages for the technician; `danger` comes before all else, "" where there is none."""

    head: Head
    danger: str
    owner: tuple[Section, ...]
    technician: tuple[Section, ...]


@dataclass(frozen=True, slots=True)
class MachineCard:
    """One page to pin inside the cabinet; `photos`, where there are any, come on further pages."""

    head: Head
    sections: tuple[Section, ...]
    grids: Grids
    photos: Pictures
