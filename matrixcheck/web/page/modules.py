"""The scripts of a page with all that they import, so that a browser can fetch them at once.

Without that it learns of each from the one that imports it, and asks the computer again for every step of the way.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import cache
from importlib.resources import files

HERE = "<!-- preloads -->"
"""Where a template wants the links."""
_SCRIPT = re.compile(r'<script type="module" src="/files/(\w+)\.js">')
_IMPORT = re.compile(r'^(?:import|\}) .*?"\./(\w+)\.js";$', re.MULTILINE)


def with_preloads(page: str) -> str:
    """Return a page with a link for every module that its scripts need, in place of the first `HERE`."""
    names = needed(_SCRIPT.findall(page))
    links = "\n    ".join(f'<link rel="modulepreload" href="/files/{name}.js">' for name in names)
    return page.replace(HERE, links, 1)


def needed(scripts: Iterable[str]) -> tuple[str, ...]:
    """Return the names of scripts and of all that they import, each once, nearest first."""
    found = dict.fromkeys(scripts)
    ahead = list(found)
    for name in ahead:
        fresh = [one for one in _imported(name) if one not in found]
        found |= dict.fromkeys(fresh)
        ahead += fresh
    return tuple(found)


@cache
def _imported(name: str) -> tuple[str, ...]:
    return tuple(_IMPORT.findall(files("matrixcheck.web.page").joinpath("files", f"{name}.js").read_text("utf-8")))
