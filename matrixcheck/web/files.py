"""Everything the server may hand out: a fixed list of files, read once. Nothing else on the disk can be asked for."""

from __future__ import annotations

import hashlib
import html
from collections.abc import Mapping
from dataclasses import dataclass
from importlib.resources import files
from pathlib import PurePath
from string import Template
from types import MappingProxyType

_OURS = "matrixcheck.web"
_PAGE = "matrixcheck.web.page"
_LIBRARY = "textual_serve"
_TYPES = {
    ".css": "text/css",
    ".js": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".webmanifest": "application/manifest+json",
}

_KNOWN = (
    # name in the address, package it comes from, path in there, media type
    ("screens.css", _OURS, "files/screens.css", "text/css"),
    ("screens.js", _OURS, "files/screens.js", "text/javascript"),
    ("icon.svg", _OURS, "files/icon.svg", "image/svg+xml"),
    ("terminal.css", _LIBRARY, "static/css/xterm.css", "text/css"),
    ("terminal.js", _LIBRARY, "static/js/textual.js", "text/javascript"),
    ("mono.ttf", _LIBRARY, "static/fonts/RobotoMono-VariableFont_wght.ttf", "font/ttf"),
)


@dataclass(frozen=True)
class Served:
    """One file as the browser gets it; `etag` lets the browser keep what it has."""

    body: bytes
    media_type: str
    etag: str


def known_files() -> Mapping[str, Served]:
    """Return the files by the name they are asked for under."""
    found = {}
    for name, package, path, media_type in (*_KNOWN, *_of_the_page()):
        body = files(package).joinpath(path).read_bytes()
        found[name] = Served(body, media_type, hashlib.sha256(body).hexdigest()[:16])
    return MappingProxyType(found)


def _of_the_page() -> tuple[tuple[str, str, str, str], ...]:
    names = sorted(file.name for file in files(_PAGE).joinpath("files").iterdir())
    return tuple((name, _PAGE, f"files/{name}", _TYPES[PurePath(name).suffix]) for name in names)


def screens_page() -> str:
    """Return the page that shows the screens."""
    return _text("screens.html")


def entrance_page(address: str) -> str:
    """Return a page that goes on to `address` by itself.

    A redirect wouldn't do: a browser that came by a link in somebody's message would follow it without the new cookie.
    """
    return Template(_text("entrance.html")).substitute(address=html.escape(address))


def pairing_page(name: str) -> str:
    """Return the page that asks whether to pair this device, under a name to start from."""
    return Template(_text("pairing.html")).substitute(name=html.escape(name))


def refusal_page(says: str, let_in: bool) -> str:
    """Return a page that says why there are no screens; for somebody who was let in with a link to all jobs."""
    way_on = '<p><a href="/">All jobs</a></p>' if let_in else ""
    return Template(_text("refusal.html")).substitute(says=html.escape(says), way_on=way_on)


def _text(name: str) -> str:
    return files(_OURS).joinpath("files", name).read_text("utf-8")
