"""A served book in which every screen of the page has something to show, and the addresses of these screens."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from served_book import Server

from matrixcheck.bench import Bench
from matrixcheck.layout.reading import Finding
from tests.drawn_photos import drawn, jpeg
from tests.machines import saltmarsh_tram

SORTS = {"switches": ("roll", "walk", "timed", "rest", "hold"), "lamps": ("walk", "timed", "all"), "coils": ("walk",)}


def filled(book: Path) -> tuple[str, str]:
    """Two jobs: one half way through its evening, one with a coil on at rest."""
    bench = Bench(book, initials="AB")
    job = bench.new_job(saltmarsh_tram(), "pier arcade", "1187", "F. Quay")
    bench.mark(job, "switches", "11 12 13 31- 32- 33- 34- 35- 36- 41 42 43 44+45 51 52* 61.")
    bench.mark(job, "lamps", "1 2 3 4- 5* 9.")
    bench.safety(job, "mains lead", False, "sheath cut")
    bench.safety(job, "plug X1", True)
    bench.note(job, "pin 3 of X5 burnt")
    bench.finding(job, Finding(place="switches.c2", verdict="faulty"))
    bench.repair(job, "Q3", did="replaced", fitted="an equal one")
    for place, about in enumerate(
        ({"place": "switch 31"}, {"check": "mains lead"}, {"note": number_of(bench, job, "note")}, {"place": "Q3"}, {})
    ):
        bench.attach(job, jpeg(drawn(320, 240, place)), "picture", caption="as it came in", **about)
    stopped = bench.new_job(saltmarsh_tram(), "coil on")
    bench.mark(stopped, "coils", f"{bench.state(stopped).layout.matrix('coils').fitted[0].number}*")
    bench.close()
    return job, stopped


def number_of(bench: Bench, job: str, kind: str) -> int:
    """The number within the job of its last event of a kind."""
    events = bench.state(job).everything
    return max(place for place, one in enumerate(events, 1) if one.event.kind == kind)


def addresses(bench: Bench, job: str, stopped: str) -> dict[str, str]:
    """Every screen by a name."""
    home = f"/job/{job}"
    photo = number_of(bench, job, "photo")
    screens = {
        "bench": "/?page=1",
        "new job": "/new",
        "job": home,
        "cell": f"{home}/cell/switches/r1c3",
        "lamp": f"{home}/cell/lamps/r1c4",
        "card": f"{home}/card/1",
        "before power": f"{home}/safety",
        "rest of the test mode": f"{home}/functions",
        "later": f"{home}/later",
        "repair": f"{home}/repair?what=Q3",
        "notes": f"{home}/notes",
        "history": f"{home}/history",
        "photos": f"{home}/photos",
        "photos of a check": f"{home}/photos?check=mains+lead",
        "one photo": f"{home}/photo/{photo}",
        "stop": f"/job/{stopped}/coils/walk",
        "job with a coil on": f"/job/{stopped}",
        "nothing there": "/job/zz",
    }
    for matrix, sorts in SORTS.items():
        screens[f"rounds of {matrix}"] = f"{home}/{matrix}/rounds"
        screens |= {f"{sort} of {matrix}": f"{home}/{matrix}/{sort}" for sort in sorts}
    return screens


@contextmanager
def served(folder: Path) -> Iterator[tuple[Server, dict[str, str]]]:
    """The book of both jobs, served."""
    book = folder / "bench.book"
    job, stopped = filled(book)
    server = Server(book, "--port", "0")
    try:
        yield server, addresses(Bench(book), job, stopped)
    finally:
        server.end()
