"""What was found about one part of a board, how sure it is, and what to do about it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum

from rampwarden.plan import Verdict


class Sureness(StrEnum):
    """How far a finding is to be trusted, in the words a person reads."""

    CERTAIN = "certain"
    VERY_LIKELY = "very likely"
    LIKELY = "likely"
    POSSIBLE = "possible"


@dataclass(frozen=True, slots=True)
class BoardFinding:
    """One line about a board. `words` state what is; `do` is empty where nothing is to be done.

    `figures` are the same for programs, units in their names; None where one is not known.
    """

    part: str
    verdict: Verdict
    words: str
    sureness: Sureness = Sureness.CERTAIN
    do: str = ""
    figures: Mapping[str, object] = field(default_factory=dict)


def needs_a_look(findings: Sequence[BoardFinding]) -> list[BoardFinding]:
    """Give the findings that are not fine, the gravest first."""
    order = list(Verdict)
    wrong = [finding for finding in findings if finding.verdict is not Verdict.FINE]
    return sorted(wrong, key=lambda finding: -order.index(finding.verdict))
