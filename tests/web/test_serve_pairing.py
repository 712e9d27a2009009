"""Pairing a device: by the button behind a code that is good once and for ten minutes, and until it is forgotten."""

from __future__ import annotations

import asyncio
import io
import json
import os
import re
import stat
from datetime import UTC, datetime, timedelta
from http.cookies import SimpleCookie
from pathlib import Path

import pytest
from aiohttp import WSMsgType
from hypothesis import given
from hypothesis import strategies as st
from served_site import Clock, serving

from matrixcheck.cli.main import main
from matrixcheck.errors import InputError, UsageError
from matrixcheck.web.access import Door, cookie_name
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.console import Console
from matrixcheck.web.devices import LONGEST_NAME, MOST, Device, Devices, file_beside, name_from, name_from_agent
from matrixcheck.web.pairing import LIFETIME, Pairing, fresh_secret
from matrixcheck.web.tries import MOST_ADDRESSES, Tries
from matrixcheck.web.watch import Watch

AT = datetime(2026, 11, 30, 12, 0, tzinfo=UTC)
AGENT = "Mozilla/5.0 (Linux; Handheld 14; K) Engine/1.0 (KHTML, like so) Browser/2.0"


@pytest.fixture
def devices(tmp_path: Path) -> Devices:
    return Devices(file_beside(tmp_path / "bench.book"), lambda: AT)


# The code


def test_a_code_is_good_once_and_until_its_time_is_over() -> None:
    clock = Clock()
    pairing = Pairing(clock)
    assert not pairing.open
    first = pairing.fresh()
    assert pairing.takes(first)
    assert pairing.use(first)
    assert not pairing.use(first)
    second = pairing.fresh()
    clock.now += LIFETIME - 0.1
    assert pairing.takes(second)
    clock.now += 0.1
    assert not pairing.takes(second)
    assert not pairing.use(second)
    third, fourth = pairing.fresh(), pairing.fresh()
    assert [pairing.takes(code) for code in (third, fourth)] == [False, True]


@given(st.text())
def test_nothing_but_the_code_is_taken_for_it(text: str) -> None:
    pairing = Pairing()
    assert pairing.takes(text) is False
    assert pairing.takes(text) is (text == pairing.fresh())


def test_a_code_has_128_bits() -> None:
    codes = {fresh_secret() for _ in range(200)}
    assert len(codes) == 200
    assert all(re.fullmatch(r"[A-Za-z0-9_-]{22}", code) for code in codes)


# The page with the button


async def test_looking_at_the_page_uses_nothing_up_and_the_button_pairs_once() -> None:
    async with serving(lan=True, home="/?job=ab12") as served:
        code = served.pairing.fresh()
        for _ in range(3):
            page = await served.client.get(f"/in/{code}", headers={"User-Agent": AGENT})
            assert page.status == 200
            text = await page.text()
            assert 'method="post"' in text
            assert "Linux; Handheld 14; K" in text
            assert "Set-Cookie" not in page.headers
        assert (await served.client.get("/")).status == 403
        entered = await served.pair(code, name="Handheld")
        assert entered.status == 200
        assert 'content="0; url=/?job=ab12"' in await entered.text()
        assert [(each.id, each.name) for each in served.paired] == [(1, "Handheld")]
        assert (await served.client.get("/")).status == 200
        served.client.session.cookie_jar.clear()
        for again in (await served.pair(code), await served.client.get(f"/in/{code}")):
            assert again.status == 403
            assert "was used or has ended" in await again.text()
        assert (await served.client.get("/")).status == 403


async def test_the_cookie_is_out_of_reach_of_scripts_and_of_other_sites_and_is_no_code() -> None:
    async with serving(lan=True) as served:
        code = served.pairing.fresh()
        entered = await served.pair(code)
        cookie = SimpleCookie(entered.headers["Set-Cookie"])[served.door.cookie]
        assert cookie["httponly"]
        assert cookie["samesite"] == "Strict"
        assert cookie["path"] == "/"
        assert int(cookie["max-age"]) > 300 * 24 * 3600
        assert len(cookie.value) >= 43
        assert code not in cookie.value
        assert served.door.devices is not None
        (kept,) = served.door.devices.listed()
        assert cookie.value not in json.dumps(kept.key)


async def test_a_page_that_is_loaded_lets_the_cookie_last_on() -> None:
    async with serving(lan=True) as served:
        first = SimpleCookie((await served.pair()).headers["Set-Cookie"])[served.door.cookie]
        page = await served.client.get("/terminal")
        again = SimpleCookie(page.headers["Set-Cookie"])[served.door.cookie]
        assert again.OutputString() == first.OutputString()
        assert "Set-Cookie" not in (await served.client.get("/alive")).headers
    async with serving() as open_to_all:
        page = await open_to_all.client.get("/terminal", cookies={open_to_all.door.cookie: "x"})
        assert "Set-Cookie" not in page.headers


