"""How a check ends: one line a question, with one of three verdicts."""

from dataclasses import dataclass
from enum import StrEnum


class CheckOutcome(StrEnum):
    """Whether a heat may be begun with this."""

    FINE = "fine"
    LOOK_AGAIN = "look again"
    WILL_NOT_WORK = "will not work"


@dataclass(frozen=True, slots=True)
class Check:
    """What was found about one `part` of the watch, in words that say what to do where there is something to do."""

    verdict: CheckOutcome
    part: str
    words: str


def fine(part: str, words: str) -> Check:
    """Say that nothing speaks against it."""
    return Check(CheckOutcome.FINE, part, words)


def look_again(part: str, words: str) -> Check:
    """Say that the watch would run, but perhaps not as is meant."""
    return Check(CheckOutcome.LOOK_AGAIN, part, words)


def will_not_work(part: str, words: str) -> Check:
    """Say that the watch would not do its work."""
    return Check(CheckOutcome.WILL_NOT_WORK, part, words)
