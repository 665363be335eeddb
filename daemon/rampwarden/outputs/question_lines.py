"""How questions that wait for an answer read in lines."""

from collections.abc import Sequence

from rampwarden.core.model import OpenQuestion
from rampwarden.core.quantities import heat_clock


def question_lines(question: OpenQuestion) -> list[str]:
    """Give a question in two lines: what is asked, since when and where, and how it is answered from a terminal."""
    where = heat_clock(question.asked_s) + ("" if question.segment is None else f" {question.segment}")
    return [f"question {question.number} since {where} · {question.text}", f"    → {answers_words(question)}"]


def asked_lines(questions: Sequence[OpenQuestion]) -> list[str]:
    """Give what waits: a question in two lines, the checklist in a line each and how its lines are ticked off."""
    checks = [each for each in questions if each.is_check]
    lines = [line for each in questions if not each.is_check for line in question_lines(each)]
    lines += [f"[ ] {each.number} {each.text}" for each in checks]
    if checks:
        lines.append(f"    → rampwarden answer --question {checks[0].number} {checks[0].answers[0]}")
    return lines


def answers_words(question: OpenQuestion) -> str:
    """Say what may be answered.

    >>> answers_words(OpenQuestion(1, "Is there mist?", ("yes", "no"), 0.0))
    'answer: yes / no, or your own words'
    """
    offered = " / ".join(question.answers)
    if question.only_these:
        return f"answer: {offered}"
    return f"answer: {offered}, or your own words" if offered else "answer in your own words"
