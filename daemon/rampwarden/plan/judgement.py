"""What the plan says of one thing: fine, look again, or will not work, with the reason and what would change it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum


class Verdict(StrEnum):
    """How a line of the plan ends."""

    FINE = "fine"
    LOOK_AGAIN = "look again"
    WILL_NOT_WORK = "will not work"


@dataclass(frozen=True, slots=True)
class Judgement:
    """One line of the plan. `finding` holds the reason and its numbers; `remedy` is empty where nothing is to change.

    `figures` are the same numbers for programs, units in their names; None where one is not known.
    """

    topic: str
    verdict: Verdict
    finding: str
    remedy: str = ""
    figures: Mapping[str, object] = field(default_factory=dict)


def worst(judgements: Sequence[Judgement]) -> Verdict:
    """Give the worst verdict among them; fine where there are none."""
    order = list(Verdict)
    return max((judgement.verdict for judgement in judgements), key=order.index, default=Verdict.FINE)
