"""What a chart leaves open: each question has a key, so that it can be answered beforehand too."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import NamedTuple

from matrixcheck.errors import UsageError
from matrixcheck.layout.problems import nearest


class Question(NamedTuple):
    """A question that a chart leaves open. `best` is taken where nobody is asked; "" leaves the thing out.

    `options` are all answers that can be taken; none where any text can.
    """

    key: str
    text: str
    options: tuple[str, ...]
    best: str


class Guess(NamedTuple):
    """A question with what was taken for an answer that nobody gave."""

    question: Question
    answer: str


Ask = Callable[[Question], str | None]


class Answers:
    """Answers questions: from what was given beforehand, else by asking, else with the best reading, as a guess."""

    def __init__(self, given: Mapping[str, str], ask: Ask = lambda _: None) -> None:
        self.guesses: list[Guess] = []
        self._given = {key.casefold(): value for key, value in given.items()}
        self._ask = ask
        self._asked: dict[str, str] = {}

    def to(self, question: Question) -> str:
        """Return the answer to a question. Raises UsageError for one given beforehand that is none of its options."""
        key = question.key.casefold()
        if key in self._asked:
            return self._asked[key]
        answer = self._given.get(key)
        if answer is not None:
            answer = _option(question, answer)
        else:
            answer = self._ask(question)
            if answer is None:
                answer = question.best
                self.guesses.append(Guess(question, answer))
        self._asked[key] = answer
        return answer

    def refuse_unasked(self) -> None:
        """Raise UsageError where something was answered that the charts don't leave open."""
        for key in self._given:
            if key not in self._asked:
                meant = nearest(key, self._asked)
                open_ = ", ".join(self._asked) or "nothing"
                raise UsageError(
                    f"--take {key}: the charts leave no such thing open",
                    f"did you mean '{meant}'?" if meant else f"open is: {open_}",
                )


def _option(question: Question, answer: str) -> str:
    if not question.options:
        return answer
    same = {option.casefold(): option for option in question.options}
    if answer.casefold() not in same:
        raise UsageError(
            f"--take {question.key}={answer}: {question.text}",
            f"take one of {', '.join(filter(None, question.options))}",
        )
    return same[answer.casefold()]