async def test_a_code_that_has_ended_pairs_nobody() -> None:
    async with serving(lan=True) as served:
        code = served.pairing.fresh()
        served.clock.now += LIFETIME
        for late in (await served.client.get(f"/in/{code}"), await served.pair(code)):
            assert late.status == 403
        assert served.paired == []


@pytest.mark.parametrize("origin", ["http://bench.example", "null", "https://127.0.0.1:{port}", None])
async def test_the_button_of_another_page_pairs_nobody(origin: str | None) -> None:
    async with serving(lan=True) as served:
        code = served.pairing.fresh()
        headers = {"Origin": origin.format(port=served.door.port)} if origin else {}
        answer = await served.client.post(f"/in/{code}", data={"name": "x"}, headers=headers)
        assert answer.status == 403
        assert served.paired == []
        assert served.pairing.takes(code)


async def test_a_wrong_code_or_cookie_opens_nothing() -> None:
    async with serving(lan=True) as served:
        code = served.pairing.fresh()
        for wrong in (code[:-1], code + "x", code.swapcase(), "x", "%C3%A9"):
            for answer in (await served.client.get(f"/in/{wrong}"), await served.pair(wrong)):
                assert answer.status == 403, wrong
                assert "Set-Cookie" not in answer.headers
        for secret in ("", "x", code, "\u00e9"):
            answer = await served.client.get("/", cookies={served.door.cookie: secret})
            assert answer.status == 403, secret
        assert served.pairing.takes(code)


async def test_guessing_is_slowed_down_by_address_and_the_right_code_still_pairs() -> None:
    async with serving(lan=True) as served:
        code = served.pairing.fresh()
        seen = [(await served.pair(fresh_secret())).status for _ in range(40)]
        assert seen[:10] == [403] * 10
        assert set(seen[10:]) == {429}
        assert (await served.pair(code)).status == 200


async def test_strangers_that_ask_without_end_are_told_to_wait_and_a_paired_device_is_not() -> None:
    async with serving(lan=True) as served:
        await served.enter()
        cookies = {each.key: each.value for each in served.client.session.cookie_jar}
        served.client.session.cookie_jar.clear()
        seen = [(await served.client.get("/")).status for _ in range(100)]
        assert seen[0] == 403
        assert seen[-1] == 429
        assert (await served.client.get("/", cookies=cookies)).status == 200


async def test_a_paired_device_that_scans_again_goes_on_and_leaves_the_code_to_others() -> None:
    async with serving(lan=True) as served:
        await served.enter()
        code = served.pairing.fresh()
        again = await served.client.get(f"/in/{code}")
        assert "You are in" in await again.text()
        assert served.pairing.takes(code)


async def test_the_page_with_the_button_gives_the_code_to_nobody() -> None:
    async with serving(lan=True) as served:
        page = await served.client.get(f"/in/{served.pairing.fresh()}")
        assert page.headers["Referrer-Policy"] == "strict-origin"
        assert "form-action 'self'" in page.headers["Content-Security-Policy"]
        assert page.headers["Cache-Control"] == "no-store"
        assert not re.search(r"(src|href)=\"(?!data:)", await page.text())


async def test_a_name_comes_back_as_text_only() -> None:
    async with serving(lan=True) as served:
        agent = 'X/1 (<script>alert(1)</script>")'
        page = await served.client.get(f"/in/{served.pairing.fresh()}", headers={"User-Agent": agent})
        assert "<script>" not in await page.text()
        await served.pair(name="a\x1b[2J\nb" + "c" * 1000)
        (device,) = served.paired
        assert device.name.startswith("a [2J b")
        assert len(device.name) <= LONGEST_NAME


async def test_more_devices_than_there_is_room_for_are_told_so() -> None:
    async with serving(lan=True) as served:
        assert served.door.devices is not None
        for number in range(MOST):
            served.door.devices.add(f"phone {number}")
        answer = await served.pair()
        assert answer.status == 409
        assert "serve forget" in await answer.text()


# The list of devices


def test_a_secret_is_known_after_a_restart_and_stands_nowhere_in_the_file(devices: Devices, tmp_path: Path) -> None:
    device, secret = devices.add("phone")
    other, _ = devices.add("tablet")
    file = tmp_path / "bench.book.devices"
    assert stat.S_IMODE(file.stat().st_mode) == 0o600
    assert secret not in file.read_text()
    assert list(tmp_path.iterdir()) == [file]
    restarted = Devices(file)
    assert restarted.listed() == (device, other)
    assert restarted.holder_of(secret) == device
    for wrong in ("", secret[:-1], device.key, secret + "x"):
        assert restarted.holder_of(wrong) is None


