"""Sizes of paper and widths of letters against published ones: reportlab's page sizes and its copy of Adobe's font
metrics."""

from __future__ import annotations

import pytest
from reportlab.lib import pagesizes
from reportlab.pdfbase.pdfmetrics import stringWidth

from matrixcheck.report.drawing.lettering import width_of
from matrixcheck.report.drawing.paper import PAPERS

POINT = 254 / 72
"""Tenths of a millimetre in a point."""


@pytest.mark.parametrize(("name", "size"), [("a4", pagesizes.A4), ("letter", pagesizes.LETTER)])
def test_papers_are_those_of_their_standards(name: str, size: tuple[float, float]) -> None:
    """ISO 216 for A4, ANSI/ASME Y14.1 for Letter, by way of reportlab; to half a tenth of a millimetre."""
    paper = PAPERS[name]
    assert (paper.wide, paper.high) == pytest.approx([side * POINT for side in size], rel=0, abs=0.5)


@pytest.mark.parametrize("sign", [*map(chr, range(32, 127))])
def test_each_sign_is_as_wide_as_in_helvetica(sign: str) -> None:
    """Adobe's font metrics of Helvetica, as reportlab has them."""
    assert width_of(sign, 1000) == pytest.approx(stringWidth(sign, "Helvetica", 1000), rel=0, abs=0.5)


@pytest.mark.parametrize("text", ["Hamburgefons", "GN/OG X1-3 Q3", "sea wall ramp foot", "untested", "0123456789"])
def test_bold_letters_are_hardly_wider_than_is_reckoned(text: str) -> None:
    """Adobe's font metrics of Helvetica-Bold, as reportlab has them; within one per cent."""
    assert stringWidth(text, "Helvetica-Bold", 100) <= width_of(text, 100, bold=True) * 1.01
