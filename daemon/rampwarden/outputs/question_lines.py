"""How a question that waits for an answer reads in lines."""

from rampwarden.core.model import OpenQuestion
from rampwarden.core.quantities import heat_clock


def question_lines(question: OpenQuestion) -> list[str]:
    """Give a question in two lines: what is asked, since when and where, and how it is answered from a terminal."""
    where = heat_clock(question.asked_s) + ("" if question.segment is None else f" {question.segment}")
    return [f"question {question.number} since {where} · {question.text}", f"    → {answers_words(question)}"]


def answers_words(question: OpenQuestion) -> str:
    """Say what may be answered.

    >>> answers_words(OpenQuestion(1, "Is there mist?", ("yes", "no"), 0.0))
    'answer: yes / no, or your own words'
    """
    offered = " / ".join(question.answers)
    if question.only_these:
        return f"answer: {offered}"
    return f"answer: {offered}, or your own words" if offered else "answer in your own words"