def test_a_forgotten_device_is_unknown_to_whoever_had_read_the_list(devices: Devices, tmp_path: Path) -> None:
    running = Devices(tmp_path / "bench.book.devices")
    (_, secret), (other, others) = devices.add("phone"), devices.add("tablet")
    assert running.holder_of(secret)
    assert devices.forget("Phone").id == 1
    assert running.holder_of(secret) is None
    assert running.holder_of(others) == other
    running.keep_seen()
    assert [each.id for each in devices.listed()] == [2]


def test_of_two_with_one_name_the_number_says_which(devices: Devices) -> None:
    devices.add("phone"), devices.add("phone")
    with pytest.raises(UsageError, match="1 and 2"):
        devices.forget("phone")
    assert devices.forget("2").id == 2
    for unknown in ("2", "", "tablet"):
        with pytest.raises(UsageError, match="serve devices"):
            devices.forget(unknown)


def test_when_a_device_was_seen_last_is_kept(tmp_path: Path) -> None:
    moments = iter([AT, AT + timedelta(hours=3)])
    devices = Devices(tmp_path / "bench.book.devices", lambda: next(moments))
    _, secret = devices.add("phone")
    devices.holder_of(secret)
    devices.keep_seen()
    (kept,) = Devices(tmp_path / "bench.book.devices").listed()
    assert (kept.paired, kept.seen) == (AT, AT + timedelta(hours=3))


@pytest.mark.parametrize(
    "content", ["", "{", "[]", '{"format": 2, "devices": []}', '{"format": 1}', "\xff", "[" * 9999]
)
def test_a_list_that_is_damaged_is_refused_and_nobody_is_let_in(tmp_path: Path, content: str) -> None:
    file = tmp_path / "bench.book.devices"
    file.write_bytes(content.encode("latin-1"))
    devices = Devices(file)
    door = Door(("a",), 1, devices=devices)
    for attempt in (devices.listed, lambda: devices.add("x"), lambda: devices.forget("1")):
        with pytest.raises(InputError, match="pair every device again"):
            attempt()
    assert door.holder_of("anything") is None
    assert door.known() == frozenset()
    assert file.read_bytes() == content.encode("latin-1")


def test_a_pipe_or_a_link_in_the_place_of_the_list_stops_nothing(tmp_path: Path) -> None:
    file = tmp_path / "bench.book.devices"
    os.mkfifo(file)
    with pytest.raises(InputError):
        Devices(file).listed()
    file.unlink()
    file.symlink_to("/dev/zero")
    with pytest.raises(InputError):
        Devices(file).listed()


def test_many_at_once_pair_and_forget_without_losing_one_another(tmp_path: Path) -> None:
    file = tmp_path / "bench.book.devices"

    async def all_at_once() -> list[tuple[Device, str]]:
        return await asyncio.gather(*(asyncio.to_thread(Devices(file).add, f"phone {i}") for i in range(MOST)))

    added = asyncio.run(all_at_once())
    assert sorted(device.id for device, _ in added) == list(range(1, MOST + 1))
    assert all(Devices(file).holder_of(secret) == device for device, secret in added)


@given(st.text())
def test_a_name_is_one_short_line(text: str) -> None:
    name = name_from(text)
    assert len(name) <= LONGEST_NAME
    assert name.isprintable()
    assert name == name.strip()
    assert name_from(name) == name


def test_a_device_is_called_what_its_browser_says_of_it() -> None:
    assert name_from_agent(AGENT) == "Linux; Handheld 14; K"
    assert name_from_agent("curious") == ""


# What a running server does


async def test_a_forgotten_device_loses_its_open_pages_at_once() -> None:
    async with serving(lan=True) as served:
        await served.enter()
        assert served.door.devices is not None
        page = await served.open()
        assert (await page.receive()).type == WSMsgType.BINARY
        served.door.devices.forget("1")
        assert (await served.client.get("/")).status == 403


class Peer(asyncio.Transport):
    """A connection that notes whether it was closed."""

    open = True

    def abort(self) -> None:
        self.open = False


async def test_every_connection_of_a_forgotten_device_is_closed_and_no_other(devices: Devices) -> None:
    devices.add("phone"), devices.add("tablet")
    connections = Connections(Bounds())
    watch = Watch(Door(("a",), 1, devices=devices), connections, lambda: None)
    busy, idle, other, stranger = peers = [Peer() for _ in range(4)]
    for peer in peers:
        connections.opened(peer)
    with connections.serving(idle, 1):
        pass
    with connections.serving(busy, 1), connections.serving(other, 2):
        watch.look()
        assert all(peer.open for peer in peers)
        devices.forget("phone")
        watch.look()
        assert [peer.open for peer in peers] == [False, False, True, True]
    connections.closed(stranger)


