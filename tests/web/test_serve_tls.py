"""https: with a certificate that is brought along, or with one of our own."""

from __future__ import annotations

import asyncio
import ssl
import stat
from datetime import UTC, datetime, timedelta
from http.cookies import SimpleCookie
from ipaddress import ip_address
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from aiohttp import ClientSession, CookieJar, Fingerprint, TCPConnector, web
from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import NameOID
from served_book import DEADLINE, LAN, Server

from matrixcheck.bench import Bench
from matrixcheck.errors import InputError
from matrixcheck.web import tls
from matrixcheck.web.answering import answering
from matrixcheck.web.connections import Bounds, Connections
from matrixcheck.web.network import listening_socket
from tests.machines import saltmarsh_tram


def made(folder: Path, name: str, days: float = 30, password: bytes | None = None) -> tuple[Path, Path]:
    """A certificate for bench.example and 10.0.0.2, and its key, as somebody else would make them."""
    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, name)])
    names = [x509.DNSName("bench.example"), x509.DNSName("*.example"), x509.IPAddress(ip_address("10.0.0.2"))]
    end = datetime.now(UTC) + timedelta(days=days)
    certificate = (
        x509.CertificateBuilder(subject, subject, key.public_key(), 1, end - timedelta(days=90), end)
        .add_extension(x509.SubjectAlternativeName(names), critical=False)
        .sign(key, hashes.SHA256())
    )
    hidden = serialization.BestAvailableEncryption(password) if password else serialization.NoEncryption()
    files = folder / f"{name}.pem", folder / f"{name}.key"
    files[0].write_bytes(certificate.public_bytes(serialization.Encoding.PEM))
    files[1].write_bytes(key.private_bytes(serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, hidden))
    return files


def test_our_own_certificate_is_kept_for_the_owner_alone_and_stays_the_same(tmp_path: Path) -> None:
    book = tmp_path / "bench.book"
    first = tls.own(book, "127.0.0.1")
    assert tls.own(book, "127.0.0.1") == first
    assert stat.S_IMODE(first.file.stat().st_mode) == 0o600
    assert list(tmp_path.iterdir()) == [first.file]
    assert first.names == ("127.0.0.1",)
    assert first.context().minimum_version >= ssl.TLSVersion.TLSv1_2
    moved = tls.own(book, "10.0.0.2")
    assert moved.names == ("10.0.0.2",)
    assert moved.fingerprint != first.fingerprint


