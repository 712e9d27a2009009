"""Draw a page from its template."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined

from matrixcheck.web.page.asking import Shown
from matrixcheck.web.page.modules import with_preloads


def draw(shown: Shown) -> str:
    """Return a page as HTML; everything in it that is text stays text."""
    return with_preloads(_environment().get_template(shown.template).render(screen=shown.screen))


@cache
def _environment() -> Environment:
    return Environment(
        loader=PackageLoader("matrixcheck.web.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        auto_reload=False,
    )
