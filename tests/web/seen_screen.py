"""Reads a screenshot of the terminal in a browser, character by character, so that tests can tap what is seen.

Each character's picture is drawn by the browser itself, in the page's own font, and compared with each place of the
screenshot's grid.
"""

from __future__ import annotations

import io
import re
from dataclasses import dataclass

import numpy as np
from PIL import Image
from playwright.sync_api import Page

SIGNS = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-+*/=.,:?()>%·…→▸✓✗\u2217∙"
FAINTEST = 24
RESEMBLES = 0.8

DRAW = """([signs, weights, size, width, height]) => weights.map((weight) => [...signs].map((sign) => {
  const canvas = document.createElement("canvas");
  canvas.width = width; canvas.height = height;
  const pen = canvas.getContext("2d", { alpha: false });
  pen.font = `${weight} ${size}px 'Roboto Mono'`;
  pen.fillStyle = "#fff";
  pen.textBaseline = "ideographic";
  pen.fillText(sign, 0, height);
  return [...pen.getImageData(0, 0, width, height).data].filter((_, at) => at % 4 === 0);
}))"""


@dataclass(frozen=True)
class Spot:
    """A piece of text on the screen: its first place in characters, and its middle in pixels."""

    column: int
    row: int
    x: float
    y: float


class Pictures:
    """What the characters look like at one size, drawn by the page that shows the terminal."""

    def __init__(self, page: Page, width: int, height: int) -> None:
        size = page.evaluate("document.getElementById('terminal').dataset.fontSize")
        drawn = np.array(page.evaluate(DRAW, [SIGNS, ["normal", "bold"], size, width, height]), dtype=float)
        flat = drawn.reshape(2 * len(SIGNS), height, width)
        moved = [np.roll(flat, (down, right), (1, 2)) for down in (-2, -1, 0, 1, 2) for right in (-1, 0, 1)]
        pictures = np.concatenate(moved).reshape(-1, height * width)
        self.width, self.height = width, height
        self.names = SIGNS * 2 * len(moved)
        self.pictures = (pictures / np.linalg.norm(pictures, axis=1, keepdims=True)).astype(np.float32)

    def read(self, png: bytes, columns: int, rows: int) -> SeenScreen:
        """The screen on a screenshot whose upper left corner is the terminal's."""
        colours = np.asarray(Image.open(io.BytesIO(png)).convert("RGB"), dtype=np.float32)
        used = colours[: rows * self.height, : columns * self.width]
        places = used.reshape(rows, self.height, columns, self.width, 3).swapaxes(1, 2).reshape(rows, columns, -1, 3)
        ground = np.median(places, axis=2, keepdims=True)
        ink = np.abs(places - ground).max(axis=3)
        signs = np.full((rows, columns), " ")
        drawn = ink.max(axis=2) >= FAINTEST
        signs[drawn] = self._alike(ink[drawn])
        lines = tuple("".join(row) for row in signs)
        return SeenScreen(lines, ground[:, :, 0, :].astype(int), self.width, self.height)

    def _alike(self, ink: np.ndarray) -> list[str]:
        """The characters that pieces of the screen, a row each, are most alike; a blank for one that is like none."""
        norms = np.linalg.norm(ink, axis=1, keepdims=True)
        alike = (ink / np.maximum(norms, 1)) @ self.pictures.T
        best, likeness = alike.argmax(axis=1), alike.max(axis=1)
        return [self.names[one] if like >= RESEMBLES else " " for one, like in zip(best, likeness, strict=True)]


@dataclass(frozen=True)
class SeenScreen:
    """What a screenshot shows: a line of text a row, and the ground colour of each place as red, green, blue."""

    lines: tuple[str, ...]
    ground: np.ndarray
    width: int
    height: int

    def __str__(self) -> str:
        return "\n".join(self.lines)

    def find(self, pattern: str) -> Spot | None:
        """Where a regular expression is seen; the lowest such place, since buttons stand at the foot of a screen."""
        for row, line in reversed(list(enumerate(self.lines))):
            if found := re.search(pattern, line):
                middle = (found.start() + found.end()) / 2
                return Spot(found.start(), row, middle * self.width, (row + 0.5) * self.height)
        return None

    def cell(self, number: int, marks: str) -> Spot | None:
        """Where a cell of the grid is seen: its number, and behind it one of these marks."""
        return self.find(rf"(?<![\w-]){number} ?[{re.escape(marks)}]")

    def fill_at(self, spot: Spot) -> str:
        """The ground colour at a spot, as #RRGGBB."""
        return "#" + "".join(f"{part:02X}" for part in self.ground[spot.row, spot.column])
