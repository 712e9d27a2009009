"""The web server, asked by a client of its own: who is let in, what is handed out, what becomes of the processes."""

from __future__ import annotations

import asyncio
import json
import os
import re
import sys
from collections.abc import Callable
from functools import partial

import pytest
from aiohttp import ClientWebSocketResponse, WSMsgType, WSServerHandshakeError
from aiohttp.test_utils import TestClient, TestServer, unused_port
from served_site import QUICK, Clock, Served, serving

from matrixcheck.web.access import Door
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.pairing import Pairing
from matrixcheck.web.site import Intake, Site
from matrixcheck.web.terminal import Closed, Limits, Terminal

DEADLINE = 20


async def heard(socket: ClientWebSocketResponse) -> bytes:
    """The next characters for the terminal."""
    message = await asyncio.wait_for(socket.receive(), DEADLINE)
    assert message.type == WSMsgType.BINARY, message
    return message.data


async def closing_code(socket: ClientWebSocketResponse) -> int | None:
    """The code that the server closes a socket with, whatever comes before."""
    async with asyncio.timeout(DEADLINE):
        while (await socket.receive()).type in (WSMsgType.BINARY, WSMsgType.TEXT):
            pass
    return socket.close_code


async def keys(socket: ClientWebSocketResponse, typed: str) -> None:
    await socket.send_json(["stdin", typed])


async def eventually(holds: Callable[[], bool]) -> None:
    async with asyncio.timeout(DEADLINE):
        while not holds():
            await asyncio.sleep(0.01)


def gone(process: int) -> bool:
    try:
        os.kill(process, 0)
    except ProcessLookupError:
        return True
    return False


async def process_behind(socket: ClientWebSocketResponse) -> int:
    return int((await heard(socket)).split()[0])


async def test_on_loopback_the_page_needs_no_pairing() -> None:
    async with serving() as served:
        answer = await served.client.get("/terminal")
        assert answer.status == 200
        assert 'name="viewport"' in await answer.text()


@pytest.mark.parametrize(
    "host",
    [
        "bench.example",
        "bench.example:{port}",
        "127.0.0.1",
        "127.0.0.1:1",
        "127.0.0.1:{port}.example",
        "",
        "[::1]:{port}",
    ],
)
async def test_a_foreign_name_is_refused_for_every_address(host: str) -> None:
    async with serving() as served:
        for path in ("/", "/terminal", "/screens", "/files/screens.js", "/alive", "/in/x", "/nowhere"):
            answer = await served.client.get(path, headers={"Host": host.format(port=served.door.port)})
            assert answer.status == (400 if host == "" and answer.status == 400 else 403), path
            assert "terminal" not in await answer.text()


async def test_two_names_in_one_request_are_refused() -> None:
    async with serving() as served:
        reader, writer = await asyncio.open_connection("127.0.0.1", served.door.port)
        own = f"Host: 127.0.0.1:{served.door.port}\r\n"
        writer.write(f"GET / HTTP/1.1\r\n{own}Host: bench.example\r\nConnection: close\r\n\r\n".encode())
        status = await asyncio.wait_for(reader.readline(), DEADLINE)
        writer.close()
        await writer.wait_closed()
        assert status.split()[1] in (b"400", b"403")


async def test_both_names_of_the_loopback_are_answered_to() -> None:
    async with serving() as served:
        for name in ("127.0.0.1", "localhost", "LOCALHOST"):
            answer = await served.client.get("/", headers={"Host": f"{name}:{served.door.port}"})
            assert answer.status == 200, name


@pytest.mark.parametrize(
    "origin", ["http://bench.example", "null", "https://127.0.0.1:{port}", "http://localhost:{port}"]
)
async def test_a_foreign_page_is_refused(origin: str) -> None:
    async with serving() as served:
        headers = {"Origin": origin.format(port=served.door.port)}
        assert (await served.client.get("/alive", headers=headers)).status == 403
        with pytest.raises(WSServerHandshakeError) as refusal:
            await served.open(**headers)
        assert refusal.value.status == 403