def test_the_terminal_says_a_line_for_each_pairing_and_for_an_end_and_no_more() -> None:
    clock, out = Clock(), io.StringIO()
    pairing = Pairing(clock)
    console = Console(pairing, "http://10.0.0.2:1/in/", out, answers=True)
    console.greet(None)
    assert "plain http" in out.getvalue()
    first = len(out.getvalue())
    pairing.use(re.findall("/in/(.*)", out.getvalue())[-1])
    console.paired(Device(3, "phone", "", AT, AT))
    for _ in range(5):
        clock.now += LIFETIME
        console.look()
    assert out.getvalue()[first:] == "Paired: phone (device 3). Press Enter for a fresh code.\n"
    console.show_code()
    shown = len(out.getvalue())
    for _ in range(5):
        clock.now += LIFETIME
        console.look()
    assert out.getvalue()[shown:] == "The code has ended. Press Enter for a fresh code.\n"


def test_while_a_device_is_being_paired_its_code_is_not_told_as_ended() -> None:
    out, pairing = io.StringIO(), Pairing(Clock())
    console = Console(pairing, "http://10.0.0.2:1/in/", out, answers=True)
    for paired, says in ((True, "Paired: phone (device 3)."), (False, "The code has ended.")):
        console.show_code()
        shown = len(out.getvalue())
        with pairing.using(re.findall("/in/(.*)", out.getvalue())[-1]) as good:
            assert good
            with pairing.using("another") as other:
                assert not other
            console.look()
            assert out.getvalue()[shown:] == ""
            if paired:
                console.paired(Device(3, "phone", "", AT, AT))
        console.look()
        assert out.getvalue()[shown:] == f"{says} Press Enter for a fresh code.\n"


def test_where_nobody_can_press_enter_the_next_code_stands_in_the_same_line() -> None:
    clock, out = Clock(), io.StringIO()
    pairing = Pairing(clock)
    console = Console(pairing, "http://10.0.0.2:1/in/", out, answers=False)
    console.greet(None)
    clock.now += LIFETIME
    console.look()
    last = out.getvalue().splitlines()[-1]
    assert last.startswith("The code has ended. The next one: http://10.0.0.2:1/in/")
    assert pairing.takes(last.rpartition("/")[2])
    assert "Enter" not in out.getvalue()


# The rest of the door


def test_a_book_has_a_cookie_of_its_own_and_another_over_https(tmp_path: Path) -> None:
    names = {cookie_name(tmp_path / book, secure) for book in ("a.book", "b.book") for secure in (True, False)}
    assert len(names) == 4
    assert cookie_name(tmp_path / "a.book", True).startswith("__Host-")
    assert cookie_name(tmp_path / "a.book", False) == cookie_name(tmp_path / "." / "a.book", False)


def test_tries_come_back_with_time_and_addresses_do_not_share_them() -> None:
    clock = Clock()
    tries = Tries(5, 10.0, clock)
    assert [tries.allows("a") for _ in range(7)] == [True] * 5 + [False] * 2
    assert tries.allows("b")
    clock.now += 4.0
    assert [tries.allows("a") for _ in range(3)] == [True, True, False]


@given(st.lists(st.tuples(st.integers(0, 2 * MOST_ADDRESSES), st.floats(0, 5)), max_size=300))
def test_no_address_ever_gets_more_tries_than_its_share(steps: list[tuple[int, float]]) -> None:
    clock, passed = Clock(), dict[str, int]()
    tries = Tries(5, 10.0, clock)
    begin = clock.now
    for which, pause in steps:
        clock.now += pause
        address = str(which % 7)
        passed[address] = passed.get(address, 0) + tries.allows(address)
    assert all(count <= 5 + (clock.now - begin) / 2 + 1e-6 for count in passed.values())


def test_the_commands_list_devices_and_forget_them(
    devices: Devices, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    book = ["--book", str(tmp_path / "bench.book")]
    assert main(["serve", "devices", *book]) == 0
    assert "No device is paired" in capsys.readouterr().out
    devices.add("phone"), devices.add("tablet")
    assert main(["serve", "devices", *book]) == 0
    assert re.findall(r"^ +\d  .*", capsys.readouterr().out, re.MULTILINE) == ["  1  phone", "  2  tablet"]
    assert main(["serve", "devices", *book, "--json"]) == 0
    listed = json.loads(capsys.readouterr().out)
    assert [each["name"] for each in listed["devices"]] == ["phone", "tablet"]
    assert main(["serve", "forget", *book, "phone"]) == 0
    assert capsys.readouterr().out == "Forgotten: phone (device 1).\n"
    assert [each.name for each in devices.listed()] == ["tablet"]
    assert main(["serve", "forget", *book, "phone"]) == 2
    assert len(capsys.readouterr().err.splitlines()) == 1
