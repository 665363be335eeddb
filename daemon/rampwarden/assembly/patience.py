"""What somebody else must answer, asked with a bound: whoever is asked and frozen holds up nobody."""

import threading
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")


class NoAnswerError(Exception):
    """Nothing came in time; whoever was asked may answer yet, and is not heard any more."""


def within(patience_s: float, ask: Callable[[], T]) -> T:
    """Give what `ask` gives, or raise what it raises; after `patience_s` seconds raises `NoAnswerError`.

    It is asked in a thread of its own that nobody waits for any longer than that, and that ends with the process.
    """
    answers: list[T] = []
    failures: list[BaseException] = []

    def run() -> None:
        try:
            answers.append(ask())
        except BaseException as error:  # raised again in the thread that asked
            failures.append(error)

    thread = threading.Thread(target=run, name="asked with patience", daemon=True)
    thread.start()
    thread.join(patience_s)
    if failures:
        raise failures[0]
    if not answers:
        raise NoAnswerError
    return answers[0]