async def test_screens_are_opened_for_no_page_that_hides_where_it_is_from() -> None:
    async with serving() as served:
        with pytest.raises(WSServerHandshakeError) as refusal:
            await served.client.ws_connect("/screens")
        assert refusal.value.status == 403


async def test_in_the_local_network_nothing_is_handed_out_to_a_stranger() -> None:
    async with serving(lan=True) as served:
        for path in ("/", "/?job=ab12", "/files/screens.js", "/files/terminal.js", "/alive", "/nowhere", "/in/"):
            answer = await served.client.get(path)
            assert answer.status in (403, 404), path
            assert "ab12" not in await answer.text()
        with pytest.raises(WSServerHandshakeError) as refusal:
            await served.open()
        assert refusal.value.status == 403


@pytest.mark.parametrize(
    "path",
    [
        "/files/", "/files", "/files/..%2fsite.py", "/files/%2e%2e/site.py", "/files/screens.html",
        "/files//etc/passwd",
        "/static/", "/static/js/textual.js", "/download/x", "/ws", "/files/screens.js/", "/screens/", "/.git/config",
    ],
)  # fmt: skip
async def test_only_the_known_files_are_served_and_no_folder_is_listed(path: str) -> None:
    async with serving() as served:
        answer = await served.client.get(path)
        assert answer.status == 404, path


@pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "OPTIONS", "TRACE"])
async def test_nothing_but_reading_is_taken(method: str) -> None:
    async with serving() as served:
        for path in ("/", "/terminal", "/screens", "/files/screens.js"):
            answer = await served.client.request(method, path, headers={"Origin": served.own})
            assert answer.status == 405, path


@pytest.mark.parametrize("room", ["/", "/terminal"])
@pytest.mark.parametrize(
    "query", ["?ping=http://bench.example/", "?delay=1", "?job=ab12&job=zz", "?job=zz", "?matrix=lamps"]
)
async def test_an_address_that_names_nothing_we_have_gives_a_page_that_says_so(room: str, query: str) -> None:
    async with serving() as served:
        answer = await served.client.get(room + query)
        assert answer.status == 404
        assert "terminal.js" not in await answer.text()


async def test_what_an_address_says_comes_back_as_text_only() -> None:
    async with serving() as served:
        answer = await served.client.get("/", params={"job": "<script>alert(1)</script>"})
        assert "<script>" not in await answer.text()


async def test_nothing_handed_out_reaches_for_another_server() -> None:
    """The page's own files name no address at all; the library's script and style name some in comments only."""
    async with serving(lan=True) as served:
        await served.enter()
        for path in ("/", f"/in/{served.pairing.fresh()}", "/?job=zz", "/files/screens.css", "/files/screens.js"):
            text = await (await served.client.get(path)).text()
            assert not re.search(r"https?:(?!//www\.w3\.org)|//[a-z]+\.[a-z]", text), path


async def test_every_answer_forbids_what_the_page_does_not_need() -> None:
    async with serving(lan=True) as served:
        refused = await served.client.get("/")
        await served.enter()
        for answer in (refused, await served.client.get("/"), await served.client.get("/nowhere")):
            rules = answer.headers["Content-Security-Policy"]
            assert "default-src 'none'" in rules
            assert "frame-ancestors 'none'" in rules
            assert "script-src 'self';" in rules
            assert answer.headers["Referrer-Policy"] == "no-referrer"
            assert answer.headers["Cache-Control"] == "no-store"
            assert "Python" not in answer.headers["Server"]


async def test_a_file_that_the_browser_has_is_not_sent_again() -> None:
    async with serving() as served:
        first = await served.client.get("/files/terminal.js")
        assert len(await first.read()) > 100_000
        again = await served.client.get("/files/terminal.js", headers={"If-None-Match": first.headers["ETag"]})
        assert again.status == 304


async def test_each_page_has_a_process_of_its_own_at_its_own_place_and_size() -> None:
    async with serving() as served:
        one = await served.open("width=39&height=35&job=ab12&matrix=lamps")
        other = await served.open("width=100&height=32")
        first, second = (await heard(one)).split(), (await heard(other)).split()
        assert first[1:4] == [b"39x35", b"job=ab12", b"matrix=lamps"]
        assert second[1:4] == [b"100x32", b"job=None", b"matrix=None"]
        assert first[0] != second[0]
        await keys(one, "24-\r")
        assert await heard(one) == b"24-\r"


