"""Photos on paper, in lists and on the command line."""

from __future__ import annotations

import base64
import json
from html.parser import HTMLParser
from io import BytesIO
from pathlib import Path

import html5lib
import pytest
from markdown_it import MarkdownIt
from PIL import Image
from report_case import sheet_of_the_evening

from matrixcheck.cli.main import main
from matrixcheck.record.events import PhotoTaken
from matrixcheck.record.photos import photo_of
from matrixcheck.report.drawing.paper import ENDLESS, PAPERS
from matrixcheck.report.markdown import markdown
from matrixcheck.report.page import card_page, page
from matrixcheck.report.plain import plain
from matrixcheck.report.reporting import card_of, report_of
from matrixcheck.report.sheet import Sheet
from tests.drawn_photos import MADE_BY, dots, drawn, jpeg

PHOTO = photo_of(jpeg(), "", shrink=True)
TAKEN = PhotoTaken(
    photo=PHOTO.name, width=48, height=32, size=len(PHOTO.jpeg), place="Q2", caption='"<b>burnt</b>" & |bent|'
)
A4 = PAPERS["a4"]


def told(*, to_hand: bool) -> Sheet:
    """The evening with two photos of the same picture, their files to hand or not."""
    sheet = sheet_of_the_evening(TAKEN, PhotoTaken(photo=PHOTO.name, width=48, height=32, size=len(PHOTO.jpeg)))
    return Sheet(
        sheet.state,
        sheet.diagnosis,
        sheet.coverage,
        sheet.later,
        sheet.printed_at,
        {PHOTO.name: PHOTO.jpeg} if to_hand else {},
    )


class Pictures(HTMLParser):
    """The pictures of a page, and the texts below them."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.pictures: list[dict[str, str | None]] = []
        self.captions: list[str] = []
        self._inside = False
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag == "img":
            self.pictures.append(dict(attrs))
        self._inside = tag == "figcaption"

    def handle_data(self, data: str) -> None:
        if self._inside:
            self.captions.append(data)
            self._inside = False


@pytest.mark.parametrize("form", ["report", "card"])
def test_a_page_holds_its_photos_with_what_they_show(form: str) -> None:
    sheet = told(to_hand=True)
    text = page(report_of(sheet, A4), A4) if form == "report" else card_page(card_of(sheet), A4)
    html5lib.HTMLParser(strict=True).parse(text)
    found = Pictures(text)
    assert [one["alt"] for one in found.pictures] == ["Photo 1", "Photo 2"]
    for one in found.pictures:
        head, _, coded = (one["src"] or "").partition(",")
        assert head == "data:image/jpeg;base64"
        assert base64.b64decode(coded, validate=True) == PHOTO.jpeg
    assert [caption.partition(" (20")[0] for caption in found.captions] == [
        'Photo 1: Q2: "<b>burnt</b>" & |bent|',
        "Photo 2: the machine",
    ]


def test_without_its_files_a_page_names_its_photos_and_the_card_has_none() -> None:
    sheet = told(to_hand=False)
    found = Pictures(page(report_of(sheet, A4), A4))
    assert (found.pictures, len(found.captions)) == ([], 2)
    assert all(caption.endswith(PHOTO.name[:12]) for caption in found.captions)
    assert "Photos" not in card_page(card_of(sheet), A4)


def test_text_and_markdown_name_the_photos() -> None:
    sheet = told(to_hand=True)
    text = plain(sheet)
    assert '- Photo 1: Q2: "<b>burnt</b>" & |bent|' in text
    assert text.count(PHOTO.name[:12]) == 2
    html = MarkdownIt("js-default").render(markdown(report_of(sheet, ENDLESS)))
    assert "<li>Photo 2: the machine" in html
    assert "<b>burnt" not in html


def test_a_report_without_photos_says_nothing_of_them() -> None:
    sheet = sheet_of_the_evening()
    assert "photo" not in page(report_of(sheet, A4), A4).partition("<body>")[2].casefold()
    assert "photo" not in plain(sheet).casefold()


def test_the_commands_keep_list_and_give_back_photos(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("MATRIXCHECK_BOOK", str(tmp_path / "shop.book"))
    monkeypatch.chdir(tmp_path)
    Path("pin.jpg").write_bytes(jpeg(drawn(2_400, 1_600), camera=True, orientation=6))
    Path("text.jpg").write_text("a note")
    Path("there").mkdir()

    def run(*words: str, code: int = 0) -> str:
        assert main([*words]) == code, capsys.readouterr()
        shown = capsys.readouterr()
        return shown.err if code else shown.out

    job = run("job", "new", "saltmarsh-tram", "--name", "invented").strip()
    assert run("photos", job) == "No photo is kept with this job.\n"
    assert "no problems found, 1 events\n" in run("book", "verify")
    run("note", job, "pin 3 burnt")
    said = run("photo", job, "pin.jpg", "--place", "lamp 12", "--caption", "rust")
    assert said.startswith("kept  photo of lamp 12 (")
    assert "): rust (1067x1600, " in said
    assert run("photo", job, "pin.jpg", "--check", "mains lead").startswith("kept  photo of safety check: mains lead (")
    kept = json.loads(run("photo", job, "pin.jpg", "--note", "2", "--json"))["photo"]
    assert (kept["shows"], kept["note"], kept["event"]) == ("note: pin 3 burnt", 2, 5)
    assert [line[:3] for line in run("photos", job).splitlines()] == ["  1", "  2", "  3"]
    listed = json.loads(run("photos", job, "--json"))["photos"]
    assert [one["event"] for one in listed] == [3, 4, 5]
    written = run("photos", job, "--to", "there").splitlines()
    assert sorted(map(str, Path("there").iterdir())) == written
    assert dots(Path(written[0]).read_bytes())[0] == (1067, 1600)
    assert MADE_BY not in Path(written[0]).read_bytes()
    assert run("book", "verify").endswith("5 events, 1 photo\n")
    run("job", "export", job, "job.jsonl")
    run("job", "import", "job.jsonl", "--book", "home.book")
    assert run("photos", job, "--book", "home.book") == run("photos", job)
    run("report", job, "--to", "r.html", "--to", "r.md")
    pictures = Pictures(Path("r.html").read_text()).pictures
    assert len(pictures) == 3
    with Image.open(BytesIO(base64.b64decode((pictures[0]["src"] or "").partition(",")[2]))) as small:
        assert small.size == (667, 1000), "of sensible size"
    run("report", job, "--no-photos", "--to", "r.html")
    assert Pictures(Path("r.html").read_text()).pictures == []
    run("report", job, "--card", "--to", "card.html")
    assert Pictures(Path("card.html").read_text()).pictures == []
    run("report", job, "--card", "--photos", "--to", "card.html")
    assert len(Pictures(Path("card.html").read_text()).pictures) == 3
    for words, code, error in (
        (("photo", job, "text.jpg"), 3, "text.jpg is not a JPEG picture"),
        (("photo", job, "none.jpg"), 3, "none.jpg: No such file"),
        (("photo", job, "pin.jpg", "--place", "lamp 12", "--note", "2"), 2, "a photo shows one thing"),
        (("photo", job, "pin.jpg", "--note", "1"), 2, "event 1 is no note"),
        (("photo", job, "pin.jpg", "--note", "99"), 2, "has no event 99"),
        (("photos", job, "--to", "nowhere"), 2, "is no folder"),
        (("photos", job, "--to", "-", "--json"), 2, "two outputs"),
    ):
        assert error in run(*words, code=code)
        assert len(json.loads(run("photos", job, "--json"))["photos"]) == 3
