"""A process killed with no warning while it keeps photos, and a book whose photos have bytes gone wrong."""

from __future__ import annotations

import random
import signal
import subprocess
import sys
from pathlib import Path

import pytest
from killing import LAYOUT

from matrixcheck.bench import Bench
from matrixcheck.errors import BookError
from tests.drawn_photos import jpeg, noise

KILLS = 6
KEEPING = """
import sys
from pathlib import Path
from matrixcheck.bench import Bench

book, job, picture, first = sys.argv[1:]
bench = Bench(Path(book))
bench.state(job)
taken = Path(picture).read_bytes()
print("ready", flush=True)
for turn in range(12):
    # Each is another picture: what stands in a segment that is kept makes it so.
    profile = b"ICC_PROFILE\\0" + f"{first}-{turn}".encode()
    size = (len(profile) + 2).to_bytes(2, "big")
    print(bench.attach(job, taken[:2] + b"\\xff\\xe2" + size + profile + taken[2:], "picture").name, flush=True)
"""


@pytest.mark.slow
def test_no_acknowledged_photo_is_lost_to_kill_9_and_none_is_half_there(tmp_path: Path) -> None:
    chance = random.Random(20260314)
    book, picture = tmp_path / "bench.book", tmp_path / "picture.jpg"
    picture.write_bytes(jpeg(noise(400, 300), quality=90))
    bench = Bench(book)
    job = bench.new_job(LAYOUT, "lighthouse")
    bench.close()
    acknowledged: set[str] = set()
    for turn in range(KILLS):
        command = [sys.executable, "-c", KEEPING, str(book), job, str(picture), str(turn)]
        with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == "ready\n"
            told = [process.stdout.readline() for _ in range(chance.randrange(8))]
            for _ in range(chance.randrange(60_000)):
                pass
            process.send_signal(signal.SIGKILL)
            told += process.stdout.readlines()
        acknowledged |= {line.strip() for line in told if line.endswith("\n")}
        reader = Bench(book)
        kept = {one.name for one in reader.state(job).photos}
        assert acknowledged <= kept
        assert reader.verify() == 1 + len(kept)
        assert reader.count_photos() == len(kept)
    assert len(acknowledged) > KILLS


def test_a_bit_that_flips_anywhere_in_a_photo_is_noticed(tmp_path: Path) -> None:
    chance = random.Random(20260315)
    book = tmp_path / "bench.book"
    bench = Bench(book)
    job = bench.new_job(LAYOUT, "lighthouse")
    name = bench.attach(job, jpeg(noise(200, 150), quality=90), "picture").name
    photo = bench.photo(name)
    bench.close()
    whole = book.read_bytes()
    # A photo lies in pages of the file: what is flipped is looked for where its bytes are, and not across two pages.
    found = [whole.find(photo[at : at + 64]) for at in range(200, len(photo) - 64, 1_500)]
    places = [place + chance.randrange(64) for place in found if place >= 0]
    assert len(places) > 10
    for place in places:
        wrong = bytearray(whole)
        wrong[place] ^= 1 << chance.randrange(8)
        book.write_bytes(wrong)
        for use in (bench.verify, lambda: bench.photo(name)):
            try:
                use()
            except BookError as error:
                assert "photo" in str(error)  # noqa: PT017
            else:
                raise AssertionError(f"byte {place} was flipped, and nobody noticed")
    book.write_bytes(whole)
    assert bench.verify() == 2