async def test_a_page_that_comes_back_has_its_key_and_any_other_gets_one_of_its_own() -> None:
    async with serving() as served:
        found = []
        for given in ("&page=0123456789abcdef", "&page=0123456789abcdef", "&page=../../etc", ""):
            socket = await served.open(f"width=39&height=35{given}")
            words = (await heard(socket)).split()
            found.append(words[4])
            await keys(socket, "leave")
            await closing_code(socket)
            await eventually(partial(gone, int(words[0])))
        assert found[:2] == [b"key=0123456789abcdef"] * 2
        assert len(set(found)) == 3
        assert all(re.fullmatch(rb"key=[0-9a-f]{16}", key) for key in found)


@pytest.mark.parametrize(("asked", "given"), [("width=9999&height=0", b"400x10"), ("width=-5&height=x", b"80x24")])
async def test_a_size_beyond_reason_is_cut_to_reason(asked: str, given: bytes) -> None:
    async with serving() as served:
        socket = await served.open(asked)
        assert (await heard(socket)).split()[1] == given
        await socket.send_json(["resize", {"width": 10**9, "height": -1}])
        assert json.loads(await heard(socket)) == {"type": "resize", "width": 400, "height": 10}


async def test_the_page_is_told_where_the_screens_are_and_nothing_else() -> None:
    async with serving() as served:
        socket = await served.open()
        await heard(socket)
        await keys(socket, "place ab12 lamps")
        message = await asyncio.wait_for(socket.receive(), DEADLINE)
        assert json.loads(message.data) == ["place", {"job": "ab12", "matrix": "lamps"}]
        await keys(socket, "open http://bench.example/")
        assert await heard(socket) == b"asked"


async def test_a_sign_of_life_is_answered() -> None:
    async with serving() as served:
        socket = await served.open()
        await heard(socket)
        await socket.send_json(["ping", "17"])
        message = await asyncio.wait_for(socket.receive(), DEADLINE)
        assert json.loads(message.data) == ["pong", "17"]


@pytest.mark.parametrize(("word", "code"), [("leave", Closed.BY_USER), ("die", Closed.STOPPED)])
async def test_the_page_is_told_whether_the_program_was_closed_or_stopped(word: str, code: Closed) -> None:
    async with serving() as served:
        socket = await served.open()
        process = await process_behind(socket)
        await keys(socket, word)
        assert await closing_code(socket) == code
        await eventually(lambda: gone(process))


async def test_a_program_that_cannot_start_is_told_as_stopped() -> None:
    door = Door(("127.0.0.1",), unused_port())
    command = (sys.executable, "-c", "raise SystemExit('no screens today')")
    terminal = Terminal(lambda _place: None, lambda _place, _key: command, QUICK)
    site = Site(door, (terminal,), connections=Connections(Bounds()))
    async with TestClient(TestServer(site.application(), port=door.port)) as client:
        served = Served(door, client, Pairing(), Clock())
        assert await closing_code(await served.open()) == Closed.STOPPED


async def test_when_the_page_goes_its_process_ends() -> None:
    async with serving() as served:
        socket = await served.open()
        process = await process_behind(socket)
        await socket.close()
        await eventually(lambda: gone(process))


async def test_a_process_that_will_not_hear_is_ended_by_force() -> None:
    async with serving() as served:
        socket = await served.open()
        process = await process_behind(socket)
        await keys(socket, "be deaf")
        assert await heard(socket) == b"deaf"
        await socket.close()
        await eventually(lambda: gone(process))


async def test_a_process_is_not_held_up_by_what_the_gone_page_did_not_read() -> None:
    async with serving(limits=Limits(patience=DEADLINE)) as served:
        socket = await served.open()
        process = await process_behind(socket)
        await keys(socket, "flood")
        await heard(socket)
        await socket.close()
        await eventually(lambda: gone(process))


