"""The words of the program: phrases that were replaced stay away, and prose names places as people do."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from matrixcheck.cli.evening import played, the_evening
from matrixcheck.report.answer.build import answer_of_job
from matrixcheck.report.answer.model import Answer
from matrixcheck.report.answer.text import answer_lines
from tests.words import Phrase, of_code, of_page, phrases

REPLACED = (
    "by the beat",
    "cause of their own",
    "causes of their own",
    "likeliest together",
    "what else it could be",
    "marks cannot tell",
    "was cut off after",
    "may weigh",
    "without a word",
    "m meant",
    "is no entry",
    "seen {} times",
    "fewest set-ups",
    "none against it",
    "by a diode",
    "its band at",
    "mend that line",
    "nothing was taken",
    "first signs of it",
    "taken back",
    "file is sound",
    "layout is sound",
    "book is sound",
    "are sound",
    "no text",
    "what it shall be",
    "take warnings for",
    "a mistake of ours",
    "stands in the book",
    "is no cell",
    "is no verdict",
    "is no result",
    "is taken as",
    "none is taken",
    "taken up again",
    "rarely meant",
    "correct that line",
    "not be there yet",
    "all the same",
    "a remark to keep",
    "see to its permissions",
    "says nobody",
    "begins with nobody",
    "would tell more;",
    "mend it",
    "isn't mended",
)
"""What stood in the program once and reads badly: another word stands for each now."""
MOST_WORDS = 20
"""Words of a sentence."""
ADDRESS = re.compile(r"\b[a-z]\w*\.(?:r\d+)?(?:c\d+)?(?<=\d)\b")
"""A place as files name it: `switches.c3`, `lamps.r4c3`."""


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> list[str]:
    """All that the answers of the evening say, but the codes and steps of their checks."""
    book = tmp_path_factory.mktemp("words") / "evening.book"
    found: list[str] = []
    for step in played(the_evening(), book):
        if step.sheet:
            answer = answer_of_job(step.sheet.diagnosis, step.sheet.state)
            found += [*_words_of(answer), *(line.text for line in answer_lines(answer, 500))]
    return found


def _words_of(answer: Answer) -> Iterator[str]:
    yield from (*answer.headline, *answer.left_open)
    for card in answer.cards:
        yield from (card.title, card.why, *card.known, *(place.words for place in card.where))
        yield card.first.short if card.first else ""
    yield from (one.words for one in answer.also_possible)
    for card in answer.cards:
        yield from (f"{one.words}: {one.seen}" for one in card.evidence)
    yield from (step.words for step in answer.next)


@pytest.fixture(scope="module")
def every() -> tuple[Phrase, ...]:
    """Every string of the program."""
    return tuple(phrases())


def test_no_string_of_the_program_holds_a_phrase_that_was_replaced(every: tuple[Phrase, ...]) -> None:
    texts = {one: " ".join(one.text.casefold().split()) for one in every}
    assert len(texts) > 5000
    assert [(one, words) for one, text in texts.items() for words in REPLACED if words in text] == []


def test_no_answer_holds_one_or_names_a_place_as_files_do(said: list[str]) -> None:
    assert len(said) > 200
    for text in said:
        assert not [words for words in REPLACED if words in text.casefold()], text
        assert not ADDRESS.search(text), text


def test_no_sentence_of_an_answer_is_longer_than_can_be_read_at_a_glance(said: list[str]) -> None:
    for text in said:
        if "·" not in text:
            for sentence in re.split(r"[.;:] ", text):
                assert len(sentence.split()) <= MOST_WORDS, sentence


def test_the_strings_of_code_are_found_without_docstrings_and_with_gaps_for_what_is_filled_in() -> None:
    source = '"""Doc."""\n\nA = "one"\n\n\ndef f(x: int) -> str:\n    """Doc."""\n    return f"two {x} three"\n'
    assert list(of_code(source, "a.py")) == [Phrase("one", "a.py", 3), Phrase("two {} three", "a.py", 8)]


def test_the_texts_of_a_page_are_found_without_its_tags() -> None:
    source = "<style>b { }</style>\n<p>Left {{ x }} open</p>{% if y %}<b>now</b>{% endif %}"
    assert [one.text for one in of_page(source, "a.j2")] == ["Left {} open", "now"]


def test_templates_and_tables_are_read_too(every: tuple[Phrase, ...]) -> None:
    kinds = {Path(one.file).suffix for one in every}
    assert {".py", ".j2", ".html", ".toml"} <= kinds
