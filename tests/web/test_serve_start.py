"""Where `serve` listens, what it prints, and how it refuses what can't be."""

from __future__ import annotations

import io
import re
import socket
from pathlib import Path

import numpy as np
import pytest
import zxingcpp

from matrixcheck.bench import Bench
from matrixcheck.cli.entrypoint import run
from matrixcheck.errors import UsageError
from matrixcheck.web.access import Door
from matrixcheck.web.console import Console, announce, qr_code
from matrixcheck.web.network import checked_address, lan_address, listening_socket
from matrixcheck.web.pairing import Pairing, fresh_secret
from matrixcheck.web.place import Place
from matrixcheck.web.screens import COLUMNS, within
from matrixcheck.web.start import check_place
from matrixcheck.web.terminal import address_of
from tests.machines import saltmarsh_tram

LIGHT = {" ": (0, 0), "▀": (1, 0), "▄": (0, 1), "█": (1, 1)}


class Terminal(io.StringIO):
    """A stream that says it is a terminal."""

    def isatty(self) -> bool:
        return True


@pytest.fixture
def unserved(monkeypatch: pytest.MonkeyPatch) -> None:
    """Fail where something would be served after all, in place of serving it for good."""

    def served(*_: object, **__: object) -> None:
        raise AssertionError("it is served")

    monkeypatch.setattr("matrixcheck.web.start.answering", served)


def photographed(printed: str, light: int = 255, dark: int = 0) -> np.ndarray:
    """A grey picture of half blocks, as a camera would see them in a terminal with light text on dark ground."""
    lines = printed.splitlines()
    pixels = [[LIGHT[sign][half] for sign in line] for line in lines for half in (0, 1)]
    grey = np.where(np.array(pixels) == 1, light, dark).astype(np.uint8)
    return np.kron(grey, np.ones((8, 8), dtype=np.uint8))


@pytest.mark.parametrize("job", [None, "ab12"])
def test_a_camera_reads_the_printed_code_as_the_address(job: str | None) -> None:
    """Oracle: zxing-cpp from PyPI, a reader of ISO/IEC 18004 codes that shares nothing with the writer."""
    address = f"http://192.168.178.120:8417/in/{fresh_secret()}{address_of(Place(job))}"
    (found,) = zxingcpp.read_barcodes(photographed(qr_code(address, inked=False)))
    assert found.text == address


def test_the_code_fits_a_terminal_of_80_by_24() -> None:
    lines = qr_code(f"http://192.168.178.120:65535/in/{fresh_secret()}", inked=False).splitlines()
    assert len(lines) <= 22
    assert max(map(len, lines)) <= 80


def test_in_a_terminal_the_code_is_light_on_dark_whatever_the_theme(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("NO_COLOR", raising=False)
    outs = [Terminal(), Terminal(), io.StringIO()]
    for out, no_color in zip(outs, (False, True, True), strict=True):
        if no_color:
            monkeypatch.setenv("NO_COLOR", "1")
        Console(Pairing(), "http://192.168.1.2:1/in/", out, answers=True).greet(None)
    shown, plain, piped = (out.getvalue() for out in outs)
    assert "\x1b[97;40m" in shown
    assert "\x1b" not in plain + piped
    assert len(re.sub(r"\x1b\[[\d;]*m", "", shown)) == len(plain) == len(piped)


def test_the_caution_stands_where_others_can_come_in_and_only_there() -> None:
    to_others, by_https, to_oneself = io.StringIO(), io.StringIO(), io.StringIO()
    Console(Pairing(), "http://192.168.1.2:1/in/", to_others, answers=True).greet(None)
    Console(Pairing(), "https://192.168.1.2:1/in/", by_https, answers=True).greet("AB:CD")
    announce("http://127.0.0.1:1/", None, to_oneself)
    assert "plain http" in to_others.getvalue()
    assert "plain http" not in by_https.getvalue()
    assert "AB:CD" in by_https.getvalue()
    assert to_oneself.getvalue() == "matrixcheck is at http://127.0.0.1:1/\nCtrl+C ends it.\n"


@pytest.mark.parametrize("text", ["", "x", "192.168.1", "::1", "0.0.0.0", "224.0.0.1", "192.168.1.2:80", "localhost"])
def test_an_address_that_is_not_one_of_ipv4_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        checked_address(text)


def test_an_address_as_typed_is_taken() -> None:
    assert checked_address("192.168.1.20") == "192.168.1.20"


def test_a_port_that_is_taken_is_refused_by_name() -> None:
    with listening_socket("127.0.0.1", 0) as taken:
        port = taken.getsockname()[1]
        with pytest.raises(UsageError, match=str(port)):
            listening_socket("127.0.0.1", port)


def test_an_address_of_another_computer_is_refused() -> None:
    with pytest.raises(UsageError, match=r"198\.51\.100\.1 is not an address of this computer"):
        listening_socket("198.51.100.1", 0)


def test_without_a_local_network_the_person_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    def no_route(*_: object) -> None:
        raise OSError(101, "Network is unreachable")

    monkeypatch.setattr(socket.socket, "connect", no_route)
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_: [(2, 1, 6, "", ("127.0.1.1", 0))])
    with pytest.raises(UsageError, match="no address in a local network"):
        lan_address()
    monkeypatch.setattr(socket, "getaddrinfo", lambda *_: [(2, 1, 6, "", ("192.168.7.9", 0))])
    assert lan_address() == "192.168.7.9"