async def test_pages_beyond_the_limit_are_told_so_and_get_in_when_one_has_gone() -> None:
    async with serving() as served:
        first, second = await served.open(), await served.open()
        process = await process_behind(first)
        assert await process_behind(second) != process
        assert await closing_code(await served.open()) == Closed.FULL
        await first.close()
        await eventually(lambda: gone(process))
        async with asyncio.timeout(DEADLINE):
            while (message := await (await served.open()).receive()).type != WSMsgType.BINARY:
                await asyncio.sleep(0.01)
        assert message.data


@pytest.mark.parametrize(
    "said",
    [
        "x", "{}", "[]", "17", '["stdin"]', '["stdin", 5]', '["resize", {"width": "9", "height": 4}]', '["resize", {}]',
        '["stdin", "a", "b"]', '["ping", {"a": 1}]', '["deliver", 1]', "null", "[" * 1500,
    ],
)  # fmt: skip
async def test_a_message_that_our_page_never_sends_ends_the_page(said: str) -> None:
    async with serving() as served:
        socket = await served.open()
        process = await process_behind(socket)
        await socket.send_str(said)
        await closing_code(socket)
        await eventually(lambda: gone(process))


async def test_a_character_that_is_none_is_replaced_and_the_page_goes_on() -> None:
    async with serving() as served:
        socket = await served.open()
        await heard(socket)
        await keys(socket, "2\ud8004")
        assert await heard(socket) == b"2?4"


async def test_a_message_beyond_the_limit_ends_the_page() -> None:
    async with serving() as served:
        socket = await served.open()
        process = await process_behind(socket)
        await keys(socket, "x" * 3000)
        assert await closing_code(socket) == 1009
        await eventually(lambda: gone(process))


async def test_when_the_server_ends_so_do_all_processes_and_the_pages_are_told() -> None:
    async with serving() as served:
        sockets = [await served.open(), await served.open()]
        processes = [await process_behind(socket) for socket in sockets]
        told = [asyncio.create_task(closing_code(socket)) for socket in sockets]
        await served.client.server.close()
        assert await asyncio.gather(*told) == [Closed.SERVER_ENDS, Closed.SERVER_ENDS]
        assert all(gone(process) for process in processes)


@pytest.mark.slow
async def test_a_body_that_is_too_slow_or_too_large_is_not_waited_for() -> None:
    """The page takes 64 KB of JSON, and a file 4 MB; whatever says more, or says it too slowly, is cut off."""
    async with serving(intake=Intake(body_bytes=200_000, body_seconds=0.2)) as served:
        head = f"POST /job/x/close HTTP/1.1\r\nHost: 127.0.0.1:{served.door.port}\r\nOrigin: {served.own}\r\n"
        head += "Content-Type: application/json\r\n"
        for rest, status in (
            (b"Content-Length: 1000\r\n\r\n{", b"408"),
            (b"Content-Length: 200001\r\n\r\n", b"413"),
            (b"Content-Length: 99999999999999\r\n\r\n{", b"413"),
            (b"Transfer-Encoding: chunked\r\n\r\n" + b"8000\r\n" + b" " * 0x8000 + b"\r\n", b"408"),
            (b"Transfer-Encoding: chunked\r\n\r\n" + (b"8000\r\n" + b" " * 0x8000 + b"\r\n") * 7, b"413"),
            (b"Content-Length: 100000\r\nConnection: close\r\n\r\n" + b" " * 100_000, b"422"),
            (b"Content-Length: 2\r\nConnection: close\r\n\r\n[]", b"422"),
        ):
            reader, writer = await asyncio.open_connection("127.0.0.1", served.door.port)
            writer.write(head.encode() + rest)
            answer = await asyncio.wait_for(reader.read(), DEADLINE)
            assert answer.split()[1] == status, rest[:60]
            writer.close()


async def test_a_page_that_gives_no_sign_of_life_keeps_no_place() -> None:
    async with serving(limits=Limits(pages=1, patience=0.3, heartbeat=0.2)) as served:
        mute = await served.open()
        process = await process_behind(mute)  # the last time that it reads, and so answers pings
        await eventually(lambda: gone(process))
        async with asyncio.timeout(DEADLINE):
            while (message := await (await served.open()).receive()).type != WSMsgType.BINARY:
                await asyncio.sleep(0.01)
        assert message.data
