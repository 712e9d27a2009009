"""Stands in for the screens in tests of the web server: speaks textual-serve's packets, and does what it is told.

What it is sent as keys it gives back with its size and arguments; a few words make it behave badly.
"""

from __future__ import annotations

import json
import os
import signal
import sys
from typing import BinaryIO


def packet(kind: bytes, payload: bytes) -> bytes:
    return kind + len(payload).to_bytes(4, "big") + payload


def send(kind: bytes, payload: bytes) -> None:
    sys.stdout.buffer.write(packet(kind, payload))
    sys.stdout.buffer.flush()


def tell(**message: object) -> None:
    send(b"M", json.dumps(message).encode())


def packets(source: BinaryIO) -> object:
    while head := source.read(5):
        yield head[:1], source.read(int.from_bytes(head[1:], "big"))


def main() -> None:
    size = f"{os.environ['COLUMNS']}x{os.environ['ROWS']}"
    sys.stdout.buffer.write(b"__GANGLION__\n")
    send(b"D", f"{os.getpid()} {size} {' '.join(sys.argv[1:])}".encode())
    deaf = False
    for kind, payload in packets(sys.stdin.buffer):
        if kind == b"M":
            message = json.loads(payload)
            if message["type"] == "quit" and not deaf:
                break
            send(b"D", payload)
            continue
        match payload.decode().split():
            case ["leave"]:
                break
            case ["die"]:
                os.kill(os.getpid(), signal.SIGKILL)
            case ["be", "deaf"]:
                deaf = True
                signal.signal(signal.SIGTERM, signal.SIG_IGN)
                send(b"D", b"deaf")
            case ["flood"]:
                for _ in range(2000):
                    send(b"D", b"x" * 10_000)
            case ["place", job, matrix]:
                tell(type="place", job=job, matrix=matrix)
            case ["open", address]:
                tell(type="open_url", url=address, new_tab=True)
                send(b"D", b"asked")
            case _:
                send(b"D", payload)
    tell(type="exit")


if __name__ == "__main__":
    main()