def test_our_own_certificate_is_made_anew_before_it_ends(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = tmp_path / "bench.book"
    monkeypatch.setattr(tls, "_DAYS", 6)
    short = tls.own(book, "127.0.0.1")
    monkeypatch.undo()
    assert tls.own(book, "127.0.0.1").fingerprint != short.fingerprint


def test_a_certificate_that_is_brought_gives_its_names_and_its_fingerprint(tmp_path: Path) -> None:
    file, key = made(tmp_path, "bench")
    found = tls.brought(file, key)
    assert found.names == ("bench.example", "10.0.0.2")
    der = ssl.PEM_cert_to_DER_cert(file.read_text())
    digest = hashes.Hash(hashes.SHA256())
    digest.update(der)
    assert bytes.fromhex(found.fingerprint.replace(":", "")) == digest.finalize()
    found.context()


@pytest.mark.slow
async def test_a_name_in_the_certificate_is_answered_to_and_shown(tmp_path: Path) -> None:
    book = tmp_path / "bench.book"
    Bench(book).new_job(saltmarsh_tram(), "pier arcade")
    server = Server(book, *LAN, "--tls", *map(str, made(tmp_path, "bench")))
    try:
        assert server.root == f"https://bench.example:{server.port}"
        async with ClientSession(f"https://127.0.0.1:{server.port}", connector=TCPConnector(ssl=False)) as client:
            for name, says in ((f"bench.example:{server.port}", "To pair this"), ("other.example", "by that name")):
                answer = await client.get("/", headers={"Host": name})
                assert (answer.status, says in await answer.text()) == (403, True)
    finally:
        server.end()


def test_files_that_do_not_go_together_are_refused_in_one_line(tmp_path: Path) -> None:
    (file, _), (_, other) = made(tmp_path, "one"), made(tmp_path, "other")
    with pytest.raises(InputError, match="is no private key of the certificate"):
        tls.brought(file, other).context()
    with pytest.raises(InputError, match="asks for a password"):
        tls.brought(*made(tmp_path, "hidden", password=b"x"))
    with pytest.raises(InputError, match="ended on"):
        tls.brought(*made(tmp_path, "old", days=-1))
    with pytest.raises(InputError, match="is no certificate"):
        tls.brought(other, other)


async def test_over_https_the_cookie_is_secure_and_everything_stays_within(tmp_path: Path) -> None:
    book = tmp_path / "bench.book"
    job = Bench(book).new_job(saltmarsh_tram(), "pier arcade")
    server = Server(book, job, *LAN, "--tls-own")
    try:
        fingerprint = tls.own(book, "127.0.0.1").fingerprint
        assert fingerprint in server.said
        assert "Caution" not in server.said
        pinned = TCPConnector(ssl=Fingerprint(bytes.fromhex(fingerprint.replace(":", ""))))
        async with ClientSession(server.root, connector=pinned, cookie_jar=CookieJar(unsafe=True)) as phone:
            own = {"Origin": server.root}
            for foreign in (server.root.replace("https", "http"), "null"):
                refused = await phone.post(urlsplit(server.address).path, headers={"Origin": foreign})
                assert refused.status == 403
            entered = await phone.post(urlsplit(server.address).path, headers=own)
            assert entered.status == 200
            ((name, cookie),) = SimpleCookie(entered.headers["Set-Cookie"]).items()
            assert name.startswith("__Host-")
            assert cookie["secure"]
            page = await phone.get(f"/terminal?job={job}", headers={"Cookie": f"{name}={cookie.value}"})
            assert page.status == 200
            assert f"wss://127.0.0.1:{server.port}" in page.headers["Content-Security-Policy"]
            assert "ws:" not in page.headers["Content-Security-Policy"]
            screens = await phone.ws_connect(
                f"/screens?job={job}", headers=own | {"Cookie": f"{name}={cookie.value}"}, max_msg_size=0
            )
            assert await screens.receive_bytes(timeout=DEADLINE)
            await screens.close()
    finally:
        server.end()


async def test_strangers_that_never_agree_on_a_key_shut_out_nobody(tmp_path: Path) -> None:
    bounds = Bounds(strangers=8, header_seconds=3600)
    connections = Connections(bounds)

    async def answer(request: web.Request) -> web.Response:
        with connections.serving(request.transport, 1):
            return web.Response(text="welcome")

    application = web.Application()
    application.router.add_get("/", answer)
    certificate = tls.own(tmp_path / "bench.book", "127.0.0.1")
    trusting = ssl.create_default_context(cafile=str(certificate.file))
    trusting.check_hostname = False
    with listening_socket("127.0.0.1", 0) as listener:
        port = listener.getsockname()[1]
        context = certificate.context()
        async with answering(application, listener, connections, bounds, patience=DEADLINE, tls=context):
            mute = [await asyncio.open_connection("127.0.0.1", port) for _ in range(40)]
            plain = await asyncio.open_connection("127.0.0.1", port)
            plain[1].write(b"GET / HTTP/1.1\r\nHost: x\r\n\r\n")
            reader, writer = await asyncio.open_connection("127.0.0.1", port, ssl=trusting)
            writer.write(b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
            async with asyncio.timeout(DEADLINE):
                assert (await reader.read()).endswith(b"welcome")
                ended = [await one.read() for one, _ in mute[:30]]
            assert ended == [b""] * 30
            for _, each in (*mute, plain, (reader, writer)):
                each.close()