def test_a_door_at_its_protocols_own_port_answers_to_its_name_alone_as_well() -> None:
    assert Door(("10.0.0.2",), 80).hosts == {"10.0.0.2", "10.0.0.2:80"}
    assert Door(("10.0.0.2",), 443, secure=True).hosts == {"10.0.0.2", "10.0.0.2:443"}
    assert Door(("10.0.0.2",), 443).hosts == {"10.0.0.2:443"}
    assert Door(("10.0.0.2",), 80, secure=True).hosts == {"10.0.0.2:80"}
    assert Door(("10.0.0.2",), 8417).hosts == {"10.0.0.2:8417"}


@pytest.mark.parametrize(("number", "kept"), [(39, 39), (0, COLUMNS[0]), (10**9, COLUMNS[1])])
def test_a_size_is_kept_within_limits(number: int, kept: int) -> None:
    assert within(number, COLUMNS) == kept


def test_only_places_in_the_book_are_places(tmp_path: Path) -> None:
    bench = Bench(tmp_path / "bench.book")
    job = bench.new_job(saltmarsh_tram(), "pier arcade")
    for place in (Place(), Place(job), Place(job, "lamps")):
        check_place(bench, place)
    for place in (Place("zzzz"), Place(job, "nowhere")):
        with pytest.raises(UsageError):
            check_place(bench, place)


@pytest.mark.usefixtures("unserved")
@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["zzzz"], "zzzz"),
        (["--port", "70000"], "--port"),
        (["--address", "127.0.0.1"], "--address goes with --lan"),
        (["--lan", "--address", "nowhere"], "nowhere"),
        (["--lan", "--address", "198.51.100.1"], "198.51.100.1"),
        (["--layouts", "/dev/null"], "/dev/null"),
        (["--tls", "HERE/none.pem", "HERE/none.pem"], "none.pem"),
        (["--tls", "HERE/bench.book", "HERE/bench.book"], "bench.book is no certificate"),
        (["--tls", "/dev/zero", "/dev/zero"], "is not a regular file"),
        (["--tls", "HERE/none.pem", "HERE/none.pem", "--tls-own"], "--tls and --tls-own don't go together"),
    ],
)
def test_what_cannot_be_served_is_refused_in_one_line(
    tmp_path: Path, options: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    book = tmp_path / "bench.book"
    Bench(book).new_job(saltmarsh_tram(), "pier arcade")
    assert run(["serve", "--book", str(book), *(each.replace("HERE", str(tmp_path)) for each in options)]) in {2, 3}
    out, err = capsys.readouterr()
    assert out == ""
    assert len(err.splitlines()) == 1
    assert says in err


@pytest.mark.usefixtures("unserved")
def test_a_book_that_cannot_be_read_is_not_served(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    book = tmp_path / "bench.book"
    book.write_text("no book at all " * 100)
    assert run(["serve", "--book", str(book), "--port", "0"]) == 4
    out, err = capsys.readouterr()
    assert (out, len(err.splitlines())) == ("", 1)
    assert f"{book} is not a bench book" in err
